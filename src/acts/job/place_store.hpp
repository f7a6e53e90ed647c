#pragma once
// Where stations stand and what was said of them, kept by what they depend on: a sight booked at
// one station leaves the others theirs. May be used by several threads.

#include <cstddef>
#include <list>
#include <map>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include "acts/shared/job_facts.hpp"
#include "station/lay_prediction.hpp"
#include "station/pose.hpp"

namespace layproof::acts {

/// Nothing: the sights do not place it.
struct StationPlace {
    std::optional<station::Pose> pose;
    std::optional<station::Word> word;
};

class PlaceStore {
public:
    static constexpr std::size_t kMost = 1000;

    std::optional<StationPlace> find(const std::string& key);
    void keep(const std::string& key, const StationPlace& place);

private:
    std::mutex mutex_;
    std::list<std::string> keys_;  ///< oldest first
    std::map<std::string, StationPlace> places_;
};

/// For each station, a text that is another one as soon as anything has changed that its place or
/// verdict depends on: SHA-256 of the marks, points, instrument, causes and unit, and of its own
/// set-up and sights with what is set aside.
std::map<std::string, std::string> station_keys(const JobFacts& facts);

}  // namespace layproof::acts

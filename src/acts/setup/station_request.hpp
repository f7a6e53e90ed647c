#pragma once
// What the act "station" and all acts that build on set-ups take.

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "acts/shared/job_facts.hpp"
#include "acts/shared/progress.hpp"
#include "exchange/text/document.hpp"
#include "measure/length.hpp"

namespace layproof::acts {

class SolvedJobs;

/// Sights kept and shown, but not used.
struct SetAside {
    std::string station;
    std::string target;
    int which = 0;  ///< the n-th pointing to that target, from 1; 0: all
    std::string reason;
};

struct StationRequest {
    exchange::Document marks;
    exchange::Document sights;
    std::optional<exchange::Document> setups, instrument, points;
    std::optional<exchange::Document> causes;  ///< else the shipped table
    /// Column maps of foreign files.
    std::optional<exchange::Document> marks_map, sights_map, setups_map, points_map;
    std::optional<measure::LengthUnit> unit;   ///< of lengths whose column states none
    std::optional<measure::LengthStyle> show;  ///< of the words; else the unit of the job
    double scale_factor = 1.0;                 ///< grid distance / ground distance, 0.9 to 1.1
    std::optional<double> radius_m;            ///< working radius without points, 0.1 to 10000
    double confidence = 0.95;                  ///< above 0.5, below 1
    std::vector<SetAside> set_aside;
    /// Only this station is solved; target_unknown when it has no sight.
    std::optional<std::string> only_station;
    /// Points by name; empty: all. "station" judges only these and "lay" sets only these out; what
    /// was laid stays in the answers of "lay" and "watch" whole. target_unknown for a name that the
    /// points do not hold.
    std::vector<std::string> only_points;
    bool explain = false;  ///< to_text adds the figures behind the verdict
    /// Rows of a job file. They stand in for the documents above, except instrument and causes when
    /// given;
    /// `marks` and `sights` then only name the job in messages.
    std::optional<JobFacts> facts;
    /// Told before each set-up is placed, and asked whether to stop; may be null.
    Progress* progress = nullptr;
    /// Where acts of one job keep what all of them need (acts/belief/solved_jobs.hpp); may be null.
    std::shared_ptr<SolvedJobs> solved;
};

}  // namespace layproof::acts

// Solving tells which station it is at, and ends between two of them.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "acts/job/job_test_support.hpp"
#include "acts/lay/lay.hpp"
#include "acts/watch/watch.hpp"

namespace layproof::acts {
namespace {

using layproof::testing::expect_value;
using layproof::testing::loose_mill_hall;
using layproof::testing::mill_hall;
using ::testing::ElementsAre;

class Watching final : public Progress {
public:
    explicit Watching(int looks) : looks_(looks) {}
    void report(double fraction, std::string_view words) override {
        fractions.push_back(fraction);
        said.emplace_back(words);
    }
    bool stop_requested() override { return looks_-- == 0; }

    std::vector<double> fractions;
    std::vector<std::string> said;

private:
    int looks_;
};

TEST(station_progress, each_station_is_told) {
    Watching progress(-1);
    StationRequest request = loose_mill_hall();
    request.progress = &progress;
    const std::string told = to_json(expect_value(run_station(request)));
    EXPECT_THAT(progress.said, ElementsAre("Placing S1", "Placing S2"));
    EXPECT_THAT(progress.fractions, ElementsAre(0.0, 0.5));
    request.progress = nullptr;
    EXPECT_EQ(to_json(expect_value(run_station(request))), told);
}

TEST(station_progress, all_three_acts_can_be_stopped) {
    Watching first(1);
    StationRequest station = loose_mill_hall();
    station.progress = &first;
    EXPECT_EQ(run_station(station).refusal().code, ErrorCode::stopped);
    Watching second(1);
    LayRequest lay;
    lay.station = station;
    lay.station.progress = &second;
    EXPECT_EQ(run_lay(lay).refusal().code, ErrorCode::stopped);
    Watching third(1);
    WatchRequest watch;
    watch.station = station;
    watch.station.sights = mill_hall("day-sights.csv");
    watch.station.setups = mill_hall("day-setups.csv");
    watch.station.progress = &third;
    EXPECT_EQ(run_watch(watch).refusal().code, ErrorCode::stopped);
}

}  // namespace
}  // namespace layproof::acts

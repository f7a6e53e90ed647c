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
    EXPECT_THAT(progress.said,
                ElementsAre("Weighing all 2 set-ups of the job", "Placing S1", "Placing S2"));
    EXPECT_THAT(progress.fractions, ElementsAre(0.0, 0.0, 0.5));
    request.progress = nullptr;
    EXPECT_EQ(to_json(expect_value(run_station(request))), told);
}

void expect_stopped(const auto& answer) {
    ASSERT_FALSE(answer);
    EXPECT_EQ(answer.refusal().code, ErrorCode::stopped);
}

// While the whole job is weighed (looks 0 to 3), and between two stations.
class WhenStopped : public ::testing::TestWithParam<int> {};
INSTANTIATE_TEST_SUITE_P(station_progress, WhenStopped, ::testing::Range(0, 6));

TEST_P(WhenStopped, all_three_acts_end) {
    Watching first(GetParam());
    StationRequest station = loose_mill_hall();
    station.progress = &first;
    expect_stopped(run_station(station));
    Watching second(GetParam());
    LayRequest lay;
    lay.station = station;
    lay.station.progress = &second;
    expect_stopped(run_lay(lay));
    Watching third(GetParam());
    WatchRequest watch;
    watch.station = station;
    watch.station.sights = mill_hall("day-sights.csv");
    watch.station.setups = mill_hall("day-setups.csv");
    watch.station.progress = &third;
    expect_stopped(run_watch(watch));
}

}  // namespace
}  // namespace layproof::acts

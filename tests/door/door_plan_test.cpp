// The sites that a page plans on: made ready once, asked again and again.

#include <gtest/gtest.h>

#include <memory>
#include <stdexcept>
#include <string>
#include <utility>

#include "acts/shared/progress.hpp"
#include "door/door_plan_internal.hpp"

namespace layproof::acts::internal {
namespace {

/// Invented: four marks round a floor of 20 m with nine points.
PlanRequest floor_to_plan() {
    PlanRequest request;
    request.marks = {"marks.csv",
                     "mark,east [m],north [m],height [m]\n"
                     "A,-5,-6,0.1\nB,25,-5,0.0\nC,26,25,0.2\nD,-6,24,0.1\n"};
    std::string points = "point,east [m],north [m],height [m],tolerance_plan [m]\n";
    for (int i = 0; i < 9; ++i)
        points += "P" + std::to_string(i) + "," + std::to_string(4 + 6 * (i % 3)) + "," +
                  std::to_string(4 + 6 * (i / 3)) + ",0,0.006\n";
    request.points = {"points.csv", points};
    request.instrument = exchange::Document{
        "i.toml", "angle_sd_arcsec = 2\ndistance_sd_mm = 1\nbubble_arcmin = 3\n"};
    request.rod_m = 0.1;
    request.step_m = 2.0;
    request.advice = false;
    return request;
}

class Counting final : public Progress {
public:
    explicit Counting(int& reports) : reports_(reports) {}
    void report(double /*fraction*/, std::string_view /*words*/) override { ++reports_; }
    bool stop_requested() override { return false; }

private:
    int& reports_;
};

TEST(plan_desk, places_on_a_planned_site_are_those_of_a_fresh_one_and_need_no_progress) {
    PlanDesk planned;
    PlanRequest request = floor_to_plan();
    int reports = 0;
    {
        const auto progress = std::make_unique<Counting>(reports);
        request.progress = progress.get();
        ASSERT_TRUE(planned.plan("1", request));
    }
    EXPECT_GT(reports, 0);
    const int while_planning = reports;
    PlanDesk fresh;
    for (const auto& [east, north] : {std::pair{3.0, 2.0}, {12.5, 7.25}, {-20.0, 40.0}}) {
        const auto kept = planned.place(
            "1", []() -> Result<PlanRequest> { throw std::logic_error("it is kept"); }, east,
            north);
        const auto made = fresh.place(
            "1", []() -> Result<PlanRequest> { return floor_to_plan(); }, east, north);
        ASSERT_TRUE(kept);
        ASSERT_TRUE(made);
        EXPECT_EQ(to_json(*kept), to_json(*made));
    }
    EXPECT_EQ(reports, while_planning);
}

}  // namespace
}  // namespace layproof::acts::internal

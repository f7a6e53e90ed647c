// Groups along grid lines: spacing of neighbours (AR2), build-up (AR3), offset from the line (AR4).

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <string>

#include "acts/lay/lay_site.hpp"

namespace layproof::acts {
namespace {

using ::testing::Contains;
using ::testing::HasSubstr;
using testing::InventedDay;
using testing::InventedMark;

constexpr double kFoot_m = 0.3048;
constexpr double kSight_m = 2e-5;  // what rounding in the sights file leaves

/// Three groups of two rods each on line A, which runs east: centres at 505, 512 and 519.
class lay_grid_rules : public ::testing::Test {
protected:
    void SetUp() override {
        day_.set_up();
        request_ = {};
        request_.station = day_.request();
        request_.grid = exchange::Document{"grid.csv",
                                           "line,east_1 [m],north_1 [m],east_2 [m],north_2 [m]\n"
                                           "A,500,255,530,255\n"};
    }

    void group(const std::string& name, double centre_m, double off_east_m, double off_north_m,
               bool whole = true) {
        for (const double side_m : {-0.1, 0.1}) {
            const std::string rod = name + (side_m < 0.0 ? "w" : "e");
            points_ += fmt::format("{},{:.3f},255,30,AR2 + AR3 + AR4: {},0.050\n", rod,
                                   centre_m + side_m, name);
            if (side_m > 0.0 && !whole) continue;
            day_.add("S1",
                     InventedMark{rod, centre_m + side_m + off_east_m, 255.0 + off_north_m, 30.0},
                     "lay", 8, minute_++);
        }
    }

    LayAnswer run() {
        request_.station.sights.bytes = day_.text;
        request_.station.points = exchange::Document{"points.csv", points_};
        auto answer = run_lay(request_);
        EXPECT_TRUE(answer.ok()) << (answer.ok() ? "" : answer.refusal().to_text());
        return answer.ok() ? std::move(answer).value() : LayAnswer{};
    }

    static const lay::RuleVerdict* rule(const LayAnswer& answer, const std::string& id,
                                        const std::string& from, const std::string& to) {
        for (const RuleReport& one : answer.rules)
            if (one.figures.tolerance_id == id && one.figures.from == from && one.figures.to == to)
                return &one.figures;
        return nullptr;
    }
    static std::ptrdiff_t count(const LayAnswer& answer, const std::string& id) {
        return std::count_if(answer.rules.begin(), answer.rules.end(),
                             [&](const auto& r) { return r.figures.tolerance_id == id; });
    }

    InventedDay day_;
    LayRequest request_;
    std::string points_ = "point,east [m],north [m],height [m],element,tolerance_plan [m]\n";
    int minute_ = 0;
};

TEST_F(lay_grid_rules, spacing_is_judged_between_neighbours_along_the_line) {
    // In the file out of order: the line orders them.
    group("G1", 505.0, 0.0, 0.0);
    group("G3", 519.0, 0.0, 0.0);
    group("G2", 512.0, 0.010, 0.0);
    const LayAnswer answer = run();
    ASSERT_EQ(count(answer, "AR2"), 2);
    const auto* near = rule(answer, "AR2", "G1", "G2");
    const auto* far = rule(answer, "AR2", "G2", "G3");
    ASSERT_TRUE(near && far);
    EXPECT_NEAR(near->design_m, 7.0, 1e-9);
    EXPECT_NEAR(near->verdict.deviation_m, 0.010, kSight_m);
    EXPECT_NEAR(far->verdict.deviation_m, -0.010, kSight_m);
    EXPECT_EQ(*near->verdict.limits.plus_m, 0.00635);
    EXPECT_EQ(near->verdict.word, station::Word::fails);
    EXPECT_EQ(answer.verdict->word, station::Word::fails);
}

TEST_F(lay_grid_rules, build_up_is_judged_between_every_two_by_their_distance) {
    group("G1", 505.0, 0.0, 0.0);
    group("G2", 512.0, 0.001, 0.0);
    group("G3", 519.0, 0.012, 0.0);
    const LayAnswer answer = run();
    ASSERT_EQ(count(answer, "AR3"), 3);
    const auto* whole = rule(answer, "AR3", "G1", "G3");
    ASSERT_TRUE(whole);
    // 1/4 in for every 100 ft of 14 m.
    EXPECT_NEAR(*whole->verdict.limits.plus_m, 0.00635 * (14.0 / kFoot_m) / 100.0, 1e-9);
    EXPECT_NEAR(whole->verdict.deviation_m, 0.012, kSight_m);
    EXPECT_EQ(whole->verdict.word, station::Word::fails);
    const auto* first = rule(answer, "AR3", "G1", "G2");
    ASSERT_TRUE(first);
    EXPECT_NEAR(first->verdict.deviation_m, 0.001, kSight_m);
}

TEST_F(lay_grid_rules, offset_is_judged_across_the_line_right_positive) {
    group("G1", 505.0, 0.0, 0.0);
    group("G2", 512.0, 0.0, 0.012);
    const LayAnswer answer = run();
    ASSERT_EQ(count(answer, "AR4"), 2);
    const auto* on = rule(answer, "AR4", "G1", "A");
    const auto* off = rule(answer, "AR4", "G2", "A");
    ASSERT_TRUE(on && off);
    EXPECT_EQ(off->kind, lay::RuleKind::line_offset);
    EXPECT_NEAR(on->verdict.deviation_m, 0.0, kSight_m);
    // The line runs east: what lies north of it lies left.
    EXPECT_NEAR(off->verdict.deviation_m, -0.012, kSight_m);
    EXPECT_EQ(off->verdict.word, station::Word::fails);
}

TEST_F(lay_grid_rules, group_with_a_rod_to_come_has_no_centre) {
    group("G1", 505.0, 0.0, 0.0);
    group("G2", 512.0, 0.0, 0.0, false);
    const LayAnswer answer = run();
    EXPECT_EQ(count(answer, "AR2"), 0);
    EXPECT_EQ(count(answer, "AR3"), 0);
    EXPECT_EQ(count(answer, "AR4"), 1);
}

TEST_F(lay_grid_rules, group_off_every_line_is_judged_by_none) {
    group("G1", 505.0, 0.0, 0.0);
    group("G2", 512.0, 0.0, 0.0);
    request_.grid->bytes =
        "line,east_1 [m],north_1 [m],east_2 [m],north_2 [m]\nA,500,255.011,530,255.011\n";
    EXPECT_TRUE(run().rules.empty());
}

TEST_F(lay_grid_rules, without_lines_spacing_is_judged_and_the_rest_asked_for) {
    group("G1", 505.0, 0.0, 0.0);
    group("G2", 512.0, 0.010, 0.0);
    request_.grid.reset();
    const LayAnswer answer = run();
    EXPECT_EQ(count(answer, "AR2"), 1);
    EXPECT_EQ(count(answer, "AR3") + count(answer, "AR4"), 0);
    EXPECT_THAT(answer.notices, Contains(HasSubstr("needs grid lines")));
}

}  // namespace
}  // namespace layproof::acts

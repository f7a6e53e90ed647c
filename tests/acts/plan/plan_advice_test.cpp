// What an advice promises is what the plan says when it is made again with that change.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <map>
#include <string>

#include "acts/plan/plan.hpp"
#include "base/random.hpp"

namespace layproof::acts {
namespace {

/// A floor by chance: marks about it, points with one tolerance, walls and stacks on it.
struct AdvisedFloor {
    std::vector<Eigen::Vector3d> marks;
    std::vector<Eigen::Vector2d> points;
    std::string obstacles;
    double tolerance_m = 0.004;
    double angle_arcsec = 5.0, bubble_arcmin = 4.0;
    double rod_m = 1.5;
    int faces = 1;
    double step_m = 1.0;
};

/// `size_m`: of its side. Errors of angles count on large floors, rods on all.
AdvisedFloor any_floor(Random& random, double size_m = 16.0) {
    AdvisedFloor f;
    const double by = size_m / 16.0;
    f.step_m = by;
    const int marks = size_m > 30.0 ? 4 + random.below(2) : 2 + random.below(4);
    for (int m = 0; m < marks; ++m) {
        const double turn = 6.283185307179586 * (m + random.uniform(0.0, 0.6)) / marks;
        f.marks.emplace_back(by * (8.0 + random.uniform(9.0, 16.0) * std::cos(turn)),
                             by * (8.0 + random.uniform(9.0, 16.0) * std::sin(turn)),
                             random.uniform(-0.2, 0.3));
    }
    const int points = 4 + random.below(9);
    for (int p = 0; p < points; ++p)
        f.points.emplace_back(random.uniform(0.0, size_m), random.uniform(0.0, size_m));
    for (int w = random.below(4); w > 0; --w) {
        const double east = random.uniform(0.0, 14.0);
        const double north = random.uniform(0.0, 14.0);
        f.obstacles += "w" + std::to_string(w) + ",wall," + std::to_string(by * east) + "," +
                       std::to_string(by * north) + "," +
                       std::to_string(by * (east + random.uniform(-4.0, 4.0))) + "," +
                       std::to_string(by * (north + random.uniform(1.0, 5.0))) + ",,0.2,0," +
                       std::to_string(random.uniform(0.8, 4.0)) + "\n";
    }
    f.tolerance_m = random.uniform(0.002, 0.009);
    f.angle_arcsec = random.uniform(2.0, 9.0);
    f.bubble_arcmin = random.uniform(2.0, 9.0);
    f.rod_m = random.below(2) == 0 ? 1.5 : 0.1;
    f.faces = 1 + random.below(2);
    if (size_m > 30.0) {
        f.rod_m = 0.1;
        f.bubble_arcmin = 2.0;
        f.angle_arcsec = random.uniform(7.0, 12.0);
        f.faces = 1;
        f.tolerance_m = random.uniform(0.0039, 0.0044);
    }
    return f;
}

std::string exact(double value) {
    char text[40];
    std::snprintf(text, sizeof text, "%.17g", value);
    return text;
}

PlanRequest request_of(const AdvisedFloor& f) {
    PlanRequest request;
    std::string marks = "mark,east [m],north [m],height [m]\n";
    for (std::size_t m = 0; m < f.marks.size(); ++m)
        marks += "M" + std::to_string(m) + "," + exact(f.marks[m].x()) + "," +
                 exact(f.marks[m].y()) + "," + exact(f.marks[m].z()) + "\n";
    std::string points = "point,east [m],north [m],height [m],tolerance_plan [m]\n";
    for (std::size_t p = 0; p < f.points.size(); ++p)
        points += "P" + std::to_string(p) + "," + exact(f.points[p].x()) + "," +
                  exact(f.points[p].y()) + ",0," + exact(f.tolerance_m) + "\n";
    request.marks = {"marks.csv", marks};
    request.points = {"points.csv", points};
    if (!f.obstacles.empty())
        request.obstacles = {
            {"obstacles.csv",
             "obstacle,kind,east [m],north [m],east_2 [m],north_2 [m],width [m],thickness [m],"
             "bottom [m],top [m]\n" +
                 f.obstacles}};
    request.instrument = exchange::Document{
        "i.toml", "angle_sd_arcsec = " + exact(f.angle_arcsec) +
                      "\ndistance_sd_mm = 1\nbubble_arcmin = " + exact(f.bubble_arcmin) + "\n"};
    request.rod_m = f.rod_m;
    request.faces = f.faces;
    request.step_m = f.step_m;
    request.advice = false;
    return request;
}

AdvisedFloor followed(AdvisedFloor f, const PlanAdvice& advice) {
    const bool is_all = advice.aid == "all-together";
    if (is_all || advice.aid == "short-rod") f.rod_m = 0.1;
    if (is_all || advice.aid == "bipod") f.bubble_arcmin *= 0.25;
    if (is_all || advice.aid == "better-angles") f.angle_arcsec *= 0.5;
    if (is_all || advice.aid == "two-faces") f.faces = 2;
    if (advice.aid == "new-mark") f.marks.emplace_back(*advice.east_m, *advice.north_m, 0.0);
    if (advice.aid == "wider-tolerance") f.tolerance_m *= *advice.times_tolerance;
    return f;
}

PlanAnswer plan_of_floor(const AdvisedFloor& f, bool advice) {
    PlanRequest request = request_of(f);
    request.advice = advice;
    auto answer = run_plan(request);
    EXPECT_TRUE(answer) << (answer ? "" : answer.refusal().to_text());
    return answer ? std::move(*answer) : PlanAnswer{};
}

TEST(plan_advice, number_of_each_advice_is_that_of_the_plan_made_again) {
    Random random(20);
    std::map<std::string, int> met;
    for (int run = 0; run < 16; ++run) {
        const AdvisedFloor f = any_floor(random, run % 2 == 0 ? 16.0 : 70.0);
        const PlanAnswer a = plan_of_floor(f, true);
        for (const PlanAdvice& advice : a.advice) {
            SCOPED_TRACE("floor " + std::to_string(run) + ": " + advice.says);
            const PlanAnswer again = plan_of_floor(followed(f, advice), false);
            EXPECT_EQ(again.provable, advice.provable);
            EXPECT_EQ(advice.gained, advice.provable - a.provable);
            EXPECT_GT(advice.gained, 0);
            ++met[advice.aid];
        }
        if (a.provable == a.points) {
            EXPECT_TRUE(a.advice.empty());
        }
    }
    for (const char* aid : {"short-rod", "bipod", "better-angles", "two-faces", "all-together",
                            "new-mark", "wider-tolerance"})
        EXPECT_GT(met[aid], 0) << aid << " was never advised: the floors do not try it";
}

TEST(plan_advice, large_floor_promises_no_more_than_comes) {
    // Steps of 0.3 m: some 5,000 places, every second row and column of them asked.
    Random random(7);
    int advised = 0;
    for (int run = 0; run < 3; ++run) {
        AdvisedFloor f = any_floor(random);
        f.step_m = 0.3;
        f.tolerance_m = 0.0025;
        f.points.emplace_back(0.0, 0.0);
        f.points.emplace_back(16.0, 16.0);
        const PlanAnswer a = plan_of_floor(f, true);
        for (const PlanAdvice& advice : a.advice) {
            SCOPED_TRACE(advice.says);
            ++advised;
            EXPECT_NE(advice.says.find("at least"), std::string::npos);
            EXPECT_GE(plan_of_floor(followed(f, advice), false).provable, advice.provable);
        }
    }
    EXPECT_GT(advised, 2);
}

TEST(plan_advice, new_mark_is_advised_where_no_other_spot_helps_more) {
    // Every spot of a lattice of 4 m is tried by a plan of its own. One point more at one of them
    // is chance: a point that lies at the limit is told by ten simulated sets of sights.
    Random random(3);
    int tried = 0;
    for (int run = 0; run < 12 && tried < 2; ++run) {
        AdvisedFloor f = any_floor(random);
        f.marks.resize(2);
        f.rod_m = 0.1;
        f.step_m = 2.0;
        f.tolerance_m = 0.005;
        const PlanAnswer a = plan_of_floor(f, true);
        const auto advice = std::find_if(a.advice.begin(), a.advice.end(),
                                         [](const auto& d) { return d.aid == "new-mark"; });
        if (advice == a.advice.end()) continue;
        ++tried;
        int best = 0;
        int least = a.points;
        for (double east = -2.0; east <= 18.0; east += 4.0)
            for (double north = -2.0; north <= 18.0; north += 4.0) {
                AdvisedFloor with = f;
                with.marks.emplace_back(east, north, 0.0);
                const int provable = plan_of_floor(with, false).provable;
                best = std::max(best, provable);
                least = std::min(least, provable);
            }
        EXPECT_GE(advice->provable + 1, best) << "floor " << run << ": " << advice->says;
        EXPECT_LT(least + 1, advice->provable) << "the spot does not matter on this floor";
    }
    EXPECT_EQ(tried, 2);
}

TEST(plan_advice, tolerance_that_could_be_held_is_the_least_of_those_tried) {
    Random random(20);
    int tried = 0;
    for (int run = 0; run < 20 && tried < 3; ++run) {
        const AdvisedFloor f = any_floor(random);
        const PlanAnswer a = plan_of_floor(f, true);
        const auto advice = std::find_if(a.advice.begin(), a.advice.end(),
                                         [](const auto& d) { return d.aid == "wider-tolerance"; });
        if (advice == a.advice.end() || *advice->times_tolerance <= 1.25) continue;
        ++tried;
        EXPECT_LT(a.provable, a.wanted);
        AdvisedFloor narrower = f;
        // The next narrower of the row is three quarters of it or more.
        narrower.tolerance_m *= std::max(1.0, 0.74 * *advice->times_tolerance);
        EXPECT_LT(plan_of_floor(narrower, false).provable, advice->provable) << advice->says;
    }
    EXPECT_GT(tried, 0);
}

}  // namespace
}  // namespace layproof::acts

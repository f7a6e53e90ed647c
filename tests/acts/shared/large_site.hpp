#pragma once
// An invented site of many set-ups and points, the same at every call.

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "acts/record/record_facts.hpp"
#include "base/random.hpp"
#include "measure/angle.hpp"

namespace layproof::testing {

/// `points` on a grid of 4 m by 3 m inside a ring of eight marks, laid in rows from `setups` free
/// set-ups of five marks each, checked on two marks before, in the middle and at the end. Angles
/// with 5", distances with 1 mm, the hand with 1.2 mm, all normal.
inline acts::RecordFacts large_record_facts(int setups, int points) {
    acts::RecordFacts out;
    out.version = "bench";
    out.title = "Large site (invented)";
    out.job = "00000000-0000-7000-8000-000000000000";
    out.last_ms = 1'936'900'000'000;
    out.chains.push_back({"bench crew", points + setups, std::string(64, '0')});
    acts::JobFacts& facts = out.facts;
    facts.name = "large.job";
    facts.unit = measure::LengthUnit::metre;
    facts.instrument.emplace();
    facts.instrument->stated = true;

    const int rows = std::max(1, static_cast<int>(std::sqrt(0.8 * points)));
    const double width = 4.0 * points / rows;
    const double height = 3.0 * rows;
    for (int i = 0; i < 8; ++i) {
        frame::Mark mark;
        mark.name = fmt::format("M{}", i);
        mark.east_m = 1000.0 + 0.75 * width * std::cos(i * measure::kPi / 4.0);
        mark.north_m = 2000.0 + 0.75 * height * std::sin(i * measure::kPi / 4.0);
        mark.height_m = 100.0 + 0.2 * i;
        facts.marks.push_back(mark);
    }
    for (int i = 0; i < points; ++i) {
        frame::DesignPoint point;
        point.name = fmt::format("P{:04}", i);
        point.east_m = 1000.0 - 0.5 * width + 4.0 * (i / rows);
        point.north_m = 2000.0 - 0.5 * height + 3.0 * (i % rows);
        point.height_m = 101.0;
        point.element = "anchor rod";
        point.tolerance_plan_m = 0.00635;
        point.tolerance_height_m = 0.0127;
        facts.points.push_back(point);
    }

    Random random(7);
    const double day_s = 86400.0;
    for (int s = 0; s < setups; ++s) {
        const std::size_t from =
            static_cast<std::size_t>(s) * facts.points.size() / static_cast<std::size_t>(setups);
        const std::size_t to = (static_cast<std::size_t>(s) + 1) * facts.points.size() /
                               static_cast<std::size_t>(setups);
        double east = 6.0;
        double north = -5.0;
        for (std::size_t i = from; i < to; ++i) {
            east += facts.points[i].east_m / static_cast<double>(to - from);
            north += facts.points[i].north_m / static_cast<double>(to - from);
        }
        const double axes_m = 101.6;
        const double turned = random.uniform() * measure::kTwoPi;
        double time_s = 1'936'000'000.0 + (s / 3) * day_s + (s % 3) * 4.0 * 3600.0;
        station::Setup setup;
        setup.station = fmt::format("T{:02}", s + 1);
        setup.time_s = time_s;
        facts.setups.push_back(setup);
        const auto sight = [&](const std::string& target, double e, double n, double h,
                               measure::Purpose purpose, double hand_m) {
            const double de = e + hand_m * random.normal() - east;
            const double dn = n + hand_m * random.normal() - north;
            const double dh = h + 0.1 - axes_m;
            const double level = std::hypot(de, dn);
            measure::Sight one;
            one.station = setup.station;
            one.target = target;
            one.direction_rad = measure::wrap_0_2pi(std::atan2(de, dn) - turned +
                                                    5.0 * measure::kRadPerArcsec * random.normal());
            one.zenith_rad = std::atan2(level, dh) + 5.0 * measure::kRadPerArcsec * random.normal();
            one.slope_distance_m = std::hypot(level, dh) + 0.001 * random.normal();
            one.target_height_m = 0.1;
            one.purpose = purpose;
            one.time_s = time_s;
            one.time_text = "";
            one.place = {"sights.csv", static_cast<int>(facts.sights.size()) + 2, 0};
            facts.sights.push_back(one);
            time_s += 60.0;
        };
        std::vector<const frame::Mark*> marks;
        for (const frame::Mark& mark : facts.marks) marks.push_back(&mark);
        std::stable_sort(marks.begin(), marks.end(), [&](const auto* a, const auto* b) {
            return std::hypot(*a->east_m - east, *a->north_m - north) <
                   std::hypot(*b->east_m - east, *b->north_m - north);
        });
        const auto to_mark = [&](std::size_t k, measure::Purpose purpose) {
            sight(marks[k]->name, *marks[k]->east_m, *marks[k]->north_m, *marks[k]->height_m,
                  purpose, 0.0);
        };
        for (const std::size_t k : {0U, 2U, 4U, 6U, 7U}) to_mark(k, measure::Purpose::control);
        const auto check = [&] {
            for (const std::size_t k : {0U, 2U}) to_mark(k, measure::Purpose::check);
        };
        check();
        for (std::size_t i = from; i < to; ++i) {
            const frame::DesignPoint& p = facts.points[i];
            sight(p.name, p.east_m, p.north_m, *p.height_m, measure::Purpose::lay, 0.0012);
            if (i == (from + to) / 2) check();
        }
        check();
    }
    return out;
}

}  // namespace layproof::testing

#pragma once
// Invented days: an instrument that wanders and is kicked, marks that are moved, points laid by the
// readings. Every reading by plain trigonometry (support/site_simulator.hpp); nothing of the rooms
// under test makes a reading or moves a pose.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "cause/diagnose.hpp"
#include "station/solution.hpp"
#include "support/scene.hpp"
#include "support/site_simulator.hpp"
#include "watch/watch.hpp"

namespace layproof::testing {

struct DayPlan {
    int marks = 4;
    double hours = 5.0;
    double check_every_s = 3600.0;
    int marks_per_check = 2;
    int points_per_hour = 10;
    double reach_m = 45.0;
    double tolerance_m = 0.00635;
    watch::Ground ground = watch::Ground::slab;
    /// East, north, orientation, height; at this share of the day.
    std::optional<std::pair<double, Eigen::Vector4d>> bump;
    /// Mark, share of the day, shift.
    std::optional<std::pair<double, Eigen::Vector3d>> moved_mark;
    int moved_mark_index = 0;
};

class SimulatedDay {
public:
    SimulatedDay(std::uint64_t seed, const DayPlan& plan) : random_(seed), plan_(plan) {
        draw_site();
        run();
    }

    /// Everything up to this time.
    watch::Day day_until(double time_s) const {
        watch::Day out = day;
        const auto later = [&](const auto& x) { return x.time_s > time_s; };
        std::erase_if(out.checks, later);
        std::erase_if(out.points, later);
        std::erase_if(out.resights, later);
        out.end_time_s = time_s;
        return out;
    }

    /// Deviation the crew would read on a laid point from where the instrument is now.
    Eigen::Vector3d sight_point(std::size_t p) { return seen(true_m[p]) - designs_m[p]; }

    double end_s() const { return plan_.hours * 3600.0; }
    const measure::Instrument& instrument() const { return site_.input.instrument; }

    watch::Day day;
    station::Pose nominal;
    watch::WatchOptions options;
    std::vector<Eigen::Vector3d> designs_m;
    std::vector<Eigen::Vector3d> true_m;     ///< where each point really is
    std::vector<Eigen::Vector3d> without_m;  ///< where it would be without the bump
    double bump_s = -1.0;
    std::vector<double> check_times_s;  ///< of the last sight of each round

private:
    static constexpr double kRod_m = 1.5;
    static constexpr double kBetweenSights_s = 120.0;

    void draw_site() {
        SiteOptions site;
        site.marks = plan_.marks;
        site.reach_m = plan_.reach_m;
        site.rod_low_m = site.rod_high_m = kRod_m;
        site.instrument.angle_sd_rad = 3.0 * measure::kRadPerArcsec;
        site.instrument.distance_sd_m = 0.0015;
        site.instrument.bubble_rad = 2.0 * measure::kRadPerArcmin;
        site.instrument.centring_m = 0.0005;
        site.instrument.marking_m = 0.0005;
        site_ = simulate_site(random_, site);
        pose_ = site_.pose;
        const auto setup = station::prepare(site_.input);
        ASSERT_TRUE(setup.ok());
        const auto solved = station::solve_station(*setup);
        ASSERT_TRUE(solved.ok());
        nominal = solved->best.pose;
        const auto diagnosis =
            cause::diagnose(*setup, solved->best, main_table(), {}, {.try_pairs = false});
        day.start = cause::joint_beliefs(*setup, diagnosis, nominal);
        options.sizes = main_table();
        options.drift = watch::drift_rate(plan_.ground);
        control_ = site_.input.sights.size();
    }

    void wander(double seconds) {
        const watch::DriftRate r = watch::drift_rate(plan_.ground);
        const double root = std::sqrt(seconds / 3600.0);
        pose_.axes_m +=
            root * Eigen::Vector3d(r.position_m * random_.normal(), r.position_m * random_.normal(),
                                   r.height_m * random_.normal());
        pose_.orientation_rad += root * r.orientation_rad * random_.normal();
    }

    void go_to(double time_s) {
        const auto passes = [&](double at) { return now_s_ < at && at <= time_s; };
        const double mark_s = plan_.moved_mark ? plan_.moved_mark->first * end_s() : -1.0;
        if (plan_.bump && passes(plan_.bump->first * end_s())) {
            bump_s = plan_.bump->first * end_s();
            wander(bump_s - now_s_);
            now_s_ = bump_s;
            unbumped_shift_ = plan_.bump->second;
            pose_.axes_m += Eigen::Vector3d(plan_.bump->second[0], plan_.bump->second[1],
                                            plan_.bump->second[3]);
            pose_.orientation_rad += plan_.bump->second[2];
        }
        if (plan_.moved_mark && passes(mark_s))
            site_.marks_m[static_cast<std::size_t>(plan_.moved_mark_index)] +=
                plan_.moved_mark->second;
        wander(time_s - now_s_);
        now_s_ = time_s;
    }

    void run() {
        std::vector<std::pair<double, int>> times;  // time, −1 check, else laying
        const int layings = static_cast<int>(plan_.hours * plan_.points_per_hour);
        for (int i = 0; i < layings; ++i)
            times.emplace_back((i + random_.uniform(0.15, 0.85)) / layings * end_s(), i);
        for (double t = plan_.check_every_s; t <= end_s() + 1.0; t += plan_.check_every_s)
            times.emplace_back(t - kBetweenSights_s * plan_.marks_per_check, -1);
        std::sort(times.begin(), times.end());
        int next_mark = random_.below(plan_.marks);
        for (const auto& [time_s, what] : times) {
            go_to(std::max(time_s, now_s_));
            if (what >= 0) {
                lay();
                continue;
            }
            for (int k = 0; k < plan_.marks_per_check; ++k) {
                go_to(now_s_ + kBetweenSights_s);
                const auto m = static_cast<std::size_t>(next_mark++ % plan_.marks);
                SightPlan sight;
                sight.target = site_.input.marks[m].name;
                sight.tip = site_.marks_m[m];
                sight.rod_m = kRod_m;
                sight_to(&random_, pose_, site_.input.instrument, sight, 1.0, site_.input.sights);
                site_.input.sights.back().purpose = measure::Purpose::check;
                site_.input.sights.back().time_s = now_s_;
            }
            check_times_s.push_back(now_s_);
        }
        go_to(std::max(end_s(), now_s_));
        day.end_time_s = now_s_;
        book();
    }

    void book() {
        const auto all = station::prepare(site_.input);
        ASSERT_TRUE(all.ok());
        auto checks = watch::checks_of(site_.input, *all, nominal);
        ASSERT_TRUE(checks.ok());
        day.checks = std::move(*checks);
        ASSERT_EQ(day.checks.size(), site_.input.sights.size() - control_);
    }

    /// Where the true instrument's readings of a place put it when worked out from the nominal
    /// pose.
    Eigen::Vector3d seen(const Eigen::Vector3d& place) {
        std::vector<measure::Sight> booked;
        SightPlan sight;
        sight.target = "P";
        sight.tip = place;
        sight.rod_m = kRod_m;
        sight_to(&random_, pose_, site_.input.instrument, sight, 1.0, booked);
        const measure::Sight& s = booked.front();
        const double azimuth = *s.direction_rad + nominal.orientation_rad;
        const double ground = *s.slope_distance_m * std::sin(*s.zenith_rad);
        const double bend =
            (1.0 - site_.input.instrument.refraction_k) * ground * ground / (2.0 * 6371000.0);
        return nominal.position_m +
               Eigen::Vector3d(ground * std::sin(azimuth), ground * std::cos(azimuth),
                               *s.slope_distance_m * std::cos(*s.zenith_rad) + bend - kRod_m);
    }

    void lay() {
        const double azimuth = random_.uniform(0.0, measure::kTwoPi);
        const double distance = random_.uniform(5.0, 0.9 * plan_.reach_m);
        const Eigen::Vector3d design =
            Eigen::Vector3d(nominal.position_m.x() + distance * std::sin(azimuth),
                            nominal.position_m.y() + distance * std::cos(azimuth), 31.0);
        // The crew moves the rod until the readings are as wanted: the true place is the one whose
        // readings, errors and all, are those of the design position.
        const Eigen::Vector3d read = seen(design);
        const double mark_sd = site_.input.instrument.marking_m;
        const Eigen::Vector3d hand(mark_sd * random_.normal(), mark_sd * random_.normal(), 0.0);
        const Eigen::Vector3d place = design - (read - design) + hand;
        station::LayTarget target;
        target.name = "P" + std::to_string(designs_m.size() + 1);
        target.east_m = design.x();
        target.north_m = design.y();
        target.height_m = design.z();
        target.tolerance_plan_m = plan_.tolerance_m;
        target.tolerance_height_m = plan_.tolerance_m;
        designs_m.push_back(design);
        true_m.push_back(place);
        day.points.push_back(
            watch::laid_point(nominal, target, site_.input.instrument, kRod_m, now_s_));
        // The bump's own part, by turning and shifting the place about the instrument.
        Eigen::Vector3d before = place;
        if (bump_s >= 0.0) {
            before -= Eigen::Vector3d(unbumped_shift_[0], unbumped_shift_[1], unbumped_shift_[3]);
            const Eigen::Vector3d axes =
                pose_.axes_m -
                Eigen::Vector3d(unbumped_shift_[0], unbumped_shift_[1], unbumped_shift_[3]);
            const Eigen::Vector3d arm = before - axes;
            const double turn = -unbumped_shift_[2];
            before = axes + Eigen::Vector3d(std::cos(turn) * arm.x() + std::sin(turn) * arm.y(),
                                            std::cos(turn) * arm.y() - std::sin(turn) * arm.x(),
                                            arm.z());
        }
        without_m.push_back(before);
    }

    Random random_;
    DayPlan plan_;
    SimulatedSite site_;
    TruePose pose_;
    std::size_t control_ = 0;
    double now_s_ = 0.0;
    Eigen::Vector4d unbumped_shift_ = Eigen::Vector4d::Zero();
};

/// A bump from the sizes of the causes table.
inline Eigen::Vector4d draw_bump(Random& random) {
    const auto table = main_table();
    const auto& sizes = table.of(cause::Cause::tripod_disturbed).sizes;
    const auto& size =
        sizes[static_cast<std::size_t>(random.below(static_cast<int>(sizes.size())))];
    return {size.length_m * random.normal(), size.length_m * random.normal(),
            size.angle_rad * random.normal(), size.length_m * random.normal()};
}

inline bool is_within(const Eigen::Vector3d& place, const Eigen::Vector3d& design,
                      double tolerance_m) {
    const Eigen::Vector3d d = place - design;
    return d.head<2>().norm() <= tolerance_m && std::abs(d.z()) <= tolerance_m;
}

}  // namespace layproof::testing

#pragma once
// Invented set-ups drawn from the error model and the causes table, by a forward model of its own:
// true places are rotated, leaned and measured with plain trigonometry; nothing of the station or
// cause rooms is used to make the readings.

#include <algorithm>
#include <cmath>
#include <string>
#include <utility>
#include <vector>

#include "base/random.hpp"
#include "cause/cause_table.hpp"
#include "frame/mark.hpp"
#include "measure/angle.hpp"
#include "measure/instrument.hpp"
#include "station/prepared.hpp"

namespace layproof::testing {

struct SceneOptions {
    int least_marks = 3;
    int most_marks = 8;
    double least_site_m = 10.0;
    double most_site_m = 150.0;
    double least_rod_m = 0.1;
    double most_rod_m = 2.0;
};

struct Scene {
    station::StationInput input;
    cause::Cause truth = cause::Cause::nothing_wrong;
    std::vector<std::string> subjects;
    Eigen::Vector3d position_m = Eigen::Vector3d::Zero();  ///< true, after any disturbance
    double orientation_rad = 0.0;
    double distance_constant_m = 0.0;  ///< every distance reads too long by this
    double distance_ratio = 0.0;       ///< and by this share
    double rod_m = 0.0;
    double site_m = 0.0;
};

/// Reading of a true prism place from a true instrument, without error.
struct TrueReading {
    double direction_rad, zenith_rad, slope_m;
};
inline TrueReading read(const Eigen::Vector3d& from, double orientation_rad,
                        const Eigen::Vector3d& prism, double refraction_k) {
    const double e = prism.x() - from.x();
    const double n = prism.y() - from.y();
    const double d = std::hypot(e, n);
    const double v = prism.z() - from.z() - (1.0 - refraction_k) * d * d / (2.0 * 6371000.0);
    return {measure::wrap_0_2pi(std::atan2(e, n) - orientation_rad), std::atan2(d, v),
            std::hypot(d, v)};
}

/// Draws what is wrong from the single causes of the table that have a size or exchange names.
inline cause::Cause draw_cause(Random& random, const cause::CauseTable& table,
                               const std::vector<cause::Cause>& among) {
    double total = 0.0;
    for (const auto c : among) total += table.of(c).frequency;
    double u = random.uniform() * total;
    for (const auto c : among) {
        u -= table.of(c).frequency;
        if (u < 0.0) return c;
    }
    return among.back();
}

inline Scene draw_scene(std::uint64_t seed, const cause::CauseTable& table,
                        const std::vector<cause::Cause>& among, const SceneOptions& options = {}) {
    using cause::Cause;
    Random random(seed);
    Scene scene;
    const int marks =
        options.least_marks + random.below(options.most_marks - options.least_marks + 1);
    const int rounds = 1 + random.below(2);
    scene.site_m =
        options.least_site_m *
        std::exp(random.uniform() * std::log(options.most_site_m / options.least_site_m));
    scene.rod_m = random.uniform(options.least_rod_m, options.most_rod_m);
    auto& instrument = scene.input.instrument;
    instrument.angle_sd_rad = random.uniform(1.0, 5.0) * measure::kRadPerArcsec;
    instrument.distance_sd_m = random.uniform(0.001, 0.003);
    instrument.distance_ppm = 2.0;
    instrument.bubble_rad = random.uniform(1.0, 6.0) * measure::kRadPerArcmin;
    instrument.centring_m = 0.001;
    instrument.height_tape_m = 0.001;
    instrument.stated = true;
    scene.input.setup.station = "S1";

    const Eigen::Vector3d corner(5000.0, 10000.0, 95.0);
    const double least_apart = 0.1 * scene.site_m;
    std::vector<Eigen::Vector3d> places;
    Eigen::Vector3d at;
    for (bool good = false; !good;) {
        places.clear();
        at = corner + Eigen::Vector3d(random.uniform(), random.uniform(), 0.0) * scene.site_m;
        at.z() += random.uniform(1.4, 1.7);
        for (int i = 0; i < marks; ++i)
            places.push_back(corner + Eigen::Vector3d(random.uniform() * scene.site_m,
                                                      random.uniform() * scene.site_m,
                                                      random.uniform(-1.0, 1.0)));
        good = true;
        for (std::size_t i = 0; i < places.size(); ++i) {
            good = good && (places[i] - at).head<2>().norm() > std::max(least_apart, 2.0);
            for (std::size_t j = 0; j < i; ++j)
                good = good && (places[i] - places[j]).head<2>().norm() > least_apart;
        }
    }
    double orientation = random.uniform(0.0, measure::kTwoPi);

    scene.truth = draw_cause(random, table, among);
    const auto& sizes = table.of(scene.truth).sizes;
    const cause::CauseSize size =
        sizes.empty()
            ? cause::CauseSize{}
            : sizes[static_cast<std::size_t>(random.below(static_cast<int>(sizes.size())))];
    const auto subject = static_cast<std::size_t>(random.below(marks));
    const auto name = [](std::size_t i) { return "H" + std::to_string(i + 1); };
    const int sights = marks * rounds;
    const int wrong_sight = random.below(sights);
    const int first_after = 1 + random.below(std::max(sights - 1, 1));

    for (int i = 0; i < marks; ++i) {
        frame::Mark mark;
        mark.name = name(static_cast<std::size_t>(i));
        const Eigen::Vector3d& p = places[static_cast<std::size_t>(i)];
        mark.east_m = p.x() + mark.sd_east_m * random.normal();
        mark.north_m = p.y() + mark.sd_north_m * random.normal();
        mark.height_m = p.z() + mark.sd_height_m * random.normal();
        scene.input.marks.push_back(mark);
    }
    if (scene.truth == Cause::mark_moved) {
        places[subject].x() += size.length_m * random.normal();
        places[subject].y() += size.length_m * random.normal();
        scene.subjects = {name(subject)};
    } else if (scene.truth == Cause::mark_height_changed) {
        places[subject].z() += size.length_m * random.normal();
        scene.subjects = {name(subject)};
    } else if (scene.truth == Cause::prism_constant_wrong) {
        scene.distance_constant_m = size.length_m * random.normal();
    } else if (scene.truth == Cause::distance_scale_wrong) {
        scene.distance_ratio = size.ratio * random.normal();
    }
    std::size_t swap_a = subject;
    std::size_t swap_b = (subject + 1 + static_cast<std::size_t>(random.below(marks - 1))) %
                         static_cast<std::size_t>(marks);
    if (scene.truth == Cause::names_swapped)
        scene.subjects = {name(std::min(swap_a, swap_b)), name(std::max(swap_a, swap_b))};

    for (int s = 0; s < sights; ++s) {
        const auto m = static_cast<std::size_t>(s % marks);
        if (scene.truth == Cause::tripod_disturbed && s == first_after) {
            at.x() += size.length_m * random.normal();
            at.y() += size.length_m * random.normal();
            orientation += size.angle_rad * random.normal();
            scene.subjects = {name(m)};
        }
        Eigen::Vector2d lean(instrument.bubble_rad * scene.rod_m * random.normal(),
                             instrument.bubble_rad * scene.rod_m * random.normal());
        lean += instrument.centring_m * Eigen::Vector2d(random.normal(), random.normal());
        double rod = scene.rod_m + instrument.height_tape_m * random.normal();
        if (scene.truth == Cause::rod_not_plumb && s == wrong_sight) {
            lean += size.length_m * Eigen::Vector2d(random.normal(), random.normal());
            scene.subjects = {name(m)};
        }
        if (scene.truth == Cause::rod_height_wrong && s == wrong_sight) {
            rod += size.length_m * random.normal();
            scene.subjects = {name(m)};
        }
        Eigen::Vector3d prism = places[m];
        prism.head<2>() += lean;
        prism.z() += rod;
        const TrueReading t = read(at, orientation, prism, instrument.refraction_k);
        measure::Sight sight;
        sight.station = "S1";
        std::size_t booked = m;
        if (scene.truth == Cause::names_swapped && (m == swap_a || m == swap_b))
            booked = m == swap_a ? swap_b : swap_a;
        sight.target = name(booked);
        sight.direction_rad =
            measure::wrap_0_2pi(t.direction_rad + instrument.angle_sd_rad * random.normal());
        sight.zenith_rad = t.zenith_rad + instrument.angle_sd_rad * random.normal();
        const double distance_sd =
            std::hypot(instrument.distance_sd_m, instrument.distance_ppm * 1e-6 * t.slope_m);
        sight.slope_distance_m = t.slope_m * (1.0 + scene.distance_ratio) +
                                 scene.distance_constant_m + distance_sd * random.normal();
        sight.target_height_m = scene.rod_m;
        scene.input.sights.push_back(sight);
    }
    scene.position_m = at;
    scene.orientation_rad = measure::wrap_0_2pi(orientation);
    return scene;
}

/// The nine causes whose frequency and size the table gives in full.
inline std::vector<cause::Cause> main_causes() {
    using cause::Cause;
    return {Cause::nothing_wrong,        Cause::mark_moved,       Cause::mark_height_changed,
            Cause::rod_not_plumb,        Cause::rod_height_wrong, Cause::prism_constant_wrong,
            Cause::distance_scale_wrong, Cause::names_swapped,    Cause::tripod_disturbed};
}

/// The shipped table's figures for those nine, for tests that do not read files.
inline cause::CauseTable main_table() {
    using cause::Cause;
    cause::CauseTable t;
    const auto set = [&](Cause c, double f, std::vector<cause::CauseSize> sizes) {
        t.of(c) = {f, std::move(sizes)};
    };
    constexpr double mm = 0.001;
    constexpr double as = measure::kRadPerArcsec;
    set(Cause::nothing_wrong, 0.44, {});
    set(Cause::mark_moved, 0.22, {{6 * mm, 0, 0}, {20 * mm, 0, 0}, {60 * mm, 0, 0}});
    set(Cause::mark_height_changed, 0.05, {{6 * mm, 0, 0}, {20 * mm, 0, 0}, {60 * mm, 0, 0}});
    set(Cause::rod_not_plumb, 0.07, {{6 * mm, 0, 0}, {15 * mm, 0, 0}});
    set(Cause::rod_height_wrong, 0.07, {{300 * mm, 0, 0}});
    set(Cause::prism_constant_wrong, 0.04, {{20 * mm, 0, 0}});
    set(Cause::distance_scale_wrong, 0.03, {{0, 0, 20e-6}, {0, 0, 200e-6}});
    set(Cause::names_swapped, 0.04, {});
    set(Cause::tripod_disturbed, 0.04, {{4 * mm, 60 * as, 0}, {15 * mm, 300 * as, 0}});
    return t;
}

}  // namespace layproof::testing

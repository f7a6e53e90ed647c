#pragma once
// Invented jobs of many set-ups over several days, marks that move among them; by a forward model
// of its own (tests/support/scene.hpp reads true places with plain trigonometry).

#include <cmath>
#include <string>
#include <vector>

#include "base/random.hpp"
#include "measure/angle.hpp"
#include "network/site_network.hpp"
#include "support/scene.hpp"

namespace layproof::testing {

struct PlantedMove {
    int mark = 0;
    int setup = 0;  ///< it moved before this set-up; 0: before the first
    Eigen::Vector3d shift_m = Eigen::Vector3d::Zero();
};

struct SiteJobOptions {
    int marks = 8;
    int setups = 6;
    int sights_each = 6;  ///< marks sighted from each set-up, at random
    int points_each = 0;  ///< laid from each set-up
    double site_m = 80.0;
    double noise = 1.0;
    std::vector<PlantedMove> moves;
};

struct SiteJob {
    network::NetworkInput input;
    std::vector<Eigen::Vector3d> true_marks;   ///< at the start
    std::vector<Eigen::Vector3d> true_setups;  ///< axes
    std::vector<Eigen::Vector3d> true_points;
    std::vector<std::vector<int>> sighted;  ///< marks per set-up
};

/// Booked at 9:00, one set-up each hour.
inline SiteJob draw_site_job(std::uint64_t seed, const SiteJobOptions& options) {
    Random random(seed);
    SiteJob job;
    measure::Instrument instrument;
    instrument.angle_sd_rad = 3.0 * measure::kRadPerArcsec;
    instrument.distance_sd_m = 0.002;
    instrument.distance_ppm = 2.0;
    instrument.bubble_rad = 4.0 * measure::kRadPerArcmin;
    instrument.centring_m = 0.001;
    instrument.height_tape_m = 0.001;
    instrument.stated = true;
    const Eigen::Vector3d corner(5000.0, 10000.0, 95.0);
    const auto n = static_cast<std::size_t>(options.marks);
    while (job.true_marks.size() < n) {
        const Eigen::Vector3d p =
            corner + Eigen::Vector3d(random.uniform() * options.site_m,
                                     random.uniform() * options.site_m, random.uniform(-1.0, 1.0));
        bool far = true;
        for (const auto& other : job.true_marks)
            far = far && (p - other).head<2>().norm() > 0.12 * options.site_m;
        if (far) job.true_marks.push_back(p);
    }
    for (std::size_t m = 0; m < n; ++m) {
        frame::Mark mark;
        mark.name = "H" + std::to_string(m + 1);
        const Eigen::Vector3d& p = job.true_marks[m];
        mark.east_m = p.x() + options.noise * mark.sd_east_m * random.normal();
        mark.north_m = p.y() + options.noise * mark.sd_north_m * random.normal();
        mark.height_m = p.z() + options.noise * mark.sd_height_m * random.normal();
        job.input.marks.push_back(mark);
    }
    int point = 0;
    for (int s = 0; s < options.setups; ++s) {
        station::StationInput one;
        one.setup.station = "S" + std::to_string(s + 1);
        one.instrument = instrument;
        Eigen::Vector3d axes =
            corner + Eigen::Vector3d((0.2 + 0.6 * random.uniform()) * options.site_m,
                                     (0.2 + 0.6 * random.uniform()) * options.site_m, 1.5);
        const double turn = random.uniform(0.0, measure::kTwoPi);
        job.true_setups.push_back(axes);
        const auto sight_to = [&](const std::string& name, const Eigen::Vector3d& ground,
                                  measure::Purpose purpose, double when_s) {
            constexpr double kRod_m = 1.5;
            const double e = options.noise;
            Eigen::Vector3d prism = ground + Eigen::Vector3d(0.0, 0.0, kRod_m);
            const double lean = std::hypot(instrument.bubble_rad * kRod_m, instrument.centring_m);
            prism.x() += e * lean * random.normal();
            prism.y() += e * lean * random.normal();
            prism.z() += e * instrument.height_tape_m * random.normal();
            const TrueReading r = read(axes, turn, prism, instrument.refraction_k);
            measure::Sight sight;
            sight.station = one.setup.station;
            sight.target = name;
            sight.direction_rad = r.direction_rad + e * instrument.angle_sd_rad * random.normal();
            sight.zenith_rad = r.zenith_rad + e * instrument.angle_sd_rad * random.normal();
            sight.slope_distance_m =
                r.slope_m + e *
                                std::hypot(instrument.distance_sd_m,
                                           instrument.distance_ppm * 1e-6 * r.slope_m) *
                                random.normal();
            sight.target_height_m = kRod_m;
            sight.purpose = purpose;
            sight.time_s = 3600.0 * (9 + s) + when_s;
            one.sights.push_back(sight);
        };
        std::vector<int> order(n);
        for (std::size_t m = 0; m < n; ++m) order[m] = static_cast<int>(m);
        for (std::size_t m = n; m > 1; --m)
            std::swap(order[m - 1],
                      order[static_cast<std::size_t>(random.below(static_cast<int>(m)))]);
        order.resize(std::min(n, static_cast<std::size_t>(options.sights_each)));
        job.sighted.push_back(order);
        double when = 0.0;
        for (const int m : order) {
            Eigen::Vector3d place = job.true_marks[static_cast<std::size_t>(m)];
            for (const PlantedMove& move : options.moves)
                if (move.mark == m && s >= move.setup) place += move.shift_m;
            sight_to("H" + std::to_string(m + 1), place, measure::Purpose::control, when += 60.0);
        }
        for (int p = 0; p < options.points_each; ++p) {
            const Eigen::Vector3d place =
                corner + Eigen::Vector3d(random.uniform() * options.site_m,
                                         random.uniform() * options.site_m, 0.0);
            job.true_points.push_back(place);
            sight_to("P" + std::to_string(++point), place, measure::Purpose::lay, when += 60.0);
        }
        job.input.setups.push_back(std::move(one));
    }
    return job;
}

}  // namespace layproof::testing

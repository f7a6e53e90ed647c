#pragma once
// Set-ups written down figure by figure, for tests that state their covariances themselves.

#include <gtest/gtest.h>

#include <Eigen/Core>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "measure/angle.hpp"
#include "station/prepared.hpp"
#include "station/solution.hpp"
#include "support/reference.hpp"
#include "support/site_simulator.hpp"

namespace layproof::station::testing {

using layproof::testing::Reference;

/// A set-up in plan: marks and sights with stated standard deviations.
class PlanSetup {
public:
    PlanSetup() {
        setup_.setup.station = "S";
        setup_.has_height = false;
    }

    PlanSetup& mark(std::string name, double east_m, double north_m, double sd_m = 0.0) {
        UsedMark mark;
        mark.name = std::move(name);
        mark.given_m << east_m, north_m, 0.0;
        mark.sd_m.setConstant(sd_m);
        mark.has_plan = true;
        mark.input_index = static_cast<int>(setup_.marks.size());
        setup_.marks.push_back(std::move(mark));
        return *this;
    }

    /// Direction and horizontal distance; a standard deviation goes with each that is given.
    PlanSetup& sight(int mark, std::optional<double> direction_rad, double direction_sd_rad,
                     std::optional<double> distance_m = std::nullopt, double distance_sd_m = 0.0) {
        ControlSight sight;
        measure::ReducedSight& r = sight.reduced;
        r.has_direction = direction_rad.has_value();
        r.has_distance = distance_m.has_value();
        r.distance_is_horizontal = r.has_distance;
        r.direction_rad = measure::wrap_0_2pi(direction_rad.value_or(0.0));
        r.distance_m = distance_m.value_or(0.0);
        r.covariance(0, 0) = direction_sd_rad * direction_sd_rad;
        r.covariance(2, 2) = distance_sd_m * distance_sd_m;
        sight.mark = mark;
        sight.booked.push_back(static_cast<int>(setup_.sights.size()));
        setup_.sights.push_back(std::move(sight));
        return *this;
    }

    /// The same set-up with coordinates about the marks' centroid.
    Prepared centred() const {
        Prepared out = setup_;
        Eigen::Vector3d sum = Eigen::Vector3d::Zero();
        for (const UsedMark& mark : out.marks) sum += mark.given_m;
        out.origin_m = sum / static_cast<double>(out.marks.size());
        for (UsedMark& mark : out.marks) mark.given_m -= out.origin_m;
        return out;
    }

    Prepared& raw() { return setup_; }

private:
    Prepared setup_;
};

/// An instrument whose direction error is the same at any distance: nothing about the rod.
inline measure::Instrument angles_only(double angle_sd_rad) {
    measure::Instrument out;
    out.angle_sd_rad = angle_sd_rad;
    out.bubble_rad = 0.0;
    out.centring_m = 0.0;
    out.height_tape_m = 0.0;
    return out;
}

inline double gon(double value) {
    return value * measure::kRadPerGon;
}

/// Readings without errors to every mark of a set-up in plan.
inline double exact_direction(const Eigen::Vector2d& from, const Eigen::Vector2d& to,
                              double orientation_rad) {
    return measure::wrap_0_2pi(std::atan2(to.x() - from.x(), to.y() - from.y()) - orientation_rad);
}

inline double turned(double a_rad, double b_rad) {
    return measure::wrap_pi(a_rad - b_rad);
}

}  // namespace layproof::station::testing

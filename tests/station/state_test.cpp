#include "station/state.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "base/random.hpp"
#include "measure/angle.hpp"
#include "station/scenes.hpp"
#include "station/station_support.hpp"

namespace layproof::station {
namespace {

using layproof::testing::read_exactly;
using layproof::testing::rod_top;
using layproof::testing::TruePose;

/// Where the readings put a mark when worked out with pose x0, rod as booked and nothing wrong.
Eigen::Vector3d place_from(const TruePose& assumed, const layproof::testing::Reading& reading,
                           double rod_m) {
    const double azimuth = reading.direction_rad + assumed.orientation_rad;
    const double plan = reading.distance_m * std::sin(reading.zenith_rad);
    return assumed.axes_m +
           Eigen::Vector3d(plan * std::sin(azimuth), plan * std::cos(azimuth),
                           reading.distance_m * std::cos(reading.zenith_rad) - rod_m);
}

TEST(by_state, every_column_agrees_with_the_polar_formulas) {
    // The instrument is truly at a state that differs by `step`; it reads; the readings are worked
    // out as if nothing were wrong. No curvature (k = 1).
    Random random(61);
    for (int draw = 0; draw < 60; ++draw) {
        TruePose assumed;
        assumed.axes_m << 3.0, -4.0, 2.0;
        assumed.orientation_rad = random.uniform(0.0, measure::kTwoPi);
        const double azimuth = random.uniform(0.0, measure::kTwoPi);
        const double plan = random.uniform(3.0, 120.0);
        const double rod = random.uniform(0.1, 2.0);
        const Eigen::Vector3d prism =
            assumed.axes_m + Eigen::Vector3d(plan * std::sin(azimuth), plan * std::cos(azimuth),
                                             random.uniform(-0.6, 0.6) * plan);
        const Eigen::Vector3d mark = prism - Eigen::Vector3d(0.0, 0.0, rod);
        SightGeometry g;
        g.plan_m = plan;
        g.ahead << std::sin(azimuth), std::cos(azimuth);
        g.right << g.ahead.y(), -g.ahead.x();
        g.slope_m = (prism - assumed.axes_m).norm();
        g.zenith_rad = std::atan2(plan, prism.z() - assumed.axes_m.z());
        g.along = (prism - assumed.axes_m).normalized();
        const ByState by = by_state(g);
        for (int k = 0; k < kStateSize; ++k) {
            const double step = k == state_scale || k == state_orientation || k == state_index ||
                                        k == state_tilt_east || k == state_tilt_north
                                    ? 1e-6
                                    : 1e-5;
            const auto place = [&](double by_step) {
                TruePose truth = assumed;
                double rod_true = rod;
                double zenith_too_large = 0.0;
                switch (k) {
                    case state_east:
                        truth.axes_m.x() += by_step;
                        break;
                    case state_north:
                        truth.axes_m.y() += by_step;
                        break;
                    case state_orientation:
                        truth.orientation_rad += by_step;
                        break;
                    case state_height:
                        truth.axes_m.z() += by_step;
                        break;
                    case state_prism:
                        truth.prism_m = by_step;
                        break;
                    case state_scale:
                        truth.scale = by_step;
                        break;
                    case state_tilt_east:
                        truth.tilt_east_rad = by_step;
                        break;
                    case state_tilt_north:
                        truth.tilt_north_rad = by_step;
                        break;
                    case state_index:
                        zenith_too_large = by_step;
                        break;
                    default:
                        rod_true += by_step;
                        break;
                }
                auto reading = read_exactly(truth, rod_top(mark, rod_true, 0.0, 0.0), 1.0);
                reading.zenith_rad += zenith_too_large;
                return Eigen::Vector3d(place_from(assumed, reading, rod) - mark);
            };
            const Eigen::Vector3d numeric = (place(step) - place(-step)) / (2.0 * step);
            EXPECT_NEAR((by.col(k) - numeric).norm(), 0.0, 1e-5 * std::max(1.0, numeric.norm()))
                << "state " << k << ": " << by.col(k).transpose() << " against "
                << numeric.transpose();
        }
    }
}

TEST(by_state, pose_columns_are_those_of_the_misfit_model) {
    for (const auto& kind : testing::scene_kinds()) {
        Random random(62);
        const auto site = testing::draw_scene(random, kind);
        const auto setup = prepare(site.input);
        ASSERT_TRUE(setup.ok());
        const auto solved = solve_station(*setup);
        ASSERT_TRUE(solved.ok());
        const MisfitModel model = misfit_model(*setup, solved->best.pose);
        for (std::size_t i = 0; i < model.sights.size(); ++i) {
            const ByState by = by_state(model.sights[i]);
            for (int k = 0; k < model.sights[i].rows; ++k) {
                const auto row = static_cast<std::size_t>(model.sights[i].first_row + k);
                for (int p = 0; p < model.pose_size; ++p) {
                    const double from_state = model.rows[row].by_target.dot(by.col(p));
                    const double of_model = model.by_pose(static_cast<Eigen::Index>(row), p);
                    // Curvature in the zenith rows, and misfits of millimetres between the
                    // direction read and the direction to the sheet's place.
                    EXPECT_NEAR(from_state, of_model, 2e-3 * std::max(1.0, std::abs(of_model)))
                        << kind.name << " sight " << i << " row " << k << " state " << p;
                }
            }
        }
    }
}

}  // namespace
}  // namespace layproof::station

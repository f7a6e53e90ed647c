// Three instruments and eight targets of a real session (tests/data/rts-static-a): station against
// station. There is no outside truth: the first station's polar places serve as marks with the
// covariance its own readings give, the other two stand free on them. What is asserted is loose;
// the figures are printed and kept in docs/studies/real-data.md.

#include <gtest/gtest.h>

#include <cmath>
#include <cstdio>
#include <string>
#include <vector>

#include "measure/angle.hpp"
#include "station/geometry.hpp"
#include "station/misfit_model.hpp"
#include "station/solution.hpp"
#include "support/rts_static.hpp"

namespace layproof::station {
namespace {

using layproof::testing::rts_static::free_on_first;
using layproof::testing::rts_static::read_rows;
using layproof::testing::rts_static::Row;

void print(const Prepared& setup, const Solution& s) {
    std::printf("station %s: east %.4f north %.4f height %.4f m, orientation %.6f rad\n",
                setup.setup.station.c_str(), s.pose.position_m.x(), s.pose.position_m.y(),
                s.pose.position_m.z(), s.pose.orientation_rad);
    std::printf("  sd %.2f %.2f %.2f mm, %.1f\"; statistic %.1f of %d, limit %.1f: %s\n",
                1e3 * std::sqrt(s.pose.covariance(0, 0)), 1e3 * std::sqrt(s.pose.covariance(1, 1)),
                1e3 * std::sqrt(s.pose.covariance(2, 2)),
                std::sqrt(s.pose.covariance(3, 3)) / measure::kRadPerArcsec,
                s.global_test.statistic, s.global_test.dof, s.global_test.upper,
                s.global_test.passes ? "passes" : "does not pass");
    const MisfitModel model = misfit_model(setup, s.pose);
    for (std::size_t i = 0; i < setup.sights.size(); ++i) {
        const int row = model.sights[i].first_row;
        std::printf(
            "  %s  at %5.1f m: off %+5.1f %+5.1f %+5.1f mm; standardised %+5.1f %+5.1f "
            "%+5.1f\n",
            setup.marks[static_cast<std::size_t>(setup.sights[i].mark)].name.c_str(),
            model.sights[i].slope_m, 1e3 * model.misfit[row], 1e3 * model.misfit[row + 1],
            1e3 * model.misfit[row + 2], s.sights[i].standardised.direction.value_or(0.0),
            s.sights[i].standardised.zenith.value_or(0.0),
            s.sights[i].standardised.distance.value_or(0.0));
    }
}

TEST(real_data, stations_two_and_three_stand_free_on_the_first) {
    const std::vector<Row> rows = read_rows();
    ASSERT_EQ(rows.size(), 24U);
    for (const int number : {2, 3}) {
        const auto setup = prepare(free_on_first(rows, number));
        ASSERT_TRUE(setup.ok());
        const auto solved = solve_station(*setup);
        ASSERT_TRUE(solved.ok());
        const Solution& s = solved->best;
        print(*setup, s);
        EXPECT_TRUE(solved->others.empty());
        EXPECT_TRUE(s.pose.position_m.allFinite());
        EXPECT_TRUE(s.pose.covariance.allFinite());
        EXPECT_EQ(s.global_test.dof, 20);
        // A few metres from the first instrument, as the session says.
        EXPECT_LT(s.pose.position_m.norm(), 10.0);
        const MisfitModel model = misfit_model(*setup, s.pose);
        EXPECT_LT(model.misfit.cwiseAbs().maxCoeff(), 0.05);
        // As found; a change here is a change of the method, not of the site.
        const Eigen::Vector3d found = number == 2 ? Eigen::Vector3d(-0.6809, -1.1425, 0.0956)
                                                  : Eigen::Vector3d(-1.4271, -2.2303, 0.3011);
        EXPECT_NEAR((s.pose.position_m - found).norm(), 0.0, 1e-4);
        EXPECT_NEAR(s.global_test.statistic, number == 2 ? 83.7 : 32.0, 0.1);
    }
}

}  // namespace
}  // namespace layproof::station

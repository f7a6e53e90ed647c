// Published set-ups and resections, and computed companions of them: figures and sources in
// tests/reference (each file names where they come from).

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <memory>
#include <string>
#include <vector>

#include "adjust/analysis.hpp"
#include "adjust/problem.hpp"
#include "adjust/solve.hpp"
#include "frame/ellipse.hpp"
#include "frame/polar.hpp"
#include "measure/angle.hpp"
#include "station/geometry.hpp"
#include "station/observations.hpp"
#include "station/solution.hpp"
#include "station/station_support.hpp"

namespace layproof::station {
namespace {

using testing::angles_only;
using testing::gon;
using testing::PlanSetup;
using testing::Reference;

const toml::array& rows(const Reference& reference, const char* table) {
    return *reference.input()[table]["rows"].as_array();
}
double at(const toml::node& row, std::size_t column) {
    return (*row.as_array())[column].value<double>().value_or(std::nan(""));
}
std::string name(const toml::node& row) {
    return (*row.as_array())[0].value<std::string>().value_or("");
}

/// Marks of a table with columns name, E, N; held.
PlanSetup marks_of(const Reference& reference) {
    PlanSetup out;
    for (const auto& row : rows(reference, "marks")) out.mark(name(row), at(row, 1), at(row, 2));
    return out;
}

bool has(const Geometry& geometry, RemarkKind kind) {
    for (const Remark& remark : geometry.remarks)
        if (remark.kind == kind) return true;
    return false;
}

/// An angle between two marks as difference of two directions of the set-up's own function.
class Angle final : public adjust::ObservationFunction {
public:
    Angle(Eigen::Vector2d from_m, Eigen::Vector2d to_m, double angle_rad)
        : from_m_(std::move(from_m)), to_m_(std::move(to_m)), angle_rad_(angle_rad) {}

    void evaluate(std::span<const double* const> blocks, double* residual,
                  double* const* jacobians) const override {
        measure::ReducedSight sight;
        sight.has_direction = true;
        const SightFunction direction(sight, 1.0, 0.0, false);
        const std::array pose{blocks[0][0], blocks[0][1], 0.0};
        std::array<double, 2> value{};
        std::array<std::array<double, 3>, 2> by_pose{};
        for (std::size_t i = 0; i < 2; ++i) {
            const std::array<const double*, 2> at{pose.data(),
                                                  i == 0 ? from_m_.data() : to_m_.data()};
            const std::array<double*, 2> into{by_pose[i].data(), nullptr};
            direction.evaluate(at, &value[i], into.data());
        }
        residual[0] = measure::wrap_pi(value[1] - value[0] - angle_rad_);
        if (jacobians == nullptr || jacobians[0] == nullptr) return;
        for (std::size_t k = 0; k < 2; ++k) jacobians[0][k] = by_pose[1][k] - by_pose[0][k];
    }

private:
    Eigen::Vector2d from_m_;
    Eigen::Vector2d to_m_;
    double angle_rad_;
};

TEST(published, free_station_four_marks_gives_least_squares_figures) {
    const Reference reference("free-station-four-marks");
    const double scale = reference.number("sights.projection_scale");
    const double direction_sd = gon(0.005);
    PlanSetup plan;
    int index = 0;
    for (const auto& row : rows(reference, "sights")) {
        plan.mark(name(row), at(row, 1), at(row, 2));
        // Reduced as the example says: the distances are then in the grid, and no scale is left.
        const double distance = at(row, 3) * std::sin(gon(at(row, 5))) * scale;
        plan.sight(index++, gon(at(row, 4)), direction_sd, distance, 0.005);
    }
    const Prepared setup = plan.centred();
    const auto solved = solve_station(setup);
    ASSERT_TRUE(solved.ok()) << solved.refusal().to_text();
    const Solution& s = solved->best;
    reference.check("least_squares.station.E", s.pose.position_m.x());
    reference.check("least_squares.station.N", s.pose.position_m.y());
    reference.check("least_squares.orientation", s.pose.orientation_rad / measure::kRadPerGon);
    reference.check("least_squares.vPv", s.global_test.statistic);
    EXPECT_EQ(s.global_test.dof, 5);
    const auto ellipse = frame::error_ellipse(s.pose.covariance.topLeftCorner<2, 2>());
    reference.check("least_squares.ellipse_a", ellipse.semi_major_m);
    reference.check("least_squares.ellipse_b", ellipse.semi_minor_m);
    reference.check("least_squares.ellipse_azimuth", ellipse.azimuth_rad / measure::kRadPerDeg);
    reference.check("least_squares.sd_orientation",
                    std::sqrt(s.pose.covariance(3, 3)) / measure::kRadPerGon);
    for (std::size_t i = 0; i < s.sights.size(); ++i) {
        const std::string mark = setup.marks[i].name;
        const std::string of = "least_squares.";
        reference.check(of + "v_distance_" + mark, *s.sights[i].residual.distance);
        reference.check(of + "v_direction_" + mark,
                        *s.sights[i].residual.direction / measure::kRadPerGon);
        reference.check(of + "redundancy_distance_" + mark, *s.sights[i].redundancy.distance);
        reference.check(of + "redundancy_direction_" + mark, *s.sights[i].redundancy.direction);
        reference.check(of + "w_distance_" + mark, *s.sights[i].standardised.distance);
        reference.check(of + "w_direction_" + mark, *s.sights[i].standardised.direction);
    }
}

TEST(published, free_station_two_marks_gives_rigid_fit_and_new_point) {
    // Distances alone weighted like both directions: the figures are those of the rigid fit, which
    // weights all misfits in plan alike.
    const Reference reference("free-station-two-marks");
    PlanSetup plan = marks_of(reference);
    const auto& sights = rows(reference, "sights");
    for (int i = 0; i < 2; ++i) {
        const double distance = at(sights[static_cast<std::size_t>(i)], 2);
        plan.sight(i, gon(at(sights[static_cast<std::size_t>(i)], 1)), 0.01 / distance, distance,
                   0.01);
    }
    const auto solved = solve_station(plan.centred());
    ASSERT_TRUE(solved.ok());
    const Pose& pose = solved->best.pose;
    // The fit is symmetric, so least squares of both distances and directions ends in the same
    // place but for the second order of 4.6 mm misfits (below 1 µm).
    reference.check("rigid_fit.station.E", pose.position_m.x(), 5.0);
    reference.check("rigid_fit.station.N", pose.position_m.y(), 5.0);
    reference.check("rigid_fit.orientation", pose.orientation_rad / measure::kRadPerGon, 100.0);
    const Eigen::Vector2d n = frame::polar_point(
        pose.position_m.head<2>(), gon(at(sights[2], 1)) + pose.orientation_rad, at(sights[2], 2));
    reference.check("rigid_fit.N.E", n.x(), 5.0);
    reference.check("rigid_fit.N.N", n.y(), 5.0);
    EXPECT_EQ(solved->best.global_test.dof, 1);
    EXPECT_TRUE(has(judge_geometry(plan.centred(), *solved), RemarkKind::two_marks_only));
}

TEST(published, free_station_two_distances_one_direction_gives_both_intersections) {
    const Reference reference("free-station-two-marks");
    PlanSetup plan = marks_of(reference);
    const auto& sights = rows(reference, "sights");
    plan.sight(0, gon(at(sights[0], 1)), 1e-5, at(sights[0], 2), 0.002);
    plan.sight(1, std::nullopt, 0.0, at(sights[1], 2), 0.002);
    const auto solved = solve_station(plan.centred());
    ASSERT_TRUE(solved.ok());
    ASSERT_EQ(solved->others.size(), 1U);
    EXPECT_EQ(solved->best.global_test.dof, 0);
    int found = 0;
    for (const Pose& pose : {solved->best.pose, solved->others.front()}) {
        if (std::abs(pose.position_m.x() - reference.expected("distance_only.station.E").value) >
            0.01)
            continue;
        ++found;
        reference.check("distance_only.station.E", pose.position_m.x());
        reference.check("distance_only.station.N", pose.position_m.y());
        reference.check("distance_only.orientation_from_PP1",
                        pose.orientation_rad / measure::kRadPerGon);
        const Eigen::Vector2d n =
            frame::polar_point(pose.position_m.head<2>(),
                               gon(at(sights[2], 1)) + pose.orientation_rad, at(sights[2], 2));
        reference.check("distance_only.N.E", n.x());
        reference.check("distance_only.N.N", n.y());
    }
    EXPECT_EQ(found, 1);
    EXPECT_TRUE(has(judge_geometry(plan.centred(), *solved), RemarkKind::several_solutions));
    EXPECT_TRUE(has(judge_geometry(plan.centred(), *solved), RemarkKind::no_check));
}

TEST(published, free_station_misfit_unattributable_fails_and_names_nothing) {
    const Reference reference("free-station-misfit-unattributable");
    const auto& sights = rows(reference, "sights");
    const double mgon = gon(0.001);
    PlanSetup directions = marks_of(reference);
    PlanSetup all = marks_of(reference);
    for (int i = 0; i < 3; ++i) {
        const double direction = gon(at(sights[static_cast<std::size_t>(i)], 1));
        directions.sight(i, direction, mgon);
        if (i == 0) {
            all.sight(i, direction, mgon, reference.number("sights.distance_to_Z_m"), 0.003);
        } else {
            all.sight(i, direction, mgon);
        }
    }
    directions.raw().instrument = all.raw().instrument = angles_only(mgon);

    const Prepared alone = directions.centred();
    const auto resection = solve_station(alone);
    ASSERT_TRUE(resection.ok());
    const Eigen::Vector3d place = resection->best.pose.position_m;
    reference.check("directions_only.station.E", place.x());
    reference.check("directions_only.station.N", place.y());
    const Eigen::Vector2d near = (alone.marks[0].given_m + alone.origin_m).head<2>();
    reference.check("directions_only.distance_to_Z", frame::distance(place.head<2>(), near));

    const auto solved = solve_station(all.centred());
    ASSERT_TRUE(solved.ok());
    const Solution& s = solved->best;
    reference.check("least_squares.station.E", s.pose.position_m.x());
    reference.check("least_squares.station.N", s.pose.position_m.y());
    reference.check("least_squares.orientation", s.pose.orientation_rad / measure::kRadPerGon);
    reference.check("least_squares.s0", std::sqrt(s.global_test.variance_factor));
    reference.check("least_squares.residual_F1", *s.sights[1].residual.direction / mgon);
    reference.check("least_squares.residual_F2", *s.sights[2].residual.direction / mgon);
    EXPECT_FALSE(s.global_test.passes);
    // One redundancy: every test is the same number, so nothing can be named.
    const double w = std::abs(*s.sights[1].standardised.direction);
    EXPECT_NEAR(std::abs(*s.sights[2].standardised.direction), w, 1e-4 * w);
    EXPECT_NEAR(std::abs(*s.sights[0].standardised.distance), w, 1e-4 * w);
}

TEST(published, resection_three_points_gives_place_in_both_cases) {
    const Reference reference("resection-three-point");
    for (const std::string id : {"case_1", "case_2"}) {
        PlanSetup plan = marks_of(reference);
        const double apb = reference.number(id + ".angle_APB_deg") * measure::kRadPerDeg;
        const double bpc = reference.number(id + ".angle_BPC_deg") * measure::kRadPerDeg;
        const double sd = 5.0 * measure::kRadPerArcsec;
        plan.sight(0, 0.0, sd).sight(1, apb, sd).sight(2, apb + bpc, sd);
        plan.raw().instrument = angles_only(sd);
        const auto solved = solve_station(plan.centred());
        ASSERT_TRUE(solved.ok());
        // Angles printed to 1e-4 degree are 2e-3 m at 1 km; the source used the rounded ones, as
        // here.
        reference.check(id + ".P.E", solved->best.pose.position_m.x(), 1.01);
        reference.check(id + ".P.N", solved->best.pose.position_m.y(), 1.01);
        EXPECT_EQ(solved->best.global_test.dof, 0);
    }
}

TEST(published, resection_snellius_gives_the_three_distances) {
    const Reference reference("resection-snellius-distances");
    int number = 0;
    for (const auto& row : rows(reference, "cases")) {
        ++number;
        const double a = at(row, 0);
        const double b = at(row, 1);
        const double c = at(row, 2);
        const double alpha = at(row, 3) * measure::kRadPerDeg;
        const double beta = at(row, 4) * measure::kRadPerDeg;
        // A at the origin, B to the east; C by the law of cosines, on the side away from P: P sees
        // the whole triangle with C between A and B (its angles add to APB).
        const double x = (b * b + c * c - a * a) / (2.0 * c);
        const double y = std::sqrt(b * b - x * x);
        int fits = 0;
        for (const double side : {1.0, -1.0}) {
            PlanSetup plan;
            plan.mark("A", 0.0, 0.0).mark("B", c, 0.0).mark("C", x, side * y);
            const double sd = 1.0 * measure::kRadPerArcsec;
            plan.sight(0, 0.0, sd).sight(2, alpha, sd).sight(1, alpha + beta, sd);
            plan.raw().instrument = angles_only(sd);
            const auto solved = solve_station(plan.centred());
            if (!solved.ok()) continue;
            const Eigen::Vector2d p = solved->best.pose.position_m.head<2>();
            const std::string of = "case_" + std::to_string(number);
            const double to_a = p.norm();
            if (std::abs(to_a - reference.expected(of + ".PA").value) > 0.01) continue;
            ++fits;
            reference.check(of + ".PA", to_a);
            reference.check(of + ".PB", (p - Eigen::Vector2d(c, 0.0)).norm());
            reference.check(of + ".PC", (p - Eigen::Vector2d(x, side * y)).norm());
        }
        EXPECT_EQ(fits, 1) << "case " << number;
    }
}

TEST(published, resection_near_danger_circle_gives_weakness_and_remark) {
    const Reference reference("resection-danger-circle");
    const Eigen::Vector2d centre(reference.expected("centre.E").value,
                                 reference.expected("centre.N").value);
    const double radius = reference.expected("radius").value;
    const double sd = 5.0 * measure::kRadPerArcsec;
    for (const int offset : {1, 10, 100, 400}) {
        const Eigen::Vector2d place = centre - Eigen::Vector2d(0.0, radius + offset);
        PlanSetup directions = marks_of(reference);
        directions.raw().instrument = angles_only(sd);
        std::vector<Eigen::Vector2d> marks;
        for (const auto& row : rows(reference, "marks")) {
            marks.emplace_back(at(row, 1), at(row, 2));
            directions.sight(static_cast<int>(marks.size()) - 1,
                             testing::exact_direction(place, marks.back(), 0.7), sd);
        }
        // The file's two angles are independent with 5" each.
        adjust::Problem problem;
        const adjust::ParameterId id = problem.add_parameter({place.data(), 2});
        const std::array blocks{id};
        for (std::size_t i = 0; i < 2; ++i) {
            const double angle = testing::exact_direction(place, marks[i + 1], 0.0) -
                                 testing::exact_direction(place, marks[i], 0.0);
            problem.add_observation(std::make_unique<Angle>(marks[i], marks[i + 1], angle), blocks,
                                    Eigen::MatrixXd::Constant(1, 1, sd * sd));
        }
        const auto summary = adjust::solve(problem);
        ASSERT_EQ(summary.status, adjust::SolveStatus::converged);
        const Eigen::Matrix2d covariance = adjust::Analysis(problem, summary).covariance(id);
        const double weakest = frame::error_ellipse(covariance).semi_major_m;
        reference.check("offset_" + std::to_string(offset) + "m.sigma_max", weakest, 2.0);

        const Prepared setup = directions.centred();
        const auto resection = solve_station(setup);
        ASSERT_TRUE(resection.ok()) << offset;
        EXPECT_NEAR((resection->best.pose.position_m.head<2>() - place).norm(), 0.0, 1e-4);
        const Geometry geometry = judge_geometry(setup, *resection);
        EXPECT_EQ(has(geometry, RemarkKind::danger_circle), offset <= 100) << offset;
        // Three directions of 5" make two angles of 7" that share one: weaker than the file's, by
        // less than the largest eigenvalue of [2 −1; −1 2].
        EXPECT_GT(geometry.weak.major_m, weakest);
        EXPECT_LT(geometry.weak.major_m, std::sqrt(3.0) * weakest);
    }
}

TEST(published, resection_on_the_danger_circle_is_refused_or_very_weak) {
    const Reference reference("resection-danger-circle");
    const double sd = 5.0 * measure::kRadPerArcsec;
    for (const std::string id : {"station_1", "station_2", "station_3"}) {
        PlanSetup directions = marks_of(reference);
        directions.raw().instrument = angles_only(sd);
        const double apb = reference.expected(id + ".angle_APB").value * measure::kRadPerDeg;
        const double bpc = reference.expected(id + ".angle_BPC").value * measure::kRadPerDeg;
        directions.sight(0, 0.1, sd).sight(1, 0.1 + apb, sd).sight(2, 0.1 + apb + bpc, sd);
        const Prepared setup = directions.centred();
        const auto solved = solve_station(setup);
        if (!solved.ok()) {
            EXPECT_EQ(solved.refusal().code, ErrorCode::not_solvable);
            continue;
        }
        const Geometry geometry = judge_geometry(setup, *solved);
        EXPECT_TRUE(has(geometry, RemarkKind::danger_circle));
        EXPECT_GT(geometry.weak.major_m, 1000.0);
    }
}

TEST(published, resection_angles_least_squares_gives_place_residuals_and_redundancy) {
    // Flagged in the collection: the printed values were written down from memory, the further ones
    // computed apart from this code.
    const Reference reference("resection-angles-least-squares");
    std::vector<Eigen::Vector2d> marks;
    for (const auto& row : rows(reference, "marks")) marks.emplace_back(at(row, 1), at(row, 2));
    adjust::Problem problem;
    const std::array start{reference.number("marks.start_E"), reference.number("marks.start_N")};
    const adjust::ParameterId place = problem.add_parameter(start);
    const std::array blocks{place};
    std::size_t i = 0;
    for (const auto& row : rows(reference, "angles")) {
        const double angle =
            (at(row, 2) + at(row, 3) / 60.0 + at(row, 4) / 3600.0) * measure::kRadPerDeg;
        const double sd = at(row, 5) * measure::kRadPerArcsec;
        problem.add_observation(std::make_unique<Angle>(marks[i], marks[i + 1], angle), blocks,
                                Eigen::MatrixXd::Constant(1, 1, sd * sd));
        ++i;
    }
    const auto summary = adjust::solve(problem);
    ASSERT_EQ(summary.status, adjust::SolveStatus::converged);
    const adjust::Analysis analysis(problem, summary);
    reference.check("U.E", problem.values()[0]);
    reference.check("U.N", problem.values()[1]);
    reference.check("U.E_full", problem.values()[0]);
    reference.check("U.N_full", problem.values()[1]);
    const double s0 = std::sqrt(summary.weighted_square_sum / summary.redundancy);
    reference.check("s0", s0);
    const Eigen::MatrixXd covariance = analysis.covariance(place);
    reference.check("sd_E", s0 * std::sqrt(covariance(0, 0)));
    reference.check("sd_N", s0 * std::sqrt(covariance(1, 1)));
    const std::array<std::string, 3> names{"PUQ", "QUR", "RUS"};
    for (Eigen::Index k = 0; k < 3; ++k) {
        const std::string& name_of = names[static_cast<std::size_t>(k)];
        reference.check("residual_" + name_of, analysis.residual()[k] / measure::kRadPerArcsec);
        reference.check("redundancy_" + name_of, analysis.redundancy()[k]);
    }
}

}  // namespace
}  // namespace layproof::station

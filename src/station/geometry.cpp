#include "station/geometry.hpp"

#include <Eigen/Eigenvalues>
#include <Eigen/QR>
#include <algorithm>
#include <cmath>
#include <optional>
#include <set>

#include "frame/ellipse.hpp"
#include "measure/angle.hpp"

namespace layproof::station {
namespace {

constexpr double kNarrowFan_rad = 30.0 * measure::kRadPerDeg;
constexpr double kOneSide_rad = measure::kPi;
constexpr double kLineShare = 1.0 / 20.0;
constexpr double kDangerShare = 1.0 / 10.0;
constexpr double kSteep_rad = 45.0 * measure::kRadPerDeg;

/// Width of the smallest angle that holds all azimuths, and the largest gap between neighbours.
void fan(std::vector<double> azimuths, double& width_rad, double& gap_rad) {
    std::sort(azimuths.begin(), azimuths.end());
    gap_rad = azimuths.front() + measure::kTwoPi - azimuths.back();
    for (std::size_t i = 1; i < azimuths.size(); ++i)
        gap_rad = std::max(gap_rad, azimuths[i] - azimuths[i - 1]);
    width_rad = measure::kTwoPi - gap_rad;
}

struct Circle {
    Eigen::Vector2d centre;
    double radius = 0.0;
};

std::optional<Circle> circle_through(const std::vector<Eigen::Vector2d>& points) {
    if (points.size() < 3) return std::nullopt;
    Eigen::MatrixXd rows(static_cast<Eigen::Index>(points.size()), 3);
    Eigen::VectorXd right(static_cast<Eigen::Index>(points.size()));
    for (std::size_t i = 0; i < points.size(); ++i) {
        const auto at = static_cast<Eigen::Index>(i);
        rows.row(at) << 2.0 * points[i].x(), 2.0 * points[i].y(), 1.0;
        right[at] = points[i].squaredNorm();
    }
    const Eigen::Vector3d c = rows.colPivHouseholderQr().solve(right);
    const double square = c.z() + c.head<2>().squaredNorm();
    if (!c.allFinite() || !(square > 0.0)) return std::nullopt;
    return Circle{c.head<2>(), std::sqrt(square)};
}

}  // namespace

std::string_view to_word(RemarkKind kind) {
    switch (kind) {
        case RemarkKind::two_marks_only:
            return "two-marks-only";
        case RemarkKind::danger_circle:
            return "danger-circle";
        case RemarkKind::marks_in_line:
            return "marks-in-line";
        case RemarkKind::narrow_fan:
            return "narrow-fan";
        case RemarkKind::one_sided:
            return "one-sided";
        case RemarkKind::no_check:
            return "no-check";
        case RemarkKind::several_solutions:
            return "several-solutions";
        case RemarkKind::steep_sight:
            return "steep-sight";
        case RemarkKind::no_height:
            return "no-height";
    }
    return "unknown";
}

Geometry judge_geometry(const Prepared& setup, const Solved& solved) {
    Geometry out;
    const Pose& pose = solved.best.pose;
    const Eigen::Vector2d at = (pose.position_m - setup.origin_m).head<2>();

    std::set<int> seen;
    bool any_distance = false;
    bool other_than_direction = false;
    std::set<int> steep;
    for (const ControlSight& sight : setup.sights) {
        if (!sight.used || !setup.marks[static_cast<std::size_t>(sight.mark)].has_plan) continue;
        if (sight.mark != setup.occupied_mark) seen.insert(sight.mark);
        any_distance = any_distance || sight.reduced.has_distance;
        if (sight.reduced.has_zenith &&
            std::abs(sight.reduced.zenith_rad - measure::kPi / 2.0) > kSteep_rad)
            steep.insert(sight.mark);
    }
    other_than_direction = any_distance || setup.occupied_mark >= 0;
    out.mark_count = static_cast<int>(seen.size());

    std::vector<Eigen::Vector2d> places;
    std::vector<double> azimuths;
    std::vector<std::string> names;
    for (const int m : seen) {
        const UsedMark& mark = setup.marks[static_cast<std::size_t>(m)];
        places.emplace_back(mark.given_m.head<2>());
        names.push_back(mark.name);
        const Eigen::Vector2d to = places.back() - at;
        if (to.norm() > 1e-6) azimuths.push_back(measure::wrap_0_2pi(std::atan2(to.x(), to.y())));
    }

    if (!solved.others.empty())
        out.remarks.push_back({RemarkKind::several_solutions, 0.0, 0.0, {}});
    if (solved.best.global_test.dof == 0)
        out.remarks.push_back({RemarkKind::no_check, 0.0, 0.0, names});
    if (out.mark_count == 2 && setup.occupied_mark < 0)
        out.remarks.push_back({RemarkKind::two_marks_only, 0.0, 0.0, names});

    if (!other_than_direction && places.size() >= 3) {
        const auto circle = circle_through(places);
        if (circle) {
            const double off = (at - circle->centre).norm() - circle->radius;
            // A true danger circle passes near every mark, not only near their mean.
            double worst = 0.0;
            for (const Eigen::Vector2d& p : places)
                worst = std::max(worst, std::abs((p - circle->centre).norm() - circle->radius));
            if (std::abs(off) < kDangerShare * circle->radius &&
                worst < kDangerShare * circle->radius)
                out.remarks.push_back({RemarkKind::danger_circle, 0.0, off, names});
        }
    }
    if (azimuths.size() >= 2 && setup.occupied_mark < 0) {
        double width = 0.0;
        double gap = 0.0;
        fan(azimuths, width, gap);
        if (width < kNarrowFan_rad) {
            out.remarks.push_back({RemarkKind::narrow_fan, width, 0.0, names});
        } else if (gap > kOneSide_rad && azimuths.size() >= 3) {
            out.remarks.push_back({RemarkKind::one_sided, width, 0.0, names});
        }
    }
    if (places.size() >= 3) {
        Eigen::Vector2d mean = Eigen::Vector2d::Zero();
        for (const Eigen::Vector2d& p : places) mean += p;
        mean /= static_cast<double>(places.size());
        Eigen::Matrix2d scatter = Eigen::Matrix2d::Zero();
        for (const Eigen::Vector2d& p : places) scatter += (p - mean) * (p - mean).transpose();
        const Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> eigen(scatter);
        const double across = std::sqrt(std::max(eigen.eigenvalues()[0], 0.0));
        const double along = std::sqrt(std::max(eigen.eigenvalues()[1], 0.0));
        if (across < kLineShare * along) {
            const Eigen::Vector2d line = eigen.eigenvectors().col(1);
            out.remarks.push_back(
                {RemarkKind::marks_in_line,
                 std::fmod(std::atan2(line.x(), line.y()) + measure::kTwoPi, measure::kPi), across,
                 names});
        }
    }
    if (!steep.empty()) {
        Remark remark{RemarkKind::steep_sight, kSteep_rad, 0.0, {}};
        for (const int m : steep)
            remark.subjects.push_back(setup.marks[static_cast<std::size_t>(m)].name);
        out.remarks.push_back(std::move(remark));
    }
    if (!setup.has_height) out.remarks.push_back({RemarkKind::no_height, 0.0, 0.0, {}});

    const frame::ErrorEllipse ellipse = frame::error_ellipse(pose.covariance.topLeftCorner<2, 2>());
    out.weak = {ellipse.azimuth_rad, ellipse.semi_major_m, ellipse.semi_minor_m};
    return out;
}

}  // namespace layproof::station

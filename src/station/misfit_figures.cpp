#include "station/misfit_figures.hpp"

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <vector>

#include "adjust/tests.hpp"
#include "station/misfit_model.hpp"

namespace layproof::station {
namespace {

constexpr double kSignificance = 0.001;
constexpr double kPower = 0.80;
/// Below this share of the weight a sight would have alone, nothing checks it.
constexpr double kUnchecked = 1e-9;
/// Singular shares below this count as not determined.
constexpr double kDetermined = 1e-6;

/// The rows of one mark, taken from its used sights or from the others.
std::vector<Eigen::Index> rows_of(const Prepared& setup, const MisfitModel& model, int mark,
                                  bool used) {
    std::vector<Eigen::Index> out;
    for (std::size_t r = 0; r < model.rows.size(); ++r) {
        const MisfitRow& row = model.rows[r];
        if (row.mark == mark && row.sight >= 0 &&
            setup.sights[static_cast<std::size_t>(row.sight)].used == used)
            out.push_back(static_cast<Eigen::Index>(r));
    }
    return out;
}

void place_mark(const MisfitModel& model, const Eigen::Matrix4d& pose_covariance,
                const std::vector<Eigen::Index>& rows, bool used, SolvedMark& out) {
    const auto n = static_cast<Eigen::Index>(rows.size());
    Eigen::MatrixXd by_target(n, 3);
    Eigen::MatrixXd by_pose(n, 4);
    Eigen::VectorXd misfit(n);
    Eigen::MatrixXd covariance(n, n);
    for (Eigen::Index i = 0; i < n; ++i) {
        const Eigen::Index from = rows[static_cast<std::size_t>(i)];
        by_target.row(i) = model.rows[static_cast<std::size_t>(from)].by_target.transpose();
        by_pose.row(i) = model.by_pose.row(from);
        misfit[i] = model.misfit[from];
        for (Eigen::Index j = 0; j < n; ++j)
            covariance(i, j) = model.covariance(from, rows[static_cast<std::size_t>(j)]);
    }
    // Pseudo-inverse: a component that no row reaches must not spoil the others.
    const Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> eigen(by_target.transpose() * by_target);
    const double largest = eigen.eigenvalues()[2];
    if (!(largest > 0.0)) return;
    Eigen::Matrix3d inverse = Eigen::Matrix3d::Zero();
    Eigen::Matrix3d seen = Eigen::Matrix3d::Zero();
    for (int k = 0; k < 3; ++k) {
        if (eigen.eigenvalues()[k] < kDetermined * largest) continue;
        const Eigen::Vector3d v = eigen.eigenvectors().col(k);
        inverse += v * v.transpose() / eigen.eigenvalues()[k];
        seen += v * v.transpose();
    }
    const Eigen::MatrixXd from_misfit = inverse * by_target.transpose();  // 3 × n
    const Eigen::Vector3d off = from_misfit * misfit;
    const Eigen::MatrixXd of_pose = by_pose * pose_covariance * by_pose.transpose();
    const Eigen::MatrixXd shown =
        used ? Eigen::MatrixXd(covariance - of_pose) : Eigen::MatrixXd(covariance + of_pose);
    out.off_covariance = from_misfit * shown * from_misfit.transpose();
    const std::array<std::optional<double>*, 3> into{&out.off_east_m, &out.off_north_m,
                                                     &out.off_height_m};
    for (int k = 0; k < 3; ++k) {
        const bool determined = std::abs(seen(k, k) - 1.0) < kDetermined;
        if (determined && std::isfinite(off[k])) *into[static_cast<std::size_t>(k)] = off[k];
    }
}

void judge_sight(const MisfitModel& model, const SightGeometry& geometry, SolvedSight& out) {
    const Eigen::Index first = geometry.first_row;
    const Eigen::Index count = geometry.rows;
    Eigen::MatrixXd by_target(count, 3);
    for (Eigen::Index i = 0; i < count; ++i)
        by_target.row(i) = model.rows[static_cast<std::size_t>(first + i)].by_target.transpose();
    const int size = by_target.col(2).isZero(1e-12) ? 2 : 3;
    const Eigen::MatrixXd b = by_target.leftCols(size);
    const Eigen::MatrixXd checked =
        b.transpose() * model.reduced.block(first, first, count, count) * b;
    const Eigen::MatrixXd alone =
        b.transpose() * model.weight.block(first, first, count, count) * b;
    const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> eigen(checked);
    const double weakest = eigen.eigenvalues()[0];
    if (!(weakest > kUnchecked * alone.trace())) return;
    const double shift_m = std::sqrt(adjust::noncentrality(kSignificance, kPower, 1) / weakest);
    if (!std::isfinite(shift_m)) return;
    out.detectable_m = shift_m;
    const Eigen::VectorXd effect = model.pose_from_misfit.middleCols(first, count) *
                                   (b * eigen.eigenvectors().col(0) * shift_m);
    out.undetected_effect_m = effect.head<2>().norm();
}

}  // namespace

void add_misfit_figures(const Prepared& setup, Solution& solution) {
    const MisfitModel model = misfit_model(setup, solution.pose);
    if (!model.usable) return;
    for (std::size_t i = 0; i < setup.sights.size(); ++i) {
        const SightGeometry& geometry = model.sights[i];
        if (setup.sights[i].used && geometry.rows > 0)
            judge_sight(model, geometry, solution.sights[i]);
    }
    // Sights that are not used have rows only in a model that takes them in.
    std::optional<MisfitModel> with_unused;
    if (!std::all_of(setup.sights.begin(), setup.sights.end(),
                     [](const ControlSight& sight) { return sight.used; })) {
        Prepared everything = setup;
        for (ControlSight& sight : everything.sights) sight.used = true;
        with_unused = misfit_model(everything, solution.pose);
    }
    const MisfitModel& all = with_unused ? *with_unused : model;
    for (std::size_t m = 0; m < setup.marks.size(); ++m) {
        for (const bool used : {true, false}) {
            const auto rows = rows_of(setup, all, static_cast<int>(m), used);
            if (rows.empty()) continue;
            place_mark(all, model.pose_covariance, rows, used, solution.marks[m]);
            break;
        }
    }
}

}  // namespace layproof::station

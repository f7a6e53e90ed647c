// One free station of 8 marks in 2 rounds, solved in full (pose, covariance, redundancy,
// standardised residuals, detectable errors) against the same least squares in Ceres with the
// covariance of the pose, in one process. Same start value, same step tolerance.

#include <benchmark/benchmark.h>

#include <ceres/ceres.h>
#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <array>
#include <cmath>
#include <cstdlib>
#include <memory>
#include <vector>

#include "measure/angle.hpp"
#include "station/lay_prediction.hpp"
#include "station/misfit_model.hpp"
#include "station/observations.hpp"
#include "station/solution.hpp"
#include "station/start_values.hpp"
#include "support/site_simulator.hpp"

namespace layproof::station {
namespace {

Prepared one_station(int marks, int rounds) {
    Random random(88);
    layproof::testing::SiteOptions options;
    options.marks = marks;
    options.rounds = rounds;
    const auto site = layproof::testing::simulate_site(random, options);
    auto setup = prepare(site.input);
    if (!setup.ok()) std::abort();
    return *setup;
}

void solve_ours(benchmark::State& state) {
    const Prepared setup =
        one_station(static_cast<int>(state.range(0)), static_cast<int>(state.range(1)));
    for (auto _ : state) {
        auto solved = solve_station(setup);
        benchmark::DoNotOptimize(solved);
    }
}
BENCHMARK(solve_ours)->Args({8, 2})->Args({3, 1})->Unit(benchmark::kMicrosecond);

/// The same functions with analytic derivatives, whitened, of fixed size.
class SightCost final : public ceres::SizedCostFunction<3, 4, 3> {
public:
    SightCost(const Prepared& setup, const ControlSight& sight)
        : function_(sight.reduced, setup.scale_factor, setup.instrument.refraction_k, true) {
        const Eigen::Matrix3d factor = sight.reduced.covariance.llt().matrixL();
        whitening_ = factor.inverse();
    }
    bool Evaluate(double const* const* parameters, double* residuals,
                  double** jacobians) const override {
        function_.evaluate({parameters, 2}, residuals, jacobians);
        Eigen::Map<Eigen::Vector3d> v(residuals);
        v = (whitening_ * v).eval();
        if (jacobians == nullptr) return true;
        if (jacobians[0] != nullptr) {
            Eigen::Map<Eigen::Matrix<double, 3, 4, Eigen::RowMajor>> j(jacobians[0]);
            j = (whitening_ * j).eval();
        }
        if (jacobians[1] != nullptr) {
            Eigen::Map<Eigen::Matrix<double, 3, 3, Eigen::RowMajor>> j(jacobians[1]);
            j = (whitening_ * j).eval();
        }
        return true;
    }

private:
    SightFunction function_;
    Eigen::Matrix3d whitening_;
};

class MarkCost final : public ceres::SizedCostFunction<3, 3> {
public:
    explicit MarkCost(const UsedMark& mark)
        : given_(mark.given_m), weight_(mark.sd_m.cwiseInverse()) {}
    bool Evaluate(double const* const* parameters, double* residuals,
                  double** jacobians) const override {
        Eigen::Map<Eigen::Vector3d> v(residuals);
        v = weight_.cwiseProduct(Eigen::Map<const Eigen::Vector3d>(parameters[0]) - given_);
        if (jacobians != nullptr && jacobians[0] != nullptr) {
            Eigen::Map<Eigen::Matrix<double, 3, 3, Eigen::RowMajor>> j(jacobians[0]);
            j = weight_.asDiagonal();
        }
        return true;
    }

private:
    Eigen::Vector3d given_;
    Eigen::Vector3d weight_;
};

struct Other {
    std::array<double, 4> pose{};
    Eigen::Matrix4d covariance = Eigen::Matrix4d::Zero();
};

/// Everything from Prepared, as solve_station does: problem, start value, solution, covariance of
/// the pose.
Other solve_with_ceres(const Prepared& setup, ceres::LinearSolverType linear,
                       ceres::CovarianceAlgorithmType how, bool with_covariance) {
    const StartValue start = start_values(setup).front();
    Other out;
    out.pose = {start.east_m, start.north_m, start.orientation_rad, start.height_m};
    std::vector<std::array<double, 3>> marks;
    marks.reserve(setup.marks.size());
    ceres::Problem::Options quiet;
    quiet.disable_all_safety_checks = true;
    ceres::Problem problem(quiet);
    problem.AddParameterBlock(out.pose.data(), 4);
    auto ordering = std::make_shared<ceres::ParameterBlockOrdering>();
    ordering->AddElementToGroup(out.pose.data(), 1);
    for (const UsedMark& mark : setup.marks) {
        marks.push_back({mark.given_m.x(), mark.given_m.y(), mark.given_m.z()});
        problem.AddParameterBlock(marks.back().data(), 3);
        problem.AddResidualBlock(new MarkCost(mark), nullptr, marks.back().data());
        ordering->AddElementToGroup(marks.back().data(), 0);
    }
    for (const ControlSight& sight : setup.sights)
        problem.AddResidualBlock(new SightCost(setup, sight), nullptr, out.pose.data(),
                                 marks[static_cast<std::size_t>(sight.mark)].data());
    ceres::Solver::Options options;
    options.linear_solver_type = linear;
    if (linear == ceres::DENSE_SCHUR) options.linear_solver_ordering = ordering;
    options.num_threads = 1;
    options.logging_type = ceres::SILENT;
    options.max_num_iterations = 50;
    options.function_tolerance = 1e-10;
    options.gradient_tolerance = 1e-12;
    options.parameter_tolerance = 1e-10;
    options.jacobi_scaling = true;
    ceres::Solver::Summary summary;
    ceres::Solve(options, &problem, &summary);
    if (!with_covariance) return out;
    ceres::Covariance::Options covariance_options;
    covariance_options.algorithm_type = how;
    covariance_options.num_threads = 1;
    ceres::Covariance covariance(covariance_options);
    const std::vector<std::pair<const double*, const double*>> pairs{
        {out.pose.data(), out.pose.data()}};
    if (!covariance.Compute(pairs, &problem)) std::abort();
    covariance.GetCovarianceBlock(out.pose.data(), out.pose.data(), out.covariance.data());
    return out;
}

void solve_ceres(benchmark::State& state, ceres::LinearSolverType linear,
                 ceres::CovarianceAlgorithmType how, bool with_covariance) {
    const Prepared setup =
        one_station(static_cast<int>(state.range(0)), static_cast<int>(state.range(1)));
    // Both must have solved the same problem.
    const Other other = solve_with_ceres(setup, linear, how, with_covariance);
    const auto ours = solve_station(setup);
    const Eigen::Vector3d place = ours->best.pose.position_m - setup.origin_m;
    if (std::hypot(place.x() - other.pose[0], place.y() - other.pose[1]) > 1e-6 ||
        (with_covariance &&
         std::abs(other.covariance(0, 0) / ours->best.pose.covariance(0, 0) - 1.0) > 1e-4))
        state.SkipWithError("Ceres found another solution");
    for (auto _ : state) {
        auto solved = solve_with_ceres(setup, linear, how, with_covariance);
        benchmark::DoNotOptimize(solved);
    }
}
#define LAYPROOF_CERES(name, linear, how, covariance)             \
    BENCHMARK_CAPTURE(solve_ceres, name, linear, how, covariance) \
        ->Args({8, 2})                                            \
        ->Unit(benchmark::kMicrosecond)
LAYPROOF_CERES(dense_qr, ceres::DENSE_QR, ceres::SPARSE_QR, true);
LAYPROOF_CERES(dense_normal_cholesky, ceres::DENSE_NORMAL_CHOLESKY, ceres::SPARSE_QR, true);
LAYPROOF_CERES(dense_schur, ceres::DENSE_SCHUR, ceres::SPARSE_QR, true);
LAYPROOF_CERES(dense_normal_cholesky_dense_svd, ceres::DENSE_NORMAL_CHOLESKY, ceres::DENSE_SVD,
               true);
LAYPROOF_CERES(dense_qr_no_covariance, ceres::DENSE_QR, ceres::SPARSE_QR, false);
LAYPROOF_CERES(dense_normal_cholesky_no_covariance, ceres::DENSE_NORMAL_CHOLESKY, ceres::SPARSE_QR,
               false);
LAYPROOF_CERES(dense_schur_no_covariance, ceres::DENSE_SCHUR, ceres::SPARSE_QR, false);
#undef LAYPROOF_CERES

void linear_model(benchmark::State& state) {
    const Prepared setup = one_station(8, 2);
    const Pose pose = solve_station(setup)->best.pose;
    for (auto _ : state) {
        auto model = misfit_model(setup, pose);
        benchmark::DoNotOptimize(model);
    }
}
BENCHMARK(linear_model)->Unit(benchmark::kMicrosecond);

void forecast_of_fifty_points(benchmark::State& state) {
    const Prepared setup = one_station(8, 2);
    const Pose pose = solve_station(setup)->best.pose;
    std::vector<LayTarget> targets(50);
    for (std::size_t i = 0; i < targets.size(); ++i) {
        targets[i].east_m = pose.position_m.x() + 10.0 + static_cast<double>(i);
        targets[i].north_m = pose.position_m.y() + 5.0;
        targets[i].height_m = pose.position_m.z() - 1.0;
        targets[i].tolerance_plan_m = 0.008;
        targets[i].tolerance_height_m = 0.006;
    }
    for (auto _ : state) {
        auto answer = forecast(pose, targets, setup.instrument, 1.5, {belief_of(pose)}, 0.95);
        benchmark::DoNotOptimize(answer);
    }
}
BENCHMARK(forecast_of_fifty_points)->Unit(benchmark::kMicrosecond);

}  // namespace
}  // namespace layproof::station

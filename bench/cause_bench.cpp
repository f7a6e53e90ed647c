// What is wrong at a set-up, all single causes and pairs, against solving every single hypothesis
// (each cause, subject and size, each exchange of names) anew with Ceres, in one process. Ceres is
// given analytic derivatives, fixed block sizes, one problem for all amounts, and the solution as
// booked to start from; it solves only (no covariance, no determinant, no pairs).

#include <benchmark/benchmark.h>

#include <ceres/ceres.h>
#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <array>
#include <cmath>
#include <cstdlib>
#include <memory>
#include <vector>

#include "cause/diagnose.hpp"
#include "exchange/tables/causes.hpp"
#include "station/observations.hpp"
#include "station/solution.hpp"
#include "support/site_simulator.hpp"

namespace layproof::cause {
namespace {

using station::ControlSight;
using station::Prepared;
using station::UsedMark;

struct Case {
    Prepared setup;
    station::Solution solution;
};

/// A free station with one mark 25 mm away from its sheet.
Case one_case(int marks, int rounds) {
    Random random(88);
    layproof::testing::SiteOptions options;
    options.marks = marks;
    options.rounds = rounds;
    auto site = layproof::testing::simulate_site(random, options);
    site.input.marks[1].east_m = *site.input.marks[1].east_m + 0.025;
    const auto setup = station::prepare(site.input);
    if (!setup.ok()) std::abort();
    const auto solved = station::solve_station(*setup);
    if (!solved.ok()) std::abort();
    return {*setup, solved->best};
}

void diagnose_singles_and_pairs(benchmark::State& state) {
    const Case c = one_case(static_cast<int>(state.range(0)), static_cast<int>(state.range(1)));
    const CauseTable table = exchange::shipped_table();
    const Diagnosis first = diagnose(c.setup, c.solution, table);
    if (first.entries.front().members.front().cause != Cause::mark_moved)
        state.SkipWithError("the moved mark is not found");
    for (auto _ : state) {
        auto answer = diagnose(c.setup, c.solution, table);
        benchmark::DoNotOptimize(answer);
    }
}
BENCHMARK(diagnose_singles_and_pairs)
    ->Args({3, 1})
    ->Args({8, 2})
    ->Args({30, 2})
    ->Unit(benchmark::kMicrosecond);

void diagnose_singles(benchmark::State& state) {
    const Case c = one_case(static_cast<int>(state.range(0)), static_cast<int>(state.range(1)));
    const CauseTable table = exchange::shipped_table();
    DiagnoseOptions options;
    options.try_pairs = false;
    for (auto _ : state) {
        auto answer = diagnose(c.setup, c.solution, table, {}, options);
        benchmark::DoNotOptimize(answer);
    }
}
BENCHMARK(diagnose_singles)->Args({8, 2})->Args({30, 2})->Unit(benchmark::kMicrosecond);

/// Which amount is an unknown now; shared by all cost functions of a problem.
struct Alternative {
    Cause cause = Cause::nothing_wrong;
    int mark = -1;
    int sight = -1;
    std::array<double, 3> sd{1.0, 1.0, 1.0};
    int amounts = 0;
};

/// Direction, zenith, distance of one sight, whitened; blocks pose, mark, amounts.
class SightCost final : public ceres::SizedCostFunction<3, 4, 3, 3> {
public:
    SightCost(const Prepared& setup, int sight, const Alternative& alternative)
        : sight_(sight),
          reduced_(setup.sights[static_cast<std::size_t>(sight)].reduced),
          mark_(setup.sights[static_cast<std::size_t>(sight)].mark),
          function_(reduced_, setup.scale_factor, setup.instrument.refraction_k, true),
          alternative_(alternative) {
        const Eigen::Matrix3d factor = reduced_.covariance.llt().matrixL();
        whitening_ = factor.inverse();
    }

    bool Evaluate(double const* const* parameters, double* residuals,
                  double** jacobians) const override {
        std::array<double, 4> pose{};
        std::array<double, 3> mark{};
        std::copy_n(parameters[0], 4, pose.begin());
        std::copy_n(parameters[1], 3, mark.begin());
        const double* a = parameters[2];
        const bool mine = alternative_.sight == sight_;
        Eigen::Vector3d extra = Eigen::Vector3d::Zero();  // added to the readings
        Eigen::Matrix3d by_target = Eigen::Matrix3d::Zero();
        Eigen::Matrix3d by_extra = Eigen::Matrix3d::Zero();
        bool disturbed = false;
        switch (alternative_.cause) {
            case Cause::mark_moved:
                if (alternative_.mark == mark_) by_target.topLeftCorner<2, 2>().setIdentity();
                break;
            case Cause::rod_not_plumb:
                if (mine) by_target.topLeftCorner<2, 2>().setIdentity();
                break;
            case Cause::mark_height_changed:
                if (alternative_.mark == mark_) by_target(2, 0) = 1.0;
                break;
            case Cause::rod_height_wrong:
                if (mine) by_target(2, 0) = 1.0;
                break;
            case Cause::rod_height_wrong_on_all:
                by_target(2, 0) = 1.0;
                break;
            case Cause::prism_constant_wrong:
                by_extra(2, 0) = 1.0;
                break;
            case Cause::distance_scale_wrong:
                by_extra(2, 0) = reduced_.distance_m;
                break;
            case Cause::gross_distance:
                by_extra(2, 0) = mine ? 1.0 : 0.0;
                break;
            case Cause::vertical_index_wrong:
                by_extra(1, 0) = reduced_.face_balance;
                break;
            case Cause::gross_direction:
                by_extra(0, 0) = mine ? 1.0 : 0.0;
                break;
            case Cause::gross_zenith:
                by_extra(1, 0) = mine ? 1.0 : 0.0;
                break;
            case Cause::out_of_level:
                by_extra(1, 0) = std::sin(reduced_.direction_rad + pose[2]);
                by_extra(1, 1) = std::cos(reduced_.direction_rad + pose[2]);
                break;
            case Cause::tripod_disturbed:
                disturbed = sight_ >= alternative_.sight;
                break;
            default:
                break;
        }
        const Eigen::Map<const Eigen::Vector3d> amounts(a);
        if (disturbed)
            for (std::size_t k = 0; k < 3; ++k) pose[k] += a[k];
        const Eigen::Vector3d shift = by_target * amounts;
        for (std::size_t k = 0; k < 3; ++k) mark[k] += shift[static_cast<Eigen::Index>(k)];
        extra = by_extra * amounts;

        const std::array<const double*, 2> blocks{pose.data(), mark.data()};
        Eigen::Matrix<double, 3, 4, Eigen::RowMajor> by_pose;
        Eigen::Matrix<double, 3, 3, Eigen::RowMajor> by_mark;
        const std::array<double*, 2> wanted{by_pose.data(), by_mark.data()};
        function_.evaluate(blocks, residuals, jacobians != nullptr ? wanted.data() : nullptr);
        Eigen::Map<Eigen::Vector3d> v(residuals);
        v = (whitening_ * (v + extra)).eval();
        if (jacobians == nullptr) return true;
        if (jacobians[0] != nullptr) {
            Eigen::Map<Eigen::Matrix<double, 3, 4, Eigen::RowMajor>> j(jacobians[0]);
            j = whitening_ * by_pose;
        }
        if (jacobians[1] != nullptr) {
            Eigen::Map<Eigen::Matrix<double, 3, 3, Eigen::RowMajor>> j(jacobians[1]);
            j = whitening_ * by_mark;
        }
        if (jacobians[2] != nullptr) {
            Eigen::Matrix3d by_amount = by_mark * by_target + by_extra;
            if (disturbed) by_amount = by_pose.leftCols<3>();
            Eigen::Map<Eigen::Matrix<double, 3, 3, Eigen::RowMajor>> j(jacobians[2]);
            j = whitening_ * by_amount;
        }
        return true;
    }

private:
    int sight_;
    measure::ReducedSight reduced_;
    int mark_;
    station::SightFunction function_;
    const Alternative& alternative_;
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

class AmountCost final : public ceres::SizedCostFunction<3, 3> {
public:
    explicit AmountCost(const Alternative& alternative) : alternative_(alternative) {}
    bool Evaluate(double const* const* parameters, double* residuals,
                  double** jacobians) const override {
        for (int k = 0; k < 3; ++k)
            residuals[k] = parameters[0][k] / alternative_.sd[static_cast<std::size_t>(k)];
        if (jacobians != nullptr && jacobians[0] != nullptr) {
            std::fill_n(jacobians[0], 9, 0.0);
            for (int k = 0; k < 3; ++k)
                jacobians[0][4 * k] = 1.0 / alternative_.sd[static_cast<std::size_t>(k)];
        }
        return true;
    }

private:
    const Alternative& alternative_;
};

/// One problem; the alternative, and the names, change between solutions.
class CeresProblem {
public:
    CeresProblem(const Prepared& setup, const station::Solution& solution) {
        const Eigen::Vector3d at = solution.pose.position_m - setup.origin_m;
        start_pose_ = {at.x(), at.y(), solution.pose.orientation_rad, at.z()};
        for (const auto& mark : solution.marks)
            start_marks_.push_back({mark.adjusted_m.x(), mark.adjusted_m.y(), mark.adjusted_m.z()});
        marks_ = start_marks_;
        ceres::Problem::Options quiet;
        quiet.disable_all_safety_checks = true;
        problem_ = std::make_unique<ceres::Problem>(quiet);
        problem_->AddParameterBlock(pose_.data(), 4);
        problem_->AddParameterBlock(amounts_.data(), 3);
        ordering_ = std::make_shared<ceres::ParameterBlockOrdering>();
        ordering_->AddElementToGroup(pose_.data(), 1);
        ordering_->AddElementToGroup(amounts_.data(), 1);
        for (std::size_t m = 0; m < marks_.size(); ++m) {
            problem_->AddParameterBlock(marks_[m].data(), 3);
            problem_->AddResidualBlock(new MarkCost(setup.marks[m]), nullptr, marks_[m].data());
            ordering_->AddElementToGroup(marks_[m].data(), 0);
        }
        for (std::size_t i = 0; i < setup.sights.size(); ++i)
            problem_->AddResidualBlock(
                new SightCost(setup, static_cast<int>(i), alternative_), nullptr, pose_.data(),
                marks_[static_cast<std::size_t>(setup.sights[i].mark)].data(), amounts_.data());
        problem_->AddResidualBlock(new AmountCost(alternative_), nullptr, amounts_.data());
    }

    double solve(const Alternative& alternative, ceres::LinearSolverType linear) {
        alternative_ = alternative;
        pose_ = start_pose_;
        marks_ = start_marks_;
        amounts_.fill(0.0);
        ceres::Solver::Options options;
        options.linear_solver_type = linear;
        if (linear == ceres::DENSE_SCHUR) {
            // The solver eats the order of elimination.
            options.linear_solver_ordering =
                std::make_shared<ceres::ParameterBlockOrdering>(*ordering_);
        }
        options.num_threads = 1;
        options.logging_type = ceres::SILENT;
        options.max_num_iterations = 20;
        options.function_tolerance = 1e-6;
        options.gradient_tolerance = 1e-10;
        options.parameter_tolerance = 1e-8;
        ceres::Solver::Summary summary;
        ceres::Solve(options, problem_.get(), &summary);
        return 2.0 * summary.final_cost;
    }

private:
    Alternative alternative_;
    std::array<double, 4> pose_{};
    std::array<double, 3> amounts_{};
    std::vector<std::array<double, 3>> marks_;
    std::array<double, 4> start_pose_{};
    std::vector<std::array<double, 3>> start_marks_;
    std::unique_ptr<ceres::Problem> problem_;
    std::shared_ptr<ceres::ParameterBlockOrdering> ordering_;
};

std::vector<Alternative> alternatives(const Prepared& setup, const CauseTable& table) {
    std::vector<Alternative> out;
    const int marks = static_cast<int>(setup.marks.size());
    const int sights = static_cast<int>(setup.sights.size());
    for (const Cause cause : all_causes()) {
        for (const CauseSize& size : table.of(cause).sizes) {
            Alternative a;
            a.cause = cause;
            switch (cause) {
                case Cause::mark_moved:
                case Cause::mark_height_changed:
                    a.sd = {size.length_m, size.length_m, 1.0};
                    for (a.mark = 0; a.mark < marks; ++a.mark) out.push_back(a);
                    break;
                case Cause::rod_not_plumb:
                case Cause::rod_height_wrong:
                case Cause::gross_distance:
                    a.sd = {size.length_m, size.length_m, 1.0};
                    for (a.sight = 0; a.sight < sights; ++a.sight) out.push_back(a);
                    break;
                case Cause::gross_direction:
                case Cause::gross_zenith:
                    a.sd = {size.angle_rad, 1.0, 1.0};
                    for (a.sight = 0; a.sight < sights; ++a.sight) out.push_back(a);
                    break;
                case Cause::tripod_disturbed:
                    a.sd = {size.length_m, size.length_m, size.angle_rad};
                    for (a.sight = 1; a.sight < sights; ++a.sight) out.push_back(a);
                    break;
                case Cause::out_of_level:
                    a.sd = {size.angle_rad, size.angle_rad, 1.0};
                    out.push_back(a);
                    break;
                default:
                    a.sd = {size.length_m + size.angle_rad + size.ratio, 1.0, 1.0};
                    out.push_back(a);
            }
        }
    }
    return out;
}

/// Set-ups with two names exchanged, and with one sight to another of the sighted marks.
std::vector<Prepared> renamed(const Prepared& setup) {
    std::vector<Prepared> out;
    const int marks = static_cast<int>(setup.marks.size());
    for (int a = 0; a < marks; ++a) {
        for (int b = a + 1; b < marks; ++b) {
            Prepared other = setup;
            for (ControlSight& sight : other.sights)
                sight.mark = sight.mark == a ? b : sight.mark == b ? a : sight.mark;
            out.push_back(other);
        }
    }
    for (std::size_t i = 0; i < setup.sights.size(); ++i) {
        for (int m = 0; m < marks; ++m) {
            if (m == setup.sights[i].mark) continue;
            Prepared other = setup;
            other.sights[i].mark = m;
            out.push_back(other);
        }
    }
    return out;
}

void every_hypothesis_with_ceres(benchmark::State& state, ceres::LinearSolverType linear) {
    const Case c = one_case(static_cast<int>(state.range(0)), static_cast<int>(state.range(1)));
    const CauseTable table = exchange::shipped_table();
    const std::vector<Alternative> list = alternatives(c.setup, table);
    const std::vector<Prepared> names = renamed(c.setup);
    // Ceres must see the moved mark explain the misfit.
    CeresProblem check(c.setup, c.solution);
    Alternative moved{Cause::mark_moved, 1, -1, {0.02, 0.02, 1.0}, 2};
    if (check.solve(moved, linear) > check.solve({}, linear) - 20.0)
        state.SkipWithError("Ceres does not see the moved mark");
    for (auto _ : state) {
        double sum = 0.0;
        CeresProblem problem(c.setup, c.solution);
        for (const Alternative& alternative : list) sum += problem.solve(alternative, linear);
        for (const Prepared& other : names)
            sum += CeresProblem(other, c.solution).solve({}, linear);
        benchmark::DoNotOptimize(sum);
    }
    state.counters["hypotheses"] = static_cast<double>(list.size() + names.size());
}
BENCHMARK_CAPTURE(every_hypothesis_with_ceres, dense_schur, ceres::DENSE_SCHUR)
    ->Args({8, 2})
    ->Args({30, 2})
    ->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(every_hypothesis_with_ceres, dense_normal_cholesky, ceres::DENSE_NORMAL_CHOLESKY)
    ->Args({8, 2})
    ->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(every_hypothesis_with_ceres, dense_qr, ceres::DENSE_QR)
    ->Args({8, 2})
    ->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace layproof::cause

#pragma once
// A whole network given to Ceres, with observation equations and derivatives of its own: what it
// shares with the product are the reduced sights and their covariances.

#include <gtest/gtest.h>

#include <ceres/ceres.h>
#include <Eigen/Dense>
#include <array>
#include <cmath>
#include <optional>
#include <vector>

#include "measure/angle.hpp"
#include "network/site_network.hpp"

namespace layproof::testing {

/// Pose (east, north, orientation), plan of the point and, where heights take part, height of the
/// axes and of the point.
struct CeresSight {
    measure::ReducedSight sight;
    double bend = 0.0;
    double scale = 1.0;
    std::vector<int> parts;  ///< 0 direction, 1 zenith, 2 distance
    Eigen::MatrixXd whitener;

    template <class T>
    bool weigh(const T* pose, const T* plan, const T& rise, T* residual) const {
        const T e = plan[0] - pose[0];
        const T n = plan[1] - pose[1];
        const T d = sqrt(e * e + n * n);
        const T ground = d / scale;
        const T v = rise + sight.target_height_m - bend * ground * ground;
        T raw[3];
        raw[0] = atan2(e, n) - pose[2] - sight.direction_rad;
        while (raw[0] > T(M_PI)) raw[0] -= T(2.0 * M_PI);
        while (raw[0] < T(-M_PI)) raw[0] += T(2.0 * M_PI);
        raw[1] = atan2(ground, v) - sight.zenith_rad;
        raw[2] = (sight.distance_is_horizontal ? ground : T(sqrt(ground * ground + v * v))) -
                 sight.distance_m;
        for (std::size_t r = 0; r < parts.size(); ++r) {
            residual[r] = T(0.0);
            for (std::size_t c = 0; c <= r; ++c)
                residual[r] +=
                    whitener(static_cast<Eigen::Index>(r), static_cast<Eigen::Index>(c)) *
                    raw[parts[c]];
        }
        return true;
    }
    template <class T>
    bool operator()(const T* pose, const T* plan, T* residual) const {
        return weigh(pose, plan, T(0.0), residual);
    }
    template <class T>
    bool operator()(const T* pose, const T* plan, const T* axes, const T* height,
                    T* residual) const {
        return weigh(pose, plan, T(height[0] - axes[0]), residual);
    }
};

template <std::size_t N>
struct CeresGiven {
    std::array<double, N> value, sd;
    template <class T>
    bool operator()(const T* block, T* residual) const {
        for (std::size_t i = 0; i < N; ++i) residual[i] = (block[i] - value[i]) / sd[i];
        return true;
    }
};

/// second − first, of the first `N` numbers of both.
template <int N>
struct CeresDifference {
    double value, sd;
    template <class T>
    bool operator()(const T* first, const T* second, T* residual) const {
        for (int i = 0; i < N; ++i) residual[i] = (second[i] - first[i] - value) / sd;
        return true;
    }
};

struct CeresTape {
    double length, sd, scale;
    template <class T>
    bool operator()(const T* first, const T* second, T* residual) const {
        const T e = second[0] - first[0];
        const T n = second[1] - first[1];
        residual[0] = (sqrt(e * e + n * n) / scale - length) / sd;
        return true;
    }
};

/// Marks weighted or held by their sheets or, with Datum::inner, nothing given: then only what no
/// datum changes can be compared. Level tapes.
class SecondSolution {
public:
    SecondSolution(const network::NetworkInput& input, const network::SiteNetwork& network)
        : input_(input), network_(network) {
        constexpr double kOff_m = 0.02;  // the start is not the answer
        for (const network::NetworkPoint& p : network.points) {
            plan_.push_back({p.place_m.x() - network.origin_m.x() + kOff_m,
                             p.place_m.y() - network.origin_m.y() - kOff_m});
            height_.push_back({p.place_m.z() - network.origin_m.z() + kOff_m});
        }
        for (const network::NetworkStation& s : network.setups) {
            pose_.push_back({s.pose.position_m.x() - network.origin_m.x(),
                             s.pose.position_m.y() - network.origin_m.y() + kOff_m,
                             s.pose.orientation_rad + 1e-4});
            axes_.push_back({s.pose.position_m.z() - network.origin_m.z()});
        }
        for (std::size_t p = 0; p < plan_.size(); ++p) give(p);
        for (const network::NetworkSight& sight : network.sights)
            if (sight.used) add(sight);
        for (std::size_t s = 0; s < pose_.size(); ++s) stand(s);
        for (const network::NetworkLine& line : network.levels) {
            if (!line.used) continue;
            const network::LevelRise& level = input.levels[at(line.input)];
            problem_.AddResidualBlock(new ceres::AutoDiffCostFunction<CeresDifference<1>, 1, 1, 1>(
                                          new CeresDifference<1>{level.rise_m, level.sd_m}),
                                      nullptr, height_[at(line.from)].data(),
                                      height_[at(line.to)].data());
        }
        for (const network::NetworkLine& line : network.tapes) {
            if (!line.used) continue;
            const network::Tape& tape = input.tapes[at(line.input)];
            problem_.AddResidualBlock(
                new ceres::AutoDiffCostFunction<CeresTape, 1, 2, 2>(
                    new CeresTape{tape.distance_m, tape.sd_m, input.scale_factor}),
                nullptr, plan_[at(line.from)].data(), plan_[at(line.to)].data());
        }
        ceres::Solver::Options options;
        options.linear_solver_type = ceres::DENSE_QR;
        options.function_tolerance = options.gradient_tolerance = 1e-18;
        options.parameter_tolerance = 1e-15;
        options.max_num_iterations = 200;
        options.logging_type = ceres::SILENT;
        ceres::Solve(options, &problem_, &summary_);
    }

    bool is_usable() const { return summary_.IsSolutionUsable(); }
    double statistic() const { return 2.0 * summary_.final_cost; }

    /// Statistic, places of all points and their plan and height covariances. A set-up over a point
    /// has 1e-6 m beside decimetres elsewhere: Ceres's places are good to a share of their standard
    /// deviation.
    void expect_agrees() {
        ASSERT_TRUE(is_usable());
        const double size = std::max(1.0, network_.global_test.statistic);
        EXPECT_NEAR(statistic(), network_.global_test.statistic, 1e-7 * size);
        if (input_.datum == network::Datum::inner) return;
        for (std::size_t p = 0; p < plan_.size(); ++p) {
            const network::NetworkPoint& point = network_.points[p];
            if (point.has_plan) {
                expect_block(plan_[p].data(), point.covariance.topLeftCorner(2, 2), point.name);
                for (int i = 0; i < 2; ++i)
                    EXPECT_NEAR(plan_[p][at(i)] + network_.origin_m[i], point.place_m[i],
                                within(point, i))
                        << point.name;
            }
            if (point.has_height) {
                expect_block(height_[p].data(), point.covariance.bottomRightCorner(1, 1),
                             point.name);
                EXPECT_NEAR(height_[p][0] + network_.origin_m.z(), point.place_m.z(),
                            within(point, 2))
                    << point.name;
            }
        }
    }

private:
    static std::size_t at(int i) { return static_cast<std::size_t>(i); }

    static double within(const network::NetworkPoint& point, int i) {
        return 1e-8 + 1e-5 * std::sqrt(point.covariance(i, i));
    }

    void expect_block(const double* block, const Eigen::MatrixXd& own, const std::string& name) {
        if (!problem_.HasParameterBlock(block) || problem_.IsParameterBlockConstant(block)) return;
        ceres::Covariance::Options options;
        options.algorithm_type = ceres::DENSE_SVD;
        options.min_reciprocal_condition_number = 1e-30;
        ceres::Covariance covariance(options);
        const std::vector<std::pair<const double*, const double*>> blocks{{block, block}};
        ASSERT_TRUE(covariance.Compute(blocks, &problem_)) << name;
        Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor> other(own.rows(),
                                                                                     own.cols());
        covariance.GetCovarianceBlock(block, block, other.data());
        EXPECT_LT((other - own).norm() / own.norm(), 1e-5) << name;
    }

    void give(std::size_t p) {
        const network::NetworkPoint& point = network_.points[p];
        if (point.mark < 0 || input_.datum == network::Datum::inner) return;
        constexpr double kLeast_m = 1e-6;
        const frame::Mark& mark = input_.marks[at(point.mark)];
        const bool hold = input_.datum == network::Datum::held;
        if (mark.has_plan() && point.has_plan && !point.sheet_left_out) {
            const std::array<double, 2> given{*mark.east_m - network_.origin_m.x(),
                                              *mark.north_m - network_.origin_m.y()};
            if (hold || (mark.sd_east_m == 0.0 && mark.sd_north_m == 0.0)) {
                plan_[p] = given;
                problem_.AddParameterBlock(plan_[p].data(), 2);
                problem_.SetParameterBlockConstant(plan_[p].data());
            } else {
                problem_.AddResidualBlock(
                    new ceres::AutoDiffCostFunction<CeresGiven<2>, 2, 2>(new CeresGiven<2>{
                        given,
                        {std::max(mark.sd_east_m, kLeast_m), std::max(mark.sd_north_m, kLeast_m)}}),
                    nullptr, plan_[p].data());
            }
        }
        if (mark.has_height() && point.has_height) {
            const double given = *mark.height_m - network_.origin_m.z();
            if (hold || mark.sd_height_m == 0.0) {
                height_[p][0] = given;
                problem_.AddParameterBlock(height_[p].data(), 1);
                problem_.SetParameterBlockConstant(height_[p].data());
            } else {
                problem_.AddResidualBlock(new ceres::AutoDiffCostFunction<CeresGiven<1>, 1, 1>(
                                              new CeresGiven<1>{{given}, {mark.sd_height_m}}),
                                          nullptr, height_[p].data());
            }
        }
    }

    void add(const network::NetworkSight& sight) {
        CeresSight one;
        one.sight = sight.reduced;
        one.scale = input_.scale_factor;
        one.bend = (1.0 - input_.setups[at(sight.setup)].instrument.refraction_k) /
                   (2.0 * measure::kEarthRadius_m);
        if (sight.reduced.has_direction) one.parts.push_back(0);
        if (sight.reduced.has_zenith) one.parts.push_back(1);
        if (sight.reduced.has_distance) one.parts.push_back(2);
        const auto rows = static_cast<int>(one.parts.size());
        Eigen::MatrixXd q(rows, rows);
        for (int r = 0; r < rows; ++r)
            for (int c = 0; c < rows; ++c)
                q(r, c) = sight.reduced.covariance(one.parts[at(r)], one.parts[at(c)]);
        one.whitener = q.llt().matrixL().solve(Eigen::MatrixXd::Identity(rows, rows)).eval();
        const bool rises = sight.reduced.has_zenith ||
                           (sight.reduced.has_distance && !sight.reduced.distance_is_horizontal);
        double* pose = pose_[at(sight.setup)].data();
        double* plan = plan_[at(sight.point)].data();
        if (rises)
            problem_.AddResidualBlock(
                new ceres::AutoDiffCostFunction<CeresSight, ceres::DYNAMIC, 3, 2, 1, 1>(
                    new CeresSight(one), rows),
                nullptr, pose, plan, axes_[at(sight.setup)].data(),
                height_[at(sight.point)].data());
        else
            problem_.AddResidualBlock(
                new ceres::AutoDiffCostFunction<CeresSight, ceres::DYNAMIC, 3, 2>(
                    new CeresSight(one), rows),
                nullptr, pose, plan);
    }

    /// A set-up over a point.
    void stand(std::size_t s) {
        const station::StationInput& input = input_.setups[s];
        if (input.setup.kind == station::SetupKind::free || input.setup.mark.empty()) return;
        const auto p = at(network_.point_named(input.setup.mark));
        constexpr double kLeast_m = 1e-6;
        problem_.AddResidualBlock(
            new ceres::AutoDiffCostFunction<CeresDifference<2>, 2, 2, 3>(new CeresDifference<2>{
                0.0, std::max(input.instrument.instrument_centring_m, kLeast_m)}),
            nullptr, plan_[p].data(), pose_[s].data());
        if (!input.setup.instrument_height_m || !network_.points[p].has_height ||
            !network_.setups[s].pose.has_height)
            return;
        problem_.AddResidualBlock(
            new ceres::AutoDiffCostFunction<CeresDifference<1>, 1, 1, 1>(
                new CeresDifference<1>{*input.setup.instrument_height_m,
                                       std::max(input.instrument.height_tape_m, kLeast_m)}),
            nullptr, height_[p].data(), axes_[s].data());
    }

    const network::NetworkInput& input_;
    const network::SiteNetwork& network_;
    std::vector<std::array<double, 2>> plan_;
    std::vector<std::array<double, 1>> height_, axes_;
    std::vector<std::array<double, 3>> pose_;
    ceres::Problem problem_;
    ceres::Solver::Summary summary_;
};

}  // namespace layproof::testing

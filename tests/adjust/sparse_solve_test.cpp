// The sparse path against the dense one on random problems, and what it says of loose parts.

#include "adjust/sparse_solve.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <memory>
#include <numbers>
#include <span>
#include <utility>
#include <vector>

#include "adjust/functions.hpp"
#include "adjust/random_net.hpp"

namespace layproof::adjust::testing {
namespace {

class sparse_net : public ::testing::TestWithParam<int> {};

TEST_P(sparse_net, random_problem_gives_what_the_dense_path_gives) {
    Random random(static_cast<std::uint64_t>(GetParam()));
    const int count = 3 + GetParam() * 2;
    RandomNet net(count, 4 * count, random);
    switch (GetParam() % 3) {
        case 0:
            net.hold(0);
            net.hold(1);
            break;
        case 1:
            net.weigh(0, 0.003);
            net.weigh(2, 0.004);
            break;
        default:
            net.problem.set_inner_datum(net.points);
    }
    const SolveSummary summary = net.run();
    ASSERT_EQ(summary.status, SolveStatus::converged);
    const Analysis analysis(net.problem, summary);
    expect_sparse_agrees(net.problem, net.start, summary, analysis);
    expect_sparse_agrees(net.problem, net.start, summary, analysis,
                         EliminationOrder::nested_dissection);
}

INSTANTIATE_TEST_SUITE_P(sizes, sparse_net, ::testing::Range(1, 13));

/// Direction, angle from the vertical and distance with a full covariance: one struct for both
/// paths.
struct Sphere {
    static constexpr int kRows = 3;
    static constexpr std::array<int, 3> kSizes{3, 1, 3};
    std::array<double, 3> observed{};

    void evaluate(const double* const* x, double* v, double* j) const {
        const double e = x[2][0] - x[0][0];
        const double n = x[2][1] - x[0][1];
        const double h = x[2][2] - x[0][2];
        const double plane_square = e * e + n * n;
        const double plane = std::sqrt(plane_square);
        const double square = plane_square + h * h;
        const double distance = std::sqrt(square);
        v[0] = std::remainder(std::atan2(e, n) - x[1][0] - observed[0], 2.0 * std::numbers::pi);
        v[1] = std::atan2(plane, h) - observed[1];
        v[2] = distance - observed[2];
        if (j == nullptr) return;
        const double g[9] = {n / plane_square,
                             -e / plane_square,
                             0.0,
                             e * h / (plane * square),
                             n * h / (plane * square),
                             -plane / square,
                             e / distance,
                             n / distance,
                             h / distance};
        for (int r = 0; r < 3; ++r) {
            for (int k = 0; k < 3; ++k) {
                j[r * 7 + k] = -g[r * 3 + k];
                j[r * 7 + 4 + k] = g[r * 3 + k];
            }
            j[r * 7 + 3] = r == 0 ? -1.0 : 0.0;
        }
    }
};

class DenseSphere final : public ObservationFunction {
public:
    explicit DenseSphere(Sphere sphere) : sphere_(sphere) {}
    void evaluate(std::span<const double* const> blocks, double* residual,
                  double* const* jacobians) const override {
        double all[21];
        sphere_.evaluate(blocks.data(), residual, all);
        for (int r = 0; jacobians != nullptr && r < 3; ++r) {
            for (int k = 0; k < 3; ++k) {
                if (jacobians[0] != nullptr) jacobians[0][r * 3 + k] = all[r * 7 + k];
                if (jacobians[2] != nullptr) jacobians[2][r * 3 + k] = all[r * 7 + 4 + k];
            }
            if (jacobians[1] != nullptr) jacobians[1][r] = all[r * 7 + 3];
        }
    }

private:
    Sphere sphere_;
};

/// Centres that see all points of a cloud, in both descriptions.
struct Cloud {
    Problem dense;
    SparseProblem sparse;
    std::vector<ParameterId> points;
    std::vector<ParameterId> centres;
    int batch = -1;

    Cloud(int centre_count, int point_count, std::uint64_t seed) {
        Random random(seed);
        const auto add = [&](std::vector<double> start) {
            sparse.add_parameter(start);
            return dense.add_parameter(start);
        };
        std::vector<std::array<double, 3>> truth;
        for (int i = 0; i < point_count + centre_count; ++i) {
            truth.push_back(
                {random.uniform(0.0, 60.0), random.uniform(0.0, 60.0), random.uniform(-5.0, 15.0)});
            std::vector<double> start(truth.back().begin(), truth.back().end());
            for (double& x : start) x += 0.02 * random.normal();
            (i < point_count ? points : centres).push_back(add(start));
        }
        std::vector<Sphere> blocks;
        std::vector<ParameterId> ids;
        std::vector<double> covariances;
        for (int c = 0; c < centre_count; ++c) {
            const double turn = random.uniform(-3.0, 3.0);
            const ParameterId orientation = add({turn + 1e-4});
            for (int p = 0; p < point_count; ++p) {
                if ((p + c) % 3 == 2) continue;
                const auto& a = truth[static_cast<std::size_t>(point_count + c)];
                const auto& b = truth[static_cast<std::size_t>(p)];
                const double e = b[0] - a[0];
                const double n = b[1] - a[1];
                const double h = b[2] - a[2];
                Eigen::Matrix3d root;
                root << 1e-4, 0.0, 0.0, 4e-5, 9e-5, 0.0, 2e-4, -3e-4, 2e-3;
                const Eigen::Matrix3d q = root * root.transpose();
                const Eigen::Vector3d noise =
                    root * Eigen::Vector3d(random.normal(), random.normal(), random.normal());
                const Sphere sphere{
                    {std::remainder(std::atan2(e, n) - turn + noise(0), 2.0 * std::numbers::pi),
                     std::atan2(std::hypot(e, n), h) + noise(1),
                     std::sqrt(e * e + n * n + h * h) + noise(2)}};
                const std::array own{centres[static_cast<std::size_t>(c)], orientation,
                                     points[static_cast<std::size_t>(p)]};
                dense.add_observation(std::make_unique<DenseSphere>(sphere), own, q);
                blocks.push_back(sphere);
                ids.insert(ids.end(), own.begin(), own.end());
                covariances.insert(covariances.end(), q.data(), q.data() + 9);
            }
        }
        batch =
            sparse
                .add_batch(Blockwise<Sphere>::shape(),
                           std::make_unique<Blockwise<Sphere>>(std::move(blocks)), ids, covariances)
                .batch;
    }
};

TEST(sparse_cloud, correlated_rows_in_space_agree_with_dense_path_under_every_datum) {
    for (const int datum : {0, 1, 2}) {
        Cloud cloud(4, 20, 77);
        if (datum == 0) {
            cloud.dense.hold(cloud.points[0]);
            cloud.dense.hold(cloud.points[1]);
        } else if (datum == 1) {
            const Eigen::Matrix3d q = 1e-4 * Eigen::Matrix3d::Identity();
            for (std::size_t i = 0; i < 4; ++i)
                cloud.dense.observe_directly(cloud.points[i], cloud.dense.value(cloud.points[i]),
                                             q);
        } else {
            cloud.dense.set_inner_datum(cloud.points);
        }
        const std::vector<double> start = cloud.dense.values();
        const SolveSummary summary = solve(cloud.dense);
        ASSERT_EQ(summary.status, SolveStatus::converged);
        EXPECT_EQ(summary.defect, datum == 2 ? 4 : 0);
        expect_sparse_agrees(cloud.dense, start, summary, Analysis(cloud.dense, summary));
    }
}

TEST(sparse_cloud, blockwise_batch_is_the_same_problem_as_single_functions) {
    Cloud cloud(3, 15, 5);
    for (const std::size_t i : {0U, 1U}) {
        cloud.dense.hold(cloud.points[i]);
        cloud.sparse.hold(cloud.points[i]);
    }
    SparseCopy copy(cloud.dense);
    SparseSolver one(cloud.sparse);
    SparseSolver other(copy.problem);
    const SparseSummary a = one.solve();
    const SparseSummary b = other.solve();
    ASSERT_EQ(a.status, SolveStatus::converged);
    EXPECT_NEAR(a.weighted_square_sum, b.weighted_square_sum, 1e-9);
    for (std::size_t i = 0; i < cloud.sparse.values().size(); ++i)
        EXPECT_NEAR(cloud.sparse.values()[i], copy.problem.values()[i], 1e-10);
}

TEST(sparse_analysis, selected_inverse_equals_unit_solves_in_fronts_of_every_size) {
    Random random(9);
    RandomNet net(500, 3000, random);
    net.hold(0);
    net.hold(7);
    SparseCopy copy(net.problem);
    for (const auto order :
         {EliminationOrder::minimum_degree, EliminationOrder::nested_dissection}) {
        SparseOptions options;
        options.order = order;
        copy.problem.values() = net.problem.values();
        SparseSolver solver(copy.problem, options);
        const SparseSummary summary = solver.solve();
        ASSERT_EQ(summary.status, SolveStatus::converged);
        EXPECT_GT(solver.cost().largest_front, 200);
        const SparseAnalysis analysis = solver.analyse();
        double redundancy = 0.0;
        for (int batch = 0; batch < static_cast<int>(copy.problem.batches().size()); ++batch)
            redundancy += analysis.redundancy_sum(batch);
        EXPECT_NEAR(redundancy, summary.redundancy, 1e-7 * summary.redundancy);
        for (const auto& batch : copy.problem.batches()) {
            for (int i = 0; i < batch.count; i += 97) {
                std::vector<ParameterId> own;
                for (int b = 0; b < batch.block_count(); ++b)
                    own.push_back(
                        {batch.parameters[static_cast<std::size_t>(i * batch.block_count() + b)]});
                const Eigen::MatrixXd joint = analysis.joint_covariance(own);
                Eigen::Index row = 0;
                for (const ParameterId a : own) {
                    Eigen::Index column = 0;
                    for (const ParameterId b : own) {
                        const SmallMatrix part = analysis.covariance(a, b);
                        for (Eigen::Index r = 0; r < part.rows(); ++r) {
                            for (Eigen::Index c = 0; c < part.cols(); ++c)
                                EXPECT_NEAR(part(r, c), joint(row + r, column + c),
                                            1e-11 * std::sqrt(joint(row + r, row + r) *
                                                              joint(column + c, column + c)));
                        }
                        column += part.cols();
                    }
                    row += analysis.covariance(a).rows();
                }
            }
        }
    }
}

// ---- what is loose ----

/// A braced square with one held side, and what a test adds.
struct Square {
    Problem problem;
    std::vector<ParameterId> corners;

    Square() { corners = add_square(0.0); }

    std::vector<ParameterId> add_square(double east, bool held = true) {
        std::vector<ParameterId> out;
        const double at[4][2] = {{0.0, 0.0}, {10.0, 0.0}, {10.0, 10.0}, {0.0, 10.0}};
        for (const auto& p : at) out.push_back(add_parameter(problem, {east + p[0], p[1]}));
        for (std::size_t i = 0; i < 4; ++i) {
            for (std::size_t k = 0; k < i; ++k)
                observe<PlaneDistance>(problem, {out[i], out[k]}, 1e-3,
                                       std::hypot(at[i][0] - at[k][0], at[i][1] - at[k][1]));
        }
        if (held) {
            problem.hold(out[0]);
            problem.hold(out[1]);
        }
        return out;
    }
};

std::vector<int> indices(const LoosePart& part) {
    std::vector<int> out;
    for (const ParameterId id : part.blocks) out.push_back(id.index);
    return out;
}

TEST(sparse_loose, point_on_one_distance_is_named_and_the_rest_adjusted) {
    Square square;
    const ParameterId loose = add_parameter(square.problem, {20.0, 4.0});
    observe<PlaneDistance>(square.problem, {square.corners[2], loose}, 1e-3, 11.6);
    const ParameterId unseen = add_parameter(square.problem, {1.0, 2.0, 3.0});
    SparseCopy copy(square.problem);
    const std::vector<double> before = copy.problem.values();
    {
        SparseSolver solver(copy.problem);
        const SparseSummary summary = solver.solve();
        EXPECT_EQ(summary.status, SolveStatus::rank_deficient);
        EXPECT_EQ(copy.problem.values(), before);
        EXPECT_EQ(summary.defect, 4);
        ASSERT_EQ(summary.loose.size(), 2U);
    }
    SparseOptions options;
    options.keep_loose = true;
    SparseSolver solver(copy.problem, options);
    const SparseSummary summary = solver.solve();
    ASSERT_EQ(summary.status, SolveStatus::converged);
    ASSERT_EQ(summary.loose.size(), 2U);
    for (const LoosePart& part : summary.loose) {
        const bool is_unseen = indices(part) == std::vector<int>{unseen.index};
        EXPECT_TRUE(is_unseen || indices(part) == std::vector<int>{loose.index});
        EXPECT_EQ(part.open_directions, is_unseen ? 3 : 1);
    }
    // Six distances less one between held corners that tells nothing, four unknowns; the lone
    // distance and its point add nothing.
    EXPECT_EQ(summary.redundancy, 2);
    const SparseAnalysis analysis = solver.analyse();
    EXPECT_TRUE(analysis.is_loose(loose));
    EXPECT_TRUE(analysis.is_loose(unseen));
    EXPECT_FALSE(analysis.is_loose(square.corners[2]));
    EXPECT_EQ(analysis.covariance(loose)(0, 0), kInfinity);
    EXPECT_EQ(analysis.covariance(loose, square.corners[2])(0, 0), 0.0);
    EXPECT_TRUE(std::isfinite(analysis.covariance(square.corners[2])(0, 0)));
    EXPECT_EQ(analysis.joint_covariance(std::array{unseen, square.corners[2]})(2, 2), kInfinity);
    double redundancy = 0.0;
    for (int batch = 0; batch < static_cast<int>(copy.problem.batches().size()); ++batch) {
        redundancy += analysis.redundancy_sum(batch);
        for (const double w : analysis.standardised(batch)) EXPECT_TRUE(std::isfinite(w));
    }
    EXPECT_NEAR(redundancy, 2.0, 1e-9);

    Square alone;
    SparseCopy other(alone.problem);
    SparseSolver plain(other.problem);
    ASSERT_EQ(plain.solve().status, SolveStatus::converged);
    for (std::size_t i = 0; i < 8; ++i)
        EXPECT_NEAR(copy.problem.values()[i], other.problem.values()[i], 1e-10);
}

TEST(sparse_loose, part_that_hangs_on_nothing_is_one_part_with_three_open_directions) {
    Square square;
    const std::vector<ParameterId> apart = square.add_square(500.0, false);
    SparseCopy copy(square.problem);
    SparseOptions options;
    options.keep_loose = true;
    SparseSolver solver(copy.problem, options);
    const SparseSummary summary = solver.solve();
    ASSERT_EQ(summary.status, SolveStatus::converged);
    ASSERT_EQ(summary.loose.size(), 1U);
    EXPECT_EQ(summary.loose[0].open_directions, 3);
    EXPECT_EQ(indices(summary.loose[0]), (std::vector<int>{4, 5, 6, 7}));
}

TEST(sparse_loose, inner_datum_that_covers_one_part_leaves_the_other_loose) {
    Square square;
    const std::vector<ParameterId> apart = square.add_square(500.0, false);
    square.problem.set_inner_datum({apart[0], apart[1], apart[2], apart[3]});
    const std::vector<ParameterId> third = square.add_square(900.0, false);
    SparseCopy copy(square.problem);
    SparseSolver strict(copy.problem);
    const SparseSummary refused = strict.solve();
    EXPECT_EQ(refused.status, SolveStatus::rank_deficient);
    ASSERT_EQ(refused.loose.size(), 1U);
    EXPECT_EQ(indices(refused.loose[0]), (std::vector<int>{8, 9, 10, 11}));
    SparseOptions options;
    options.keep_loose = true;
    SparseSolver solver(copy.problem, options);
    const SparseSummary summary = solver.solve();
    ASSERT_EQ(summary.status, SolveStatus::converged);
    EXPECT_EQ(summary.defect, 6);
    const SparseAnalysis analysis = solver.analyse();
    EXPECT_FALSE(analysis.is_loose(apart[0]));
    EXPECT_TRUE(analysis.is_loose(third[0]));

    // The middle square alone, by the dense path.
    Problem alone;
    std::vector<ParameterId> corners;
    for (const ParameterId id : apart)
        corners.push_back(alone.add_parameter(square.problem.value(id)));
    for (std::size_t i = 0; i < 4; ++i) {
        for (std::size_t k = 0; k < i; ++k)
            observe<PlaneDistance>(alone, {corners[i], corners[k]}, 1e-3,
                                   (i + k) % 2 == 0 ? std::hypot(10.0, 10.0) : 10.0);
    }
    alone.set_inner_datum(corners);
    const SolveSummary dense = solve(alone);
    ASSERT_EQ(dense.status, SolveStatus::converged);
    const Analysis expected(alone, dense);
    for (std::size_t i = 0; i < 4; ++i) {
        const Eigen::MatrixXd difference =
            analysis.covariance(apart[i]) - expected.covariance(corners[i]);
        EXPECT_LT(difference.cwiseAbs().maxCoeff(), 1e-12);
    }
}

TEST(sparse_loose, two_free_parts_in_one_inner_datum_are_both_centred) {
    Square square;
    square.problem = Problem();
    std::vector<ParameterId> all = square.add_square(0.0, false);
    const std::vector<ParameterId> more = square.add_square(300.0, false);
    all.insert(all.end(), more.begin(), more.end());
    square.problem.set_inner_datum(all);
    const std::vector<double> start = square.problem.values();
    const SolveSummary dense = solve(square.problem);
    ASSERT_EQ(dense.status, SolveStatus::converged);
    EXPECT_EQ(dense.defect, 6);
    expect_sparse_agrees(square.problem, start, dense, Analysis(square.problem, dense));
}

/// A strip of braced squares, 10 m each: nothing is stiffer against what a long lever does.
struct Strip {
    SparseProblem problem;
    std::vector<ParameterId> points;

    explicit Strip(int length) {
        std::vector<PlaneSide> sides;
        std::vector<ParameterId> ids;
        const auto tie = [&](int a, int b, double distance) {
            sides.push_back({distance});
            ids.insert(ids.end(),
                       {points[static_cast<std::size_t>(a)], points[static_cast<std::size_t>(b)]});
        };
        for (int i = 0; i <= length; ++i) {
            points.push_back(problem.add_parameter(std::array{1e5 + 10.0 * i, 2e5}));
            points.push_back(problem.add_parameter(std::array{1e5 + 10.0 * i, 2e5 + 10.0}));
            tie(2 * i, 2 * i + 1, 10.0);
            if (i == 0) continue;
            tie(2 * i - 2, 2 * i, 10.0);
            tie(2 * i - 1, 2 * i + 1, 10.0);
            tie(2 * i - 2, 2 * i + 1, std::sqrt(200.0));
            tie(2 * i - 1, 2 * i, std::sqrt(200.0));
        }
        const std::vector<double> sds(sides.size(), 1e-3);
        problem.add_batch_with_sds(Blockwise<PlaneSide>::shape(),
                                   std::make_unique<Blockwise<PlaneSide>>(std::move(sides)), ids,
                                   sds);
    }

    struct PlaneSide {
        static constexpr int kRows = 1;
        static constexpr std::array<int, 2> kSizes{2, 2};
        double distance = 0.0;
        void evaluate(const double* const* x, double* v, double* j) const {
            const double e = x[1][0] - x[0][0];
            const double n = x[1][1] - x[0][1];
            const double d = std::hypot(e, n);
            v[0] = d - distance;
            if (j == nullptr) return;
            j[0] = -e / d;
            j[1] = -n / d;
            j[2] = e / d;
            j[3] = n / d;
        }
    };
};

TEST(sparse_loose, long_free_strip_has_its_three_open_directions_and_a_held_one_none) {
    for (const int length : {10, 100, 1000}) {
        Strip strip(length);
        SparseSolver free(strip.problem);
        const SparseSummary open = free.solve();
        EXPECT_EQ(open.status, SolveStatus::rank_deficient);
        EXPECT_EQ(open.defect, 3) << length;
        ASSERT_EQ(open.loose.size(), 1U);
        EXPECT_EQ(open.loose[0].blocks.size(), strip.points.size());

        strip.problem.set_inner_datum(strip.points);
        SparseSolver inner(strip.problem);
        const SparseSummary summary = inner.solve();
        ASSERT_EQ(summary.status, SolveStatus::converged) << length;
        EXPECT_EQ(summary.defect, 3);
        EXPECT_NEAR(inner.analyse().redundancy_sum(0), summary.redundancy,
                    1e-6 * summary.redundancy);

        strip.problem.set_inner_datum({});
        strip.problem.hold(strip.points[0]);
        strip.problem.hold(strip.points[1]);
        SparseSolver held(strip.problem);
        const SparseSummary bound = held.solve();
        EXPECT_EQ(bound.status, SolveStatus::converged) << length;
        EXPECT_EQ(bound.defect, 0);
        // The far end sways with the length to the power of 1.5.
        const double sway = std::sqrt(held.analyse().covariance(strip.points.back())(1, 1));
        EXPECT_NEAR(sway / (1e-3 * std::pow(length, 1.5)), 0.9, 0.4) << length;
    }
}

// ---- the edges ----

TEST(sparse_edge, problem_without_anything_is_solved) {
    SparseProblem problem;
    SparseSolver solver(problem);
    const SparseSummary summary = solver.solve();
    EXPECT_EQ(summary.status, SolveStatus::converged);
    EXPECT_EQ(summary.redundancy, 0);
    const SparseAnalysis analysis = solver.analyse();
    EXPECT_EQ(analysis.joint_covariance({}).rows(), 0);
}

TEST(sparse_edge, everything_held_gives_residuals_and_full_redundancy) {
    Square square;
    for (const ParameterId id : square.corners) square.problem.hold(id);
    SparseCopy copy(square.problem);
    SparseSolver solver(copy.problem);
    const SparseSummary summary = solver.solve();
    EXPECT_EQ(summary.status, SolveStatus::converged);
    EXPECT_EQ(summary.redundancy, 6);
    const SparseAnalysis analysis = solver.analyse();
    for (const double r : analysis.redundancy(0)) EXPECT_EQ(r, 1.0);
    EXPECT_EQ(analysis.covariance(square.corners[3])(1, 1), 0.0);
}

TEST(sparse_edge, value_that_is_not_a_number_is_said_and_never_passed_on) {
    for (const double bad : {kNan, kInfinity}) {
        Square square;
        SparseCopy copy(square.problem);
        copy.problem.values()[5] = bad;
        SparseSolver solver(copy.problem);
        const SparseSummary summary = solver.solve();
        EXPECT_EQ(summary.status, SolveStatus::not_finite);
        EXPECT_EQ(summary.weighted_square_sum, 0.0);
        const SparseAnalysis analysis = solver.analyse();
        EXPECT_TRUE(analysis.is_loose(square.corners[2]));
        EXPECT_EQ(analysis.covariance(square.corners[2])(0, 0), kInfinity);
        for (const double w : analysis.standardised(0)) EXPECT_EQ(w, 0.0);
        EXPECT_EQ(analysis.block_test({0, 0}).dimension, 0);
        EXPECT_EQ(analysis.detectable(0, 0), kInfinity);
    }
    // Two points in one place: the derivative of their distance is none.
    Square square;
    square.problem.values()[4] = square.problem.values()[6];
    square.problem.values()[5] = square.problem.values()[7];
    SparseCopy copy(square.problem);
    SparseSolver solver(copy.problem);
    EXPECT_EQ(solver.solve().status, SolveStatus::not_finite);
}

TEST(sparse_edge, poor_start_is_damped_to_the_same_solution) {
    Random random(2);
    RandomNet net(12, 80, random);
    net.hold(0);
    net.hold(1);
    net.hold(2);
    const SolveSummary dense = net.run();
    ASSERT_EQ(dense.status, SolveStatus::converged);
    SparseCopy copy(net.problem);
    for (std::size_t i = 6; i < 24; ++i) copy.problem.values()[i] += random.uniform(-12.0, 12.0);
    SparseSolver solver(copy.problem);
    const SparseSummary summary = solver.solve();
    ASSERT_EQ(summary.status, SolveStatus::converged);
    EXPECT_NEAR(summary.weighted_square_sum, dense.weighted_square_sum, 1e-6);
}

TEST(sparse_edge, analysis_outlives_later_solutions_of_the_same_solver) {
    Random random(6);
    RandomNet net(15, 90, random);
    net.hold(0);
    net.hold(1);
    SparseCopy copy(net.problem);
    SparseSolver solver(copy.problem);
    ASSERT_EQ(solver.solve().status, SolveStatus::converged);
    const SparseAnalysis first = solver.analyse();
    const SmallMatrix far = first.covariance(net.points[3], net.points[9]);
    for (int i = 0; i < 20; ++i) copy.problem.set_weight({0, i}, 0.25);
    ASSERT_EQ(solver.solve().status, SolveStatus::converged);
    const SparseAnalysis second = solver.analyse();
    EXPECT_EQ(first.covariance(net.points[3], net.points[9]), far);
    EXPECT_GT(second.covariance(net.points[3]).trace(), first.covariance(net.points[3]).trace());
}

// A factor p on Q⁻¹ is the same as Q divided by p.
TEST(sparse_edge, weight_is_the_same_as_another_covariance) {
    Random random(8);
    RandomNet net(10, 60, random);
    net.hold(0);
    net.hold(1);
    SparseCopy copy(net.problem);
    SparseCopy other(net.problem);
    for (const auto& batch : copy.problem.batches()) {
        const int n = static_cast<int>(&batch - copy.problem.batches().data());
        for (int i = 0; i < batch.count; ++i) copy.problem.set_weight({n, i}, 0.25);
    }
    SparseSolver a(copy.problem);
    SparseSolver b(other.problem);
    ASSERT_EQ(a.solve().status, SolveStatus::converged);
    ASSERT_EQ(b.solve().status, SolveStatus::converged);
    const SparseAnalysis weighted = a.analyse();
    const SparseAnalysis plain = b.analyse();
    EXPECT_LT((weighted.covariance(net.points[4]) - 4.0 * plain.covariance(net.points[4])).norm(),
              1e-6 * plain.covariance(net.points[4]).norm());
    for (std::size_t i = 0; i < weighted.redundancy(0).size(); ++i) {
        const int row = static_cast<int>(i);
        EXPECT_NEAR(weighted.redundancy(0)[i], plain.redundancy(0)[i], 1e-7);
        EXPECT_NEAR(weighted.standardised(0)[i], 0.5 * plain.standardised(0)[i], 1e-6);
        EXPECT_NEAR(weighted.detectable(0, row) / plain.detectable(0, row), 2.0, 1e-6);
        EXPECT_NEAR(weighted.estimated_bias(0, row), plain.estimated_bias(0, row), 1e-9);
    }
}

}  // namespace
}  // namespace layproof::adjust::testing

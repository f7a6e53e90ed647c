#include "adjust/sparse_problem.hpp"

#include <gtest/gtest.h>

#include <array>
#include <memory>
#include <vector>

#include "adjust/functions.hpp"
#include "adjust/sparse_solve.hpp"

namespace layproof::adjust::testing {
namespace {

struct Difference {
    static constexpr int kRows = 1;
    static constexpr std::array<int, 2> kSizes{1, 1};
    double observed = 0.0;
    void evaluate(const double* const* x, double* v, double* j) const {
        v[0] = x[1][0] - x[0][0] - observed;
        if (j == nullptr) return;
        j[0] = -1.0;
        j[1] = 1.0;
    }
};
using Differences = Blockwise<Difference>;

std::unique_ptr<Differences> differences(std::size_t count) {
    return std::make_unique<Differences>(std::vector<Difference>(count));
}

class sparse_problem : public ::testing::Test {
protected:
    SparseProblem problem;
    ParameterId x = problem.add_parameter(std::array{1.0});
    ParameterId y = problem.add_parameter(std::array{2.0});
    ParameterId wide = problem.add_parameter(std::array{1.0, 2.0, 3.0});

    void expect_nothing_added() const {
        EXPECT_TRUE(problem.batches().empty());
        EXPECT_EQ(problem.observation_count(), 0);
    }
};

TEST_F(sparse_problem, parameter_of_another_size_adds_nothing) {
    EXPECT_EQ(problem.add_parameter({}).index, -1);
    EXPECT_EQ(problem.add_parameter(std::array{1.0, 2.0, 3.0, 4.0}).index, -1);
    EXPECT_EQ(problem.parameters().size(), 3U);
    EXPECT_EQ(problem.unknown_count(), 5);
    problem.hold(wide);
    problem.hold({99});
    EXPECT_EQ(problem.unknown_count(), 2);
    problem.hold(wide, false);
    EXPECT_EQ(problem.unknown_count(), 5);
    EXPECT_TRUE(problem.value({-1}).empty());
}

TEST_F(sparse_problem, batch_with_one_bad_block_is_refused_and_the_block_named) {
    const std::array fine{x, y};
    const auto add = [&](std::vector<ParameterId> blocks, std::vector<double> covariances) {
        return problem.add_batch(Differences::shape(), differences(blocks.size() / 2), blocks,
                                 covariances);
    };
    EXPECT_EQ(add({x, y, y, y}, {1.0, 1.0}).bad_block, 1) << "named twice";
    EXPECT_EQ(add({x, y, x, {7}}, {1.0, 1.0}).bad_block, 1) << "unknown";
    EXPECT_EQ(add({x, wide}, {1.0}).bad_block, 0) << "another size";
    EXPECT_EQ(add({x, y, y, x, x, y}, {1.0, 1.0, 0.0}).bad_block, 2) << "no variance";
    EXPECT_EQ(add({x, y}, {-1.0}).bad_block, 0);
    EXPECT_EQ(add({x, y}, {kNan}).bad_block, 0);
    EXPECT_EQ(add({x, y}, {kInfinity}).bad_block, 0);
    expect_nothing_added();
    EXPECT_EQ(add({x, y}, {1.0, 1.0}).batch, -1) << "lists that do not fit";
    EXPECT_EQ(add({x, y, x}, {1.0}).batch, -1);
    EXPECT_EQ(problem.add_batch(Differences::shape(), nullptr, fine, std::array{1.0}).batch, -1);
    EXPECT_EQ(
        problem.add_batch_with_sds(Differences::shape(), differences(1), fine, std::array{1e-200})
            .bad_block,
        0)
        << "a weight that is not finite";
    expect_nothing_added();
    EXPECT_EQ(add({x, y, y, x}, {1.0, 2.0}).batch, 0);
    EXPECT_EQ(problem.observation_count(), 2);
}

TEST_F(sparse_problem, shape_beyond_the_limits_adds_nothing) {
    const auto add = [&](BatchShape shape) {
        return problem.add_batch(shape, differences(0), {}, {}).batch;
    };
    EXPECT_EQ(add({0, {1}}), -1);
    EXPECT_EQ(add({4, {1}}), -1);
    EXPECT_EQ(add({1, {}}), -1);
    EXPECT_EQ(add({1, {4}}), -1);
    EXPECT_EQ(add({1, {0}}), -1);
    EXPECT_EQ(add({1, {1, 1, 1, 1, 1, 1, 1}}), -1);
    expect_nothing_added();
    EXPECT_EQ(add({1, {1, 1}}), 0) << "an empty batch is none the worse";
}

TEST_F(sparse_problem, direct_observation_that_does_not_fit_adds_nothing) {
    EXPECT_EQ(problem.observe_directly(x, std::array{1.0, 2.0}, Eigen::Matrix2d::Identity()).batch,
              -1);
    EXPECT_EQ(problem.observe_directly({5}, std::array{1.0}, variance(1.0)).batch, -1);
    EXPECT_EQ(problem.observe_directly(x, std::array{1.0}, variance(0.0)).batch, -1);
    EXPECT_EQ(
        problem.observe_directly(wide, std::array{1.0, 2.0, 3.0}, Eigen::Matrix3d::Ones()).batch,
        -1)
        << "singular";
    expect_nothing_added();
    EXPECT_EQ(problem.observe_directly(x, std::array{1.0}, variance(1.0)), (ObservationId{0, 0}));
    EXPECT_EQ(
        problem.observe_directly(wide, std::array{1.0, 2.0, 3.0}, Eigen::Matrix3d::Identity()),
        (ObservationId{1, 0}));
    EXPECT_EQ(problem.observe_directly(y, std::array{1.0}, variance(1.0)), (ObservationId{0, 1}));
    EXPECT_EQ(problem.observation_count(), 5);
}

TEST_F(sparse_problem, weight_that_means_nothing_changes_nothing) {
    const ObservationId id = problem.observe_directly(x, std::array{1.0}, variance(1.0));
    const auto before = problem.weight_revision();
    problem.set_weight(id, -1.0);
    problem.set_weight(id, kNan);
    problem.set_weight(id, kInfinity);
    problem.set_weight(id, 1.0);
    problem.set_weight({3, 0}, 0.0);
    problem.set_weight({0, 1}, 0.0);
    EXPECT_EQ(problem.weight(id), 1.0);
    EXPECT_EQ(problem.weight_revision(), before);
    problem.set_weight(id, 0.0);
    EXPECT_EQ(problem.observation_count(), 0);
    EXPECT_GT(problem.weight_revision(), before);
}

}  // namespace
}  // namespace layproof::adjust::testing

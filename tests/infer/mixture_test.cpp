#include "infer/mixture.hpp"

#include <gtest/gtest.h>

#include <vector>

#include "base/random.hpp"

namespace layproof::infer {
namespace {

using Vec = Eigen::Vector2d;
using Mat = Eigen::Matrix2d;

std::vector<Normal<2>> random_beliefs(std::uint64_t seed, int count) {
    Random random(seed);
    std::vector<Normal<2>> out;
    for (int i = 0; i < count; ++i) {
        Mat root;
        for (int r = 0; r < 2; ++r)
            for (int c = 0; c < 2; ++c) root(r, c) = random.normal();
        out.push_back({random.uniform(), Vec(random.normal(), random.normal()),
                       Mat(root * root.transpose())});
    }
    return out;
}

struct Moments {
    double weight = 0.0;
    Vec mean = Vec::Zero();
    Mat covariance = Mat::Zero();
};

/// By E[x] and E[x xᵀ].
Moments moments_of(const std::vector<Normal<2>>& beliefs) {
    Moments out;
    Mat square = Mat::Zero();
    for (const auto& b : beliefs) {
        out.weight += b.weight;
        out.mean += b.weight * b.mean;
        square += b.weight * (b.covariance + b.mean * b.mean.transpose());
    }
    out.mean /= out.weight;
    out.covariance = square / out.weight - out.mean * out.mean.transpose();
    return out;
}

void expect_same(const Moments& a, const Moments& b) {
    EXPECT_NEAR(a.weight, b.weight, 1e-12);
    EXPECT_LT((a.mean - b.mean).norm(), 1e-12);
    EXPECT_LT((a.covariance - b.covariance).norm(), 1e-12);
}

TEST(mixture, put_together_keeps_the_moments_in_any_order) {
    std::vector<Normal<2>> beliefs = random_beliefs(1, 9);
    const Moments expected = moments_of(beliefs);
    for (int turn = 0; turn < 2; ++turn) {
        Normal<2> sum;
        for (const auto& b : beliefs) put_together(sum, b);
        expect_same({sum.weight, sum.mean, sum.covariance}, expected);
        std::reverse(beliefs.begin(), beliefs.end());
    }
}

TEST(mixture, small_spread_far_from_zero_is_kept) {
    Normal<1> sum;
    const auto at = [](double x) {
        Normal<1> out;
        out.weight = 1.0;
        out.mean[0] = x;
        out.covariance(0, 0) = 1e-12;
        return out;
    };
    put_together(sum, at(1e6));
    put_together(sum, at(1e6));
    EXPECT_NEAR(sum.covariance(0, 0), 1e-12, 1e-24);
}

TEST(mixture, weights_of_nothing_leave_what_is_there) {
    Normal<2> sum;
    put_together(sum, Normal<2>{0.0, Vec(1.0, 2.0), Mat::Identity()});
    EXPECT_EQ(sum.weight, 0.0);
    EXPECT_TRUE(sum.mean.isZero(0.0));
    put_together(sum, Normal<2>{0.5, Vec(1.0, 2.0), Mat::Identity()});
    EXPECT_EQ(sum.mean, Vec(1.0, 2.0));
    EXPECT_EQ(sum.covariance, Mat(Mat::Identity()));
    put_together(sum, Normal<2>{0.0, Vec(9.0, 9.0), Mat::Identity()});
    EXPECT_EQ(sum.mean, Vec(1.0, 2.0));
}

TEST(mixture, condensed_keeps_the_first_and_the_moments) {
    const std::vector<Normal<2>> beliefs = random_beliefs(2, 9);
    const auto few = condense(beliefs, 4);
    ASSERT_EQ(few.size(), 4U);
    Moments expected = moments_of(beliefs);
    expected.weight = 1.0;
    expect_same(moments_of(few), expected);
    auto sorted = beliefs;
    most_probable_first(sorted);
    for (std::size_t i = 0; i < 3; ++i) EXPECT_EQ(few[i].mean, sorted[i].mean);
    EXPECT_EQ(condense(beliefs, 20).size(), 9U);
    EXPECT_EQ(condense(beliefs, 0).size(), 1U);
    EXPECT_TRUE(condense(std::vector<Normal<2>>{}, 3).empty());
}

TEST(mixture, what_has_no_weight_is_not_condensed_into_one) {
    std::vector<Normal<2>> beliefs = random_beliefs(3, 4);
    for (std::size_t i = 2; i < 4; ++i) beliefs[i].weight = 0.0;
    EXPECT_EQ(condense(beliefs, 3).size(), 2U);
}

TEST(mixture, near_ones_are_merged_and_the_heavy_left_apart) {
    std::vector<Normal<2>> beliefs(4);
    const double weights[] = {0.5, 0.3, 0.15, 0.05};
    for (std::size_t i = 0; i < 4; ++i) {
        beliefs[i].weight = weights[i];
        beliefs[i].mean = Vec(i % 2 == 0 ? 0.0 : 5.0, 0.1 * static_cast<double>(i));
        beliefs[i].covariance = Mat::Identity();
    }
    const Moments expected = moments_of(beliefs);
    const auto out = merge_near(
        beliefs, 0.2, [](const auto& a, const auto& b) { return (a.mean - b.mean).norm() < 1.0; });
    ASSERT_EQ(out.size(), 2U);
    EXPECT_NEAR(out[0].weight, 0.65, 1e-12);
    EXPECT_NEAR(out[1].weight, 0.35, 1e-12);
    expect_same(moments_of(out), expected);
    const auto always = [](const auto&, const auto&) { return true; };
    EXPECT_EQ(merge_near(beliefs, 0.0, always).size(), 4U);
}

}  // namespace
}  // namespace layproof::infer

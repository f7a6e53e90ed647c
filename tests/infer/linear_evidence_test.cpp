// The closed forms against numerical integration over the amounts, tabled figures, and what must
// hold of any of them.

#include "infer/linear_evidence.hpp"

#include <gtest/gtest.h>

#include <Eigen/LU>
#include <array>
#include <cmath>
#include <numbers>

#include "base/random.hpp"

namespace layproof::infer {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr int kDynamic = Eigen::Dynamic;

template <int N>
ColumnData<N> random_data(Random& random) {
    AmountMatrix<N> root;
    ColumnData<N> out;
    for (int r = 0; r < N; ++r) {
        out.g[r] = random.uniform(-2.0, 2.0);
        for (int c = 0; c < N; ++c) root(r, c) = random.normal();
    }
    out.gram = root * root.transpose();
    return out;
}

template <int N>
Amounts<N> random_sd(Random& random) {
    Amounts<N> out;
    for (int r = 0; r < N; ++r) out[r] = random.uniform(0.5, 2.0);
    return out;
}

/// ln ∫ exp(gᵀx − ½xᵀGx) N(x; 0, D²) dx by the trapezium rule in units of the prior, with mean and
/// covariance of what is integrated.
template <int N>
AmountFit<N> integrated(const ColumnData<N>& data, const Amounts<N>& sd) {
    const double step = N > 2 ? 0.2 : 0.1;
    const int reach = static_cast<int>(9.0 / step);
    std::array<int, std::size_t{N}> at;
    at.fill(-reach);
    double sum = 0.0;
    AmountFit<N> out{0.0, Amounts<N>::Zero(), AmountMatrix<N>::Zero()};
    for (;;) {
        Amounts<N> u;
        for (int i = 0; i < N; ++i) u[i] = step * at[static_cast<std::size_t>(i)];
        const Amounts<N> x = sd.cwiseProduct(u);
        const double w =
            std::exp(data.g.dot(x) - 0.5 * x.dot(data.gram * x) - 0.5 * u.squaredNorm());
        sum += w;
        out.mean += w * x;
        out.covariance += w * x * x.transpose();
        std::size_t i = 0;
        while (i < at.size() && ++at[i] > reach) at[i++] = -reach;
        if (i == at.size()) break;
    }
    out.mean /= sum;
    out.covariance = (out.covariance / sum - out.mean * out.mean.transpose()).eval();
    out.log_bayes = std::log(sum) + N * std::log(step / std::sqrt(2.0 * std::numbers::pi));
    return out;
}

template <int N>
void expect_integral(int runs) {
    Random random(10 + N);
    for (int run = 0; run < runs; ++run) {
        const ColumnData<N> data = random_data<N>(random);
        const Amounts<N> sd = random_sd<N>(random);
        const AmountFit<N> expected = integrated(data, sd);
        const AmountFit<N> fit = fit_amounts(data, sd);
        EXPECT_NEAR(fit.log_bayes, expected.log_bayes, 1e-8);
        EXPECT_LT((fit.mean - expected.mean).cwiseAbs().maxCoeff(), 1e-8);
        EXPECT_LT((fit.covariance - expected.covariance).cwiseAbs().maxCoeff(), 1e-8);
        EXPECT_EQ(fit_mean(data, sd).log_bayes, fit.log_bayes);
        EXPECT_EQ(fit_mean(data, sd).mean, fit.mean);
        EXPECT_EQ(log_bayes(data, sd), fit.log_bayes);
    }
}

TEST(linear_evidence, one_amount_is_the_integral_over_the_prior) {
    expect_integral<1>(20);
}
TEST(linear_evidence, two_amounts_are_the_integral_over_the_prior) {
    expect_integral<2>(20);
}
TEST(linear_evidence, three_amounts_are_the_integral_over_the_prior) {
    expect_integral<3>(2);
}

// ln BF = ½w²κ/(1+κ) − ½ln(1+κ), textbook formula from memory; the figures were computed apart.
TEST(linear_evidence, one_column_gives_the_tabled_bayes_factors) {
    struct Row {
        double w, kappa, log_bayes;
    };
    for (const Row& row : {Row{0.0, 9.0, -1.1513}, Row{2.0, 9.0, 0.6487}, Row{3.2905, 9.0, 3.7210},
                           Row{4.1321, 1.0, 3.9220}, Row{4.1321, 100.0, 6.1450}})
        for (const double sigma : {1e-4, 0.003, 1.0}) {
            const ColumnData<1> data{Amounts<1>(row.w / sigma),
                                     AmountMatrix<1>(1.0 / (sigma * sigma))};
            EXPECT_NEAR(log_bayes(data, Amounts<1>(std::sqrt(row.kappa) * sigma)), row.log_bayes,
                        6e-5);
        }
}

/// The same amounts with every number of columns that there is a way for.
TEST(linear_evidence, every_size_gives_the_same) {
    Random random(3);
    for (int run = 0; run < 50; ++run) {
        const ColumnData<3> data = random_data<3>(random);
        const Amounts<3> sd = random_sd<3>(random);
        const AmountFit<3> three = fit_amounts(data, sd);
        ColumnData<4> padded{Amounts<4>(7.0, 7.0, 7.0, 7.0), AmountMatrix<4>::Identity()};
        padded.g.head<3>() = data.g;
        padded.gram.topLeftCorner<3, 3>() = data.gram;
        const AmountFit<4> four = fit_amounts(padded, Amounts<4>(sd[0], sd[1], sd[2], 0.0));
        const auto dynamic =
            fit_amounts(ColumnData<kDynamic>{data.g, data.gram}, Amounts<kDynamic>(sd));
        const auto bounded =
            fit_amounts(ColumnData<kDynamic, 5>{data.g, data.gram}, Amounts<kDynamic, 5>(sd));
        EXPECT_NEAR(four.log_bayes, three.log_bayes, 1e-12);
        EXPECT_NEAR(dynamic.log_bayes, three.log_bayes, 1e-12);
        EXPECT_EQ(bounded.log_bayes, dynamic.log_bayes);
        EXPECT_LT((four.mean.head<3>() - three.mean).norm(), 1e-12);
        EXPECT_LT((dynamic.mean - three.mean).norm(), 1e-12);
        EXPECT_LT((dynamic.covariance - three.covariance).norm(), 1e-12);
        EXPECT_LT((four.covariance.topLeftCorner<3, 3>() - three.covariance).norm(), 1e-12);
    }
}

TEST(linear_evidence, posterior_is_the_inverse_of_the_sum_of_precisions) {
    Random random(4);
    const ColumnData<3> data = random_data<3>(random);
    const Amounts<3> sd = random_sd<3>(random);
    const AmountFit<3> fit = fit_amounts(data, sd);
    const Eigen::Matrix3d precision =
        data.gram + Eigen::Matrix3d(sd.cwiseAbs2().cwiseInverse().asDiagonal());
    EXPECT_LT((fit.covariance - precision.inverse()).norm(), 1e-12);
    EXPECT_LT((fit.mean - precision.inverse() * data.g).norm(), 1e-12);
}

TEST(linear_evidence, amount_without_spread_is_held_at_zero) {
    ColumnData<3> data{Amounts<3>(1.2, 40.0, -3.0), AmountMatrix<3>::Identity()};
    data.gram(0, 1) = data.gram(1, 0) = 0.9;
    const AmountFit<3> fit = fit_amounts(data, Amounts<3>(std::sqrt(0.5), 0.0, 0.0));
    EXPECT_EQ(fit.mean[1], 0.0);
    EXPECT_EQ(fit.covariance(1, 1), 0.0);
    EXPECT_EQ(fit.covariance(0, 1), 0.0);
    EXPECT_NEAR(fit.log_bayes, 0.5 * 1.44 * 0.5 / 1.5 - 0.5 * std::log1p(0.5), 1e-12);
    const AmountFit<3> none = fit_amounts(data, Amounts<3>(Amounts<3>::Zero()));
    EXPECT_EQ(none.log_bayes, 0.0);
    EXPECT_EQ(none.mean, Amounts<3>(Amounts<3>::Zero()));
}

TEST(linear_evidence, no_data_leave_the_prior) {
    const ColumnData<2> data{Amounts<2>::Zero(), AmountMatrix<2>::Zero()};
    const AmountFit<2> fit = fit_amounts(data, Amounts<2>(2.0, 3.0));
    EXPECT_EQ(fit.log_bayes, 0.0);
    EXPECT_NEAR(fit.covariance(0, 0), 4.0, 1e-12);
    EXPECT_NEAR(fit.covariance(1, 1), 9.0, 1e-12);
    const auto empty = fit_amounts(ColumnData<kDynamic>{VectorXd(0), MatrixXd(0, 0)}, VectorXd(0));
    EXPECT_EQ(empty.log_bayes, 0.0);
    EXPECT_EQ(empty.mean.size(), 0);
}

TEST(linear_evidence, units_of_the_columns_do_not_matter) {
    Random random(6);
    for (int run = 0; run < 50; ++run) {
        const ColumnData<3> data = random_data<3>(random);
        const Amounts<3> sd = random_sd<3>(random);
        Amounts<3> by;
        for (double& b : by) b = std::exp(random.uniform(-12.0, 12.0));
        const ColumnData<3> scaled{by.cwiseProduct(data.g),
                                   by.asDiagonal() * data.gram * by.asDiagonal()};
        const AmountFit<3> one = fit_amounts(data, sd);
        const AmountFit<3> two = fit_amounts(scaled, Amounts<3>(sd.cwiseQuotient(by)));
        EXPECT_NEAR(two.log_bayes, one.log_bayes, 1e-10);
        EXPECT_LT((by.cwiseProduct(two.mean) - one.mean).norm(), 1e-10);
    }
}

TEST(linear_evidence, one_after_another_is_both_at_once) {
    Random random(7);
    for (int run = 0; run < 50; ++run) {
        const ColumnData<6> both = random_data<6>(random);
        const ColumnData<3> a{both.g.head<3>(), both.gram.topLeftCorner<3, 3>()};
        const ColumnData<3> b{both.g.tail<3>(), both.gram.bottomRightCorner<3, 3>()};
        const AmountMatrix<3> between = both.gram.bottomLeftCorner<3, 3>();
        const Amounts<3> sd_a = random_sd<3>(random);
        const Amounts<3> sd_b = random_sd<3>(random);
        const AmountFit<6> expected = fit_amounts(both, joined<3>(sd_a, sd_b));
        const AmountFit<3> first = fit_amounts(a, sd_a);
        const AmountFit<3> second = fit_amounts(given(b, between, first), sd_b);
        EXPECT_NEAR(first.log_bayes + second.log_bayes, expected.log_bayes, 1e-10);
        EXPECT_LT((second.mean - expected.mean.tail<3>()).norm(), 1e-10);
        EXPECT_LT((second.covariance - expected.covariance.bottomRightCorner<3, 3>()).norm(),
                  1e-10);
        const ColumnData<6> put = joined(a, b, between);
        EXPECT_EQ(put.g, both.g);
        EXPECT_EQ(put.gram, both.gram);
    }
}

TEST(linear_evidence, nothing_is_not_a_number) {
    Random random(8);
    for (int run = 0; run < 200; ++run) {
        // Columns that are the same but for rounding, in any size.
        const double size = std::exp(random.uniform(-60.0, 60.0));
        ColumnData<4> data = random_data<4>(random);
        data.gram.col(1) = data.gram.col(0) * (1.0 + 1e-15);
        data.gram.row(1) = data.gram.col(1).transpose();
        data.gram(1, 1) = data.gram(0, 0) * (1.0 - 1e-14);
        data.gram *= size;
        data.g *= std::sqrt(size);
        Amounts<4> sd;
        for (double& s : sd) s = run % 5 == 0 ? 0.0 : std::exp(random.uniform(-40.0, 40.0));
        const AmountFit<4> fit = fit_amounts(data, sd);
        EXPECT_TRUE(std::isfinite(fit.log_bayes));
        EXPECT_TRUE(fit.mean.allFinite());
        EXPECT_TRUE(fit.covariance.allFinite());
        const ColumnData<3> three{data.g.head<3>(), data.gram.topLeftCorner<3, 3>()};
        EXPECT_TRUE(std::isfinite(log_bayes(three, Amounts<3>(sd.head<3>()))));
    }
}

TEST(linear_evidence, determinant_of_many_columns_stays_in_range) {
    const int n = 60;
    const ColumnData<kDynamic> data{VectorXd::Zero(n), 1e20 * MatrixXd::Identity(n, n)};
    EXPECT_NEAR(log_bayes(data, VectorXd(VectorXd::Ones(n))), -0.5 * n * std::log(1e20), 1e-9);
}

}  // namespace
}  // namespace layproof::infer

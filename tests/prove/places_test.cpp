// Marks, laid points and set-ups judged over what may be wrong, against closed forms.

#include "prove/places.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "measure/angle.hpp"
#include "network/site_jobs.hpp"

namespace layproof::prove {
namespace {

using Eigen::Matrix3d;
using Eigen::Vector3d;
using network::PlaceBelief;
using station::Word;

constexpr double kMm = 0.001;

/// A mark of the network, as far east of its sheet place as said, 1 mm in every plan direction.
struct MarkCase {
    network::NetworkPoint point;
    frame::Mark mark;

    explicit MarkCase(double off_east_m) {
        mark.name = "H1";
        mark.east_m = 5000.0;
        mark.north_m = 10000.0;
        point.name = "H1";
        point.has_plan = true;
        point.off_east_m = off_east_m;
        point.off_north_m = 0.0;
        point.seen_off_m = Eigen::Vector2d(off_east_m, 0.0);
        point.covariance.diagonal() << kMm * kMm, kMm * kMm, 4.0 * kMm * kMm;
    }
};

PlaceBelief belief(double weight, const Vector3d& shift_m, double added_sd_m = 0.0) {
    return {weight, shift_m, added_sd_m * added_sd_m * Matrix3d::Identity()};
}

TEST(mark, circle_around_its_sheet_place_has_the_rayleigh_probability) {
    const MarkCase c(0.0);
    const MarkChance one =
        chance_of(c.point, c.mark, {belief(1.0, Vector3d::Zero())}, {2.0 * kMm, 1.0}, 0.95);
    EXPECT_NEAR(one.probability, 1.0 - std::exp(-2.0), 1e-7);
    EXPECT_EQ(one.word, Word::in_doubt);
    const MarkChance wide =
        chance_of(c.point, c.mark, {belief(1.0, Vector3d::Zero())}, {4.0 * kMm, 1.0}, 0.95);
    EXPECT_EQ(wide.word, Word::proven);
}

TEST(mark, beliefs_are_weighted) {
    const MarkCase c(0.0);
    // Far away there is nothing of it inside; with 1 mm more of spread the variance doubles.
    const MarkChance one =
        chance_of(c.point, c.mark,
                  {belief(0.7, Vector3d::Zero()), belief(0.2, Vector3d(1.0, 0.0, 0.0)),
                   belief(0.1, Vector3d::Zero(), kMm)},
                  {2.0 * kMm, 1.0}, 0.95);
    EXPECT_NEAR(one.probability, 0.7 * (1.0 - std::exp(-2.0)) + 0.1 * (1.0 - std::exp(-1.0)), 1e-7);
}

TEST(mark, belief_that_brings_it_back_counts) {
    const MarkCase c(10.0 * kMm);
    const MarkChance stays =
        chance_of(c.point, c.mark, {belief(1.0, Vector3d::Zero())}, {4.0 * kMm, 1.0}, 0.95);
    EXPECT_LT(stays.probability, 1e-6);
    EXPECT_EQ(stays.word, Word::fails);
    const MarkChance back = chance_of(c.point, c.mark, {belief(1.0, Vector3d(-10.0 * kMm, 0, 0))},
                                      {4.0 * kMm, 1.0}, 0.95);
    EXPECT_NEAR(back.probability, 1.0 - std::exp(-8.0), 1e-7);
}

TEST(mark, height_multiplies_the_plan) {
    MarkCase c(0.0);
    c.mark.height_m = 95.0;
    c.point.has_height = true;
    c.point.off_height_m = 0.0;
    const MarkChance one =
        chance_of(c.point, c.mark, {belief(1.0, Vector3d::Zero())}, {2.0 * kMm, 3.0 * kMm}, 0.95);
    EXPECT_NEAR(one.probability, (1.0 - std::exp(-2.0)) * std::erf(1.5 / std::sqrt(2.0)), 1e-7);
}

TEST(mark, what_nothing_else_checks_is_never_proven) {
    MarkCase c(0.0);
    c.point.seen_off_m.reset();
    const MarkChance one =
        chance_of(c.point, c.mark, {belief(1.0, Vector3d::Zero())}, {10.0 * kMm, 1.0}, 0.95);
    EXPECT_GT(one.probability, 0.99);
    EXPECT_FALSE(one.is_checked);
    EXPECT_EQ(one.word, Word::in_doubt);
}

TEST(setup, fit_is_the_test_of_its_own_sights) {
    network::NetworkStation station;
    station.is_placed = true;
    station.redundancy = 9.7;
    station.statistic = 9.7;
    EXPECT_EQ(fit_of(station).word, Word::proven);
    EXPECT_DOUBLE_EQ(fit_of(station).ratio, 1.0);
    station.statistic = 4.0 * 9.7;
    EXPECT_EQ(fit_of(station).word, Word::in_doubt);
    EXPECT_DOUBLE_EQ(fit_of(station).ratio, 2.0);
    station.redundancy = 0.04;
    EXPECT_DOUBLE_EQ(fit_of(station).ratio, 1.0);
    EXPECT_EQ(fit_of(station).word, Word::in_doubt);
    station.redundancy = 9.7;
    station.statistic = 9.7;
    station.is_placed = false;
    EXPECT_EQ(fit_of(station).word, Word::in_doubt);
}

class laid : public ::testing::Test {
protected:
    laid() : job_(layproof::testing::draw_site_job(42, options())) {
        auto found = network::adjust_network(job_.input);
        EXPECT_TRUE(found);
        network_ = std::move(found).value();
        point_ = network_.point_named("P1");
        for (std::size_t i = 0; i < network_.sights.size(); ++i)
            if (network_.sights[i].point == point_) sights_.push_back(i);
        const network::NetworkPoint& p = point();
        design_.name = "P1";
        design_.east_m = p.place_m.x();
        design_.north_m = p.place_m.y();
        design_.tolerance_plan_m = 8.0 * kMm;
        tolerance_ = lay::tolerance_of(design_, lay::ToleranceTable{});
    }

    static layproof::testing::SiteJobOptions options() {
        layproof::testing::SiteJobOptions out;
        out.setups = 4;
        out.points_each = 1;
        return out;
    }

    const network::NetworkPoint& point() const {
        return network_.points[static_cast<std::size_t>(point_)];
    }
    LaidAnswer judged(const std::vector<PlaceBelief>& beliefs) const {
        return judge_laid({job_.input, network_, diagnosis_, point_, sights_, 0.95}, design_,
                          tolerance_, beliefs);
    }

    layproof::testing::SiteJob job_;
    network::SiteNetwork network_;
    network::NetworkDiagnosis diagnosis_;
    int point_ = -1;
    std::vector<std::size_t> sights_;
    frame::DesignPoint design_;
    lay::PointTolerance tolerance_;
};

TEST_F(laid, without_doubt_is_the_place_of_the_adjustment) {
    const LaidAnswer answer = judged({belief(1.0, Vector3d::Zero())});
    EXPECT_LT((answer.place_m - point().place_m).norm(), 1e-9);
    EXPECT_LT(answer.verdict.deviation_m.head<2>().norm(), 1e-9);
    const double marking = job_.input.setups[0].instrument.marking_m;
    const Eigen::Matrix2d expected =
        point().covariance.topLeftCorner<2, 2>() + marking * marking * Eigen::Matrix2d::Identity();
    EXPECT_LT((answer.verdict.covariance.topLeftCorner<2, 2>() - expected).norm(), 1e-12);
    EXPECT_EQ(answer.verdict.word, station::judge(answer.verdict.probability, 0.95));
}

TEST_F(laid, place_and_covariance_are_those_of_the_mixture) {
    const Vector3d east(20.0 * kMm, 0.0, 0.0);
    const LaidAnswer plain = judged({belief(1.0, Vector3d::Zero())});
    const LaidAnswer moved = judged({belief(1.0, east)});
    const LaidAnswer both = judged({belief(0.75, Vector3d::Zero()), belief(0.25, east)});
    EXPECT_NEAR(both.verdict.probability,
                0.75 * plain.verdict.probability + 0.25 * moved.verdict.probability, 1e-12);
    EXPECT_NEAR(both.verdict.deviation_m.x(), 5.0 * kMm, 1e-9);
    EXPECT_LT((both.place_m - point().place_m - 0.25 * east).norm(), 1e-9);
    // Between the beliefs: w (1 − w) of the squared distance.
    EXPECT_NEAR(both.verdict.covariance(0, 0),
                plain.verdict.covariance(0, 0) + 0.75 * 0.25 * 400.0 * kMm * kMm, 1e-12);
    EXPECT_GT(both.verdict.sd_plan_m, std::sqrt(both.verdict.covariance(0, 0)) - 1e-12);
    // Along and across turn the deviation, they do not stretch it.
    EXPECT_NEAR(std::hypot(both.verdict.along_m, both.verdict.across_m), 5.0 * kMm, 1e-9);
    EXPECT_EQ(plain.verdict.word, Word::proven);
    EXPECT_EQ(both.verdict.word, Word::in_doubt);
    EXPECT_EQ(moved.verdict.word, Word::fails);
}

TEST_F(laid, added_spread_is_the_stations_share) {
    const LaidAnswer plain = judged({belief(1.0, Vector3d::Zero())});
    const LaidAnswer wide = judged({belief(1.0, Vector3d::Zero(), 10.0 * kMm)});
    EXPECT_GT(wide.verdict.station_share, plain.verdict.station_share);
    EXPECT_LT(wide.verdict.probability, plain.verdict.probability);
}

TEST_F(laid, other_evidence_lowers_the_word) {
    lay::PointVerdict verdict = judged({belief(1.0, Vector3d::Zero())}).verdict;
    ASSERT_EQ(verdict.word, Word::proven);
    judge_again(verdict, 0.5);
    EXPECT_EQ(verdict.word, Word::in_doubt);
    EXPECT_DOUBLE_EQ(verdict.probability, 0.5);
    judge_again(verdict, 0.99);
    EXPECT_EQ(verdict.word, Word::proven);
    verdict.height_is_open = true;
    judge_again(verdict, 0.99);
    EXPECT_EQ(verdict.word, Word::in_doubt);
    verdict.is_judged = false;
    judge_again(verdict, 0.01);
    EXPECT_EQ(verdict.word, Word::in_doubt);
}

}  // namespace
}  // namespace layproof::prove

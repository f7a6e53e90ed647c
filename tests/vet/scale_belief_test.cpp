#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "measure/length.hpp"
#include "vet/scale_belief.hpp"
#include "vet/trap.hpp"

namespace layproof::vet {
namespace {

std::vector<ScaleCandidate> candidates_with(const frame::KnownFactors& factors) {
    std::vector<ScaleCandidate> out;
    for (auto& e : frame::scale_candidates(factors, {"drawing", "sheet"}))
        out.push_back({"", std::move(e), 0.0});
    return out;
}

TEST(scale_belief, one_within_its_sd_is_no_scale) {
    const auto beliefs = weigh_scales(1.000004, 10.0, candidates_with({}));
    ASSERT_FALSE(beliefs.empty());
    EXPECT_EQ(beliefs.front().candidate.explanation.kind, frame::ScaleKind::none);
    EXPECT_GT(beliefs.front().probability, 0.9);
}

TEST(scale_belief, probabilities_are_those_of_bayes_rule_by_hand) {
    // 2 ppm seen with 1 ppm: no scale (2 sd off), the US foot read as international (0 off), and
    // the unknown scale. Written out here from the header's formulas.
    const double sd = 1e-6;
    const double foot = measure::kMetresPerUsFoot / measure::kMetresPerFoot;
    const auto density = [](double off, double s) {
        return std::exp(-0.5 * off * off / s / s) / s / std::sqrt(2.0 * std::numbers::pi);
    };
    const double none = kNothingWrongFrequency * density(foot - 1.0, sd);
    const double feet = prior_of(Trap::foot_kind).frequency / 2.0 * density(0.0, sd);
    const double other = prior_of(Trap::foot_kind).frequency / 2.0 * density(foot * foot - 1.0, sd);
    double unknown = 0.0;
    for (const double size : prior_of(Trap::grid_for_ground).sizes)
        unknown += prior_of(Trap::grid_for_ground).frequency / 3.0 *
                   density(foot - 1.0, std::hypot(size, sd));
    const double sum = none + feet + other + unknown;
    const auto beliefs = weigh_scales(foot, 1.0, candidates_with({}), 0.0);
    double total = 0.0;
    for (const ScaleBelief& b : beliefs) {
        total += b.probability;
        const frame::ScaleExplanation& e = b.candidate.explanation;
        if (b.is_unknown) {
            EXPECT_NEAR(b.probability, unknown / sum, 1e-9);
        } else if (e.kind == frame::ScaleKind::none) {
            EXPECT_NEAR(b.probability, none / sum, 1e-9);
        } else if (e.kind == frame::ScaleKind::foot && e.ratio > 1.0) {
            EXPECT_NEAR(b.probability, feet / sum, 1e-9);
        }
    }
    EXPECT_NEAR(total, 1.0, 1e-12);
}

TEST(scale_belief, metres_read_as_feet_are_named) {
    const auto beliefs = weigh_scales(3.28084, 20.0, candidates_with({}));
    ASSERT_GE(beliefs.size(), 2U);
    EXPECT_EQ(beliefs[0].candidate.explanation.kind, frame::ScaleKind::unit);
    // 20 ppm do not tell the two feet apart.
    EXPECT_EQ(beliefs[1].candidate.explanation.kind, frame::ScaleKind::unit);
    EXPECT_NEAR(beliefs[0].probability, 0.5, 0.05);
}

TEST(scale_belief, a_known_factor_stands_before_the_unknown) {
    frame::KnownFactors factors;
    factors.point_scale = 0.99963;
    factors.elevation_factor = 0.99996;
    const auto beliefs = weigh_scales(0.99963 * 0.99996, 3.0, candidates_with(factors));
    ASSERT_FALSE(beliefs.empty());
    EXPECT_EQ(beliefs[0].candidate.explanation.kind, frame::ScaleKind::factor);
    EXPECT_GT(beliefs[0].probability, 0.9);
    const auto without = weigh_scales(0.99963 * 0.99996, 3.0, candidates_with({}));
    ASSERT_FALSE(without.empty());
    EXPECT_TRUE(without[0].is_unknown);
}

TEST(scale_belief, no_number_is_no_answer) {
    EXPECT_TRUE(weigh_scales(NAN, 1.0, candidates_with({})).empty());
    EXPECT_TRUE(weigh_scales(-1.0, 1.0, candidates_with({})).empty());
    EXPECT_TRUE(weigh_scales(1.0, INFINITY, candidates_with({})).empty());
}

}  // namespace
}  // namespace layproof::vet

// Conformity: figures and points against their limits.

#include "lay/verdict.hpp"

#include <gtest/gtest.h>

#include <array>
#include <limits>

#include "adjust/tests.hpp"
#include "lay/lay_support.hpp"
#include "lay/report.hpp"
#include "support/reference.hpp"

namespace layproof::lay {
namespace {

using station::Word;
using testing::design;
using testing::kMm;

// Own table for ± 1/4 in (6.35 mm): sd, one-sided guarded limit with 1.645 sd.
TEST(Acceptance, guard_band_table_for_a_quarter_inch_agrees) {
    struct Row {
        double sd, accept;
    };
    // While the far limit does not matter, the acceptance interval is the one-sided guard band.
    for (const Row& row : {Row{1.0, 4.705}, Row{1.5, 3.882}, Row{2.0, 3.06}}) {
        const auto interval = acceptance_interval(row.sd * kMm, testing::both(6.35 * kMm), 0.95);
        ASSERT_TRUE(interval.has_value());
        EXPECT_NEAR(*interval->to_m / kMm, row.accept, 0.0015) << row.sd;
        EXPECT_NEAR(*interval->from_m, -*interval->to_m, 1e-12);
    }
    // At 2.5 the far limit takes its share: at the one-sided limit p is .9497, so it lies inside.
    EXPECT_NEAR(probability_within(2.237 * kMm, 2.5 * kMm, testing::both(6.35 * kMm)), 0.9497,
                5e-5);
    EXPECT_NEAR(probability_within(1.35 * kMm, 2.5 * kMm, testing::both(6.35 * kMm)), 0.9762, 5e-5);
    EXPECT_NEAR(probability_within(1.415 * kMm, 3.0 * kMm, testing::both(6.35 * kMm)), 0.9452,
                5e-5);
    EXPECT_NEAR(probability_within(0.35 * kMm, 3.0 * kMm, testing::both(6.35 * kMm)), 0.9645, 5e-5);
    const auto tight = acceptance_interval(2.5 * kMm, testing::both(6.35 * kMm), 0.95);
    ASSERT_TRUE(tight.has_value());
    EXPECT_LT(*tight->to_m, 2.237 * kMm);
    EXPECT_NEAR(probability_within(*tight->to_m, 2.5 * kMm, testing::both(6.35 * kMm)), 0.95, 1e-5);
    EXPECT_FALSE(acceptance_interval(4.0 * kMm, testing::both(6.35 * kMm), 0.95).has_value());
}

TEST(Acceptance, one_sided_limit_agrees_with_published_voltage) {
    const layproof::testing::Reference example("conformity-zener");
    // Upper limit only; the deviation is taken from the limit so that lengths stay lengths.
    const double below = example.number("case.measured_V") - example.number("case.upper_limit_V");
    example.check("probability_conforming",
                  probability_within(below, example.number("case.standard_uncertainty_V"),
                                     {std::nullopt, 0.0}));
    example.check("probability_full",
                  probability_within(below, example.number("case.standard_uncertainty_V"),
                                     {std::nullopt, 0.0}));
}

// NCSL RP-19 as in the reference file: one item, probability outside each limit.
TEST(Acceptance, probability_outside_each_limit_agrees_with_published_table) {
    const layproof::testing::Reference example("conformity-global-risk");
    const double lower = example.number("specific.lower");
    const double upper = example.number("specific.upper");
    const double sd = example.number("specific.sd");
    const auto check = [&](const std::string& what, double mean, const Limits& limits) {
        example.check(what, 1.0 - probability_within(mean, sd, limits));
    };
    check("specific_10.below", 10.0, {-lower, std::nullopt});
    check("specific_10.above", 10.0, {std::nullopt, upper});
    check("specific_10.5.below", 10.5, {-lower, std::nullopt});
    check("specific_10.5.above", 10.5, {std::nullopt, upper});
    check("specific_12.0.above", 12.0, {std::nullopt, upper});
}

// JCGM 106, 9.5.4: gamma prior, one upper limit. The acceptance limit of the guide holds the
// consumer's risk at 0.1 %; seen with the conformance probability alone (no prior) it is p = 0.905.
TEST(Acceptance, guide_limit_for_bearings_is_found_again) {
    const layproof::testing::Reference example("conformity-jcgm106-bearings");
    const double upper = example.number("model.upper_tolerance");
    const double sd = example.number("model.standard_uncertainty");
    const double shape = example.number("model.gamma_shape");
    const double rate = example.number("model.gamma_rate");
    // Risk that an item is accepted below `limit` and lies above the tolerance, with this file's
    // probability of a reading at or below the limit given the item.
    const auto risk = [&](double limit) {
        double sum = 0.0;
        const int strips = 20000;
        const double top = 12.0;
        for (int i = 0; i < strips; ++i) {
            const double x = upper + (top - upper) * (i + 0.5) / strips;
            const double density = std::exp(shape * std::log(rate) + (shape - 1.0) * std::log(x) -
                                            rate * x - std::lgamma(shape));
            sum += density * probability_within(x - limit, sd, {std::nullopt, 0.0});
        }
        return sum * (top - upper) / strips;
    };
    example.check("consumer_risk_no_guard_band", risk(upper));
    EXPECT_NEAR(risk(example.expected("acceptance_limit").value),
                example.number("model.target_consumer_risk"), 1e-8);
}

TEST(Within, unequal_sides_shift_the_middle) {
    const Limits limits{0.005, 0.045};
    EXPECT_NEAR(probability_within(0.02, 0.004, limits), 1.0, 1e-6);
    EXPECT_NEAR(probability_within(-0.005, 0.004, limits), 0.5, 1e-9);
    EXPECT_NEAR(probability_within(0.045, 0.004, limits), 0.5, 1e-9);
    const auto interval = acceptance_interval(0.004, limits, 0.95);
    EXPECT_NEAR(*interval->from_m, -0.005 + 1.645 * 0.004, 1e-5);
    EXPECT_NEAR(*interval->to_m, 0.045 - 1.645 * 0.004, 1e-5);
}

TEST(Within, absent_side_does_not_bind) {
    EXPECT_DOUBLE_EQ(probability_within(5.0, 1.0, {}), 1.0);
    EXPECT_NEAR(probability_within(-50.0, 0.001, {std::nullopt, 0.01}), 1.0, 1e-12);
    EXPECT_NEAR(probability_within(0.011, 0.001, {std::nullopt, 0.01}),
                adjust::normal_probability(-1.0), 1e-12);
    EXPECT_NEAR(probability_within(-0.011, 0.001, {0.01, std::nullopt}),
                adjust::normal_probability(-1.0), 1e-12);
    EXPECT_DOUBLE_EQ(probability_within(testing::kNan, 1.0, testing::both(1.0)), 0.0);
    EXPECT_DOUBLE_EQ(probability_within(0.0, testing::kNan, testing::both(1.0)), 0.0);
}

/// A place with a given plan covariance and no set-up.
LaidPlace bare(double east, double north, double sd) {
    LaidPlace out;
    out.name = "P";
    out.place_m << east, north, 0.0;
    out.own(0, 0) = out.own(1, 1) = sd * sd;
    out.sight.ahead << 0, 1;
    out.sight.right << 1, 0;
    return out;
}

// Own table: circle of 1/4 in, equal standard deviations.
TEST(JudgePoint, circle_of_a_quarter_inch_agrees_with_table) {
    PointTolerance tolerance;
    tolerance.plan_m = 6.35 * kMm;
    struct Row {
        double sd, off, p;
    };
    for (const Row& row :
         {Row{1.5, 0, .9999}, Row{1.5, 2, .9965}, Row{1.5, 3, .9804}, Row{1.5, 4, .9218},
          Row{1.5, 5, .7781}, Row{2.5, 0, .9603}, Row{2.5, 2, .9156}, Row{2.5, 3, .8515},
          Row{2.5, 4, .7527}, Row{2.5, 5, .6220}}) {
        const auto v = judge_point(bare(0.6 * row.off * kMm, 0.8 * row.off * kMm, row.sd * kMm),
                                   design("P", 0, 0, std::nullopt), tolerance, {});
        EXPECT_NEAR(v.probability, row.p, 5e-5) << row.sd << " " << row.off;
        EXPECT_EQ(v.word, row.p >= 0.95 ? Word::proven : Word::in_doubt);
    }
}

TEST(JudgePoint, accepted_deviation_is_where_the_word_turns) {
    PointTolerance tolerance;
    tolerance.plan_m = 6.35 * kMm;
    const auto v =
        judge_point(bare(1 * kMm, 0, 1.5 * kMm), design("P", 0, 0, std::nullopt), tolerance, {});
    ASSERT_TRUE(v.accepted_plan_m.has_value());
    for (const double step : {-1e-6, 1e-6}) {
        const auto at = judge_point(bare(*v.accepted_plan_m + step, 0, 1.5 * kMm),
                                    design("P", 0, 0, std::nullopt), tolerance, {});
        EXPECT_EQ(at.word, step < 0 ? Word::proven : Word::in_doubt);
    }
}

TEST(JudgePoint, far_outside_fails_and_between_is_in_doubt) {
    PointTolerance tolerance;
    tolerance.plan_m = 6.35 * kMm;
    const auto word = [&](double off) {
        return judge_point(bare(off * kMm, 0, 1.5 * kMm), design("P", 0, 0, std::nullopt),
                           tolerance, {})
            .word;
    };
    EXPECT_EQ(word(0), Word::proven);
    EXPECT_EQ(word(6.35), Word::in_doubt);
    EXPECT_EQ(word(12), Word::fails);
}

TEST(JudgePoint, belief_that_something_is_wrong_takes_its_share) {
    auto setup = testing::setup();
    const LaidPlace laid = testing::exact_place("P", setup, 0, {1040, 1990, 100});
    PointTolerance tolerance;
    tolerance.plan_m = 10 * kMm;
    const auto sure = judge_point(laid, design("P", 1040, 1990), tolerance, {{setup}, {}});
    EXPECT_EQ(sure.word, Word::proven);
    // With 20 % the orientation is off by 1.5 mrad: 60 mm out at 40 m.
    station::Belief wrong = setup.beliefs.front();
    wrong.weight = 0.2;
    wrong.mean(station::state_orientation) = 1.5e-3;
    setup.beliefs.front().weight = 0.8;
    setup.beliefs.push_back(wrong);
    const auto doubt = judge_point(laid, design("P", 1040, 1990), tolerance, {{setup}, {}});
    EXPECT_NEAR(doubt.probability, 0.8 * sure.probability, 1e-9);
    EXPECT_EQ(doubt.word, Word::in_doubt);
    EXPECT_GT(doubt.sd_plan_m, 3.0 * sure.sd_plan_m);
    EXPECT_GT(doubt.expected_m.head<2>().norm(), 0.010);
    EXPECT_NEAR(doubt.deviation_m.head<2>().norm(), 0.0, 1e-8);  // as sighted it looks perfect
}

TEST(JudgePoint, height_counts_with_plan) {
    const auto setup = testing::setup();
    const LaidPlace laid = testing::exact_place("P", setup, 0, {1040, 1990, 100.012});
    PointTolerance tolerance;
    tolerance.plan_m = 10 * kMm;
    tolerance.height = {15 * kMm, 5 * kMm};
    const auto v = judge_point(laid, design("P", 1040, 1990), tolerance, {{setup}, {}});
    EXPECT_NEAR(v.deviation_m.z(), 0.012, 1e-6);
    EXPECT_EQ(v.word, Word::fails);  // 12 mm high, 5 allowed
    const LaidPlace low = testing::exact_place("P", setup, 0, {1040, 1990, 99.993});
    const auto w = judge_point(low, design("P", 1040, 1990), tolerance, {{setup}, {}});
    EXPECT_EQ(w.word, Word::proven);  // 7 mm low, 15 allowed
    EXPECT_LE(w.probability, std::min(*w.probability_plan, *w.probability_height) + 1e-9);
}

TEST(JudgePoint, height_that_was_not_measured_leaves_doubt) {
    auto p = testing::pose();
    p.has_height = false;
    const auto setup = testing::setup(p);
    const LaidPlace laid = testing::exact_place("P", setup, 0, {1040, 1990, 100});
    EXPECT_FALSE(laid.has_height);
    PointTolerance tolerance;
    tolerance.plan_m = 10 * kMm;
    EXPECT_EQ(judge_point(laid, design("P", 1040, 1990), tolerance, {{setup}, {}}).word,
              Word::proven);
    tolerance.height = testing::both(5 * kMm);
    const auto v = judge_point(laid, design("P", 1040, 1990), tolerance, {{setup}, {}});
    EXPECT_TRUE(v.height_is_open);
    EXPECT_EQ(v.word, Word::in_doubt);
}

TEST(JudgePoint, without_limit_there_is_no_word_but_doubt) {
    const auto setup = testing::setup();
    const auto v = judge_point(testing::exact_place("P", setup, 0, {1040, 1990, 100}),
                               design("P", 1040, 1990), {}, {{setup}, {}});
    EXPECT_FALSE(v.is_judged);
    EXPECT_EQ(v.word, Word::in_doubt);
    EXPECT_GT(v.sd_plan_m, 0.0);
    EXPECT_EQ(next_words(v, {}), "State a tolerance for it or name its element.");
}

TEST(JudgePoint, nothing_known_proves_nothing) {
    // A set-up without beliefs, and a design that is not finite.
    LaySetup setup = testing::setup();
    const LaidPlace laid = testing::exact_place("P", setup, 0, {1040, 1990, 100});
    PointTolerance tolerance;
    tolerance.plan_m = 1.0;
    EXPECT_EQ(judge_point(laid, design("P", 1040, 1990), tolerance, {}).word, Word::in_doubt);
    setup.beliefs.clear();
    EXPECT_EQ(judge_point(laid, design("P", 1040, 1990), tolerance, {{setup}, {}}).word,
              Word::in_doubt);
    const auto v =
        judge_point(laid, design("P", testing::kNan, 1990), tolerance, {{testing::setup()}, {}});
    EXPECT_EQ(v.word, Word::in_doubt);
    EXPECT_TRUE(v.deviation_m.allFinite());
}

TEST(Report, words_say_what_to_do) {
    const auto setup = testing::setup();
    const SetupSet set{{setup}, {}};
    const BuildingGrid grid;
    const ReportQuestion question{set, grid, {}, 0.95};
    PointTolerance tolerance;
    tolerance.plan_m = 6.35 * kMm;
    const auto report = [&](double east, double north) {
        return report_point(testing::exact_place("P", setup, 0, {east, north, 100}, 0.1),
                            design("P", 1040, 1990), tolerance, question);
    };
    const PointReport good = report(1040, 1990);
    EXPECT_EQ(good.verdict.word, Word::proven);
    EXPECT_EQ(good.next, "Nothing to do.");
    EXPECT_EQ(good.move.words, "on the mark");
    EXPECT_EQ(good.stations, std::vector<std::string>{"S1"});
    const PointReport bad = report(1040.020, 1990);
    EXPECT_EQ(bad.verdict.word, Word::fails);
    EXPECT_NE(bad.next.find("toward the instrument"), std::string::npos) << bad.next;
    EXPECT_NE(bad.because.find("20.0 mm off in plan of 6.3 mm allowed"), std::string::npos)
        << bad.because;
    EXPECT_NE(bad.because.find("under 0.1 %"), std::string::npos) << bad.because;
    tolerance.plan_m = 1.0 * kMm;
    const PointReport open = report(1040, 1990);
    EXPECT_EQ(open.verdict.word, Word::in_doubt);
    EXPECT_NE(open.next.find("limits it"), std::string::npos) << open.next;
    const std::array<PointReport, 3> all{good, bad, open};
    const PointsSummary summary = summary_of(all);
    EXPECT_EQ(summary.word, Word::fails);
    EXPECT_EQ(summary.weakest, 1);
    EXPECT_EQ(summary.proven, 1);
    EXPECT_EQ(summary_of(std::span(all).first(1)).word, Word::proven);
    EXPECT_EQ(summary_of(std::span<const PointReport>{}).word, Word::in_doubt);
}

TEST(Report, deviation_along_grid_lines_is_laid_minus_design) {
    const auto setup = testing::setup();
    const SetupSet set{{setup}, {}};
    std::vector<frame::GridLine> lines{frame::grid_line_at("B", {1040, 1990}, 0.0),
                                       frame::grid_line_at("4", {1040, 1990}, measure::kPi / 2)};
    const BuildingGrid grid(lines);
    const auto r = report_point(testing::exact_place("P", setup, 0, {1040.004, 1989.993, 100}),
                                design("P", 1040, 1990), {}, {set, grid, {}, 0.95});
    ASSERT_EQ(r.across_lines_m.size(), 2U);
    EXPECT_NEAR(r.across_lines_m[0], 0.004, 1e-6);
    EXPECT_NEAR(r.across_lines_m[1], 0.007, 1e-6);  // south is right of a line running east
    EXPECT_EQ(r.move.words, "4 mm toward B, 7 mm toward 4");
    EXPECT_EQ(r.design_grid->words, "B/4");
}

}  // namespace
}  // namespace layproof::lay

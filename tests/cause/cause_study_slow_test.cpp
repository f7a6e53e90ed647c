// Is the named cause the right one, as often as stated and as often as is possible at all? Scenes
// drawn from the shipped table (tests/support/scene.hpp), fixed seed. A reduced run of the study in
// docs/studies/causes.md; LAYPROOF_STUDY_SCENES=10000 in the environment repeats it in full.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>

#include "cause/cause_study.hpp"
#include "cause/shipped.hpp"

namespace layproof::testing {
namespace {

int scenes() {
    const char* wanted = std::getenv("LAYPROOF_STUDY_SCENES");
    return wanted != nullptr ? std::atoi(wanted) : 1500;
}

/// Four standard errors where the run is small; the wanted figure where it is large.
double slack(double wanted, double standard_error) {
    return std::max(wanted, 4.0 * standard_error);
}

void expect_calibrated(const Bands& bands, double all, double each) {
    EXPECT_LT(std::abs(bands.all.error()), slack(all, bands.all.standard_error()));
    for (const Band& band : bands.band) {
        if (band.n < 100) continue;
        EXPECT_LT(std::abs(band.error()), slack(each, band.standard_error()))
            << "stated " << band.stated_mean() << ", n " << band.n;
    }
}

TEST(CauseStudy, slow_top_entry_is_calibrated_and_near_the_best_possible) {
    StudyOptions options;
    options.scenes = scenes();
    const StudyResult r = run_study(shipped_table(), shipped_table(), options);
    print_study(r);
    ASSERT_EQ(r.not_answered, 0);
    ASSERT_EQ(r.layproof.n, options.scenes);
    const double n = static_cast<double>(options.scenes);
    // Scenes on which only one of the two is right carry the difference of the hit rates.
    const double differing = static_cast<double>(r.only_best + r.only_layproof);
    EXPECT_LT(r.best.hit_rate() - r.layproof.hit_rate(), slack(0.005, std::sqrt(differing) / n));
    EXPECT_GT(r.layproof.hit_rate(), r.drop.hit_rate() + 0.1);
    EXPECT_LT(r.layproof.members / n, 1.5);
    EXPECT_GT(static_cast<double>(r.wrong_scenes) / n, 0.5);
    // The same probability of the truth, not only the same name.
    EXPECT_LT(std::sqrt(r.log_odds_square / static_cast<double>(r.log_odds_n)), 0.05);
    expect_calibrated(r.layproof.bands, 0.01, 0.03);
    expect_calibrated(r.best.bands, 0.01, 0.03);
    expect_calibrated(r.points, 0.01, 0.02);
}

TEST(CauseStudy, slow_stated_probabilities_come_true_over_many_scenes) {
    StudyOptions options;
    options.scenes = 8 * scenes();
    options.seed = 20260303;
    options.exact = false;
    const StudyResult r = run_study(shipped_table(), shipped_table(), options);
    print_study(r);
    ASSERT_EQ(r.not_answered, 0);
    expect_calibrated(r.layproof.bands, 0.01, 0.03);
    expect_calibrated(r.points, 0.01, 0.02);
}

}  // namespace
}  // namespace layproof::testing

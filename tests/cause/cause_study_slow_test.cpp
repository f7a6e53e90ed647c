// Is the named cause the right one, as often as stated and as often as is possible at all? Scenes
// drawn from the shipped table (tests/support/scene.hpp), fixed seed. A reduced run of the study in
// docs/studies/causes.md; LAYPROOF_STUDY_SCENES=10000 in the environment repeats it in full.

#include <gtest/gtest.h>

#include <cstdlib>

#include "cause/cause_study.hpp"
#include "cause/shipped.hpp"

namespace layproof::testing {
namespace {

TEST(CauseStudy, slow_top_entry_is_calibrated_and_near_the_best_possible) {
    StudyOptions options;
    if (const char* scenes = std::getenv("LAYPROOF_STUDY_SCENES"))
        options.scenes = std::atoi(scenes);
    const StudyResult r = run_study(shipped_table(), shipped_table(), options);
    print_study(r);

    ASSERT_EQ(r.not_answered, 0);
    ASSERT_EQ(r.layproof.n, options.scenes);
    const double n = static_cast<double>(options.scenes);
    // Four standard errors where the run is small; the wanted figures where it is large.
    const auto slack = [](double wanted, double standard_error) {
        return std::max(wanted, 4.0 * standard_error);
    };
    // Scenes on which only one of the two is right carry the difference of the hit rates.
    const double differing = static_cast<double>(r.only_best + r.only_layproof);
    EXPECT_LT(r.best.hit_rate() - r.layproof.hit_rate(), slack(0.02, std::sqrt(differing) / n));
    EXPECT_GT(r.layproof.hit_rate(), r.drop.hit_rate() + 0.1);
    EXPECT_LT(r.layproof.members / n, 1.5);
    EXPECT_LT(std::abs(r.layproof.bands.all.error()),
              slack(0.01, r.layproof.bands.all.standard_error()));
    EXPECT_LT(std::abs(r.best.bands.all.error()), slack(0.01, r.best.bands.all.standard_error()));
    for (const Band& band : r.layproof.bands.band) {
        if (band.n < 100) continue;
        EXPECT_LT(std::abs(band.error()), slack(0.03, band.standard_error()));
    }
    EXPECT_LT(std::abs(r.points.all.error()), slack(0.01, r.points.all.standard_error()));
    for (const Band& band : r.points.band) {
        if (band.n < 100) continue;
        EXPECT_LT(std::abs(band.error()), slack(0.02, band.standard_error()));
    }
    EXPECT_GT(static_cast<double>(r.wrong_scenes) / n, 0.5);
}

}  // namespace
}  // namespace layproof::testing

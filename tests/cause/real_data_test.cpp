// What is named at two stations of a real session, with nothing tuned. Figures are kept in
// docs/studies/real-data.md; there is no outside truth, so only what any answer must be is asserted
// beside the leading explanation as found.

#include <gtest/gtest.h>

#include <cstdio>

#include "cause/planted.hpp"
#include "support/rts_static.hpp"

namespace layproof::cause::testing {
namespace {

TEST(RealData, index_taken_out_makes_station_two_pass) {
    const auto rows = layproof::testing::rts_static::read_rows();
    auto input = layproof::testing::rts_static::free_on_first(rows, 2);
    EXPECT_FALSE(answer(input).solution.global_test.passes);
    for (auto& sight : input.sights)
        sight.zenith_rad = *sight.zenith_rad + 42.0 * measure::kRadPerArcsec;
    const Answer a = answer(input);
    std::printf("statistic %.1f\n", a.solution.global_test.statistic);
    EXPECT_TRUE(a.solution.global_test.passes);
}

TEST(RealData, stations_two_and_three_are_explained) {
    const auto rows = layproof::testing::rts_static::read_rows();
    ASSERT_EQ(rows.size(), 24U);
    for (const int number : {2, 3}) {
        const Answer a = answer(layproof::testing::rts_static::free_on_first(rows, number));
        expect_sound(a.diagnosis);
        std::printf("station %d\n%s", number, words(a.diagnosis).c_str());
        // As found; a change here is a change of the method, not of the site.
        const Explanation* leading = number == 2
                                         ? named(a.diagnosis, Cause::vertical_index_wrong, {})
                                         : named(a.diagnosis, Cause::mark_moved, {"T6"});
        ASSERT_NE(leading, nullptr);
        EXPECT_NEAR(a.top().probability, number == 2 ? 0.966 : 0.907, 0.005);
        for (const Entry& entry : a.diagnosis.entries) {
            if (entry.probability < 0.01) continue;
            for (const Explanation& e : entry.members) {
                std::printf("  %s:", std::string(to_word(e.cause)).c_str());
                const auto show = [](const char* what, const std::optional<double>& v,
                                     double unit) {
                    if (v) std::printf(" %s %.2f", what, *v * unit);
                };
                show("east mm", e.estimate.east_m, 1e3);
                show("north mm", e.estimate.north_m, 1e3);
                show("height mm", e.estimate.height_m, 1e3);
                show("length mm", e.estimate.length_m, 1e3);
                show("ratio ppm", e.estimate.ratio, 1e6);
                show("angle \"", e.estimate.angle_rad, 1.0 / measure::kRadPerArcsec);
                std::printf("; ln evidence %.1f\n", e.log_evidence);
            }
        }
    }
}

}  // namespace
}  // namespace layproof::cause::testing

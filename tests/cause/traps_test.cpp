#include "cause/traps.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "cause/planted.hpp"
#include "support/scene.hpp"

namespace layproof::cause {
namespace {

using measure::LengthUnit;
using testing::around;
using testing::book;
using testing::Site;
using testing::small;

std::vector<Trap> traps_of(const station::StationInput& input) {
    const auto prepared = station::prepare(input);
    EXPECT_TRUE(prepared.ok());
    return prepared.ok() ? traps_of_sights(*prepared) : std::vector<Trap>{};
}

const Trap* find(const std::vector<Trap>& traps, TrapKind kind) {
    const auto at = std::find_if(traps.begin(), traps.end(),
                                 [&](const Trap& trap) { return trap.kind == kind; });
    return at == traps.end() ? nullptr : &*at;
}

TEST(traps, exchanged_axes_of_three_or_more_marks_are_certain) {
    for (const Site& site : {around(), small()}) {
        station::StationInput input = book(site, {});
        for (frame::Mark& mark : input.marks) std::swap(mark.east_m, mark.north_m);
        const auto traps = traps_of(input);
        const Trap* trap = find(traps, TrapKind::axes_exchanged);
        ASSERT_NE(trap, nullptr);
        EXPECT_TRUE(trap->is_certain);
        EXPECT_GT(trap->amount_m, 0.1);
    }
}

TEST(traps, exchanged_axes_of_two_marks_cannot_be_excluded) {
    Site site = small();
    site.marks.resize(2);
    const auto traps = traps_of(book(site, {}));
    const Trap* trap = find(traps, TrapKind::mirror_possible);
    ASSERT_NE(trap, nullptr);
    EXPECT_FALSE(trap->is_certain);
}

TEST(traps, distances_in_the_other_of_feet_and_metres_are_named_by_their_ratio) {
    for (const double ratio : {1.0 / 0.3048, 0.3048}) {
        station::StationInput input = book(around(), {});
        for (measure::Sight& sight : input.sights) *sight.slope_distance_m *= ratio;
        const auto traps = traps_of(input);
        const Trap* trap = find(traps, TrapKind::lengths_in_feet);
        ASSERT_NE(trap, nullptr) << ratio;
        EXPECT_TRUE(trap->is_certain);
        EXPECT_NEAR(trap->ratio, ratio, 0.01 * ratio);
    }
}

TEST(traps, sound_set_ups_and_ordinary_faults_spring_none) {
    for (std::uint64_t seed = 1; seed <= 300; ++seed) {
        const auto scene = layproof::testing::draw_scene(seed, layproof::testing::shipped_table(),
                                                         layproof::testing::main_causes());
        for (const Trap& trap : traps_of(scene.input))
            EXPECT_FALSE(trap.is_certain) << seed << ' ' << to_word(trap.kind);
    }
}

// 2,000,000 ft of coordinate are 4.0 ft apart in the two feet: exactly 2,000,000 ft × (1200/3937 −
// 0.3048) m. (Both feet: US Federal Register 2020-21902.)
TEST(traps, two_kinds_of_foot_in_one_job_are_told_with_their_shift) {
    const double coordinate_m = 2e6 * 0.3048;
    const auto mixed = traps_of_units(LengthUnit::foot, LengthUnit::us_foot, coordinate_m);
    ASSERT_EQ(mixed.size(), 1U);
    EXPECT_EQ(mixed.front().kind, TrapKind::foot_kinds_mixed);
    EXPECT_TRUE(mixed.front().is_certain);
    EXPECT_NEAR(mixed.front().amount_m / 0.3048, 4.0, 0.001);

    const auto alone = traps_of_units(LengthUnit::us_foot, LengthUnit::us_foot, coordinate_m);
    ASSERT_EQ(alone.size(), 1U);
    EXPECT_EQ(alone.front().kind, TrapKind::foot_kind_unproven);
    EXPECT_FALSE(alone.front().is_certain);

    EXPECT_TRUE(traps_of_units(LengthUnit::metre, LengthUnit::metre, coordinate_m).empty());
    EXPECT_TRUE(traps_of_units(LengthUnit::foot, LengthUnit::us_foot, 100.0).empty());
    EXPECT_TRUE(traps_of_units(std::nullopt, std::nullopt, coordinate_m).empty());
}

TEST(traps, every_kind_has_its_own_word) {
    const std::vector<TrapKind> kinds{TrapKind::axes_exchanged, TrapKind::lengths_in_feet,
                                      TrapKind::mirror_possible, TrapKind::foot_kinds_mixed,
                                      TrapKind::foot_kind_unproven};
    for (std::size_t i = 0; i < kinds.size(); ++i)
        for (std::size_t j = 0; j < i; ++j) EXPECT_NE(to_word(kinds[i]), to_word(kinds[j]));
}

}  // namespace
}  // namespace layproof::cause

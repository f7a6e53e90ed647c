#include "exchange/tables/causes.hpp"

#include <gtest/gtest.h>

#include <numeric>

#include "base/random.hpp"
#include "exchange/exchange_support.hpp"
#include "measure/angle.hpp"

namespace layproof::exchange {
namespace {

using cause::Cause;
using testing::expect_refused;

Document toml(std::string bytes) {
    return {"causes.toml", std::move(bytes)};
}

constexpr const char* kRest = "[nothing-wrong]\nfrequency = 0.9\n";

Document with(const std::string& bytes) {
    return toml(kRest + bytes);
}

TEST(CausesFile, shipped_table_is_read_without_notices_and_sums_to_one) {
    LAYPROOF_READ(file, read_causes(toml(std::string(cause::shipped_causes_toml()))));
    EXPECT_TRUE(file->notices.empty());
    EXPECT_NEAR(file->table.total(), 1.0, 1e-14);
    for (const Cause c : cause::all_causes()) {
        EXPECT_GT(file->table.of(c).frequency, 0.0) << to_word(c);
        EXPECT_EQ(file->table.of(c).sizes.empty(), size_kind(c) == cause::SizeKind::none)
            << to_word(c);
    }
    EXPECT_GT(file->table.pairs, 0.0);
}

TEST(CausesFile, shipped_table_keeps_the_stated_proportions_and_units) {
    const cause::CauseTable table = shipped_table();
    const double nothing = table.of(Cause::nothing_wrong).frequency;
    EXPECT_NEAR(table.of(Cause::mark_moved).frequency / nothing, 0.22 / 0.44, 1e-12);
    ASSERT_EQ(table.of(Cause::mark_moved).sizes.size(), 3U);
    EXPECT_NEAR(table.of(Cause::mark_moved).sizes[1].length_m, 0.020, 1e-15);
    ASSERT_EQ(table.of(Cause::distance_scale_wrong).sizes.size(), 2U);
    EXPECT_NEAR(table.of(Cause::distance_scale_wrong).sizes[1].ratio, 200e-6, 1e-16);
    ASSERT_EQ(table.of(Cause::tripod_disturbed).sizes.size(), 2U);
    EXPECT_NEAR(table.of(Cause::tripod_disturbed).sizes[1].length_m, 0.015, 1e-15);
    EXPECT_NEAR(table.of(Cause::tripod_disturbed).sizes[1].angle_rad,
                300.0 * measure::kRadPerArcsec, 1e-15);
}

TEST(CausesFile, frequencies_near_one_are_brought_to_one) {
    LAYPROOF_READ(file, read_causes(toml("pairs = 0\n[nothing-wrong]\nfrequency = 0.57\n"
                                         "[mark-moved]\nfrequency = 0.38\nsizes_mm = [5]\n")));
    EXPECT_NEAR(file->table.total(), 1.0, 1e-15);
    EXPECT_NEAR(file->table.of(Cause::nothing_wrong).frequency, 0.6, 1e-15);
    EXPECT_NEAR(file->table.of(Cause::mark_moved).frequency, 0.4, 1e-15);
}

TEST(CausesFile, missing_causes_never_happen_and_are_told) {
    LAYPROOF_READ(file, read_causes(toml("[nothing-wrong]\nfrequency = 1\n")));
    EXPECT_EQ(file->table.of(Cause::mark_moved).frequency, 0.0);
    EXPECT_EQ(file->table.pairs, 0.0);
    ASSERT_EQ(file->notices.size(), 2U);
    EXPECT_NE(file->notices[0].find("mark-moved, "), std::string::npos) << file->notices[0];
    EXPECT_NE(file->notices[1].find("pairs"), std::string::npos) << file->notices[1];
}

TEST(CausesFile, sums_away_from_one_are_refused_with_the_sum) {
    const auto file = read_causes(with("[names-swapped]\nfrequency = 0.2\n"));
    expect_refused(file, ErrorCode::causes_do_not_sum, 0, 0);
    EXPECT_NE(file.refusal().found.find("1.1"), std::string::npos) << file.refusal().found;
    expect_refused(read_causes(toml("[nothing-wrong]\nfrequency = 0.94\n")),
                   ErrorCode::causes_do_not_sum, 0, 0);
    EXPECT_TRUE(read_causes(toml("[nothing-wrong]\nfrequency = 0.95\n")).ok());
}

TEST(CausesFile, unknown_causes_are_refused_with_the_known_words) {
    const auto file = read_causes(with("[mark-movd]\nfrequency = 0.1\nsizes_mm = [5]\n"));
    expect_refused(file, ErrorCode::cause_unknown, 3, 2);
    EXPECT_EQ(file.refusal().expected.rfind("mark-moved ", 0), 0U) << file.refusal().expected;
    EXPECT_NE(file.refusal().expected.find("gross-distance"), std::string::npos);
    expect_refused(read_causes(toml("pears = 0.1\n[nothing-wrong]\nfrequency = 0.9\n")),
                   ErrorCode::cause_unknown, 1, 1);
    expect_refused(read_causes(with("[other]\n")), ErrorCode::cause_unknown, 3, 2);
}

TEST(CausesFile, unknown_keys_inside_a_cause_are_refused) {
    const auto file =
        read_causes(with("[mark-moved]\nfrequency = 0.1\nsizes_mm = [5]\nsize = [5]\n"));
    expect_refused(file, ErrorCode::key_unknown, 6, 1);
    EXPECT_EQ(file.refusal().expected, "frequency and sizes_mm");
}

TEST(CausesFile, unusable_frequencies_are_refused_at_their_line) {
    for (const char* value : {"-0.1", "nan", "inf", "1.5", "\"often\"", "true", "[0.1]"}) {
        expect_refused(
            read_causes(with(std::string("[names-swapped]\nfrequency = ") + value + "\n")),
            ErrorCode::cause_size_bad, 4, 1);
        expect_refused(read_causes(toml(std::string("pairs = ") + value + "\n" + kRest)),
                       ErrorCode::cause_size_bad, 1, 1);
    }
    expect_refused(read_causes(with("[mark-moved]\nsizes_mm = [5]\n")), ErrorCode::cause_size_bad,
                   3, 2);
    expect_refused(read_causes(toml("mark-moved = 0.1\n")), ErrorCode::cause_size_bad, 1, 1);
}

TEST(CausesFile, nothing_wrong_must_be_able_to_hold) {
    expect_refused(read_causes(toml("[mark-moved]\nfrequency = 1\nsizes_mm = [5]\n")),
                   ErrorCode::cause_size_bad, 0, 0);
    expect_refused(read_causes(toml("[nothing-wrong]\nfrequency = 0\n")), ErrorCode::cause_size_bad,
                   1, 1);
}

TEST(CausesFile, unusable_sizes_are_refused_at_their_place) {
    const auto sizes = [](const std::string& list) {
        return read_causes(with("[mark-moved]\nfrequency = 0.1\nsizes_mm = " + list + "\n"));
    };
    EXPECT_TRUE(sizes("[5, 20.5]").ok());
    expect_refused(sizes("5"), ErrorCode::cause_size_bad, 5, 1);
    expect_refused(sizes("[]"), ErrorCode::cause_size_bad, 5, 1);
    expect_refused(sizes("[5, -2]"), ErrorCode::cause_size_bad, 5, 16);
    expect_refused(sizes("[5, 0]"), ErrorCode::cause_size_bad, 5, 16);
    expect_refused(sizes("[nan]"), ErrorCode::cause_size_bad, 5, 13);
    expect_refused(sizes("[inf]"), ErrorCode::cause_size_bad, 5, 13);
    expect_refused(sizes("[1e9]"), ErrorCode::cause_size_bad, 5, 13);
    expect_refused(sizes("[\"5\"]"), ErrorCode::cause_size_bad, 5, 13);
    std::string many = "[1";
    for (int i = 0; i < 20; ++i) many += ", 1";
    expect_refused(sizes(many + "]"), ErrorCode::cause_size_bad, 5, 1);
}

TEST(CausesFile, sizes_must_be_those_of_their_cause) {
    expect_refused(read_causes(with("[mark-moved]\nfrequency = 0.1\n")), ErrorCode::cause_size_bad,
                   3, 2);
    expect_refused(read_causes(with("[mark-moved]\nfrequency = 0.1\nsizes_ppm = [5]\n")),
                   ErrorCode::cause_size_bad, 5, 1);
    expect_refused(read_causes(with("[names-swapped]\nfrequency = 0.1\nsizes_mm = [5]\n")),
                   ErrorCode::cause_size_bad, 5, 1);
    expect_refused(read_causes(with("[tripod-disturbed]\nfrequency = 0.1\nsizes_mm = [5]\n")),
                   ErrorCode::cause_size_bad, 3, 2);
    expect_refused(read_causes(with("[tripod-disturbed]\nfrequency = 0.1\nsizes_mm = [4, 15]\n"
                                    "sizes_arcsec = [60]\n")),
                   ErrorCode::cause_size_bad, 5, 1);
    EXPECT_TRUE(read_causes(with("[tripod-disturbed]\nfrequency = 0.1\nsizes_arcsec = [60]\n"
                                 "sizes_mm = [4]\n"))
                    .ok());
    EXPECT_TRUE(
        read_causes(with("[mark-moved]\nfrequency = 0\n[names-swapped]\nfrequency = 0.1\n")).ok());
}

TEST(CausesFile, rubbish_is_refused_and_never_thrown) {
    expect_refused(read_causes(toml("")), ErrorCode::empty_file, 1, 1);
    expect_refused(read_causes(toml("[nothing-wrong]\nfrequency = 0,44\n")), ErrorCode::not_toml, 2,
                   14);
    const std::string shipped(cause::shipped_causes_toml());
    Random random(20260301);
    int read = 0;
    for (int i = 0; i < 2000; ++i) {
        std::string bytes = shipped;
        for (int k = 0; k <= i % 4; ++k)
            bytes[static_cast<std::size_t>(random.below(static_cast<int>(bytes.size())))] =
                static_cast<char>(32 + random.below(95));
        const auto file = read_causes(toml(bytes));
        if (!file) {
            EXPECT_FALSE(file.refusal().expected.empty());
            continue;
        }
        ++read;
        EXPECT_NEAR(file->table.total(), 1.0, 1e-12);
    }
    EXPECT_GT(read, 500);  // most of the text is comment
    EXPECT_LT(read, 2000);
}

}  // namespace
}  // namespace layproof::exchange

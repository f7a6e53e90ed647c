#include "job/fact_id.hpp"

#include <gtest/gtest.h>

#include <set>

#include "job_support.hpp"

namespace layproof::job {
namespace {

class ConstantEntropy final : public Entropy {
public:
    explicit ConstantEntropy(std::uint8_t byte) : byte_(byte) {}
    bool fill(std::span<std::uint8_t> out) override {
        for (auto& byte : out) byte = byte_;
        return true;
    }

private:
    std::uint8_t byte_;
};

class NoEntropy final : public Entropy {
public:
    bool fill(std::span<std::uint8_t>) override { return false; }
};

// RFC 9562, appendix A.6: 22 February 2022 19:22:22 UTC.
TEST(FactId, published_example_reads_its_time) {
    const auto id = FactId::from_text("017F22E2-79B0-7CC3-98C4-DC0C0C07398F");
    ASSERT_TRUE(id);
    EXPECT_EQ(id->time_ms(), 0x017F22E279B0);
    EXPECT_EQ(id->time_ms(), 1645557742000);
    EXPECT_EQ(id->to_text(), "017f22e2-79b0-7cc3-98c4-dc0c0c07398f");
    EXPECT_EQ(FactId::from_text("017F22E279B07CC398C4DC0C0C07398F"), id);
}

TEST(FactId, text_that_is_none_gives_nothing) {
    for (const char* text :
         {"", "017F22E2", "017F22E2-79B0-7CC3-98C4-DC0C0C07398",
          "017F22E2-79B0-7CC3-98C4-DC0C0C07398G", "017F22E279B0-7CC3-98C4-DC0C-0C07398F",
          "0-17F22E279B07CC398C4DC0C0C07398F"}) {
        EXPECT_EQ(FactId::from_text(text), std::nullopt) << text;
    }
}

TEST(IdMaker, many_in_one_millisecond_rise_and_carry_version_and_variant) {
    SeededEntropy entropy(1);
    IdMaker maker(entropy);
    auto last = maker.next(1'900'000'000'000);
    ASSERT_TRUE(last);
    for (int i = 0; i < 100'000; ++i) {
        const auto next = maker.next(1'900'000'000'000);
        ASSERT_TRUE(next);
        ASSERT_LT(*last, *next);
        ASSERT_EQ(next->bytes[6] >> 4U, 7);
        ASSERT_EQ(next->bytes[8] >> 6U, 2);
        ASSERT_EQ(next->time_ms(), 1'900'000'000'000);
        last = next;
    }
}

TEST(IdMaker, clock_back_a_little_keeps_rising_and_back_a_lot_is_believed) {
    SeededEntropy entropy(2);
    IdMaker maker(entropy);
    const auto first = maker.next(1'900'000'000'000);
    const auto second = maker.next(1'900'000'000'000 - IdMaker::kClockSlack_ms);
    const auto third = maker.next(1'900'000'000'000 - IdMaker::kClockSlack_ms - 1);
    ASSERT_TRUE(first && second && third);
    EXPECT_LT(*first, *second);
    EXPECT_EQ(second->time_ms(), 1'900'000'000'000);
    EXPECT_EQ(third->time_ms(), 1'900'000'000'000 - IdMaker::kClockSlack_ms - 1);
}

TEST(IdMaker, random_part_used_up_goes_to_the_next_millisecond) {
    ConstantEntropy entropy(0xFF);
    IdMaker maker(entropy);
    const auto first = maker.next(5000);  // all 74 bits set
    const auto second = maker.next(5000);
    ASSERT_TRUE(first && second);
    EXPECT_LT(*first, *second);
    EXPECT_EQ(second->time_ms(), 5001);
}

TEST(IdMaker, no_entropy_or_time_out_of_range_gives_nothing) {
    NoEntropy none;
    EXPECT_EQ(IdMaker(none).next(5000), std::nullopt);
    SeededEntropy entropy(3);
    EXPECT_EQ(IdMaker(entropy).next(-1), std::nullopt);
    EXPECT_EQ(IdMaker(entropy).next(kLastIdTime_ms + 1), std::nullopt);
    EXPECT_TRUE(IdMaker(entropy).next(kLastIdTime_ms));
    EXPECT_TRUE(IdMaker(entropy).next(0));
}

TEST(IdMaker, two_machines_in_one_millisecond_share_no_id) {
    SeededEntropy left(4);
    SeededEntropy right(5);
    IdMaker a(left);
    IdMaker b(right);
    std::set<FactId> seen;
    for (int i = 0; i < 20'000; ++i) {
        EXPECT_TRUE(seen.insert(*a.next(1'900'000'000'000)).second);
        EXPECT_TRUE(seen.insert(*b.next(1'900'000'000'000)).second);
    }
}

TEST(FactId, last_of_parts_before_from_after) {
    SeededEntropy entropy(6);
    for (const std::int64_t time_ms : {std::int64_t{1}, std::int64_t{1'900'000'000'000}}) {
        const FactId last = FactId::last_of(time_ms);
        EXPECT_LT(*IdMaker(entropy).next(time_ms - 1), last);
        EXPECT_LT(*IdMaker(entropy).next(time_ms), last);
        EXPECT_GT(*IdMaker(entropy).next(time_ms + 1), last);
    }
    EXPECT_LT(FactId::last_of(-5), *IdMaker(entropy).next(0));
    EXPECT_GT(FactId::last_of(INT64_MAX), *IdMaker(entropy).next(kLastIdTime_ms));
}

}  // namespace
}  // namespace layproof::job

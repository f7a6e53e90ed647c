#include "cause/catalogue.hpp"

#include <gtest/gtest.h>

#include <set>

#include "cause/cause_table.hpp"

namespace layproof::cause {
namespace {

TEST(Catalogue, words_and_causes_name_each_other) {
    std::set<std::string_view> words;
    for (const Cause cause : all_causes()) {
        EXPECT_TRUE(words.insert(to_word(cause)).second);
        ASSERT_TRUE(cause_from_word(to_word(cause)).has_value());
        EXPECT_EQ(*cause_from_word(to_word(cause)), cause);
    }
    EXPECT_EQ(words.size(), static_cast<std::size_t>(kCauseCount));
    EXPECT_FALSE(cause_from_word("mark_moved").has_value());
    EXPECT_FALSE(cause_from_word("").has_value());
}

TEST(CauseTable, total_counts_causes_and_pairs) {
    CauseTable table;
    EXPECT_EQ(table.total(), 0.0);
    table.of(Cause::nothing_wrong).frequency = 0.5;
    table.of(Cause::gross_distance).frequency = 0.25;
    table.pairs = 0.125;
    EXPECT_EQ(table.total(), 0.875);
}

TEST(CauseTable, shipped_text_has_a_table_for_every_cause) {
    const std::string_view text = shipped_causes_toml();
    for (const Cause cause : all_causes())
        EXPECT_NE(text.find("[" + std::string(to_word(cause)) + "]"), std::string_view::npos)
            << to_word(cause);
}

}  // namespace
}  // namespace layproof::cause

#include "cli/readable.hpp"

#include <gtest/gtest.h>

namespace layproof::testing {
namespace {

using nlohmann::ordered_json;

TEST(readable_form, is_the_same_document_with_short_things_on_one_line) {
    ordered_json json;
    json["b"] = {{"x", 1.5}, {"y", nullptr}};
    json["a"] = ordered_json::array();
    for (int i = 0; i < 60; ++i) json["a"].push_back(i);
    for (int i = 0; i < 3; ++i) json["c"].push_back({{"says", std::string(60, 'w')}, {"n", i}});
    const std::string text = readable(json);
    EXPECT_EQ(ordered_json::parse(text), json);
    EXPECT_NE(text.find("\n  \"b\": {\"x\": 1.5, \"y\": null},\n"), std::string::npos) << text;
    EXPECT_NE(text.find("\n    0, 1, 2, 3,"), std::string::npos) << text;
    EXPECT_LT(std::count(text.begin(), text.end(), '\n'), 14);
}

TEST(readable_form, last_digit_is_settled_and_nothing_more) {
    const auto is_settled = [](const char* now, const char* kept) {
        return settled(ordered_json::parse(now), ordered_json::parse(kept)) ==
               ordered_json::parse(kept);
    };
    EXPECT_TRUE(is_settled("0.000116", "0.000117"));
    EXPECT_FALSE(is_settled("0.000116", "0.000118"));
    EXPECT_TRUE(is_settled("1525.954378", "1525.954379"));
    EXPECT_FALSE(is_settled("1525.954378", "1525.954398"));
    EXPECT_TRUE(is_settled("5020.443", "5020.4429"));
    EXPECT_FALSE(is_settled("0.0", "0.1"));
    EXPECT_FALSE(is_settled("27.0", "28.0"));
    EXPECT_TRUE(is_settled("6.2070113e-07", "6.2070115e-07"));
    EXPECT_FALSE(is_settled("6.2070113e-07", "6.2080113e-07"));
    EXPECT_FALSE(is_settled("3", "4"));
    EXPECT_FALSE(is_settled(R"("proven")", R"("fails")"));
    EXPECT_FALSE(is_settled("null", "0.1"));
    EXPECT_TRUE(is_settled(R"({"a": [1, 0.500001]})", R"({"a": [1, 0.5]})"));
    EXPECT_FALSE(is_settled(R"({"a": [1]})", R"({"a": [1, 0.5]})"));
    EXPECT_FALSE(is_settled(R"({"b": 1})", R"({"a": 1})"));
}

TEST(readable_form, difference_shows_what_changed_with_its_neighbours) {
    EXPECT_EQ(difference("a\nb\n", "a\nb\n"), "");
    EXPECT_EQ(difference("1\n2\n3\n4\n5\n6\n7\n", "1\n2\n3\nfour\n5\n6\n7\n8\n"),
              "@ line 2, now 2\n  2\n  3\n- 4\n+ four\n  5\n  6\n  7\n+ 8\n");
    EXPECT_EQ(difference("", "a\n"), "@ line 1, now 1\n+ a\n");
    EXPECT_EQ(difference("a\nb\nc\n", "", 2), "@ line 1, now 1\n- a\n- b\nand 1 more lines\n");
    EXPECT_NE(difference("a\n", "a"), "");
}

}  // namespace
}  // namespace layproof::testing

// Descriptions: the JSON they write, and the shapes they are read as.

#include "acts/shared/describe.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <limits>
#include <nlohmann/json.hpp>
#include <random>

namespace layproof::acts {

/// Described by what a test hands in.
struct Told {
    std::function<void(Fields&)> how = [](Fields&) {};
};
void describe(Fields& f, const Told& told) {
    f.is("Told");
    told.how(f);
}

struct Leaf {
    std::string name;
    std::optional<double> height_m;
};
void describe(Fields& f, const Leaf& leaf) {
    f.is("Leaf");
    f.text("name", leaf.name, "as painted");
    f.number_or_null("height_mm", leaf.height_m, 3);
}

struct Branch {
    std::vector<Leaf> leaves;
    std::optional<Leaf> top;
    std::string why;
    std::vector<std::vector<int>> rows;
};
void describe(Fields& f, const Branch& branch) {
    f.is("Branch");
    f.records("leaves", branch.leaves, "lowest first");
    f.record_or_null("top", branch.top);
    f.only_if(!branch.why.empty()).text("why", branch.why);
    f.only_if(branch.top.has_value()).or_null(!branch.rows.empty()).whole("rows", 1);
    f.list("table", branch.rows, [&](const std::vector<int>& row) {
        f.list({}, row, [&](int cell) { f.whole({}, cell); });
    });
    f.word("word", "b", {"a", "b"});
    f.by_name("by_name", 1, [&](std::size_t) { f.number_or_null("any", std::nullopt); });
    f.pair("pair", [&] {
        f.flag({}, true);
        f.flag({}, false);
    });
}

namespace {

using Json = nlohmann::ordered_json;

std::string told(const std::function<void(Fields&)>& how) {
    return json_line(Told{how});
}

std::string number_text(double value, int decimals) {
    const std::string whole = told([&](Fields& f) { f.number("n", value, decimals); });
    return whole.substr(5, whole.size() - 6);
}

TEST(describe, fields_stand_in_the_order_they_are_said_in) {
    const Branch branch{{{"a", 1.5}, {"b", std::nullopt}}, Leaf{"t", 2.0}, "late", {{1, 2}, {}}};
    EXPECT_EQ(json_line(branch),
              R"({"leaves":[{"name":"a","height_mm":1.5},{"name":"b","height_mm":null}],)"
              R"("top":{"name":"t","height_mm":2.0},"why":"late","rows":1,"table":[[1,2],[]],)"
              R"("word":"b","by_name":{"any":null},"pair":[true,false]})");
}

TEST(describe, absent_and_null_fields_leave_no_trace_of_their_values) {
    EXPECT_EQ(json_line(Branch{}),
              R"({"leaves":[],"top":null,"table":[],"word":"b","by_name":{"any":null},)"
              R"("pair":[true,false]})");
    EXPECT_EQ(told([](Fields& f) {
                  f.only_if(false).record("gone", Leaf{"x", 1.0});
                  f.only_if(false).texts("gone", {"x"});
                  f.or_null(false).texts("list", {"x"});
                  f.only_if(true).or_null(false).text("text", "x");
                  f.or_null(false).number_or_null("number", 1.0);
                  f.or_null(true).number_or_null("nothing", std::nullopt);
                  f.text_or_null("empty", "");
                  f.text("plain", "");
              }),
              R"({"list":null,"text":null,"number":null,"nothing":null,"empty":null,"plain":""})");
}

TEST(describe, document_is_indented_as_the_library_indents) {
    const Branch branch{{{"a", 1.5}, {"b", std::nullopt}}, Leaf{"t", 2.0}, "late", {{1, 2}, {}}};
    for (const Branch& one : {branch, Branch{}}) {
        const Json parsed = Json::parse(json_line(one));
        EXPECT_EQ(json_document(one), parsed.dump(2) + "\n");
        EXPECT_EQ(json_document(one, 0), parsed.dump(0) + "\n");
        EXPECT_EQ(json_document(one, -1), parsed.dump() + "\n");
    }
    EXPECT_EQ(json_document(Told{}), "{}\n");
}

TEST(describe, numbers_are_rounded_to_their_decimals_without_noise) {
    EXPECT_EQ(number_text(0.1 + 0.2, 6), "0.3");
    EXPECT_EQ(number_text(1.0, 6), "1.0");
    EXPECT_EQ(number_text(1e-7, 6), "0.0");
    EXPECT_EQ(number_text(1e-7, 8), "1e-07");
    EXPECT_EQ(number_text(-1e-9, 6), "0.0");
    EXPECT_EQ(number_text(-0.0, 6), "0.0");
    EXPECT_EQ(number_text(0.0000005, 6), "1e-06");
    EXPECT_EQ(number_text(-2.5, 0), "-3.0");
    EXPECT_EQ(number_text(1234567.891234567, 6), "1234567.891235");
    EXPECT_EQ(number_text(1.0 / 3.0, kAllDecimals), "0.3333333333333333");
    EXPECT_EQ(number_text(-0.0, kAllDecimals), "-0.0");
    EXPECT_EQ(number_text(1e300, 6), "1e+300");
    EXPECT_EQ(number_text(5e-324, kAllDecimals), "5e-324");
}

TEST(describe, what_is_not_finite_is_null) {
    constexpr double kInfinity = std::numeric_limits<double>::infinity();
    for (const double value : {std::nan(""), kInfinity, -kInfinity})
        for (const int decimals : {6, kAllDecimals}) {
            EXPECT_EQ(number_text(value, decimals), "null");
            EXPECT_EQ(told([&](Fields& f) { f.number_or_null("n", value, decimals); }),
                      R"({"n":null})");
        }
}

TEST(describe, random_numbers_are_written_as_the_library_writes_them) {
    std::mt19937_64 random(20310515);
    std::uniform_real_distribution<double> mantissa(-10.0, 10.0);
    std::uniform_int_distribution<int> exponent(-12, 18);
    for (int i = 0; i < 2000; ++i) {
        const double value = mantissa(random) * std::pow(10.0, exponent(random));
        EXPECT_EQ(number_text(value, kAllDecimals), Json(value).dump());
        const double written = std::stod(number_text(value, 4));
        // Half a unit of the last decimal, and two roundings of a double.
        EXPECT_LE(std::abs(written - value),
                  0.5e-4 + std::numeric_limits<double>::epsilon() * std::abs(value))
            << value;
    }
}

TEST(describe, whole_numbers_of_every_size_are_exact) {
    const auto whole = [](auto value) { return told([&](Fields& f) { f.whole("n", value); }); };
    EXPECT_EQ(whole(std::numeric_limits<std::int64_t>::min()), R"({"n":-9223372036854775808})");
    EXPECT_EQ(whole(std::numeric_limits<std::int64_t>::max()), R"({"n":9223372036854775807})");
    EXPECT_EQ(whole(std::size_t{9007199254740993}), R"({"n":9007199254740993})");
    EXPECT_EQ(whole(std::uint8_t{255}), R"({"n":255})");
}

TEST(describe, texts_are_escaped_as_the_library_escapes_them) {
    std::vector<std::string> texts{"",
                                   "plain ~ text",
                                   "\"quoted\" \\ /",
                                   "line\nend\ttab\r\b\f",
                                   std::string("nul\0in", 6),
                                   "\x01\x1f\x7f",
                                   "Höhe 3′ 😀",
                                   "bad \xff byte",
                                   "cut \xe2\x82"};
    for (const std::string& text : texts) {
        const std::string by_library =
            Json(text).dump(-1, ' ', false, Json::error_handler_t::replace);
        EXPECT_EQ(told([&](Fields& f) { f.text("t", text); }), R"({"t":)" + by_library + "}");
        EXPECT_EQ(told([&](Fields& f) {
                      f.by_name("names", 1, [&](std::size_t) { f.text(text, "x"); });
                  }),
                  R"({"names":{)" + by_library + R"(:"x"}})");
    }
}

TEST(describe, lengths_are_told_in_the_unit_that_was_said) {
    EXPECT_EQ(told([](Fields& f) {
                  f.length("before", 3.048);
                  f.lengths_in(0.3048);
                  f.length("after", 3.048);
                  f.length_or_null("one", 0.3048, 2);
                  f.length_or_null("none", std::nullopt);
              }),
              R"({"before":3.048,"after":10.0,"one":1.0,"none":null})");
}

// ---- shapes

const ShapeField& field_of(const ShapeRecord& record, const std::string& name) {
    for (const ShapeField& field : record.fields)
        if (field.name == name) return field;
    static const ShapeField kNone;
    ADD_FAILURE() << "no field " << name;
    return kNone;
}

TEST(describe, shapes_are_whole_though_nothing_is_there) {
    std::vector<ShapeRecord> records;
    collect_answer<Branch>(records);
    ASSERT_EQ(records.size(), 2U);
    EXPECT_EQ(records[0].name, "Leaf");
    EXPECT_EQ(records[1].name, "Branch");
    std::vector<std::string> names;
    for (const ShapeField& field : records[1].fields) names.push_back(field.name);
    EXPECT_EQ(names, (std::vector<std::string>{"leaves", "top", "why", "rows", "table", "word",
                                               "by_name", "pair"}));

    const ShapeField& leaves = field_of(records[1], "leaves");
    EXPECT_EQ(leaves.shape.kind, ShapeKind::list);
    ASSERT_EQ(leaves.shape.of.size(), 1U);
    EXPECT_EQ(leaves.shape.of[0].kind, ShapeKind::record);
    EXPECT_EQ(leaves.shape.of[0].record, "Leaf");
    EXPECT_EQ(leaves.says, "lowest first");
    EXPECT_FALSE(leaves.may_be_absent);

    const ShapeField& top = field_of(records[1], "top");
    EXPECT_EQ(top.shape.record, "Leaf");
    EXPECT_TRUE(top.shape.may_be_null);

    const ShapeField& why = field_of(records[1], "why");
    EXPECT_TRUE(why.may_be_absent);
    EXPECT_FALSE(why.shape.may_be_null);
    const ShapeField& rows = field_of(records[1], "rows");
    EXPECT_TRUE(rows.may_be_absent);
    EXPECT_TRUE(rows.shape.may_be_null);
    EXPECT_EQ(rows.shape.kind, ShapeKind::whole);

    const ShapeField& table = field_of(records[1], "table");
    ASSERT_EQ(table.shape.of.size(), 1U);
    EXPECT_EQ(table.shape.of[0].kind, ShapeKind::list);
    ASSERT_EQ(table.shape.of[0].of.size(), 1U);
    EXPECT_EQ(table.shape.of[0].of[0].kind, ShapeKind::whole);

    EXPECT_EQ(field_of(records[1], "word").shape.words, (std::vector<std::string>{"a", "b"}));
    const ShapeField& by_name = field_of(records[1], "by_name");
    EXPECT_EQ(by_name.shape.kind, ShapeKind::by_name);
    ASSERT_EQ(by_name.shape.of.size(), 1U);
    EXPECT_TRUE(by_name.shape.of[0].may_be_null);
    const ShapeField& pair = field_of(records[1], "pair");
    EXPECT_EQ(pair.shape.kind, ShapeKind::pair);
    ASSERT_EQ(pair.shape.of.size(), 1U);
    EXPECT_EQ(pair.shape.of[0].kind, ShapeKind::flag);
    EXPECT_EQ(field_of(records[0], "name").says, "as painted");
}

TEST(describe, record_that_is_met_again_is_kept_once) {
    std::vector<ShapeRecord> records;
    collect_answer<Branch>(records);
    collect_answer<Leaf>(records);
    collect_answer<Branch>(records);
    EXPECT_EQ(records.size(), 2U);
}

struct OtherLeaf {};
void describe(Fields& f, const OtherLeaf&) {
    f.is("Leaf");
    f.text("name", "", "as painted");
}

TEST(describe, record_that_is_met_with_other_fields_stands_twice) {
    std::vector<ShapeRecord> records;
    collect_answer<Leaf>(records);
    collect_answer<OtherLeaf>(records);
    ASSERT_EQ(records.size(), 2U);
    EXPECT_EQ(records[0].name, records[1].name);
}

TEST(describe, item_beyond_the_end_is_a_sample) {
    const std::vector<std::string> names{"a"};
    EXPECT_EQ(item(names, 0), "a");
    EXPECT_EQ(item(names, 1), "");
    EXPECT_EQ(item(names, static_cast<std::size_t>(-1)), "");
}

}  // namespace
}  // namespace layproof::acts

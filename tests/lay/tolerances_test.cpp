#include "lay/tolerances.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <fstream>
#include <iterator>
#include <limits>
#include <map>
#include <string>

#include "lay/formula.hpp"

namespace layproof::lay {
namespace {

const ToleranceTable& table() {
    static const ToleranceTable kTable = [] {
        auto parsed = parse_tolerances(shipped_tolerances_csv(), "tolerances.csv");
        EXPECT_TRUE(parsed.ok()) << parsed.refusal().to_text();
        return parsed.ok() ? *parsed : ToleranceTable{};
    }();
    return kTable;
}

frame::DesignPoint point(std::string element) {
    frame::DesignPoint p;
    p.name = "P1";
    p.element = std::move(element);
    return p;
}

double value(std::string_view formula, const Sizes& sizes) {
    const auto result = evaluate(formula, sizes);
    EXPECT_TRUE(result.ok()) << formula;
    return result.ok() ? *result : -1.0;
}

TEST(Tolerances, program_carries_the_bytes_of_the_file) {
    std::ifstream file(LAYPROOF_SOURCE_DIR "/src/lay/tolerances.csv", std::ios::binary);
    const std::string bytes((std::istreambuf_iterator<char>(file)), {});
    EXPECT_EQ(bytes, shipped_tolerances_csv());
}

TEST(Tolerances, every_id_is_found_by_itself_and_has_a_limit_for_a_size) {
    ASSERT_EQ(table().rows.size(), 61U);
    const Sizes sizes{20.0, 4.0, 1.0, 0.02};
    for (const ToleranceRow& row : table().rows) {
        EXPECT_EQ(table().find(row.id), &row);
        const auto rows = rows_for(table(), row.id);
        ASSERT_EQ(rows.size(), 1U) << row.id;
        EXPECT_EQ(rows.front(), &row);
        EXPECT_FALSE(row.standard.empty()) << row.id;
        EXPECT_FALSE(row.element.empty()) << row.id;
        const auto limits = limits_of(row, sizes);
        if (row.binds == Binds::angle) {
            EXPECT_FALSE(limits.ok());
            continue;
        }
        ASSERT_TRUE(limits.ok()) << row.id << ": " << limits.refusal().to_text();
        EXPECT_TRUE(limits->minus_m || limits->plus_m) << row.id;
        for (const auto& side : {limits->minus_m, limits->plus_m}) {
            if (side) {
                EXPECT_GT(*side, 0.0004) << row.id;
                EXPECT_LT(*side, 0.2) << row.id;
            }
        }
        EXPECT_EQ(row.source_words().find("from memory") != std::string::npos,
                  row.seen == Seen::from_memory)
            << row.id;
    }
}

TEST(Tolerances, inch_limits_are_held_exactly) {
    EXPECT_DOUBLE_EQ(*limits_of(*table().find("AR1"))->plus_m, 0.0254 / 8);
    EXPECT_DOUBLE_EQ(*limits_of(*table().find("AR6a"))->plus_m, 0.0254 / 4);
    EXPECT_DOUBLE_EQ(*limits_of(*table().find("AR6b"))->minus_m, 0.0254 * 3 / 8);
    EXPECT_DOUBLE_EQ(*limits_of(*table().find("C4"))->minus_m, 0.0254 * 3 / 4);
}

TEST(Tolerances, unequal_sides_are_kept) {
    const auto bolt = limits_of(*table().find("AR9h"));
    EXPECT_DOUBLE_EQ(*bolt->minus_m, 0.005);
    EXPECT_DOUBLE_EQ(*bolt->plus_m, 0.045);
    const auto inward = limits_of(*table().find("S2in"));
    EXPECT_TRUE(inward->minus_m.has_value());
    EXPECT_FALSE(inward->plus_m.has_value());
}

// Worked by hand from the rules in words beside each formula.
TEST(Tolerances, formulas_agree_with_hand_values) {
    const auto limit_mm = [&](const char* id, const Sizes& sizes) {
        const auto limits = limits_of(*table().find(id), sizes);
        EXPECT_TRUE(limits.ok()) << id;
        return limits.ok() ? *limits->plus_m * 1000.0 : -1.0;
    };
    const auto of_length = [](double m) { return Sizes{m, {}, {}, {}}; };
    const auto of_height = [](double m) { return Sizes{{}, m, {}, {}}; };
    EXPECT_NEAR(limit_mm("AR3", of_length(30.48)), 6.35, 1e-9);   // 100 ft: 1/4 in
    EXPECT_NEAR(limit_mm("AR3", of_length(60.96)), 12.7, 1e-9);   // 200 ft: 1/2 in
    EXPECT_NEAR(limit_mm("AR3", of_length(1000.0)), 25.4, 1e-9);  // never above 1 in
    EXPECT_NEAR(limit_mm("C5", of_height(30.0)), 25.4, 1e-9);     // to 100 ft: 1 in
    EXPECT_NEAR(limit_mm("C5", of_height(30.48)), 25.4, 1e-9);
    EXPECT_NEAR(limit_mm("C5", of_height(60.0)), 60.0, 1e-9);  // H/1000
    EXPECT_NEAR(limit_mm("C5", of_height(400.0)), 152.0, 1e-9);
    EXPECT_NEAR(limit_mm("C5b", of_height(60.0)), 30.0, 1e-9);    // H/2000
    EXPECT_NEAR(limit_mm("C6", of_height(5.0)), 15.0, 1e-9);      // 0.3 %
    EXPECT_NEAR(limit_mm("C6b", of_height(5.0)), 10.0, 1e-9);     // 0.2 %
    EXPECT_NEAR(limit_mm("C9b", {{}, {}, 1.5, {}}), 30.0, 1e-9);  // 2 %
    EXPECT_NEAR(limit_mm("S1", of_height(4.0)), 8.0, 1e-9);       // 1:500
    EXPECT_NEAR(limit_mm("E2", of_height(3.0)), 15.0, 1e-9);      // larger of 15 and 7.5
    EXPECT_NEAR(limit_mm("E2", of_height(8.0)), 20.0, 1e-9);      // h/400
    EXPECT_NEAR(limit_mm("E2", of_height(12.0)), 25.0, 1e-9);     // larger of 25 and 20
    EXPECT_NEAR(limit_mm("E2", of_height(30.0)), 50.0, 1e-9);     // h/600
    EXPECT_NEAR(limit_mm("E3", of_length(6.0)), 20.0, 1e-9);
    EXPECT_NEAR(limit_mm("E3", of_length(24.0)), 40.0, 1e-9);
    EXPECT_NEAR(limit_mm("E3", of_length(60.0)), 60.0, 1e-9);
    EXPECT_NEAR(limit_mm("L2", of_length(4.0)), 4.0, 1e-9);  // not below 4
    EXPECT_NEAR(limit_mm("L2", of_length(64.0)), 6.0, 1e-9);
    EXPECT_NEAR(limit_mm("L3", of_length(7.0)), 4.0, 1e-9);
    EXPECT_NEAR(limit_mm("L3", of_length(100.0)), 15.0, 1e-9);
    EXPECT_NEAR(limit_mm("L4b", of_length(25.0)), 10.0, 1e-9);
}

TEST(Tolerances, size_that_a_formula_needs_is_asked_for) {
    const auto refused = limits_of(*table().find("AR3"));
    ASSERT_FALSE(refused.ok());
    EXPECT_EQ(refused.refusal().code, ErrorCode::value_missing);
    EXPECT_NE(refused.refusal().expected.find("length"), std::string::npos);
    EXPECT_EQ(limits_of(*table().find("S1"), {{}, 0.0, {}, {}}).refusal().code,
              ErrorCode::out_of_range);
    EXPECT_EQ(limits_of(*table().find("S1"), {{}, std::numeric_limits<double>::quiet_NaN(), {}, {}})
                  .refusal()
                  .code,
              ErrorCode::out_of_range);
}

TEST(Formula, order_of_operations_and_brackets_hold) {
    EXPECT_DOUBLE_EQ(value("2+3*4", {}), 14.0);
    EXPECT_DOUBLE_EQ(value("(2+3)*4-8/4/2", {}), 19.0);
    EXPECT_DOUBLE_EQ(value("max(1;min(9;3);2)", {}), 3.0);
    EXPECT_DOUBLE_EQ(value("sqrt(16)", {}), 4.0);
    EXPECT_DOUBLE_EQ(value("1.5 m", {}), 1500.0);
    EXPECT_DOUBLE_EQ(value("2>1:7 else 8", {}), 7.0);
    EXPECT_DOUBLE_EQ(value("2<1:7 else 8", {}), 8.0);
    EXPECT_DOUBLE_EQ(value("2>=2:7 else 8", {}), 7.0);
}

TEST(Formula, only_the_branch_that_counts_asks_for_a_size) {
    EXPECT_DOUBLE_EQ(value("H<=10 m:5 else L/100", {{}, 3.0, {}, {}}), 5.0);
    EXPECT_EQ(evaluate("H<=10 m:5 else L/100", {{}, 30.0, {}, {}}).refusal().code,
              ErrorCode::value_missing);
}

TEST(Formula, nonsense_is_refused) {
    for (const char* text : {"", "2+", "min(1", "Q*2", "2 2", "H<5", "H:5 else 6", "1/0", "1-2",
                             "sqrt()", "max(;)", "*", ")", "0.02*widths", "1:2", "NaN"}) {
        EXPECT_FALSE(evaluate(text, {1.0, 1.0, 1.0, {}}).ok()) << text;
    }
    EXPECT_FALSE(evaluate(std::string(10000, '('), {}).ok());
}

TEST(LookUp, exact_id_wins_over_the_element_word) {
    const auto found = look_up(table(), "AR6a", Binds::plan);
    ASSERT_NE(found.row, nullptr);
    EXPECT_EQ(found.row->id, "AR6a");
    const auto none = look_up(table(), "AR6a", Binds::height);
    EXPECT_EQ(none.row, nullptr);
    EXPECT_TRUE(none.candidates.empty());
}

TEST(LookUp, several_ids_each_give_their_own_kind) {
    EXPECT_EQ(look_up(table(), "AR6a + AR5", Binds::plan).row->id, "AR6a");
    EXPECT_EQ(look_up(table(), "AR6a, AR5", Binds::height).row->id, "AR5");
    // One word that is no id makes it a description, and no element is called so.
    EXPECT_TRUE(rows_for(table(), "AR6a rods").empty());
}

TEST(LookUp, element_word_with_several_rows_lists_them) {
    const auto rods = look_up(table(), "Anchor Bolts", Binds::plan);
    EXPECT_EQ(rods.row, nullptr);
    ASSERT_EQ(rods.candidates.size(), 3U);
    EXPECT_EQ(rods.candidates[1]->id, "AR6b");
    EXPECT_EQ(look_up(table(), "anchor rod", Binds::height).row->id, "AR5");
    // 7/8, 1 1/4 and 2 in rods.
    EXPECT_EQ(look_up(table(), "anchor rod", Binds::plan, {{}, {}, {}, 0.022225}).row->id, "AR6a");
    EXPECT_EQ(look_up(table(), "anchor rod", Binds::plan, {{}, {}, {}, 0.03175}).row->id, "AR6b");
    EXPECT_EQ(look_up(table(), "anchor rod", Binds::plan, {{}, {}, {}, 0.0508}).row->id, "AR6c");
}

TEST(LookUp, grid_dimension_is_chosen_by_its_length) {
    const std::map<double, std::string> classes{{0.5, "D1a"}, {3.0, "D1b"},  {5.9, "D1c"},
                                                {6.1, "D1d"}, {30.0, "D1e"}, {31.0, "D1f"}};
    for (const auto& [length, id] : classes) {
        const auto found =
            look_up(table(), "plan/axis/grid dimension", Binds::size, {length, {}, {}, {}});
        ASSERT_NE(found.row, nullptr) << length;
        EXPECT_EQ(found.row->id, id) << length;
    }
}

TEST(LookUp, unknown_element_has_no_row) {
    EXPECT_TRUE(rows_for(table(), "garden gnome").empty());
    EXPECT_TRUE(rows_for(table(), "").empty());
    EXPECT_TRUE(rows_for(table(), " ,; ").empty());
}

TEST(PointTolerance, value_of_the_point_wins) {
    auto p = point("AR6a");
    p.tolerance_plan_m = 0.002;
    p.tolerance_height_m = 0.003;
    const PointTolerance t = tolerance_of(p, table());
    EXPECT_DOUBLE_EQ(*t.plan_m, 0.002);
    EXPECT_EQ(t.plan_source.origin, LimitOrigin::point);
    EXPECT_FALSE(t.plan_source.from_memory);
    EXPECT_DOUBLE_EQ(*t.height.minus_m, 0.003);
}

TEST(PointTolerance, table_gives_limit_source_and_its_doubt) {
    const PointTolerance t = tolerance_of(point("AR6a+AR5"), table());
    EXPECT_DOUBLE_EQ(*t.plan_m, 0.00635);
    EXPECT_EQ(t.plan_source.id, "AR6a");
    EXPECT_NE(t.plan_source.words.find("ACI 117"), std::string::npos);
    EXPECT_NE(t.plan_source.words.find("2.3"), std::string::npos);
    EXPECT_FALSE(t.plan_source.from_memory);
    EXPECT_DOUBLE_EQ(*t.height.plus_m, 0.0127);
    EXPECT_TRUE(t.height_source.from_memory);
    EXPECT_NE(t.height_source.words.find("from memory: check the contract documents"),
              std::string::npos);
    const PointTolerance embed = tolerance_of(point("embedded item"), table());
    EXPECT_DOUBLE_EQ(*embed.plan_m, 0.0254);
    EXPECT_DOUBLE_EQ(*embed.height.plus_m, 0.0254);
}

TEST(PointTolerance, ambiguous_element_falls_back_and_says_what_could_be_meant) {
    const PointTolerance t = tolerance_of(point("anchor rod"), table(), {}, 0.005);
    EXPECT_DOUBLE_EQ(*t.plan_m, 0.005);
    EXPECT_EQ(t.plan_source.origin, LimitOrigin::default_value);
    ASSERT_EQ(t.notices.size(), 1U);
    EXPECT_NE(t.notices[0].find("AR6a, AR6b, AR6c"), std::string::npos) << t.notices[0];
    const PointTolerance none = tolerance_of(point("garden gnome"), table());
    EXPECT_FALSE(none.plan_m.has_value());
    EXPECT_EQ(none.plan_source.origin, LimitOrigin::none);
}

TEST(PointTolerance, formula_without_its_size_is_a_notice) {
    const PointTolerance t = tolerance_of(point("C9b"), table());
    EXPECT_FALSE(t.plan_m.has_value());
    ASSERT_EQ(t.notices.size(), 1U);
    EXPECT_NE(t.notices[0].find("width"), std::string::npos) << t.notices[0];
    EXPECT_DOUBLE_EQ(*tolerance_of(point("C9b"), table(), {{}, {}, 1.0, {}}).plan_m, 0.020);
}

TEST(ParseTolerances, broken_tables_are_refused_at_their_line) {
    const std::string good(shipped_tolerances_csv());
    const auto code = [](const std::string& text) {
        const auto parsed = parse_tolerances(text, "t.csv");
        EXPECT_FALSE(parsed.ok());
        return parsed.ok() ? ErrorCode{} : parsed.refusal().code;
    };
    EXPECT_EQ(code(""), ErrorCode::empty_file);
    EXPECT_EQ(code("# only\n"), ErrorCode::empty_file);
    EXPECT_EQ(code("id,element\nA,b\n"), ErrorCode::column_missing);
    const std::string header = good.substr(good.find("id,element"));
    const std::string head = header.substr(0, header.find('\n') + 1);
    EXPECT_EQ(code(head + "A,b\n"), ErrorCode::row_too_short);
    EXPECT_EQ(code(head + "A,b,q,plan,1,1,,,,,,,,,,,S,high,more\n"), ErrorCode::row_too_long);
    EXPECT_EQ(code(head + "A,b,q,sideways,1,1,,,,,,,,,,,S,high\n"), ErrorCode::word_unknown);
    EXPECT_EQ(code(head + "A,b,q,plan,x,1,,,,,,,,,,,S,high\n"), ErrorCode::not_a_number);
    EXPECT_EQ(code(head + "A,b,q,plan,-1,1,,,,,,,,,,,S,high\n"), ErrorCode::out_of_range);
    EXPECT_EQ(code(head + "A,b,q,plan,nan,1,,,,,,,,,,,S,high\n"), ErrorCode::not_a_number);
    EXPECT_EQ(code(head + "A,b,q,plan,,,2*Q,,,,,,,,,,S,high\n"), ErrorCode::word_unknown);
    const std::string row = "A,b,q,plan,1,1,,,,,,,,,,,S,high\n";
    EXPECT_EQ(code(head + row + row), ErrorCode::duplicate_point);
    const auto place = parse_tolerances(head + row + row, "t.csv").refusal().place;
    EXPECT_EQ(place.line, 3);
    EXPECT_TRUE(parse_tolerances(head + row, "t.csv").ok());
}

}  // namespace
}  // namespace layproof::lay

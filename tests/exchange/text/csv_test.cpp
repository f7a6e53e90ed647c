#include "exchange/text/csv.hpp"

#include <gtest/gtest.h>

#include <vector>

#include "exchange/exchange_support.hpp"

namespace layproof::exchange {
namespace {

using testing::expect_refused;

struct Cell {
    std::string text;
    int line;
    int column;
    friend bool operator==(const Cell&, const Cell&) = default;
};

std::ostream& operator<<(std::ostream& out, const Cell& cell) {
    return out << '"' << cell.text << "\" at " << cell.line << ':' << cell.column;
}

std::vector<std::vector<Cell>> all_rows(std::string_view text, CsvStyle style = {}) {
    CsvReader reader("test.csv", text, std::move(style));
    std::vector<std::vector<Cell>> rows;
    CsvRow row;
    while (true) {
        const auto more = reader.next(row);
        if (!more) {
            ADD_FAILURE() << more.refusal().to_text();
            return rows;
        }
        if (!*more) return rows;
        if (row.is_comment) continue;
        auto& cells = rows.emplace_back();
        for (const CsvField& field : row.fields) {
            cells.push_back({std::string(field.text), field.line, field.column});
        }
    }
}

using Rows = std::vector<std::vector<Cell>>;

TEST(Csv, rows_with_any_line_end_are_the_same) {
    const Rows expected{{{"a", 1, 1}, {"b", 1, 3}}, {{"c", 2, 1}, {"d", 2, 3}}};
    EXPECT_EQ(all_rows("a,b\nc,d\n"), expected);
    EXPECT_EQ(all_rows("a,b\r\nc,d\r\n"), expected);
    EXPECT_EQ(all_rows("a,b\rc,d\r"), expected);
    EXPECT_EQ(all_rows("a,b\r\nc,d"), expected);
    EXPECT_EQ(all_rows("\xEF\xBB\xBF"
                       "a,b\nc,d"),
              expected);
}

TEST(Csv, columns_count_characters_not_bytes) {
    const Rows expected{{{"Größe°", 1, 1}, {"x", 1, 8}}};
    EXPECT_EQ(all_rows("Größe°,x"), expected);
}

TEST(Csv, blanks_around_fields_are_taken_off_and_place_is_of_the_first_character) {
    EXPECT_EQ(all_rows("  a ,  b c,  "), (Rows{{{"a", 1, 3}, {"b c", 1, 8}, {"", 1, 14}}}));
    EXPECT_EQ(all_rows("\xC2\xA0H1\xC2\xA0,x")[0][0].text, "H1");
}

TEST(Csv, quoted_fields_hold_separators_quotes_and_line_ends) {
    EXPECT_EQ(
        all_rows("\"6'-0 1/2\"\"\",  \"a,b\" ,\"two\nlines\"\nnext"),
        (Rows{{{"6'-0 1/2\"", 1, 1}, {"a,b", 1, 16}, {"two\nlines", 1, 23}}, {{"next", 3, 1}}}));
}

TEST(Csv, quote_inside_an_unquoted_field_is_an_ordinary_character) {
    EXPECT_EQ(all_rows("6'-0 1/2\",5\"\n"), (Rows{{{"6'-0 1/2\"", 1, 1}, {"5\"", 1, 11}}}));
}

TEST(Csv, blank_lines_rows_of_empty_fields_and_comments_are_skipped) {
    const std::string text = "# made on site\n\na,b\n  \n,,,\n  # c,d\ne,f\n,,\n\n";
    EXPECT_EQ(all_rows(text), (Rows{{{"a", 3, 1}, {"b", 3, 3}}, {{"e", 7, 1}, {"f", 7, 3}}}));
}

TEST(Csv, quote_that_stays_open_in_a_comment_means_nothing) {
    EXPECT_EQ(all_rows("# he said, \"H4 is loose\na,b\n"), (Rows{{{"a", 2, 1}, {"b", 2, 3}}}));
}

TEST(Csv, open_quote_is_refused_where_it_opens) {
    CsvReader reader("test.csv", "a,b\nc,\"d\ne,f\n", {});
    CsvRow row;
    ASSERT_TRUE(reader.next(row).ok());
    expect_refused(reader.next(row), ErrorCode::quote_open, 2, 3);
}

TEST(Csv, text_after_a_closing_quote_is_refused) {
    CsvReader reader("test.csv", "a,\"b\"c\n", {});
    CsvRow row;
    expect_refused(reader.next(row), ErrorCode::quote_open, 1, 3);
}

TEST(Csv, line_of_more_than_64_kib_is_refused) {
    const std::string just_fits(kLongestRowBytes, 'x');
    EXPECT_EQ(all_rows(just_fits).size(), 1U);
    const std::string text = "a,b\n" + just_fits + "yz";
    CsvReader reader("test.csv", text, {});
    CsvRow row;
    ASSERT_TRUE(reader.next(row).ok());
    expect_refused(reader.next(row), ErrorCode::file_too_large, 2, 0);
}

TEST(Csv, runs_of_blanks_separate_when_asked_for) {
    const CsvStyle style{' ', "", 0};
    EXPECT_EQ(all_rows("  P1   1.5\t2.5  \n\"a b\" 3", style),
              (Rows{{{"P1", 1, 3}, {"1.5", 1, 8}, {"2.5", 1, 12}}, {{"a b", 2, 1}, {"3", 2, 7}}}));
}

TEST(Csv, skipped_lines_count_in_places) {
    EXPECT_EQ(all_rows("junk \"\nmore\na,b\n", {',', "#", 2}), (Rows{{{"a", 3, 1}, {"b", 3, 3}}}));
}

TEST(Csv, separator_is_the_most_frequent_of_the_header_outside_quotes_and_brackets) {
    EXPECT_EQ(separator_of("mark,east,north", {}), ',');
    EXPECT_EQ(separator_of("# a,b,c\n\nmark;east;north", {}), ';');
    EXPECT_EQ(separator_of("mark\teast\tnorth", {}), '\t');
    EXPECT_EQ(separator_of("\"a,b,c,d\";east", {}), ';');
    EXPECT_EQ(separator_of("a [x,y,z];east", {}), ';');
    EXPECT_EQ(separator_of("one", {}), ',');
    EXPECT_EQ(separator_of("", {}), ',');
}

}  // namespace
}  // namespace layproof::exchange

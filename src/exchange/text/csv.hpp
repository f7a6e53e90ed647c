#pragma once
// Delimited text as rows of fields, each with the line and column where it stands.
//
// RFC 4180 with what real files need: a byte order mark, LF, CRLF or CR line ends (mixed as they
// come), quoted fields with doubled quotes and line ends inside, blanks around fields, blank lines
// and rows of empty fields (skipped), comment lines (skipped). A quote inside an unquoted field is
// an ordinary character, so that 6'-0 1/2" needs no quoting. Lines and columns count from 1,
// columns in characters; a line end inside quotes counts as a line.

#include <cstddef>
#include <deque>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.hpp"

namespace layproof::exchange {

/// A line longer than this is not a row of a table.
inline constexpr std::size_t kLongestRowBytes = std::size_t{64} << 10U;

struct CsvField {
    std::string_view text;  ///< trimmed, quotes taken off
    int line = 0;
    int column = 0;  ///< of the first character that is no blank
};

struct CsvRow {
    int line = 0;
    int end_line = 0;
    int end_column = 0;  ///< where the row ends: place of a field that is not there
    std::vector<CsvField> fields;
    bool is_comment = false;  ///< the fields are those of a commented line

    void clear() {
        fields.clear();
        is_comment = false;
    }
};

struct CsvStyle {
    char separator = ',';       ///< ' ' stands for runs of blanks and tabs
    std::string comment = "#";  ///< lines that start with it are no data; empty: none are
    int skip_lines = 0;         ///< taken off the beginning without being looked at
};

/// Comma, semicolon or tab: the one that stands most often in the first line that is neither blank
/// nor a comment, outside quotes and brackets; a comma when there is none.
char separator_of(std::string_view text, const CsvStyle& style);

/// Reads rows one by one. The text must be checked UTF-8 and outlive the reader; the fields of a
/// row are valid until the next call. Memory: one row.
class CsvReader {
public:
    CsvReader(std::string file, std::string_view text, CsvStyle style);

    /// Fills `row` with the next row that holds anything; false at the end. Comment lines are
    /// given with is_comment set. Error codes: quote_open, file_too_large (a row above 64 KiB).
    Result<bool> next(CsvRow& row);

private:
    bool at_end() const { return position_ >= text_.size(); }
    bool at_line_end() const;
    bool at_blank() const;
    bool at_separator() const;
    void advance();
    void take_line_end();
    void skip_blanks();
    Result<bool> read_row(CsvRow& row);
    Result<bool> read_quoted(CsvRow& row);
    Result<bool> read_plain(CsvRow& row);
    Refusal row_too_large() const;

    std::string file_;
    std::string_view text_;
    CsvStyle style_;
    std::size_t position_ = 0;
    std::size_t row_start_ = 0;
    int line_ = 1;
    int column_ = 1;
    std::deque<std::string> unescaped_;  ///< fields of this row that held doubled quotes
};

}  // namespace layproof::exchange

#include "exchange/text/csv.hpp"

#include <algorithm>
#include <utility>

#include "base/text/utf8.hpp"
#include "exchange/text/text.hpp"

namespace layproof::exchange {
namespace {

std::size_t line_end(std::string_view text, std::size_t from) {
    const std::size_t end = text.find_first_of("\r\n", from);
    return end == std::string_view::npos ? text.size() : end;
}

std::size_t after_line_end(std::string_view text, std::size_t end) {
    if (end >= text.size()) return text.size();
    return end + (text[end] == '\r' && end + 1 < text.size() && text[end + 1] == '\n' ? 2 : 1);
}

bool starts_comment(std::string_view line, const std::string& comment) {
    return !comment.empty() && trimmed(line).substr(0, comment.size()) == comment;
}

}  // namespace

char separator_of(std::string_view text, const CsvStyle& style) {
    std::size_t from = 0;
    int skip = style.skip_lines;
    std::string_view line;
    while (from < text.size()) {
        // A longer line is no header; looking for its end may mean reading the whole file.
        const bool is_skipped = skip > 0;
        const std::size_t end =
            line_end(is_skipped ? text : text.substr(0, from + kLongestRowBytes), from);
        line = text.substr(from, end - from);
        if (is_skipped) {
            --skip;
        } else if (!trimmed(line).empty() && !starts_comment(line, style.comment)) {
            break;
        }
        from = after_line_end(text, end);
        line = {};
    }
    int commas = 0;
    int semicolons = 0;
    int tabs = 0;
    bool in_quotes = false;
    bool in_brackets = false;
    for (const char c : line) {
        if (c == '"') in_quotes = !in_quotes;
        if (c == '[') in_brackets = true;
        if (c == ']') in_brackets = false;
        if (in_quotes || in_brackets) continue;
        commas += c == ',' ? 1 : 0;
        semicolons += c == ';' ? 1 : 0;
        tabs += c == '\t' ? 1 : 0;
    }
    if (semicolons > 0 && semicolons >= commas && semicolons >= tabs) return ';';
    return tabs > commas ? '\t' : ',';
}

CsvReader::CsvReader(std::string file, std::string_view text, CsvStyle style)
    : file_(std::move(file)), text_(without_bom(text)), style_(std::move(style)) {
    for (int i = 0; i < style_.skip_lines && !at_end(); ++i) {
        position_ = after_line_end(text_, line_end(text_, position_));
        ++line_;
    }
}

bool CsvReader::at_line_end() const {
    return at_end() || text_[position_] == '\n' || text_[position_] == '\r';
}

bool CsvReader::at_blank() const {
    return !at_end() &&
           (text_[position_] == ' ' || (text_[position_] == '\t' && style_.separator != '\t'));
}

bool CsvReader::at_separator() const {
    if (at_end()) return false;
    if (style_.separator == ' ') return at_blank();
    return text_[position_] == style_.separator;
}

void CsvReader::advance() {
    ++position_;
    // Columns count characters: a continuation byte belongs to the one before it.
    if (at_end() || !is_continuation(text_[position_])) ++column_;
}

void CsvReader::take_line_end() {
    if (at_end()) return;
    position_ = after_line_end(text_, position_);
    ++line_;
    column_ = 1;
}

void CsvReader::skip_blanks() {
    while (at_blank()) advance();
}

Refusal CsvReader::row_too_large() const {
    return {ErrorCode::file_too_large,
            {file_, line_, 0},
            "a line longer than 64 KiB",
            "rows of a table, each on its line"};
}

Result<bool> CsvReader::next(CsvRow& row) {
    while (!at_end()) {
        row.clear();
        unescaped_.clear();
        row_start_ = position_;
        row.line = line_;
        skip_blanks();
        if (position_ - row_start_ > kLongestRowBytes) return row_too_large();
        if (at_line_end()) {
            take_line_end();
            continue;
        }
        if (!style_.comment.empty() &&
            text_.substr(position_, style_.comment.size()) == style_.comment) {
            row.is_comment = true;
            for (std::size_t i = 0; i < style_.comment.size(); ++i) advance();
        }
        // Blanks at the start belong to the first field, unless blanks separate.
        const auto done = read_row(row);
        if (!done) return done;
        const bool holds_anything =
            row.is_comment || std::any_of(row.fields.begin(), row.fields.end(),
                                          [](const CsvField& f) { return !f.text.empty(); });
        if (holds_anything) return true;
    }
    return false;
}

Result<bool> CsvReader::read_row(CsvRow& row) {
    while (true) {
        skip_blanks();
        if (style_.separator == ' ' && at_line_end() && !row.fields.empty()) break;
        // In a comment a quote means nothing: it may well stand alone.
        const bool is_quoted = !at_end() && text_[position_] == '"' && !row.is_comment;
        const auto done = is_quoted ? read_quoted(row) : read_plain(row);
        if (!done) return done;
        if (at_line_end()) break;
        advance();  // the separator
    }
    row.end_line = line_;
    row.end_column = column_;
    take_line_end();
    return true;
}

Result<bool> CsvReader::read_plain(CsvRow& row) {
    CsvField field{{}, line_, column_};
    const std::size_t start = position_;
    while (!at_line_end() && !at_separator()) {
        if (position_ - row_start_ > kLongestRowBytes) return row_too_large();
        advance();
    }
    field.text = trimmed(text_.substr(start, position_ - start));
    row.fields.push_back(field);
    return true;
}

Result<bool> CsvReader::read_quoted(CsvRow& row) {
    CsvField field{{}, line_, column_};
    const auto refuse = [&](std::string found, std::string expected) {
        return Refusal{ErrorCode::quote_open,
                       {file_, field.line, field.column},
                       std::move(found),
                       std::move(expected)};
    };
    advance();
    const std::size_t start = position_;
    bool has_doubled = false;
    while (true) {
        if (at_end() || position_ - row_start_ > kLongestRowBytes) {
            return refuse("a quote that is never closed",
                          "a closing quote; a quote inside a quoted field is written twice");
        }
        if (at_line_end()) {
            take_line_end();
        } else if (text_[position_] != '"') {
            advance();
        } else if (text_.substr(position_, 2) == "\"\"") {
            has_doubled = true;
            advance();
            advance();
        } else {
            break;
        }
    }
    const std::string_view inside = text_.substr(start, position_ - start);
    advance();
    if (style_.separator != ' ') skip_blanks();
    if (!at_line_end() && !at_separator()) {
        return refuse("text after the closing quote",
                      "a separator there; a quote inside a quoted field is written twice");
    }
    if (has_doubled) {
        std::string& text = unescaped_.emplace_back();
        for (std::size_t i = 0; i < inside.size(); ++i) {
            text += inside[i];
            if (inside[i] == '"') ++i;
        }
        field.text = trimmed(text);
    } else {
        field.text = trimmed(inside);
    }
    row.fields.push_back(field);
    return true;
}

}  // namespace layproof::exchange

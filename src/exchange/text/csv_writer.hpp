#pragma once
// Comma-separated text that our reader and any spreadsheet read back: UTF-8, LF line ends, quotes
// where needed, numbers with a decimal point whatever the locale.

#include <string>
#include <string_view>

namespace layproof::exchange {

/// The text as one field: in quotes with inner quotes doubled when it holds a separator, quote or
/// line end, has blanks at its ends, or starts like a comment.
std::string csv_field(std::string_view text);

/// The shortest plain decimal that reads back as the same double ("0.1", "-3", never with an
/// exponent). Finite input only; the sign of a zero is dropped.
std::string plain_number(double value);

class CsvWriter {
public:
    CsvWriter& text(std::string_view field);
    CsvWriter& number(double value) { return raw(plain_number(value)); }
    /// With this many decimals, for tables that people read.
    CsvWriter& number(double value, int decimals);
    CsvWriter& blank() { return raw({}); }
    void end_row();

    const std::string& str() const { return out_; }

private:
    CsvWriter& raw(std::string_view field);

    std::string out_;
    bool is_row_start_ = true;
};

}  // namespace layproof::exchange

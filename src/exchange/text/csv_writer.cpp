#include "exchange/text/csv_writer.hpp"

#include <fmt/format.h>

#include "exchange/text/text.hpp"

namespace layproof::exchange {

std::string csv_field(std::string_view text) {
    const bool needs_quotes = text.find_first_of(",;\t\"\r\n") != std::string_view::npos ||
                              trimmed(text).size() != text.size() ||
                              (!text.empty() && text.front() == '#');
    if (!needs_quotes) return std::string(text);
    std::string result = "\"";
    for (const char c : text) {
        if (c == '"') result += '"';
        result += c;
    }
    return result + '"';
}

std::string plain_number(double value) {
    const std::string shortest = fmt::format("{}", value);
    const std::size_t exponent_at = shortest.find('e');
    std::string result = shortest;
    if (exponent_at != std::string::npos && shortest[exponent_at + 1] == '+') {
        result = fmt::format("{:.0f}", value);
    } else if (exponent_at != std::string::npos) {
        // d.ddde-nn: the same digits behind nn - 1 zeros.
        const std::size_t start = value < 0.0 ? 1 : 0;
        int zeros = -1;
        for (const char c : shortest.substr(exponent_at + 2)) {
            zeros = (zeros + 1) * 10 + (c - '0') - 1;
        }
        std::string digits = shortest.substr(start, exponent_at - start);
        if (digits.size() > 1) digits.erase(1, 1);
        result = (start == 1 ? "-0." : "0.") + std::string(static_cast<std::size_t>(zeros), '0') +
                 digits;
    }
    if (result.size() > 2 && result.substr(result.size() - 2) == ".0") {
        result.erase(result.size() - 2);
    }
    return result == "-0" ? "0" : result;
}

CsvWriter& CsvWriter::text(std::string_view field) {
    return raw(csv_field(field));
}

CsvWriter& CsvWriter::number(double value, int decimals) {
    return raw(fmt::format("{:.{}f}", value, decimals));
}

CsvWriter& CsvWriter::raw(std::string_view field) {
    if (!is_row_start_) out_ += ',';
    is_row_start_ = false;
    out_ += field;
    return *this;
}

void CsvWriter::end_row() {
    out_ += '\n';
    is_row_start_ = true;
}

}  // namespace layproof::exchange

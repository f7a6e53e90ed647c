#pragma once
// What the readers of delimited files share: the loop over rows, and names that stand once.

#include <fmt/format.h>

#include <string>
#include <unordered_map>
#include <utility>
#include <vector>

#include "exchange/table.hpp"
#include "exchange/text.hpp"

namespace layproof::exchange::internal {

inline constexpr Range kCoordinate{-kLargestCoordinate_m, kLargestCoordinate_m, true,
                                   "a coordinate within 100,000,000 m of zero"};

/// Name -> line of its first row.
using Names = std::unordered_map<std::string, int>;

/// Refuses a name that stands in an earlier row.
inline bool is_first(TableReader& table, std::size_t column, const std::string& name, Names& names,
                     ErrorCode code, const char* expected = "a name of its own for each row") {
    const auto [known, is_new] = names.emplace(name, table.place(column).line);
    if (!is_new) {
        table.refuse(code, column,
                     fmt::format("{} again, which already stands in line {}", in_quotes(name),
                                 known->second),
                     expected);
    }
    return is_new;
}

/// Reads all rows with `read_row`, which fills its argument from the table.
template <class Row, class ReadRow>
Result<std::vector<Row>> read_rows(TableReader& table, ReadRow read_row) {
    std::vector<Row> rows;
    while (true) {
        const auto more = table.next();
        if (!more) return more.refusal();
        if (!*more) return rows;
        Row row;
        row.place = table.row_place();
        read_row(row);
        if (table.refusal()) return *table.refusal();
        rows.push_back(std::move(row));
    }
}

}  // namespace layproof::exchange::internal

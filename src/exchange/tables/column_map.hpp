#pragma once
// A column map (TOML) says how a foreign delimited file becomes one of our tables; the schema with
// examples is docs/files.md.

#include <map>
#include <optional>
#include <string>

#include "base/result.hpp"
#include "exchange/text/document.hpp"
#include "measure/length.hpp"

namespace layproof::exchange {

/// Where one of our columns comes from: exactly one of from_name, from_number and value.
struct MapColumn {
    std::string from_name;             ///< a header cell of the foreign file
    int from_number = 0;               ///< its column, from 1
    std::optional<std::string> value;  ///< the same for every row
    std::string unit;                  ///< a word of unit_from_word; empty: as the header says
    Place place;                       ///< in the map
};

struct ColumnMap {
    std::string name;   ///< of the map's file
    std::string table;  ///< marks, sights, setups, points or grid_lines
    std::optional<char> separator;
    std::optional<bool> decimal_comma;
    bool has_header = true;
    std::string comment = "#";
    int skip_lines = 0;
    std::optional<measure::LengthUnit> unit;  ///< of length columns that state none
    std::map<std::string, MapColumn> columns;
    /// words[column][foreign word] = our word
    std::map<std::string, std::map<std::string, std::string>> words;
};

/// Checks keys, types, names of columns, units and words. Error codes: empty_file, not_utf8,
/// file_too_large, not_toml, key_unknown, unit_unknown, column_map_bad.
Result<ColumnMap> read_column_map(const Document& document);

}  // namespace layproof::exchange

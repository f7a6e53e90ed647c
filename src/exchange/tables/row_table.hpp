#pragma once
// What a file gave as rows of one kind, and the limits common to the readers.

#include <optional>
#include <string>
#include <vector>

#include "measure/length.hpp"

namespace layproof::exchange {

/// Rows in the order of the file, the unit of its main length column (marks and points: east;
/// sights: slope_distance, else horizontal_distance; setups: instrument_height) if anything states
/// one, and sentences about what was read but deserves a look.
template <class Row>
struct Table {
    std::vector<Row> rows;
    std::optional<measure::LengthUnit> unit;
    std::vector<std::string> notices;
};

/// Limits common to the readers.
inline constexpr double kLargestCoordinate_m = 1e8;
inline constexpr double kLargestDistance_m = 1e5;
inline constexpr double kOnePlace_m = 0.001;  ///< marks closer than this are one place

}  // namespace layproof::exchange

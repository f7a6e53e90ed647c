#pragma once
// The lines of a building grid from a delimited file: docs/files.md.

#include "exchange/tables/readers.hpp"
#include "frame/grid_line.hpp"

namespace layproof::exchange {

/// Columns line, east_1, north_1, east_2, north_2 and optionally family. Also duplicate_point (a
/// name twice) and out_of_range (ends less than 10 mm apart). No row is no error.
Result<Table<frame::GridLine>> read_grid_lines(const Document& document,
                                               const ReadOptions& options = {});

}  // namespace layproof::exchange

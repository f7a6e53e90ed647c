#pragma once
// Sheets of marks and drawings, of any format, for vetting.

#include "exchange/tables/row_table.hpp"
#include "exchange/tables/table.hpp"
#include "exchange/text/document.hpp"
#include "frame/mark.hpp"

namespace layproof::exchange {

/// A sheet of any format. Of an open format its control points, or all points where the file does
/// not tell.
Result<Table<frame::Mark>> read_any_sheet(const Document& document,
                                          const ReadOptions& options = {});
/// Positions on a drawing of any format: all its points.
Result<Table<frame::Mark>> read_any_drawing(const Document& document,
                                            const ReadOptions& options = {});

}  // namespace layproof::exchange

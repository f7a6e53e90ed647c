#pragma once
// Our four tables from delimited files. Columns, units and rules: docs/files.md.

#include "base/result.hpp"
#include "exchange/tables/row_table.hpp"
#include "exchange/tables/table.hpp"
#include "exchange/text/document.hpp"
#include "frame/mark.hpp"
#include "measure/sight.hpp"
#include "station/setup.hpp"

namespace layproof::exchange {

/// All of TableReader's codes, those of a cell (unit_missing, not_a_number, not_finite,
/// out_of_range, value_missing), and duplicate_mark, marks_in_one_place, no_marks.
Result<Table<frame::Mark>> read_marks(const Document& document, const ReadOptions& options = {});

/// Also not_an_angle, angle_out_of_range, negative_distance, word_unknown, time_not_read,
/// no_sights.
Result<Table<measure::Sight>> read_sights(const Document& document,
                                          const ReadOptions& options = {});

/// Also word_unknown, time_not_read, setup_incomplete, duplicate_setup. No row is no error.
Result<Table<station::Setup>> read_setups(const Document& document,
                                          const ReadOptions& options = {});

/// Also duplicate_point. No row is no error.
Result<Table<frame::DesignPoint>> read_points(const Document& document,
                                              const ReadOptions& options = {});

}  // namespace layproof::exchange

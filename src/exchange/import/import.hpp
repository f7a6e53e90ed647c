#pragma once
// Any file, of whatever format, by its content: one door before the readers of the formats.

#include "base/result.hpp"
#include "exchange/tables/imported.hpp"
#include "exchange/tables/row_table.hpp"
#include "exchange/tables/table.hpp"
#include "exchange/text/document.hpp"
#include "frame/grid_line.hpp"
#include "frame/mark.hpp"
#include "measure/sight.hpp"
#include "station/setup.hpp"

namespace layproof::exchange {

/// Reads any of the open formats by content; word_unknown for a delimited file or one of another
/// format (with the format's name). Codes of the readers apply.
Result<Import> read_open_format(const Document& document, const ReadOptions& options = {});

// Any file, ours or an open format, as one of our tables. These give what read_marks and its
// sisters give, so a caller can use them in their place. Where a file tells control from other
// points, control becomes marks and the rest, or what is "to stake out", points to be laid; where
// it does not, all points are either. A design point's element is its source. A point that stands
// twice at one place is taken once; one name at two places is refused as in our tables. From an
// open format also value_missing, when it holds nothing of the kind, with what it does hold.

Result<Table<frame::Mark>> read_any_marks(const Document& document,
                                          const ReadOptions& options = {});
Result<Table<measure::Sight>> read_any_sights(const Document& document,
                                              const ReadOptions& options = {});
Result<Table<station::Setup>> read_any_setups(const Document& document,
                                              const ReadOptions& options = {});
Result<Table<frame::DesignPoint>> read_any_points(const Document& document,
                                                  const ReadOptions& options = {});
Result<Table<frame::GridLine>> read_any_grid_lines(const Document& document,
                                                   const ReadOptions& options = {});

}  // namespace layproof::exchange

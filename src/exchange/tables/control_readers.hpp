#pragma once
// The tables that vetting reads besides the usual ones: sheets as they were handed over, tapes and
// levels. Columns: docs/files.md.

#include "exchange/tables/readers.hpp"
#include "network/evidence.hpp"

namespace layproof::exchange {

/// Marks (or points: the column `mark` may be called `point`) as they stand: a name that stands
/// twice and two names in one place are for the vetting to say, not reasons to refuse. A row
/// without a name is called "#1", "#2", …, by its place. Refuses as read_marks does otherwise.
Result<Table<frame::Mark>> read_sheet(const Document& document, const ReadOptions& options = {});

/// from, to, distance + sd, held (level or slope), note. sd 0 is refused.
Result<Table<network::Tape>> read_tapes(const Document& document, const ReadOptions& options = {});

/// from, to, rise + sd, note.
Result<Table<network::LevelRise>> read_levels(const Document& document,
                                              const ReadOptions& options = {});

}  // namespace layproof::exchange

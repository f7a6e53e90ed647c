#pragma once
// Levels as files hold them: height differences that somebody worked out, or runs as the level book
// has them. Columns: docs/files.md.

#include "exchange/tables/readers.hpp"
#include "network/evidence.hpp"
#include "network/level_run.hpp"

namespace layproof::exchange {

/// run, point, backsight, foresight + intermediate, backsight_distance, foresight_distance, sd_km,
/// sd_turn, time, note. The rows of a run stand together, in the order in which they were read; a
/// row is refused that does not fit (network/level_run.hpp). value_missing, out_of_range,
/// time_not_read and those of every table.
Result<Table<network::LevelReading>> read_level_runs(const Document& document,
                                                     const ReadOptions& options = {});

/// Either kind of file, told by its columns: `rise` or `backsight`.
struct Levels {
    std::vector<network::LevelRise> rises;
    std::vector<network::LevelReading> readings;
    std::optional<measure::LengthUnit> unit;
    std::vector<std::string> notices;
};

Result<Levels> read_any_levels(const Document& document, const ReadOptions& options = {});

}  // namespace layproof::exchange

#pragma once
// The tables of the field checks of instrument and rod. Columns: docs/vet.md.

#include <string>
#include <vector>

#include "exchange/tables/readers.hpp"
#include "vet/instrument_checks.hpp"
#include "vet/rod_checks.hpp"

namespace layproof::exchange {

/// One face of one target in one set.
struct SetRow {
    std::string series, set, target;
    double direction_rad = 0.0;
    double zenith_rad = 0.0;
    Place place;
};

/// series, set, target, direction, zenith: a row for each face, told by the zenith angle.
Result<Table<SetRow>> read_sets(const Document& document, const ReadOptions& options = {});

struct BaseRow {
    vet::BaseReading reading;
    Place place;
};

/// known, measured.
Result<Table<BaseRow>> read_bases(const Document& document, const ReadOptions& options = {});

struct RodRow {
    vet::RodSight sight;
    Place place;
};

/// turn, direction, zenith, slope_distance, target_height.
Result<Table<RodRow>> read_rod_turns(const Document& document, const ReadOptions& options = {});

}  // namespace layproof::exchange

#pragma once
// What a job file holds for an act, in place of loose files: rows already read, in the order they
// were recorded, and what was decided about them.

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "base/result.hpp"
#include "exchange/text/document.hpp"
#include "frame/mark.hpp"
#include "measure/instrument.hpp"
#include "measure/length.hpp"
#include "measure/sight.hpp"
#include "network/evidence.hpp"
#include "network/level_run.hpp"
#include "station/setup.hpp"

namespace layproof::acts {

struct JobFacts {
    /// A sight kept and shown, but not used.
    struct Aside {
        std::size_t sight = 0;  ///< into sights
        std::string reason;
    };

    std::string name;  ///< of the job file, for messages
    std::vector<frame::Mark> marks;
    std::vector<measure::Sight> sights;
    std::vector<station::Setup> setups;
    std::vector<frame::DesignPoint> points;
    std::optional<measure::Instrument> instrument;  ///< the one taken last
    std::size_t instruments = 0;                    ///< how many there are
    std::optional<exchange::Document> grid;         ///< lines of the building grid, read by "lay"
    std::optional<measure::LengthUnit> grid_unit;   ///< of its columns that state none
    std::optional<exchange::Document> grid_map;     ///< column map of the grid lines
    std::optional<exchange::Document> causes;       ///< as imported; read by the act
    std::optional<measure::LengthUnit> unit;        ///< of the job
    std::optional<measure::LengthUnit> marks_unit, points_unit;
    std::vector<Aside> set_aside;  ///< in order of sight
    // What was measured beside sights; what was set aside is left out.
    std::vector<network::Tape> tapes;
    std::vector<network::LevelRise> levels;
    std::vector<network::LevelRun> level_runs;  ///< of one name once, whatever file they came from
    std::vector<std::string> notices;
};

namespace internal {

/// target_unknown: no sight was taken from a station of that name.
Refusal no_such_station(const std::string& station, const std::string& where);

}  // namespace internal
}  // namespace layproof::acts

#pragma once
// A run of levels as the level book has it, and the height differences in it.
//
// A run goes over rod positions. At each set-up of the level the rod is read on the point behind
// (backsight), perhaps on points aside (intermediate), and on the point ahead (foresight), which is
// then the point behind for the next set-up. A point without a name, or called TP and a number, is
// a turning point of this run alone. A rod held upside down is read negative.
//
// Model. Height of the point ahead less that of the point behind = backsight − foresight, each less
// (1 − k) d² / 2R for curvature and refraction where its distance d is known (k = 0.13, R of
// measure/sight_model.hpp). Between two named points the differences of all set-ups are summed; an
// intermediate point hangs on the named point last passed. Variance of such a leg:
//   set-ups · sd_turn²           where the run states it, or states nothing (1.5 mm each)
//   2 · sd_km² · length in km    where the run states it and all its lengths are known: sd_km is of
//                                1 km there and back (ISO 17123-2), so one way has √2 of it
//   (0.05 mm/m · imbalance)²     imbalance: lengths of backsights less those of foresights. A level
//                                is adjusted when two pegs 60 m apart differ by more than 3 mm
//                                (common practice, no source)
// Legs count as independent: what two of them share (the readings behind an intermediate point, the
// level's own collimation) is left out.

#include <optional>
#include <string>
#include <vector>

#include "base/result.hpp"

namespace layproof::network {

/// One position of the rod.
struct LevelReading {
    std::string run;
    std::string point;
    std::optional<double> backsight_m, intermediate_m, foresight_m;
    std::optional<double> backsight_distance_m;
    std::optional<double> foresight_distance_m;  ///< of the foresight or intermediate reading
    std::optional<double> sd_km_m, sd_turn_m;    ///< those of a run's first row that states one
    std::optional<double> time_s;
    std::string time_text, note;
    Place place;
};

struct LevelRun {
    std::string name;
    std::vector<LevelReading> readings;  ///< in the order in which they were read
};

/// The imbalance times this is the effect of a level that is off by what practice tolerates.
inline constexpr double kLevelCollimation_rad = 0.00005;

/// Without a name, "-", or "TP" and a number ("TP3", "tp 3"): local to its run.
bool is_turning_point(const std::string& name);

/// Rows of one run of one file belong together, in their order.
std::vector<LevelRun> level_runs_of(const std::vector<LevelReading>& readings);

struct LevelFault {
    std::size_t reading = 0;
    enum class Where { point, backsight, intermediate, foresight, distance_back, distance_fore };
    Where where = Where::point;
    bool is_missing = false;  ///< nothing stands there; else what stands there does not belong
    std::string expected;
};

/// The first row that does not fit a level book: a run begins with a backsight alone on a named
/// point, ends with a foresight alone on a named point, and has both in each turn between;
/// intermediate readings stand alone on named points; distances go with readings. Nothing when the
/// run is whole.
std::optional<LevelFault> level_fault(const LevelRun& run);

/// From one named point to another, or back to the same.
struct LevelLeg {
    std::string from, to;
    double rise_m = 0.0;
    double sd_m = 0.0;
    int turns = 0;  ///< set-ups of the level
    std::optional<double> length_m;
    std::optional<double> imbalance_m;
    bool is_intermediate = false;
    Place place;  ///< of the reading that begins it
};

struct ReducedRun {
    std::string name;
    std::vector<LevelLeg> legs;  ///< in order
    int turns = 0;
    std::optional<double> length_m;     ///< sum of all sight lengths, if each is known
    std::optional<double> imbalance_m;  ///< backsights less foresights
    double rise_m = 0.0;                ///< from its first point to its last
    double sd_m = 0.0;
    std::vector<std::string> notices;
};

/// A run with a fault has no leg and says so in a notice.
ReducedRun reduce_run(const LevelRun& run);

}  // namespace layproof::network

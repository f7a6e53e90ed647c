#pragma once
// What an open format gave: the things taken, what was left where it is and why, and what the file
// says about its unit. Lengths are metres, axes east, north, height, as everywhere inside.
//
// A file states its unit (LandXML, IFC, GeoJSON), or it only hints at one (DXF: $INSUNITS is wrong
// in many drawings). A hint is never taken: the caller states the unit, else the file is refused
// with unit_missing and the hint.

#include <optional>
#include <string>
#include <string_view>
#include <unordered_map>
#include <vector>

#include "base/result.hpp"
#include "exchange/tables/file_format.hpp"
#include "frame/grid_line.hpp"
#include "frame/map_conversion.hpp"
#include "measure/length.hpp"
#include "measure/sight.hpp"
#include "station/setup.hpp"

namespace layproof::exchange {

/// More points, set-ups or sights than this are not read from one file.
inline constexpr std::size_t kMostImported = 2'000'000;

struct UnitEvidence {
    std::optional<double> metres_per_unit;    ///< what was used
    std::optional<measure::LengthUnit> unit;  ///< the same, when it is one of ours
    bool is_stated = false;                   ///< by the file; else by the caller
    std::string words;                        ///< what the file says: "linearUnit=\"foot\""
};

enum class PointSource {
    point,
    monument,
    grid_crossing,
    column,
    footing,
    fastener,
    opening,
    circle,
    insert
};

/// "point", "monument", "grid crossing", "column", "footing", "anchor bolt", "opening", "circle",
/// "insert": the element of a design point made from it.
std::string_view to_word(PointSource source);

/// A million of these fit into 150 MB: words that many points share are kept once.
struct ImportedPoint {
    std::string name;
    double east_m = 0.0;
    double north_m = 0.0;
    std::optional<double> height_m;
    std::optional<float> sd_east_m, sd_north_m, sd_height_m;
    std::string note;
    int kind = -1;   ///< into Import::words: LandXML code or pntSurv, block name, IFC type
    int layer = -1;  ///< into Import::words
    int line = 0;
    int column = 0;
    PointSource source = PointSource::point;
    bool is_control = false;
    bool name_is_made = false;  ///< the file gives none
};

/// The mark to which a set-up was oriented, as the file books it.
struct ImportedBacksight {
    std::string station;
    std::string target;
    std::optional<double> circle_rad;   ///< circle reading to the target
    std::optional<double> azimuth_rad;  ///< from station to target
};

/// A group of things that were not taken.
struct LeftOut {
    std::string what;  ///< "TEXT", "curved grid axis 7"
    int count = 0;
    std::string why;
    Place first;
};

struct Import {
    FileFormat format{};
    std::string version;  ///< "LandXML 1.1", "AC1015", "IFC4X3_ADD2"
    UnitEvidence unit;
    std::string frame;  ///< the name of the coordinate system, where the file gives one
    std::vector<ImportedPoint> points;
    std::vector<std::string> words;
    std::vector<ImportedBacksight> backsights;
    std::vector<measure::Sight> sights;
    std::vector<station::Setup> setups;
    std::vector<frame::GridLine> grid_lines;
    std::optional<frame::MapConversion> map_conversion;
    std::vector<LeftOut> left;
    std::vector<std::string> notices;

    /// Empty for −1.
    std::string_view word(int index) const;
    /// The word's number, kept once.
    int keep_word(std::string_view word);
    /// Counts one more of a group.
    void leave(std::string_view what, std::string_view why, const Place& place, int count = 1);

private:
    std::unordered_map<std::string, int> word_numbers_;
};

/// One line a group: "3 TEXT left: not a point".
std::vector<std::string> sentences(const Import& import);

}  // namespace layproof::exchange

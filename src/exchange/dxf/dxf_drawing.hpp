#pragma once
// A DXF drawing as plain geometry: what stands in its model space, blocks unfolded, in the
// drawing's own unit, which is not known (the header hints at one).
//
// ASCII DXF from R12 on. Taken: POINT, LINE, CIRCLE, ARC, LWPOLYLINE and POLYLINE with bulges,
// TEXT, MTEXT, INSERT with base point, uneven scale, turn, rows and columns, its attributes, to 16
// blocks inside each other. Entities with their extrusion turned down are mirrored as the format
// says; those tilted otherwise are left, as is what lies on layers that are off or frozen, in paper
// space, or is invisible.
//
// Text is UTF-8 from 2007 on, else taken as Windows-1252 where it is no UTF-8.
//
// Error codes: empty_file, format_unknown (binary DXF), not_well_formed (group codes, no EOF),
// not_a_number, reference_circular, nested_too_deep, file_too_large (more than 2,000,000 things;
// unfolded, also more than 20,000 and a thousand for each thing in the file). A block that is not
// there is counted in `left`.

#include <array>
#include <optional>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "exchange/tables/imported.hpp"
#include "exchange/tables/table.hpp"
#include "exchange/text/document.hpp"

namespace layproof::exchange {

struct DrawnPoint {
    Eigen::Vector3d at;
    PointSource source = PointSource::point;  ///< point, circle, insert
    double radius = 0.0;                      ///< circle
    int layer = -1;
    int block = -1;    ///< insert
    int text = -1;     ///< its name from an attribute, into texts
    std::string note;  ///< the other attributes, "TAG=value"
    int line = 0;
};

struct DrawnLine {
    Eigen::Vector3d from, to;
    int layer = -1;
    int line = 0;
};

/// Anticlockwise from `start_rad` (from the x axis) over `sweep_rad`, which is positive.
struct DrawnArc {
    Eigen::Vector3d centre;
    double radius = 0.0;
    double start_rad = 0.0;
    double sweep_rad = 0.0;
    int layer = -1;
    int line = 0;
};

struct DrawnText {
    Eigen::Vector3d at;
    double height = 0.0;
    std::string text;
    int layer = -1;
    int line = 0;
    bool is_attribute = false;
};

struct Drawing {
    std::string version;  ///< "AC1015"
    std::optional<int> insunits;
    std::optional<int> measurement;
    std::vector<std::string> words;  ///< names of layers and blocks
    std::vector<DrawnPoint> points;
    std::vector<DrawnLine> lines;
    std::vector<DrawnArc> arcs;
    std::vector<DrawnText> texts;
    std::vector<LeftOut> left;

    std::string_view word(int index) const {
        return index < 0 ? std::string_view{} : words[static_cast<std::size_t>(index)];
    }
};

Result<Drawing> read_drawing(const Document& document);

/// The arc from one vertex to the next with a bulge (the tangent of a quarter of its sweep,
/// anticlockwise positive); nothing for a bulge of zero or vertices in one place.
std::optional<DrawnArc> bulge_arc(const Eigen::Vector3d& from, const Eigen::Vector3d& to,
                                  double bulge);

/// What $INSUNITS says: "millimetres", "US survey feet"; "no unit" for 0 and unknown numbers.
std::string_view insunits_word(int insunits);
/// Metres in that unit; nothing for 0 and unknown numbers.
std::optional<double> insunits_metres(int insunits);

}  // namespace layproof::exchange

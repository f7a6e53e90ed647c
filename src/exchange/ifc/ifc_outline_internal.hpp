#pragma once
// Profiles and curves of an IFC model as outlines: what a swept solid looks like from its end.
//
// Curves: IfcPolyline, IfcIndexedPolyCurve (arcs as twelve chords: at most 0.9 % of the radius
// inside a half circle), IfcCompositeCurve and IfcTrimmedCurve of straight pieces, IfcCircle.
// Profiles: rectangles (rounded and hollow ones whole), circles, ellipses (the polygon around
// them), closed outlines (their holes filled), groups of these; rolled sections (I, L, T, U, C, Z)
// as the rectangle around them. What holds more than the profile says so.
//
// Error codes: format_unknown for another kind of curve or profile, value_missing, out_of_range,
// and those of StepFile. More than kMostOutlineCorners corners: out_of_range.

#include <cstdint>
#include <vector>

#include "exchange/ifc/ifc_model_internal.hpp"

namespace layproof::exchange {

inline constexpr std::size_t kMostOutlineCorners = 2000;

/// In the profile's plane, model units.
struct IfcOutline {
    std::vector<Eigen::Vector2d> corners;              ///< not repeated at the end
    Eigen::Vector2d centre = Eigen::Vector2d::Zero();  ///< of a circle
    double radius = 0.0;       ///< above 0: the corners stand around a circle
    bool is_enlarged = false;  ///< holds more than the profile
};

/// The points of a curve, without a repeated last one when it is closed.
Result<std::vector<Eigen::Vector2d>> ifc_curve(const IfcModel& model, std::uint64_t id);

/// One outline, or several for a group of profiles.
Result<std::vector<IfcOutline>> ifc_profile(const IfcModel& model, std::uint64_t id);

/// "IfcWall" for IFCWALL where the capitals are known, else the word as it stands.
std::string ifc_word(std::string_view type);

}  // namespace layproof::exchange

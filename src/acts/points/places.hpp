#pragma once
// Points of the file with their tolerances, and the places that sights put them.

#include <string>
#include <string_view>
#include <unordered_map>
#include <vector>

#include "acts/points/lay_point.hpp"
#include "acts/setup/setup_work.hpp"
#include "lay/as_laid.hpp"
#include "lay/mixture.hpp"

namespace layproof::acts::internal {

/// "AR1 + AR5: G3" → tolerances "AR1 + AR5", group "G3".
struct ElementParts {
    std::string tolerances;
    std::string group;
};
ElementParts element_parts(const std::string& element);

/// The points with their tolerances; notices about those that the table leaves open.
std::vector<LayPoint> lay_points(const std::vector<frame::DesignPoint>& points,
                                 const lay::ToleranceTable& table,
                                 std::vector<std::string>& notices);

/// The set-up as the room lay takes it.
lay::LaySetup lay_setup(const OneSetup& one, const StationWork& work);

/// Where one sight puts a point; nothing for a sight without a direction and a distance.
std::optional<lay::LaidPlace> place_of(const measure::Sight& sight, const OneSetup& one,
                                       const lay::LaySetup& setup, int index);

/// By name; the points must outlive it.
using PointIndex = std::unordered_map<std::string_view, std::size_t>;
PointIndex index_of(const std::vector<LayPoint>& points);

/// target_unknown at the sight's place.
Refusal no_such_point(const measure::Sight& sight);

/// The shipped table.
const lay::ToleranceTable& shipped_tolerances();

}  // namespace layproof::acts::internal

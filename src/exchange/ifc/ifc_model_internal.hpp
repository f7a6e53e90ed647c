#pragma once
// What several parts of the IFC reader need: the unit of length and placements, worked out once.

#include <optional>
#include <string>
#include <unordered_map>
#include <utility>
#include <vector>

#include <Eigen/Geometry>

#include "exchange/ifc/step_file_internal.hpp"
#include "exchange/tables/imported.hpp"
#include "exchange/tables/table.hpp"
#include "exchange/text/document.hpp"

namespace layproof::exchange {

/// An axis of a grid in the grid's own plane, model units.
struct IfcAxis {
    std::string tag;
    Eigen::Vector2d from, to;
};

class IfcModel {
public:
    IfcModel(const StepFile& file, const Document& document) : file_(file), document_(document) {}

    const StepFile& file() const { return file_; }
    Place place(std::uint64_t id) const { return file_.place(id); }

    /// From the project's units. Error codes: unit_missing, unit_unknown, and those of the file.
    Result<UnitEvidence> length_unit() const;
    /// Metres in a unit; error codes as above.
    Result<UnitEvidence> unit(std::uint64_t id) const;

    /// From the coordinates of a placement to the project's, model units. A placement that layproof
    /// cannot follow gives format_unknown.
    Result<Eigen::Isometry3d> placement(std::uint64_t id);
    /// The tags of the axes at which a grid placement stands, "C/4"; empty for another placement.
    std::string crossing_name(std::uint64_t placement);

    /// format_unknown when the axis is curved.
    Result<IfcAxis> axis(std::uint64_t id) const;
    /// The point, up to three coordinates, zero where there is none.
    Result<Eigen::Vector3d> point(std::uint64_t id) const;
    Result<Eigen::Isometry3d> axis_placement(std::uint64_t id) const;
    /// Of length one; out_of_range for one of no length.
    Result<Eigen::Vector3d> direction(std::uint64_t id) const;

    /// "C/4" from two tags, letters first.
    static std::string crossing(const std::string& a, const std::string& b);

private:
    Result<UnitEvidence> unit(std::uint64_t id, int depth) const;
    Result<std::pair<Eigen::Vector2d, Eigen::Vector2d>> curve_ends(std::uint64_t id) const;
    Result<Eigen::Vector3d> intersection(std::uint64_t id, Eigen::Vector2d* tangent) const;
    Result<Eigen::Isometry3d> own(const StepRecord& placement) const;
    Result<std::optional<std::uint64_t>> parent(const StepRecord& placement);
    Refusal unsupported(const StepRecord& record, std::string what) const;

    const StepFile& file_;
    const Document& document_;
    std::unordered_map<std::uint64_t, Eigen::Isometry3d> placements_;
    std::optional<std::unordered_map<std::uint64_t, std::uint64_t>> grid_of_axis_;
};

}  // namespace layproof::exchange

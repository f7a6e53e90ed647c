#pragma once
// The body of an element of an IFC model as upright blocks: what it hides, seen from above.
//
// Read: IfcExtrudedAreaSolid in any position, the first operand of a cut (IfcBooleanClippingResult,
// IfcBooleanResult: what is cut off is left on, which hides more), both of a union, IfcCsgSolid,
// IfcMappedItem, and closed sets of faces (IfcFacetedBrep, IfcTriangulatedFaceSet,
// IfcPolygonalFaceSet). An upright sweep gives its outline. A lying or slanting one, and a set of
// faces, give the block around them: the convex hull in plan from the lowest to the highest point.
// A set of faces that fills less than kLeastFilled of that block is refused, since an L of walls
// would close a yard.
//
// Error codes: format_unknown, value_missing and out_of_range concern one shape; others end the
// reading: those of StepFile, and file_too_large when the shapes hold more than kMostShapeValues
// (mapped items may call for each other many times over).

#include <Eigen/Geometry>
#include <cstdint>
#include <vector>

#include "exchange/ifc/ifc_model_internal.hpp"
#include "exchange/ifc/ifc_outline_internal.hpp"

namespace layproof::exchange {

inline constexpr double kLeastFilled = 0.6;
inline constexpr std::size_t kMostShapeValues = 20'000'000;

/// Model units, the project's coordinates.
struct IfcBlock {
    std::vector<Eigen::Vector2d> outline;  ///< empty: round
    Eigen::Vector2d centre = Eigen::Vector2d::Zero();
    double radius = 0.0;
    double bottom = 0.0, top = 0.0;
    bool is_enlarged = false;  ///< holds more than the solid
};

/// The convex hull, anticlockwise.
std::vector<Eigen::Vector2d> convex_outline(std::vector<Eigen::Vector2d> points);

class IfcSolids {
public:
    explicit IfcSolids(const IfcModel& model) : model_(model) {}

    /// Of an IfcProductDefinitionShape; empty when it holds no body.
    Result<std::vector<IfcBlock>> blocks(std::uint64_t shape, const Eigen::Affine3d& placed);
    /// The polyline of its 'Axis'; empty when it holds none.
    Result<std::vector<Eigen::Vector2d>> axis(std::uint64_t shape);

private:
    using Blocks = std::vector<IfcBlock>;
    Result<Done> charge(const StepRecord& record);
    Result<StepRecord> record(std::uint64_t id);
    Result<Done> item(std::uint64_t id, const Eigen::Affine3d& at, int depth, Blocks& out);
    Result<Done> mapped(const StepRecord& item, const Eigen::Affine3d& at, int depth, Blocks& out);
    Result<Done> extruded(const StepRecord& solid, const Eigen::Affine3d& at, Blocks& out);
    Result<Done> faces(const StepRecord& solid, const Eigen::Affine3d& at, Blocks& out);
    Result<std::vector<std::vector<Eigen::Vector3d>>> loops(const StepRecord& solid);
    Result<std::vector<Eigen::Vector3d>> point_list(std::uint64_t id);
    Result<Eigen::Affine3d> operation(std::uint64_t id);

    const IfcModel& model_;
    std::size_t values_ = 0;
};

}  // namespace layproof::exchange

#pragma once
// From a model's own coordinates to map coordinates, as IFC 4 states it, with the ways it is
// commonly misused told apart.
//
// Model (IFC 4.3 documentation, IfcMapConversion): scale, turn anticlockwise by θ, shift:
//   θ = atan2(XAxisOrdinate, XAxisAbscissa)
//   E = S(x·cos θ − y·sin θ) + Eastings,  N = S(x·sin θ + y·cos θ) + Northings,  H = S·z + height
// with x, y, z in the model's unit and E, N, H in the map's. S is there to change units; the value
// it should have is metres per model unit / metres per map unit. Grid factors belong into
// IfcMapConversionScaled, but are found in S; then heights would be scaled too, which no height is.
//
// A rigid operation (IfcRigidOperation) is a shift by its two coordinates and height, given in the
// map's unit: no turn, no scale.
//
// resolve() takes everything to metres and says what it made of S:
//   units        S is the ratio of the units within 1e-7
//   units_left   S is 1 or missing although the units differ: the units are converted anyway
//   grid_factor  S is within 1000 ppm of 1 (units alike, or units left): a factor on plan only
//   both         S is the ratio of units times a factor within 1000 ppm
//   unexplained  none of these; nothing is converted with it
// Numbers must be finite and metres per unit above zero, else unexplained.

#include <optional>
#include <string>
#include <vector>

#include <Eigen/Core>

namespace layproof::frame {

struct MapConversion {
    // As the file gives it.
    double eastings = 0.0;
    double northings = 0.0;
    double orthogonal_height = 0.0;
    std::optional<double> x_axis_abscissa;
    std::optional<double> x_axis_ordinate;
    std::optional<double> scale;
    std::optional<double> factor_x, factor_y, factor_z;  ///< of IfcMapConversionScaled
    double model_metres_per_unit = 1.0;
    std::optional<double> map_metres_per_unit;  ///< nothing: the model's unit counts
    std::string crs;                            ///< "EPSG:25832"
    bool is_rigid = false;                      ///< IfcRigidOperation: the shift alone
    bool has_world_offset = false;  ///< the model's WorldCoordinateSystem is not the identity
};

enum class ScaleMeaning { units, units_left, grid_factor, both, unexplained };

struct ResolvedConversion {
    ScaleMeaning meaning = ScaleMeaning::unexplained;
    double east_m = 0.0;
    double north_m = 0.0;
    double height_m = 0.0;
    double rotation_rad = 0.0;  ///< anticlockwise, as the file has it
    double factor_x = 1.0;      ///< map metres per model metre, plan
    double factor_y = 1.0;
    double factor_z = 1.0;
    std::vector<std::string> warnings;

    bool is_usable() const { return meaning != ScaleMeaning::unexplained; }
    /// Model to map, metres.
    Eigen::Vector3d to_map(const Eigen::Vector3d& model_m) const;
    /// Map to model, metres.
    Eigen::Vector3d to_model(const Eigen::Vector3d& map_m) const;
};

ResolvedConversion resolve(const MapConversion& conversion);

}  // namespace layproof::frame

#pragma once
// A projected coordinate system of the map: geographic positions to grid and back, and its point
// scale and convergence. Wraps PROJ with its data base; the network is off.
//
// Definitions: "EPSG:25832", WKT, or a PROJ string ("+proj=utm +zone=32 +ellps=GRS80"). Of a
// compound system the horizontal part counts. Grid coordinates are metres whatever the system's own
// unit is (metres_per_unit tells it: two feet are in use). Geographic positions are those of the
// system's own datum; layproof shifts no datums. Longitude east and latitude north positive.
//
// Accuracy: of PROJ; against an independent library 1e-9 in the point scale and the convergence
// within a zone, 1 µm in the grid coordinates. Point scale and convergence are differences of the
// projection over 1e-4 rad, of fourth order: good to 1e-10; not nearer than 6 km to a pole.
//
// Error codes: word_unknown (no such system), format_unknown (not a projected one), out_of_range
// (a position where the projection is not defined), not_finite.

#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include <Eigen/Core>

#include "base/result.hpp"
#include "exchange/frames/geographic.hpp"
#include "frame/ground.hpp"

namespace layproof::exchange {

struct ProjectionFactors {
    double meridian_scale = 1.0;
    double parallel_scale = 1.0;
    double convergence_rad = 0.0;  ///< grid north minus true north, clockwise positive

    /// Of a conformal projection both are the point scale; else their geometric mean.
    double point_scale() const;
    bool is_conformal() const;
};

class ProjectedFrame {
public:
    static Result<ProjectedFrame> open(std::string_view definition);

    ProjectedFrame(ProjectedFrame&&) noexcept;
    ProjectedFrame& operator=(ProjectedFrame&&) noexcept;
    ~ProjectedFrame();

    const std::string& name() const;
    double metres_per_unit() const;
    double semi_major_m() const;
    double inverse_flattening() const;

    /// East, north in metres.
    Result<Eigen::Vector2d> to_grid(const Geographic& position) const;
    Result<Geographic> to_geographic(const Eigen::Vector2d& grid_m) const;
    Result<ProjectionFactors> factors(const Geographic& position) const;

    /// Point scale and elevation factor at a grid point of the site, height above the ellipsoid.
    Result<frame::GridFactors> site_factors(const Eigen::Vector2d& grid_m,
                                            double ellipsoid_height_m) const;
    Result<frame::GridFactors> site_factors(const Geographic& position,
                                            double ellipsoid_height_m) const;

private:
    struct State;
    explicit ProjectedFrame(std::unique_ptr<State> state);
    std::unique_ptr<State> state_;
};

/// "EPSG:…" of the projected systems in use (EPSG's list, not deprecated) whose area of use holds
/// the place, in the order of their codes; at most `most`.
std::vector<std::string> projected_systems_at(const Geographic& place, std::size_t most = 300);

}  // namespace layproof::exchange

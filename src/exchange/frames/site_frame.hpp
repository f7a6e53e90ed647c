#pragma once
// The site's own coordinates on the map: a projected coordinate system, and, when asked, the ground
// coordinates made from its grid about a stated origin.
//
// Model: site = grid; with an origin G on the grid (which keeps its coordinates), site = G + (grid
// − G)/(point scale × elevation factor), both of the origin (frame/ground.hpp). One factor serves
// the site: it changes by 0.16 ppm per metre of height and up to 0.3 ppm per kilometre at the edge
// of a zone. Datums are not shifted.
//
// Error codes: of ProjectedFrame; out_of_range for a height beyond -1,000 to 10,000 m, not_finite.

#include <optional>
#include <string>

#include "exchange/frames/projected_frame.hpp"
#include "frame/ground.hpp"

namespace layproof::exchange {

struct SiteFrameSpec {
    std::string crs;  ///< "EPSG:25832", or as ProjectedFrame takes it
    std::optional<Eigen::Vector2d> ground_origin_m;  ///< east, north on the grid
    double ellipsoid_height_m = 0.0;                 ///< of the site, for the elevation factor
};

class SiteFrame {
public:
    static Result<SiteFrame> open(const SiteFrameSpec& spec);

    const SiteFrameSpec& spec() const { return spec_; }
    const ProjectedFrame& grid() const { return grid_; }
    /// Of the origin; nothing when the site's coordinates are the grid's.
    const std::optional<frame::GridFactors>& factors() const { return factors_; }
    /// "ETRS89 / UTM zone 32N", with the factor and the origin of ground coordinates.
    std::string words() const;

    /// East, north in metres.
    Result<Eigen::Vector2d> to_site(const Geographic& position) const;
    Result<Geographic> to_geographic(const Eigen::Vector2d& site_m) const;

private:
    SiteFrame(SiteFrameSpec spec, ProjectedFrame grid)
        : spec_(std::move(spec)), grid_(std::move(grid)) {}

    SiteFrameSpec spec_;
    ProjectedFrame grid_;
    std::optional<frame::GridFactors> factors_;
    frame::GroundFrame ground_;
};

}  // namespace layproof::exchange

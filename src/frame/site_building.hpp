#pragma once
// From the building's grid to the site: turn, shift and, if wanted, scale, from points known in
// both; with what each point misses by, and a warning when the scale is one that a mistake makes.
//
// Model: the plan fits of frame/rigid.hpp, building as local, site as target; heights by their
// mean difference. Scale: held at a given value (1 unless set), or free. With the scale held the
// scale that the points would like is worked out beside it, so that a wrong foot is seen either
// way. With n points of equal weight, centred building coordinates l and misfits v
//   s0² = Σ|v|²/(2n − 4 free, 2n − 3 held), sd of the scale s0/√Σ|l|², sd of the turn the same /
//   scale
// (textbook, from memory).
//
// Degenerate: fewer than two points, or all in one place, give no turn: `state` says so and nothing
// is warned of. Two points with the scale free fit exactly: the scale then carries the error of
// both, and sd is taken from `expected_sd_m` per axis. Mirrored axes show as large misfits;
// `is_mirrored` says when the mirror image fits at least ten times better.

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "frame/rigid.hpp"
#include "frame/scale_ratio.hpp"

namespace layproof::frame {

struct SitePair {
    std::string name;
    Eigen::Vector2d building_m = Eigen::Vector2d::Zero();
    Eigen::Vector2d site_m = Eigen::Vector2d::Zero();
    std::optional<double> building_height_m;
    std::optional<double> site_height_m;
};

struct SiteFitOptions {
    std::optional<double> scale = 1.0;           ///< nothing: free
    double expected_sd_m = 0.003;                ///< of a coordinate of one set against the other
    KnownFactors factors;                        ///< for the warning
    SetNames names{"the building", "the site"};  ///< in the warning
};

struct SiteFit {
    PlanFitState state = PlanFitState::no_points;
    double scale = 1.0;         ///< as used
    double rotation_rad = 0.0;  ///< azimuth of the building's north in the site, [0, 2π)
    Eigen::Vector2d origin_m = Eigen::Vector2d::Zero();  ///< the building's origin in the site
    std::optional<double> height_shift_m;                ///< site − building
    std::vector<Eigen::Vector2d> misfits_m;              ///< site − fitted
    double s0_m = 0.0;                                   ///< 0 without redundancy
    double sd_rotation_rad = 0.0;
    double free_scale = 1.0;  ///< what the points would like
    double sd_scale_ppm = 0.0;
    std::vector<ScaleExplanation> explanations;  ///< of free_scale; empty when nothing explains it
    bool is_mirrored = false;
    std::vector<std::string> warnings;

    Eigen::Vector2d to_site(const Eigen::Vector2d& building_m) const;
    Eigen::Vector2d to_building(const Eigen::Vector2d& site_m) const;

private:
    Eigen::Vector2d building_centre_m_ = Eigen::Vector2d::Zero();
    Eigen::Vector2d site_centre_m_ = Eigen::Vector2d::Zero();
    friend SiteFit fit_site(std::span<const SitePair> pairs, const SiteFitOptions& options);
};

SiteFit fit_site(std::span<const SitePair> pairs, const SiteFitOptions& options = {});

}  // namespace layproof::frame

#pragma once
// What went wrong when points were laid: one cause for several points, or a name.
//
// Model. A point that is laid well lies off its design place by N(0, kLaidWell_m²) per axis and
// what its measurement does not know. It may have slipped: one of kSlips_m, each axis of the plan
// and the height for itself. Instead
//   on another's place   a point of the file lies where another belongs: the rod stood there and
//   the
//                        name was booked wrong, or it was laid there
//   off in height        points that follow each other in one set-up are all too high by one
//   amount:
//                        the rod was another than booked while they were sighted, or their heights
//                        came from a wrong benchmark
//   shifted in plan      points of one line of the grid, of one group, or of one set-up lie off by
//                        one vector: laid from a wrong line or a wrong offset
// Amounts have the standard deviation kSharedAmount_m. With d the deviations of n points and C
// their covariances, a cause is weighed by its marginal likelihood (the amount integrated out)
// against each point for itself, times its odds; the most probable one takes its points, then the
// next. Points of one set-up count as independent given what is believed of it, which favours a
// shared cause by little: what they share is a few millimetres.
//
// Odds and sizes are engineering judgement, no source.

#include <Eigen/Core>
#include <string>
#include <vector>

#include "lay/building_grid.hpp"

namespace layproof::lay {

inline constexpr double kLaidWell_m = 0.004;
inline constexpr double kSlipChance = 0.02;
inline constexpr double kSlips_m[] = {0.02, 0.1, 1.0};
inline constexpr double kSharedAmount_m = 0.3;
/// Per point; per set-up; per line, group or set-up.
inline constexpr double kOnAnotherOdds = 0.003;
inline constexpr double kOffInHeightOdds = 0.01;
inline constexpr double kShiftedOdds = 0.01;
/// Fewer points show no common cause.
inline constexpr int kFewestTogether = 3;

/// One point laid, as it is believed to lie; the list is in the order in which they were laid.
struct LaidDeviation {
    std::string name;
    Eigen::Vector3d design_m = Eigen::Vector3d::Zero();
    Eigen::Vector3d deviation_m = Eigen::Vector3d::Zero();
    Eigen::Matrix3d covariance = Eigen::Matrix3d::Zero();
    bool has_height = false;
    int setup = -1;
    std::string group;  ///< empty: of none
};

/// A place of the points file, laid or not.
struct DesignPlace {
    std::string name;
    Eigen::Vector2d plan_m = Eigen::Vector2d::Zero();
};

enum class LaidCauseKind { on_anothers_place, off_in_height, shifted_in_plan };
/// "laid-on-another", "laid-off-in-height", "laid-off-in-plan".
std::string_view to_word(LaidCauseKind kind);

struct LaidCause {
    LaidCauseKind kind{};
    std::vector<int> points;  ///< into the list, in its order
    std::string other;        ///< on another's place: whose
    std::string along;        ///< shifted in plan: the line or group they belong to; may be empty
    double probability = 0.0;
    Eigen::Vector3d amount_m = Eigen::Vector3d::Zero();
    Eigen::Vector3d sd_m = Eigen::Vector3d::Zero();
};

/// Most probable first; no point stands in two. Less probable than one half is not told.
std::vector<LaidCause> laid_causes(const std::vector<LaidDeviation>& laid,
                                   const std::vector<DesignPlace>& designs,
                                   const BuildingGrid& grid);

}  // namespace layproof::lay

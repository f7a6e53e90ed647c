#pragma once
// All set-ups, days and crews of a job in one adjustment.
//
// Model. Unknown are the plan place and the height of every point sighted, levelled or taped, and
// of every set-up its plan place, orientation and height of the axes. Observed are
//   sights     direction, zenith angle and distance with the covariance of measure/sight_model.hpp;
//              both faces of one pointing together
//   set-ups    over a point: plan ± instrument centring, height of the axes ± tape
//   levels     height of one point less that of another;  tapes: distances between points
//   standing   between two moments of one set-up, where drift is stated: place, orientation and
//              height wander as a random walk. Sights a short while apart share one place; a set-up
//              whose sights lack a time has one place throughout
//   marks      the coordinates of the sheet with its standard deviations (Datum::weighted), held
//              (Datum::held), or not at all (Datum::inner: the corrections of the marks, or of all
//              points where there is none, have the smallest sum of squares)
// Start coordinates come from chain.hpp. Sights that land metres from where all others put their
// target are set aside first and said: a wrong name would bend everything. Every figure is about
// the middle of the job, so that 2,000,000 ft lose nothing.
//
// Solved to 1e-10 m by adjust; variance factor 1. Residuals are adjusted minus observed.

#include <Eigen/Core>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "adjust/tests.hpp"
#include "base/result.hpp"
#include "frame/mark.hpp"
#include "network/chain.hpp"
#include "network/evidence.hpp"
#include "station/pose.hpp"
#include "station/prepared.hpp"
#include "station/solution.hpp"

namespace layproof::network {

enum class Datum { weighted, held, inner };

struct NetworkInput {
    std::vector<frame::Mark> marks;
    /// `marks` and `scale_factor` of each are not looked at. Every sight that is not set aside
    /// counts, whatever its purpose: leave out those that are not to their target's mark.
    std::vector<station::StationInput> setups;
    std::vector<Tape> tapes;
    std::vector<LevelRise> levels;
    double scale_factor = 1.0;  ///< grid distance / ground distance
    Datum datum = Datum::weighted;
    /// Variance that an instrument's place gains each second it stands: east, north (m²),
    /// orientation (rad²), height (m²). Zero: it stands still.
    Eigen::Vector4d drift_per_s = Eigen::Vector4d::Zero();

    bool operator==(const NetworkInput&) const = default;
};

/// One pointing, or both faces of it.
struct NetworkSight {
    int setup = -1;                 ///< into SiteNetwork::setups and the input's
    int point = -1;                 ///< into SiteNetwork::points
    std::vector<int> booked;        ///< into the set-up's sights
    measure::ReducedSight reduced;  ///< as used
    double prism_constant_m = 0.0;  ///< as booked
    std::optional<double> time_s;   ///< of the first one booked
    measure::Purpose purpose = measure::Purpose::control;
    bool used = true;
    std::string why_not_used;
    /// Set aside because it lands this far from where the others put its target, and at what.
    std::optional<double> lands_off_m;
    std::string lands_at;
    station::PartFigures residual;  ///< rad, rad, m
    station::PartFigures standardised;
    station::PartFigures redundancy;
    int observation = -1;  ///< block of the adjustment
};

struct NetworkPoint {
    std::string name;
    int mark = -1;  ///< into NetworkInput::marks
    bool has_plan = false;
    bool has_height = false;
    Eigen::Vector3d place_m = Eigen::Vector3d::Zero();  ///< site coordinates
    Eigen::Matrix3d covariance = Eigen::Matrix3d::Zero();
    /// Place less the sheet's.
    std::optional<double> off_east_m, off_north_m, off_height_m;
    /// The same from the sights alone, the sheet's own coordinates of this mark left out, with its
    /// covariance (the sheet's included): what tells whether the mark is where the sheet says.
    std::optional<Eigen::Vector2d> seen_off_m;
    Eigen::Matrix2d seen_off_covariance = Eigen::Matrix2d::Zero();
    std::optional<double> seen_off_height_m;
    double seen_off_height_sd_m = 0.0;
    /// All sights put it metres away: the sheet's plan place took no part.
    bool sheet_left_out = false;
    int sights = 0;           ///< used
    std::vector<int> setups;  ///< that sighted it, in order
};

struct NetworkStation {
    std::string name;
    bool is_placed = false;
    station::Pose pose;
    int sights = 0;           ///< used
    int observations = 0;     ///< figures in them
    double statistic = 0.0;   ///< Σ of the weighted squares of its sights
    double redundancy = 0.0;  ///< of its sights
};

struct NetworkLine {  ///< a level or a tape
    int input = -1;
    int from = -1, to = -1;  ///< into points
    bool used = false;
    double residual_m = 0.0, standardised = 0.0, redundancy = 0.0;
    int observation = -1;
};

enum class Group { angles, distances, levels, tapes, instruments, marks };
std::string_view to_word(Group group);

/// How large the errors of one kind of observation were against what was stated: Helmert's
/// σ̂² = vᵀWv / tr R, drawn towards 1 by an inverse-gamma prior worth `kPriorRedundancy` figures.
struct VarianceComponent {
    Group group = Group::angles;
    int observations = 0;
    double redundancy = 0.0;
    double statistic = 0.0;
    double ratio = 1.0;  ///< standard deviation found / stated, with the prior
    double ratio_sd = 0.0;
};
inline constexpr double kPriorRedundancy = 8.0;

namespace internal {
struct NetworkForm;
}

struct SiteNetwork {
    std::vector<NetworkPoint> points;
    std::vector<NetworkStation> setups;  ///< as the input's
    std::vector<NetworkSight> sights;
    std::vector<NetworkLine> levels, tapes;
    adjust::GlobalTest global_test;
    std::vector<VarianceComponent> components;
    std::vector<LoosePart> loose;
    std::vector<std::string> notices;
    bool own_frame = false, own_height = false;
    bool is_solved = false;  ///< false: nothing could be adjusted
    int unknowns = 0, observations = 0, iterations = 0;
    Eigen::Vector3d origin_m = Eigen::Vector3d::Zero();
    /// The linear form at the solution, for what is asked of it afterwards.
    std::shared_ptr<const internal::NetworkForm> form;

    int point_named(const std::string& name) const;
    /// Between two points, east north height each; zero where something is not held.
    Eigen::Matrix3d covariance_between(int first_point, int second_point) const;
};

/// Refuses with no_sights when there is nothing to adjust, not_solvable when the adjustment does
/// not end.
Result<SiteNetwork> adjust_network(const NetworkInput& input);

}  // namespace layproof::network

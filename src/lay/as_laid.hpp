#pragma once
// Where a laid point is, from sights to it, with everything that can be wrong about that.
//
// A set-up reports the pose x0; the true state (pose, and what stays wrong on every sight:
// station/state.hpp) differs by s. A sight puts its target at p, and
//     p − true place = B s + ν,      B = by_state (station/state.hpp),
// ν the error of the sight itself: pointing, distance, rod plumb, centring, tape
// (measure/sight_model.hpp), and the marking of the point by hand, once however often it is
// sighted. So the true deviation from the design is d = p − design − B s − ν, and points of one
// set-up share s: their difference is known better than either.
//
// Repeats are put together by weighted least squares of places, each with the full covariance of
// its own error; sights of one set-up share s and lose none of it. Places from several set-ups are
// weighted by their own error and that of their set-up, its links to others left aside (any weights
// give a valid covariance; these are close to best). Sights that disagree beyond what their
// errors allow (χ², 99.9 %) get their own errors widened by √(statistic/freedom) and are reported.

#include <Eigen/Core>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "measure/instrument.hpp"
#include "measure/sight_model.hpp"
#include "station/lay_prediction.hpp"
#include "station/misfit_model.hpp"
#include "station/pose.hpp"
#include "station/state.hpp"

namespace layproof::lay {

/// A set-up from which points are laid: the pose as reported and what is believed about the state.
struct LaySetup {
    std::string station;
    station::Pose pose;
    measure::Instrument instrument;
    std::vector<station::Belief> beliefs;  ///< weights sum to one; see believing
    double scale_factor = 1.0;             ///< grid distance / ground distance
};

/// A set-up of which nothing is believed wrong.
LaySetup believing_nothing_wrong(std::string station, const station::Pose& pose,
                                 const measure::Instrument& instrument, double scale_factor = 1.0);

/// The share of a set-up's state in a place.
struct SetupShare {
    int setup = -1;  ///< into the list of set-ups
    station::ByState by_state = station::ByState::Zero();
};

/// Where sights put a point. Order east, north, height; site coordinates.
struct LaidPlace {
    std::string name;
    Eigen::Vector3d place_m = Eigen::Vector3d::Zero();
    bool has_height = false;                        ///< else the height and its rows are 0
    std::vector<SetupShare> shares;                 ///< one per set-up
    Eigen::Matrix3d own = Eigen::Matrix3d::Zero();  ///< covariance of ν without the marking
    double marking_m = 0.0;
    station::SightGeometry sight;  ///< of the first sight
    double rod_height_m = 0.0;     ///< of the first sight
    int sights = 1;
    double repeat_statistic = 0.0;  ///< Σ over repeats, χ² with repeat_freedom
    int repeat_freedom = 0;
    bool sights_disagree = false;

    /// Covariance of ν with the marking.
    Eigen::Matrix3d noise() const;
};

/// The place that one sight gives. `setup_index` is the set-up's number in the caller's list.
/// Nothing without a direction and a distance, with a slope distance but no zenith angle, or when a
/// value is not finite. The height needs a station with a height and a zenith angle.
std::optional<LaidPlace> laid_place(std::string name, const LaySetup& setup, int setup_index,
                                    const measure::ReducedSight& sight);

/// Several places of one point put together; `setups` is the list that the shares point into. The
/// name and the geometry are the first one's. Nothing when empty.
std::optional<LaidPlace> put_together(std::span<const LaidPlace> places,
                                      std::span<const LaySetup> setups);

/// The centre of several points: the mean of their places. Their own errors are independent. The
/// height needs the heights of all. Nothing when empty.
std::optional<LaidPlace> centre_of(std::string name, std::span<const LaidPlace> places);

/// Covariance of a set-up's state over all that is believed of it, and its mean.
struct StateMoments {
    station::State mean = station::State::Zero();
    station::StateCovariance covariance = station::StateCovariance::Zero();
};
StateMoments moments_of(const std::vector<station::Belief>& beliefs);

}  // namespace layproof::lay

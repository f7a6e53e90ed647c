#pragma once
// Where a point would land if it were laid from a set-up: the model of the verdict about the work.
//
// The crew turns and measures from the reported pose; the true state (pose, and whatever stays
// wrong on every sight: state.hpp) differs from it by s. A point set out at the wanted readings
// deviates by
//     d = −(∂p/∂state) s + ν,
// ν the error of the laying sight itself: pointing, distance, rod plumb at the rod height in use,
// centring, marking by hand. First order in s (millimetres and arc-seconds).

#include <Eigen/Core>
#include <optional>
#include <string>
#include <vector>

#include "measure/instrument.hpp"
#include "station/pose.hpp"
#include "station/state.hpp"

namespace layproof::station {

/// A place to be laid in site coordinates; without a height only the plan is judged.
struct LayTarget {
    std::string name;
    double east_m = 0.0;
    double north_m = 0.0;
    std::optional<double> height_m;
    double tolerance_plan_m = 0.0;             ///< radius
    std::optional<double> tolerance_height_m;  ///< ±
};

struct LayModel {
    ByState by_state = ByState::Zero();             ///< ∂d/∂state
    Eigen::Matrix3d own = Eigen::Matrix3d::Zero();  ///< covariance of ν
    SightGeometry sight;
    bool has_height = false;  ///< both the station and the point have one
};

/// Model of laying one point with a rod of the given height. A point at the station itself gets the
/// shortest distance of 0.1 m.
LayModel lay_model(const Pose& pose, const LayTarget& target, const measure::Instrument& instrument,
                   double rod_height_m);

/// P(plan deviation within its radius and, where both are given, height within ±) for a deviation
/// with this mean and covariance. In [0, 1].
double probability_within(const LayTarget& target, bool has_height, const Eigen::Vector3d& mean_m,
                          const Eigen::Matrix3d& covariance);

/// One thing that may be true about the state, with its probability: normal about `mean`.
struct Belief {
    double weight = 1.0;
    State mean = State::Zero();
    StateCovariance covariance = StateCovariance::Zero();
};

/// The belief that nothing is wrong: the pose's covariance about zero.
Belief belief_of(const Pose& pose);

enum class Word { proven, in_doubt, fails };
/// "proven", "in doubt", "fails".
std::string_view to_word(Word word);
/// proven: p ≥ confidence; fails: 1 − p ≥ confidence; else in doubt (JCGM 106 in both directions).
Word judge(double probability, double confidence);

struct PointForecast {
    double sd_plan_m = 0.0;  ///< in the weakest plan direction, over all beliefs
    std::optional<double> sd_height_m;
    double probability = 0.0;
    Word word = Word::in_doubt;
};

struct Forecast {
    std::vector<PointForecast> points;  ///< as the targets
    int proven = 0;
    int weakest = -1;  ///< index of the lowest probability
    double lowest = 1.0;
    double highest = 0.0;
    Word word = Word::in_doubt;  ///< proven: every point is; fails: every point fails
};

/// Judges every point by the mixture of the beliefs (weights sum to one).
Forecast forecast(const Pose& pose, const std::vector<LayTarget>& targets,
                  const measure::Instrument& instrument, double rod_height_m,
                  const std::vector<Belief>& beliefs, double confidence);

}  // namespace layproof::station

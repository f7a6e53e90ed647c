#pragma once
// Where everything is, found from the sights alone: start coordinates of a whole job.
//
// Method. Points whose coordinates are given are known. The set-up that sights most known points by
// direction and distance is placed first, by the rigid fit of its polar vectors to them: with three
// or more, from the pair of points whose exact fit leaves the smallest sum of absolute misfits (a
// wrong mark cannot pull it), then by least squares over those that agree. Its sights place new
// points, and so on. A set-up over a known point takes its turn from one direction; one with angles
// alone the closed forms of station/start_values.hpp. Points sighted by directions alone are
// intersected. What is then left is put together in local frames, each grown from one set-up in the
// same way, and laid on the known by a rigid fit over two or more shared points. Heights then
// spread along zenith angles, level differences and instrument heights.
//
// Without any given point the frame is that of the set-up with the most sights: at 0, 0, its circle
// north.
//
// What two known points do not hold is a loose part, told by name. Accuracy: of start values.
// Cost: n log n in the number of sights.

#include <Eigen/Core>
#include <optional>
#include <string>
#include <vector>

#include "measure/sight_model.hpp"

namespace layproof::network {

struct ChainPoint {
    std::string name;
    std::optional<Eigen::Vector2d> plan_m;  ///< given
    std::optional<double> height_m;         ///< given
};

struct ChainSetup {
    std::string name;
    int over_point = -1;  ///< the instrument stands over it
    std::optional<double> instrument_height_m;
};

struct ChainSight {
    int setup = -1;
    int point = -1;
    measure::ReducedSight reduced;
};

struct ChainRise {
    int from = -1;
    int to = -1;
    double rise_m = 0.0;
};

struct ChainInput {
    std::vector<ChainPoint> points;
    std::vector<ChainSetup> setups;
    std::vector<ChainSight> sights;
    std::vector<ChainRise> rises;
    double scale_factor = 1.0;
};

struct ChainPose {
    Eigen::Vector2d plan_m = Eigen::Vector2d::Zero();
    double orientation_rad = 0.0;
};

/// Set-ups and points that hang together but not on what is known.
struct LoosePart {
    std::vector<std::string> setups;
    std::vector<std::string> points;
    std::vector<std::string> held_by;  ///< the known point it turns about, if one
    bool in_height_only = false;       ///< placed in plan
    /// "S7 and P3, P4 hang on nothing." / "S7 and P3 hang on H2 alone and can turn about it."
    std::string says() const;
};

struct Chained {
    std::vector<std::optional<Eigen::Vector2d>> point_plan;
    std::vector<std::optional<double>> point_height;
    std::vector<std::optional<ChainPose>> setup_plan;
    std::vector<std::optional<double>> setup_height;  ///< of the axes
    bool own_frame = false;                           ///< no point was given in plan
    bool own_height = false;                          ///< none was given in height
    std::vector<LoosePart> loose;
};

Chained chain(const ChainInput& input);

/// The rigid motion (no scale) from the pair of points whose exact fit leaves the smallest sum of
/// absolute coordinate misfits over all. At most the twelve points farthest from their middle make
/// pairs; the sum is over all. Nothing with fewer than two places apart.
struct PairFit {
    int first = -1, second = -1;
    double rotation_rad = 0.0;  ///< clockwise
    Eigen::Vector2d origin_m = Eigen::Vector2d::Zero();
    double sum_abs_m = 0.0;
    Eigen::Vector2d place(const Eigen::Vector2d& local_m) const;
};
std::optional<PairFit> best_pair_fit(const std::vector<Eigen::Vector2d>& local_m,
                                     const std::vector<Eigen::Vector2d>& target_m);

}  // namespace layproof::network

#include "station/lay_prediction.hpp"

#include <algorithm>
#include <cmath>

#include "frame/conformity.hpp"
#include "frame/ellipse.hpp"
#include "measure/sight_model.hpp"
#include "station/observations.hpp"

namespace layproof::station {
namespace {

/// Below this correlation between plan and height the joint probability is the product to 1e-3: the
/// difference is at most ½ρ²·2aφ(a)·2bφ(b) to second order, and 2aφ(a) ≤ 0.484.
constexpr double kLittleCorrelation = 0.09;
constexpr double kCertain = 1e-4;

bool height_stands_alone(const Eigen::Matrix3d& c) {
    const double limit = kLittleCorrelation * kLittleCorrelation * c(2, 2);
    return c(0, 2) * c(0, 2) <= limit * c(0, 0) && c(1, 2) * c(1, 2) <= limit * c(1, 1);
}

}  // namespace

LayModel lay_model(const Pose& pose, const LayTarget& target, const measure::Instrument& instrument,
                   double rod_height_m) {
    LayModel out;
    SightGeometry& g = out.sight;
    const Eigen::Vector2d to(target.east_m - pose.position_m.x(),
                             target.north_m - pose.position_m.y());
    g.plan_m = std::max(to.norm(), kNearest_m);
    g.ahead = to.norm() > 0.0 ? Eigen::Vector2d(to / to.norm()) : Eigen::Vector2d(0.0, 1.0);
    g.right << g.ahead.y(), -g.ahead.x();
    out.has_height = pose.has_height && target.height_m.has_value();
    const double rise =
        out.has_height ? *target.height_m + rod_height_m - pose.position_m.z() : 0.0;
    g.slope_m = std::hypot(g.plan_m, rise);
    g.zenith_rad = std::atan2(g.plan_m, rise);
    const double sz = std::sin(g.zenith_rad);
    const double cz = std::cos(g.zenith_rad);
    g.along << g.ahead * sz, cz;
    out.by_state = -by_state(g);

    const Eigen::Matrix3d reading =
        measure::sight_covariance(instrument, g.slope_m, g.zenith_rad, rod_height_m);
    const Eigen::Matrix3d by_reading =
        place_by_reading(g.ahead, g.plan_m, rise, g.slope_m, 1.0, false);
    out.own = by_reading * reading * by_reading.transpose();
    const double marking = instrument.marking_m * instrument.marking_m;
    out.own(0, 0) += marking;
    out.own(1, 1) += marking;
    return out;
}

double probability_within(const LayTarget& target, bool has_height, const Eigen::Vector3d& mean_m,
                          const Eigen::Matrix3d& covariance) {
    const auto plan = [&] {
        return frame::probability_within_circle(mean_m.head<2>(), covariance.topLeftCorner<2, 2>(),
                                                target.tolerance_plan_m);
    };
    if (!has_height || !target.tolerance_height_m) return plan();
    const double height = frame::probability_within(
        mean_m.z(), std::sqrt(std::max(covariance(2, 2), 0.0)), *target.tolerance_height_m);
    // With the height as good as certain the joint probability is that of the plan, whatever the
    // correlation.
    if (1.0 - height < kCertain || height_stands_alone(covariance)) return plan() * height;
    return frame::probability_within_circle_and_height(mean_m, covariance, target.tolerance_plan_m,
                                                       *target.tolerance_height_m);
}

Belief belief_of(const Pose& pose) {
    // Public pose order is east, north, height, orientation.
    constexpr int kFrom[4] = {0, 1, 3, 2};
    Belief out;
    for (int i = 0; i < 4; ++i)
        for (int j = 0; j < 4; ++j) out.covariance(i, j) = pose.covariance(kFrom[i], kFrom[j]);
    return out;
}

std::string_view to_word(Word word) {
    switch (word) {
        case Word::proven:
            return "proven";
        case Word::in_doubt:
            return "in doubt";
        case Word::fails:
            return "fails";
    }
    return "in doubt";
}

Word judge(double probability, double confidence) {
    if (probability >= confidence) return Word::proven;
    if (1.0 - probability >= confidence) return Word::fails;
    return Word::in_doubt;
}

Forecast forecast(const Pose& pose, const std::vector<LayTarget>& targets,
                  const measure::Instrument& instrument, double rod_height_m,
                  const std::vector<Belief>& beliefs, double confidence) {
    Forecast out;
    out.points.reserve(targets.size());
    bool all_fail = !targets.empty();
    for (std::size_t i = 0; i < targets.size(); ++i) {
        const LayModel model = lay_model(pose, targets[i], instrument, rod_height_m);
        PointForecast point;
        Eigen::Vector3d mean = Eigen::Vector3d::Zero();
        Eigen::Matrix3d square = Eigen::Matrix3d::Zero();
        for (const Belief& belief : beliefs) {
            const Eigen::Vector3d shift = model.by_state.lazyProduct(belief.mean);
            // Written out: the general product of matrices this small costs more than the rest.
            const ByState spread = model.by_state.lazyProduct(belief.covariance);
            const Eigen::Matrix3d covariance =
                spread.lazyProduct(model.by_state.transpose()) + model.own;
            point.probability +=
                belief.weight * probability_within(targets[i], model.has_height, shift, covariance);
            mean += belief.weight * shift;
            square += belief.weight * (covariance + shift * shift.transpose());
        }
        point.probability = std::clamp(point.probability, 0.0, 1.0);
        const Eigen::Matrix3d total = square - mean * mean.transpose();
        point.sd_plan_m = frame::error_ellipse(total.topLeftCorner<2, 2>()).semi_major_m;
        if (model.has_height) point.sd_height_m = std::sqrt(std::max(total(2, 2), 0.0));
        point.word = judge(point.probability, confidence);
        out.proven += point.word == Word::proven ? 1 : 0;
        all_fail = all_fail && point.word == Word::fails;
        if (out.weakest < 0 || point.probability < out.lowest) {
            out.weakest = static_cast<int>(i);
            out.lowest = point.probability;
        }
        out.highest = std::max(out.highest, point.probability);
        out.points.push_back(point);
    }
    if (targets.empty()) {
        out.lowest = 0.0;
        return out;
    }
    out.word = out.proven == static_cast<int>(targets.size()) ? Word::proven
               : all_fail                                     ? Word::fails
                                                              : Word::in_doubt;
    return out;
}

}  // namespace layproof::station

#include "lay/verdict.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "adjust/tests.hpp"
#include "frame/conformity.hpp"
#include "frame/ellipse.hpp"

namespace layproof::lay {
namespace {

using station::Word;

constexpr double kLargestConfidence = 1.0 - 1e-12;
constexpr int kMostSteps = 60;
constexpr double kReach_m = 1e-7;
/// Below this correlation between plan and height the joint probability is the product to 1e-4.
constexpr double kLittleCorrelation = 0.05;

/// In both directions what was left out counts against the claim.
Word judge(double probability, double left_out, double confidence) {
    const Word word = station::judge(probability, confidence);
    if (word != Word::fails) return word;
    return station::judge(std::min(1.0, probability + left_out), confidence);
}

/// Largest value in [0, high] at which the falling `excess` is not negative, within kReach_m and on
/// the side where it is not; it is not negative at 0. False position with halved ends (Illinois).
template <class Excess>
double last_proven(double high, Excess excess) {
    double low = 0.0;
    double at_low = excess(low);
    double at_high = excess(high);
    if (at_high >= 0.0) return high;
    int side = 0;
    for (int i = 0; i < kMostSteps && high - low > kReach_m; ++i) {
        double x = (low * at_high - high * at_low) / (at_high - at_low);
        // Near an end the other one would never move: step inwards by a part of what is wanted.
        x = std::clamp(x, low + 0.3 * kReach_m, high - 0.3 * kReach_m);
        const double value = excess(x);
        if (value >= 0.0) {
            low = x;
            at_low = value;
            if (side == 1) at_high *= 0.5;
            side = 1;
        } else {
            high = x;
            at_high = value;
            if (side == -1) at_low *= 0.5;
            side = -1;
        }
    }
    return low;
}

bool height_stands_alone(const FigureCovariance& c) {
    const double limit = kLittleCorrelation * kLittleCorrelation * c(2, 2);
    return c(0, 2) * c(0, 2) <= limit * c(0, 0) && c(1, 2) * c(1, 2) <= limit * c(1, 1);
}

double plan_probability(const Component& c, double radius_m) {
    return frame::probability_within_circle(c.mean.head<2>(), c.covariance.topLeftCorner<2, 2>(),
                                            radius_m);
}

double height_probability(const Component& c, const Limits& limits) {
    return probability_within(c.mean(2), std::sqrt(std::max(c.covariance(2, 2), 0.0)), limits);
}

/// An absent side is moved so far out that it cannot bind.
struct Band {
    double middle = 0.0;
    double half = 0.0;
};
Band band_of(const Limits& limits, double mean_m, double sd_m) {
    const double far = 1.0 + 2.0 * std::abs(mean_m) + 100.0 * sd_m +
                       2.0 * std::max(limits.minus_m.value_or(0.0), limits.plus_m.value_or(0.0));
    const double low = limits.minus_m ? -*limits.minus_m : -far;
    const double high = limits.plus_m ? *limits.plus_m : far;
    return {0.5 * (low + high), 0.5 * (high - low)};
}

double joint_probability(const Component& c, double radius_m, const Limits& limits) {
    const Band band = band_of(limits, c.mean(2), std::sqrt(c.covariance(2, 2)));
    Eigen::Vector3d mean = c.mean;
    mean.z() -= band.middle;
    return frame::probability_within_circle_and_height(mean, c.covariance, radius_m, band.half);
}

std::optional<double> accepted_radius(const PointVerdict& v, double radius_m) {
    const Eigen::Matrix2d c = v.covariance.topLeftCorner<2, 2>();
    Eigen::Vector2d direction = v.deviation_m.head<2>();
    if (direction.norm() > 0.0) {
        direction.normalize();
    } else {
        const double azimuth = frame::error_ellipse(c).azimuth_rad;
        direction << std::sin(azimuth), std::cos(azimuth);
    }
    const auto excess = [&](double off) {
        return frame::probability_within_circle(off * direction, c, radius_m) - v.confidence;
    };
    if (!(excess(0.0) >= 0.0)) return std::nullopt;
    return last_proven(radius_m, excess);
}

struct LimitChances {
    double both = 0.0;
    std::optional<double> plan, height;
};

LimitChances chances_of(std::span<const Component> components, const PointTolerance& tolerance,
                        bool has_height) {
    LimitChances out;
    const bool plan = tolerance.plan_m.has_value();
    const bool height = tolerance.has_height() && has_height;
    double p_plan = 0.0;
    double p_height = 0.0;
    for (const Component& c : components) {
        const double in_plan = plan ? plan_probability(c, *tolerance.plan_m) : 0.0;
        const double in_height = height ? height_probability(c, tolerance.height) : 0.0;
        p_plan += c.weight * in_plan;
        p_height += c.weight * in_height;
        if (!plan || !height) continue;
        out.both += c.weight * (height_stands_alone(c.covariance)
                                    ? in_plan * in_height
                                    : joint_probability(c, *tolerance.plan_m, tolerance.height));
    }
    if (plan) out.plan = std::clamp(p_plan, 0.0, 1.0);
    if (height) out.height = std::clamp(p_height, 0.0, 1.0);
    if (!(plan && height)) out.both = plan ? p_plan : p_height;
    out.both = std::clamp(out.both, 0.0, 1.0);
    return out;
}

void judge_limits(PointVerdict& v, const Mixture& mixture) {
    const LimitChances chances = chances_of(mixture.components, v.tolerance, v.has_height);
    const bool plan = chances.plan.has_value();
    const bool height = chances.height.has_value();
    if (!plan && !height) return;
    v.is_judged = true;
    v.probability = chances.both;
    v.probability_plan = chances.plan;
    v.probability_height = chances.height;
    v.word = judge(v.probability, mixture.left_out, v.confidence);
    if (plan) v.accepted_plan_m = accepted_radius(v, *v.tolerance.plan_m);
    if (height) {
        v.accepted_height =
            acceptance_interval(v.sd_height_m.value_or(0.0), v.tolerance.height, v.confidence);
    }
}

}  // namespace

double probability_within(double mean_m, double sd_m, const Limits& limits) {
    if (!std::isfinite(mean_m) || !std::isfinite(sd_m)) return 0.0;
    if (!limits.minus_m && !limits.plus_m) return 1.0;
    const Band band = band_of(limits, mean_m, std::max(sd_m, 0.0));
    return frame::probability_within(mean_m - band.middle, sd_m, band.half);
}

std::optional<AcceptanceInterval> acceptance_interval(double sd_m, const Limits& limits,
                                                      double confidence) {
    if (!std::isfinite(sd_m) || !(confidence > 0.0)) return std::nullopt;
    const double z = adjust::normal_quantile(std::min(confidence, kLargestConfidence));
    if (!limits.minus_m && !limits.plus_m) return AcceptanceInterval{};
    if (!limits.minus_m) return AcceptanceInterval{std::nullopt, *limits.plus_m - z * sd_m};
    if (!limits.plus_m) return AcceptanceInterval{z * sd_m - *limits.minus_m, std::nullopt};
    const double middle = 0.5 * (*limits.plus_m - *limits.minus_m);
    const double half = 0.5 * (*limits.plus_m + *limits.minus_m);
    const auto excess = [&](double off) {
        return frame::probability_within(off, sd_m, half) - confidence;
    };
    if (!(excess(0.0) >= 0.0)) return std::nullopt;
    const double reach = last_proven(half + std::abs(z) * sd_m, excess);
    return AcceptanceInterval{middle - reach, middle + reach};
}

FigureVerdict judge_figure(const Quantity& deviation, const SetupSet& setups, const Limits& limits,
                           double confidence) {
    FigureVerdict out;
    out.limits = limits;
    out.confidence = confidence;
    if (deviation.value.size() < 1 || !deviation.value.allFinite()) return out;
    out.deviation_m = deviation.value(0);
    const Mixture mixture = mixture_of(deviation, setups);
    out.is_widened = mixture.is_widened;
    if (mixture.components.empty()) return out;
    out.expected_m = mixture.mean()(0);
    out.sd_m = std::sqrt(std::max(mixture.covariance()(0, 0), 0.0));
    for (const Component& c : mixture.components) {
        out.probability +=
            c.weight * probability_within(c.mean(0), std::sqrt(c.covariance(0, 0)), limits);
    }
    out.probability = std::clamp(out.probability, 0.0, 1.0);
    out.word = judge(out.probability, mixture.left_out, confidence);
    out.accepted = acceptance_interval(out.sd_m, limits, confidence);
    return out;
}

PlaceChance chance_of(const LaidPlace& place, const frame::DesignPoint& design,
                      const PointTolerance& tolerance) {
    PlaceChance out;
    const bool has_height = place.has_height && design.height_m.has_value();
    out.deviation_m << place.place_m.x() - design.east_m, place.place_m.y() - design.north_m,
        has_height ? place.place_m.z() - *design.height_m : 0.0;
    if (!out.deviation_m.allFinite()) {
        out.deviation_m.setZero();
        return out;
    }
    const Eigen::Index size = has_height ? 3 : 2;
    Component component{1.0, out.deviation_m.head(size), place.noise().topLeftCorner(size, size)};
    for (Eigen::Index i = 0; i < size; ++i)
        component.covariance(i, i) = std::max(component.covariance(i, i), 0.0);
    out.covariance.topLeftCorner(size, size) = component.covariance;
    const LimitChances chances = chances_of({&component, 1}, tolerance, has_height);
    out.probability = chances.both;
    out.plan = chances.plan;
    out.height = chances.height;
    return out;
}

PointVerdict judge_point(const LaidPlace& laid, const frame::DesignPoint& design,
                         const PointTolerance& tolerance, const SetupSet& setups,
                         double confidence) {
    PointVerdict v;
    v.tolerance = tolerance;
    v.confidence = confidence;
    v.has_height = laid.has_height && design.height_m.has_value();
    v.height_is_open = tolerance.has_height() && design.height_m.has_value() && !laid.has_height;
    v.deviation_m << laid.place_m.x() - design.east_m, laid.place_m.y() - design.north_m,
        v.has_height ? laid.place_m.z() - *design.height_m : 0.0;
    if (!v.deviation_m.allFinite()) {
        v.deviation_m.setZero();
        return v;
    }
    v.along_m = laid.sight.ahead.dot(v.deviation_m.head<2>());
    v.across_m = laid.sight.right.dot(v.deviation_m.head<2>());

    const Eigen::Index size = v.has_height ? 3 : 2;
    const std::array<PlaceTerm, 1> term{PlaceTerm{&laid, FiguresByPlace::Identity(size, 3)}};
    const Quantity quantity = quantity_of(v.deviation_m.head(size), term);
    const Mixture mixture = mixture_of(quantity, setups);
    v.is_widened = mixture.is_widened;
    if (mixture.components.empty()) return v;
    v.expected_m.head(size) = mixture.mean();
    v.covariance.topLeftCorner(size, size) = mixture.covariance();
    v.sd_plan_m = frame::error_ellipse(v.covariance.topLeftCorner<2, 2>()).semi_major_m;
    if (v.has_height) v.sd_height_m = std::sqrt(std::max(v.covariance(2, 2), 0.0));
    const double total = v.covariance(0, 0) + v.covariance(1, 1);
    const double own = quantity.own(0, 0) + quantity.own(1, 1);
    if (total > 0.0) v.station_share = std::clamp(1.0 - own / total, 0.0, 1.0);
    judge_limits(v, mixture);
    if (v.height_is_open && v.word == Word::proven) v.word = Word::in_doubt;
    return v;
}

}  // namespace layproof::lay

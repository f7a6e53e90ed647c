#include "lay/as_laid.hpp"

#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <cstddef>
#include <utility>

#include "adjust/tests.hpp"
#include "measure/reduction.hpp"
#include "station/observations.hpp"

namespace layproof::lay {
namespace {

using station::ByState;

constexpr double kShortest_m = 1e-3;
constexpr double kDisagree = 0.999;
/// A covariance with a smaller ratio of pivots cannot be told from a singular one.
constexpr double kSmallestPivot = 1e-12;

/// Inverse of the plan or plan-and-height block, zero elsewhere.
std::optional<Eigen::Matrix3d> inverse_of(const Eigen::Matrix3d& covariance, bool with_height) {
    Eigen::Matrix3d full = covariance;
    if (!with_height) {
        full.row(2).setZero();
        full.col(2).setZero();
        full(2, 2) = std::max(covariance(0, 0), covariance(1, 1));
    }
    const double scale = full.trace();
    if (!(scale > 0.0) || !std::isfinite(scale)) return std::nullopt;
    const Eigen::LDLT<Eigen::Matrix3d> factor(full);
    if (factor.info() != Eigen::Success ||
        !(factor.vectorD().minCoeff() > kSmallestPivot * factor.vectorD().maxCoeff())) {
        return std::nullopt;
    }
    Eigen::Matrix3d inverse = factor.solve(Eigen::Matrix3d::Identity());
    inverse = (0.5 * (inverse + inverse.transpose())).eval();
    if (!with_height) inverse(2, 2) = 0.0;
    return inverse;
}

void add_share(std::vector<SetupShare>& shares, int setup, const ByState& by_state) {
    for (SetupShare& share : shares) {
        if (share.setup != setup) continue;
        share.by_state += by_state;
        return;
    }
    shares.push_back({setup, by_state});
}

/// Σ A_i p_i with A_i = (Σ W)⁻¹ W_i, and what it does to the covariances. The sums run about the
/// first place.
LaidPlace weighted_mean(std::span<const LaidPlace> places,
                        const std::vector<Eigen::Matrix3d>& covariances) {
    LaidPlace out = places.front();
    out.has_height = false;
    for (const LaidPlace& place : places) out.has_height = out.has_height || place.has_height;
    std::vector<Eigen::Matrix3d> weights;
    Eigen::Matrix3d total = Eigen::Matrix3d::Zero();
    for (std::size_t i = 0; i < places.size(); ++i) {
        const auto weight = inverse_of(covariances[i], places[i].has_height);
        if (!weight) {
            weights.clear();
            break;
        }
        weights.push_back(*weight);
        total += *weight;
    }
    if (weights.empty()) {  // an instrument without errors: plain mean
        total.setZero();
        for (const LaidPlace& place : places) {
            weights.emplace_back(
                Eigen::Vector3d(1.0, 1.0, place.has_height ? 1.0 : 0.0).asDiagonal());
            total += weights.back();
        }
    }
    if (!out.has_height) total(2, 2) = 1.0;
    const Eigen::Matrix3d inverse = total.inverse();

    const Eigen::Vector3d origin = out.place_m;
    Eigen::Vector3d shift = Eigen::Vector3d::Zero();
    out.own.setZero();
    out.shares.clear();
    out.sights = 0;
    out.repeat_statistic = 0.0;
    out.repeat_freedom = 0;
    out.marking_m = 0.0;
    out.sights_disagree = false;
    for (std::size_t i = 0; i < places.size(); ++i) {
        const LaidPlace& place = places[i];
        const Eigen::Matrix3d a = inverse * weights[i];
        Eigen::Vector3d from = place.place_m - origin;
        if (!place.has_height || !out.has_height) from.z() = 0.0;
        shift += a * from;
        out.own += a * place.own * a.transpose();
        for (const SetupShare& share : place.shares)
            add_share(out.shares, share.setup, a * share.by_state);
        out.sights += place.sights;
        out.repeat_statistic += place.repeat_statistic;
        out.repeat_freedom += place.repeat_freedom;
        out.marking_m = std::max(out.marking_m, place.marking_m);
        out.sights_disagree = out.sights_disagree || place.sights_disagree;
    }
    // When the first place had no height, its 0 was the origin and the shift is the height itself.
    out.place_m = origin + shift;
    if (!out.has_height) out.place_m.z() = 0.0;

    int components = 0;
    double statistic = 0.0;
    for (std::size_t i = 0; i < places.size(); ++i) {
        Eigen::Vector3d misfit = places[i].place_m - out.place_m;
        if (!places[i].has_height) misfit.z() = 0.0;
        statistic += misfit.dot(weights[i] * misfit);
        components += places[i].has_height ? 3 : 2;
    }
    const int freedom = components - (out.has_height ? 3 : 2);
    out.repeat_statistic += statistic;
    out.repeat_freedom += freedom;
    if (freedom > 0 && statistic > adjust::chi_square_quantile(kDisagree, freedom)) {
        out.sights_disagree = true;
        out.own *= statistic / freedom;
    }
    return out;
}

std::vector<LaidPlace> per_setup(std::span<const LaidPlace> places) {
    std::vector<LaidPlace> out;
    std::vector<bool> taken(places.size(), false);
    for (std::size_t i = 0; i < places.size(); ++i) {
        if (taken[i]) continue;
        std::vector<LaidPlace> same;
        for (std::size_t j = i; j < places.size(); ++j) {
            const bool alone = places[i].shares.size() == 1 && places[j].shares.size() == 1;
            if (j != i && (taken[j] || !alone ||
                           places[j].shares.front().setup != places[i].shares.front().setup)) {
                continue;
            }
            taken[j] = true;
            same.push_back(places[j]);
        }
        std::vector<Eigen::Matrix3d> own;
        own.reserve(same.size());
        for (const LaidPlace& place : same) own.push_back(place.own);
        out.push_back(same.size() == 1 ? same.front() : weighted_mean(same, own));
    }
    return out;
}

}  // namespace

Eigen::Matrix3d LaidPlace::noise() const {
    Eigen::Matrix3d out = own;
    out(0, 0) += marking_m * marking_m;
    out(1, 1) += marking_m * marking_m;
    return out;
}

LaySetup believing_nothing_wrong(std::string station, const station::Pose& pose,
                                 const measure::Instrument& instrument, double scale_factor) {
    return {std::move(station), pose, instrument, {station::belief_of(pose)}, scale_factor};
}

std::optional<LaidPlace> laid_place(std::string name, const LaySetup& setup, int setup_index,
                                    const measure::ReducedSight& sight) {
    const bool level = sight.distance_is_horizontal;
    if (!sight.has_direction || !sight.has_distance || (!level && !sight.has_zenith)) {
        return std::nullopt;
    }
    if (!std::isfinite(sight.direction_rad) || !std::isfinite(sight.zenith_rad) ||
        !std::isfinite(sight.distance_m) || !std::isfinite(sight.target_height_m) ||
        !sight.covariance.allFinite() || !setup.pose.position_m.allFinite() ||
        !std::isfinite(setup.pose.orientation_rad) || !std::isfinite(setup.scale_factor)) {
        return std::nullopt;
    }
    LaidPlace out;
    out.name = std::move(name);
    out.rod_height_m = sight.target_height_m;
    out.has_height = setup.pose.has_height && !level;
    out.marking_m = setup.instrument.marking_m;

    const double zenith = level ? measure::kPi / 2.0 : sight.zenith_rad;
    const double sz = std::sin(zenith);
    const double cz = std::cos(zenith);
    const double azimuth = sight.direction_rad + setup.pose.orientation_rad;
    const double ground = std::max(sight.distance_m * sz, kShortest_m);
    station::SightGeometry& g = out.sight;
    g.ahead << std::sin(azimuth), std::cos(azimuth);
    g.right << g.ahead.y(), -g.ahead.x();
    g.along << g.ahead * sz, cz;
    g.plan_m = ground * setup.scale_factor;
    g.slope_m = sight.distance_m;
    g.zenith_rad = zenith;

    out.place_m.head<2>() = setup.pose.position_m.head<2>() + g.plan_m * g.ahead;
    if (out.has_height) {
        out.place_m.z() = setup.pose.position_m.z() + sight.distance_m * cz +
                          measure::curvature_refraction_m(ground, setup.instrument.refraction_k) -
                          sight.target_height_m;
    }

    const Eigen::Matrix3d by_reading = station::place_by_reading(
        g.ahead, ground, sight.distance_m * cz, sight.distance_m, setup.scale_factor, level);
    out.own = by_reading * sight.covariance * by_reading.transpose();
    ByState by_state = station::by_state(g);
    if (!out.has_height) {
        out.own.row(2).setZero();
        out.own.col(2).setZero();
        by_state.row(2).setZero();
    }
    out.shares.push_back({setup_index, by_state});
    return out;
}

StateMoments moments_of(const std::vector<station::Belief>& beliefs) {
    StateMoments out;
    double total = 0.0;
    for (const station::Belief& b : beliefs) {
        out.mean += b.weight * b.mean;
        out.covariance += b.weight * (b.covariance + b.mean * b.mean.transpose());
        total += b.weight;
    }
    if (total > 0.0) {
        out.mean /= total;
        out.covariance /= total;
    }
    out.covariance -= out.mean * out.mean.transpose();
    return out;
}

std::optional<LaidPlace> put_together(std::span<const LaidPlace> places,
                                      std::span<const LaySetup> setups) {
    if (places.empty()) return std::nullopt;
    const std::vector<LaidPlace> single = per_setup(places);
    if (single.size() == 1) return single.front();
    std::vector<Eigen::Matrix3d> covariances;
    covariances.reserve(single.size());
    for (const LaidPlace& place : single) {
        Eigen::Matrix3d c = place.own;
        for (const SetupShare& share : place.shares) {
            if (share.setup < 0 || share.setup >= static_cast<int>(setups.size())) continue;
            const auto& beliefs = setups[static_cast<std::size_t>(share.setup)].beliefs;
            c += share.by_state * moments_of(beliefs).covariance * share.by_state.transpose();
        }
        covariances.push_back(c);
    }
    return weighted_mean(single, covariances);
}

std::optional<LaidPlace> centre_of(std::string name, std::span<const LaidPlace> places) {
    if (places.empty()) return std::nullopt;
    LaidPlace out = places.front();
    out.name = std::move(name);
    out.own.setZero();
    out.shares.clear();
    out.marking_m = 0.0;
    out.sights = 0;
    const double share_of_one = 1.0 / static_cast<double>(places.size());
    Eigen::Vector3d shift = Eigen::Vector3d::Zero();
    for (const LaidPlace& place : places) {
        out.has_height = out.has_height && place.has_height;
        shift += share_of_one * (place.place_m - places.front().place_m);
        // Each point is marked once, so the markings are part of what averages out.
        out.own += share_of_one * share_of_one * place.noise();
        for (const SetupShare& share : place.shares)
            add_share(out.shares, share.setup, share_of_one * share.by_state);
        out.sights += place.sights;
        out.sights_disagree = out.sights_disagree || place.sights_disagree;
    }
    out.place_m = places.front().place_m + shift;
    if (!out.has_height) {
        out.place_m.z() = 0.0;
        out.own.row(2).setZero();
        out.own.col(2).setZero();
        for (SetupShare& share : out.shares) share.by_state.row(2).setZero();
    }
    return out;
}

}  // namespace layproof::lay

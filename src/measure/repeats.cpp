#include "measure/repeats.hpp"

#include <Eigen/Cholesky>
#include <array>
#include <cmath>
#include <cstddef>

#include "measure/angle.hpp"

namespace layproof::measure {
namespace {

using Parts = std::array<bool, 3>;

Parts parts_of(const ReducedSight& sight) {
    return {sight.has_direction, sight.has_zenith, sight.has_distance};
}

/// `matrix` with the rows and columns outside `parts` set to zero.
Eigen::Matrix3d only_parts(const Eigen::Matrix3d& matrix, const Parts& parts) {
    Eigen::Matrix3d kept = Eigen::Matrix3d::Zero();
    for (int i = 0; i < 3; ++i) {
        for (int j = 0; j < 3; ++j) {
            if (parts[static_cast<std::size_t>(i)] && parts[static_cast<std::size_t>(j)]) {
                kept(i, j) = matrix(i, j);
            }
        }
    }
    return kept;
}

/// The inverse of the block of `parts`, zero elsewhere. Scaled to unit diagonal first, since rad²
/// and m² differ by orders of magnitude.
std::optional<Eigen::Matrix3d> inverse_of_parts(const Eigen::Matrix3d& matrix, const Parts& parts) {
    constexpr double kSmallestPivot = 1e-12;
    Eigen::Vector3d scale = Eigen::Vector3d::Zero();
    Eigen::Vector3d unused = Eigen::Vector3d::Ones();
    for (int i = 0; i < 3; ++i) {
        if (!parts[static_cast<std::size_t>(i)]) continue;
        if (!(matrix(i, i) > 0.0)) return std::nullopt;
        scale(i) = 1.0 / std::sqrt(matrix(i, i));
        unused(i) = 0.0;
    }
    Eigen::Matrix3d scaled = scale.asDiagonal() * only_parts(matrix, parts) * scale.asDiagonal();
    scaled += Eigen::Matrix3d(unused.asDiagonal());
    const Eigen::LDLT<Eigen::Matrix3d> factor(scaled);
    if (factor.info() != Eigen::Success || !(factor.vectorD().minCoeff() > kSmallestPivot)) {
        return std::nullopt;
    }
    const Eigen::Matrix3d inverse = factor.solve(Eigen::Matrix3d::Identity());
    const Eigen::Matrix3d result = scale.asDiagonal() * inverse * scale.asDiagonal();
    return Eigen::Matrix3d((result + result.transpose()) / 2.0);
}

/// The union of the sights' parts and the sums that go with them; nothing when they do not belong
/// together.
std::optional<ReducedSight> common_frame(std::span<const ReducedSight> sights) {
    if (sights.empty()) return std::nullopt;
    ReducedSight common;
    common.target_height_m = sights.front().target_height_m;
    common.pointings = 0;
    common.rounds = 0;
    common.face_balance = 0.0;
    for (const auto& sight : sights) {
        if (!(std::abs(sight.target_height_m - common.target_height_m) <= kSameTargetHeight_m)) {
            return std::nullopt;
        }
        if (!std::isfinite(sight.direction_rad) || !std::isfinite(sight.zenith_rad) ||
            !std::isfinite(sight.distance_m) || !sight.covariance.allFinite()) {
            return std::nullopt;
        }
        if (sight.has_distance) {
            if (common.has_distance &&
                sight.distance_is_horizontal != common.distance_is_horizontal) {
                return std::nullopt;
            }
            common.distance_is_horizontal = sight.distance_is_horizontal;
        }
        common.has_direction = common.has_direction || sight.has_direction;
        common.has_zenith = common.has_zenith || sight.has_zenith;
        common.has_distance = common.has_distance || sight.has_distance;
        common.face_balance += sight.face_balance * sight.pointings;
        common.pointings += sight.pointings;
        common.rounds += sight.rounds;
    }
    if (common.pointings > 0) common.face_balance /= common.pointings;
    return common;
}

/// The first observed value of each part.
Eigen::Vector3d reference_of(std::span<const ReducedSight> sights) {
    Eigen::Vector3d reference = Eigen::Vector3d::Zero();
    for (auto sight = sights.rbegin(); sight != sights.rend(); ++sight) {
        if (sight->has_direction) reference(0) = sight->direction_rad;
        if (sight->has_zenith) reference(1) = sight->zenith_rad;
        if (sight->has_distance) reference(2) = sight->distance_m;
    }
    return reference;
}

/// Observed values less the reference; 0 where not observed.
Eigen::Vector3d difference(const ReducedSight& sight, const Eigen::Vector3d& reference) {
    return {sight.has_direction ? wrap_pi(sight.direction_rad - reference(0)) : 0.0,
            sight.has_zenith ? sight.zenith_rad - reference(1) : 0.0,
            sight.has_distance ? sight.distance_m - reference(2) : 0.0};
}

struct Mean {
    Eigen::Vector3d shift;  ///< from the reference
    Eigen::Matrix3d covariance;
};

std::optional<Mean> weighted_mean(std::span<const ReducedSight> sights,
                                  const Eigen::Vector3d& reference, const Parts& parts) {
    Eigen::Matrix3d information = Eigen::Matrix3d::Zero();
    Eigen::Vector3d weighted = Eigen::Vector3d::Zero();
    for (const auto& sight : sights) {
        const auto weight = inverse_of_parts(sight.covariance, parts_of(sight));
        if (!weight) return std::nullopt;
        information += *weight;
        weighted += *weight * difference(sight, reference);
    }
    const auto covariance = inverse_of_parts(information, parts);
    if (!covariance) return std::nullopt;
    return Mean{*covariance * weighted, *covariance};
}

Mean plain_mean(std::span<const ReducedSight> sights, const Eigen::Vector3d& reference) {
    Eigen::Vector3d count = Eigen::Vector3d::Zero();
    Mean mean{Eigen::Vector3d::Zero(), Eigen::Matrix3d::Zero()};
    for (const auto& sight : sights) {
        count += Eigen::Vector3d(int{sight.has_direction}, int{sight.has_zenith},
                                 int{sight.has_distance});
        mean.shift += difference(sight, reference);
        mean.covariance += only_parts(sight.covariance, parts_of(sight));
    }
    const Eigen::Vector3d share = count.cwiseMax(1.0).cwiseInverse();
    mean.shift = mean.shift.cwiseProduct(share);
    mean.covariance = Eigen::Matrix3d(share.asDiagonal() * mean.covariance * share.asDiagonal());
    return mean;
}

}  // namespace

std::optional<ReducedSight> mean_of_repeats(std::span<const ReducedSight> sights) {
    auto result = common_frame(sights);
    if (!result) return std::nullopt;
    const Parts parts = parts_of(*result);
    const Eigen::Vector3d reference = reference_of(sights);
    const auto weighted = weighted_mean(sights, reference, parts);
    const Mean mean = weighted ? *weighted : plain_mean(sights, reference);

    if (parts[0]) result->direction_rad = wrap_0_2pi(reference(0) + mean.shift(0));
    if (parts[1]) result->zenith_rad = reference(1) + mean.shift(1);
    if (parts[2]) result->distance_m = reference(2) + mean.shift(2);
    result->covariance = mean.covariance;
    for (int i = 0; i < 3; ++i) {
        if (!parts[static_cast<std::size_t>(i)]) {
            result->covariance(i, i) = sights.front().covariance(i, i);
        }
    }
    return result;
}

}  // namespace layproof::measure

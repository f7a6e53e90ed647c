#pragma once
// The observation functions of a set-up, as adjust::ObservationFunction. Blocks: pose
// (east, north, orientation[, height]) and mark (east, north[, height]).

#include <array>
#include <span>

#include "adjust/problem.hpp"
#include "measure/sight_model.hpp"

namespace layproof::station::internal {

/// A held coordinate inside a mark of which other coordinates are weighted.
inline constexpr double kHeldSd_m = 1e-6;

/// Residual and partial derivatives by the target's place of each part of a sight that is present
/// (0 direction, 1 zenith, 2 distance); the station's are their negatives, that of the direction by
/// the orientation is −1.
struct SightPartials {
    std::array<double, 3> residual{};
    std::array<std::array<double, 3>, 3> by_target{};
};

/// `to_m`: mark less station, without target height. bend = (1 − k)/(2R).
SightPartials sight_partials(const measure::ReducedSight& sight, double scale_factor, double bend,
                             bool has_height, const Eigen::Vector3d& to_m, double orientation_rad);

/// Direction, zenith, distance (those present, in this order) of one sight.
///   d = plan distance / scale, v = ΔH + target height − (1−k) d²/(2R)
///   direction = azimuth − orientation, zenith = atan2(d, v), slope = √(d² + v²), horizontal = d
class SightFunction final : public adjust::ObservationFunction {
public:
    SightFunction(const measure::ReducedSight& sight, double scale_factor, double refraction_k,
                  bool has_height)
        : sight_(sight),
          scale_(scale_factor),
          bend_((1.0 - refraction_k) / (2.0 * measure::kEarthRadius_m)),
          has_height_(has_height) {}

    void evaluate(std::span<const double* const> blocks, double* residual,
                  double* const* jacobians) const override;

private:
    measure::ReducedSight sight_;
    double scale_;
    double bend_;
    bool has_height_;
};

/// Instrument over a mark: pose − mark (east, north[, height − instrument height]) is observed as
/// 0.
class OverMarkFunction final : public adjust::ObservationFunction {
public:
    /// pose_size is 4 with a height, 3 without; the mark block is one smaller.
    OverMarkFunction(double instrument_height_m, bool with_height, int pose_size)
        : instrument_height_m_(instrument_height_m),
          with_height_(with_height),
          pose_size_(pose_size) {}

    void evaluate(std::span<const double* const> blocks, double* residual,
                  double* const* jacobians) const override;

private:
    double instrument_height_m_;
    bool with_height_;
    int pose_size_;
};

/// Some components of a mark's coordinates as the sheet gives them.
class GivenFunction final : public adjust::ObservationFunction {
public:
    GivenFunction(std::span<const double> given, std::span<const int> components, int block_size);

    void evaluate(std::span<const double* const> blocks, double* residual,
                  double* const* jacobians) const override;

private:
    std::array<double, 3> given_{};
    std::array<int, 3> components_{};
    int count_;
    int block_size_;
};

}  // namespace layproof::station::internal

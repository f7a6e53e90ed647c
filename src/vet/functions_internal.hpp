#pragma once
// What is observed about marks, as adjust::ObservationFunction. Plan blocks are (east, north),
// height blocks one number, pose blocks (east, north, orientation) and one number for the height of
// the axes.

#include <Eigen/Core>
#include <span>

#include "adjust/problem.hpp"
#include "measure/sight_model.hpp"

namespace layproof::vet::internal {

/// residual = first − second − value, of `size` numbers each.
class DifferenceFunction final : public adjust::ObservationFunction {
public:
    DifferenceFunction(const Eigen::VectorXd& value, int size) : value_(value), size_(size) {}
    /// The first block may be longer than `size` (a pose).
    void set_first_block_size(int size) { first_size_ = size; }
    void evaluate(std::span<const double* const> blocks, double* residual,
                  double* const* jacobians) const override;

private:
    Eigen::VectorXd value_;
    int size_;
    int first_size_ = 0;
};

/// A list's entry: T(N) − value, T turning by blocks[1][0], scaling by 1 + blocks[1][1] about a
/// centre and shifting by blocks[1][2], [3]; of these the free ones are in the block.
class ListFunction final : public adjust::ObservationFunction {
public:
    ListFunction(const Eigen::Vector2d& value, const Eigen::Vector2d& centre, bool turn, bool scale,
                 bool shift)
        : value_(value), centre_(centre), turn_(turn), scale_(scale), shift_(shift) {}
    int transform_size() const { return int{turn_} + int{scale_} + 2 * int{shift_}; }
    void evaluate(std::span<const double* const> blocks, double* residual,
                  double* const* jacobians) const override;

private:
    Eigen::Vector2d value_, centre_;
    bool turn_, scale_, shift_;
};

/// Level distance between two plan blocks over the scale, or along the slope with two heights after
/// them.
class TapeFunction final : public adjust::ObservationFunction {
public:
    TapeFunction(double value_m, double scale_factor, bool is_slope)
        : value_m_(value_m), scale_(scale_factor), is_slope_(is_slope) {}
    void evaluate(std::span<const double* const> blocks, double* residual,
                  double* const* jacobians) const override;

private:
    double value_m_, scale_;
    bool is_slope_;
};

/// One value directly: a height on a list.
class ValueFunction final : public adjust::ObservationFunction {
public:
    explicit ValueFunction(double value) : value_(value) {}
    void evaluate(std::span<const double* const> blocks, double* residual,
                  double* const* jacobians) const override;

private:
    double value_;
};

/// Those parts of a sight that are present, in the order direction, zenith, distance. Blocks: pose,
/// plan of the mark and, with heights, height of the axes and of the mark. The model is that of a
/// set-up:  d = plan distance / scale, v = ΔH + target height − bend·d²,
///   direction = azimuth − orientation, zenith = atan2(d, v), slope = √(d² + v²), horizontal = d.
class PolarFunction final : public adjust::ObservationFunction {
public:
    PolarFunction(const measure::ReducedSight& sight, double scale_factor, double refraction_k,
                  bool with_height)
        : sight_(sight),
          scale_(scale_factor),
          bend_((1.0 - refraction_k) / (2.0 * measure::kEarthRadius_m)),
          with_height_(with_height) {}
    void evaluate(std::span<const double* const> blocks, double* residual,
                  double* const* jacobians) const override;

private:
    measure::ReducedSight sight_;
    double scale_, bend_;
    bool with_height_;
};

}  // namespace layproof::vet::internal

#pragma once
// What is observed about places: a sight, the instrument over its mark, a tape, a difference of
// heights or places, given coordinates. One formula of each, for the set-up, the vetting of control
// and the whole job: the functions below are for the dense solver (adjust::ObservationFunction),
// and a batch of the sparse one fills its rows from the same partials.
//
// The sight. With the mark less the axes (ΔE, ΔN, ΔH), the scale s (grid over ground) and
// b = (1 − k)/(2R) for curvature and refraction:
//   d = √(ΔE² + ΔN²)/s,  v = ΔH + target height − b d²
//   direction = atan2(ΔE, ΔN) − orientation, zenith = atan2(d, v)
//   slope distance = √(d² + v²), horizontal distance = d
// Without a height of the axes or of the mark v is 0, and a distance is the horizontal one.
//
// Nearer than a nanometre an angle says nothing: its derivatives are 0 there. Every value and
// derivative is finite for finite blocks of the size of a site.

#include <Eigen/Core>
#include <array>
#include <cmath>
#include <memory>
#include <span>

#include "adjust/problem.hpp"
#include "measure/angle.hpp"
#include "measure/sight_model.hpp"

namespace layproof::station {

/// What is stated as exact beside something that is not: it still needs a weight.
inline constexpr double kHeldSd_m = 1e-6;
/// The same for a part of a sight, rad² or m².
inline constexpr double kLeastVariance = 1e-14;
/// No instrument sights a target nearer. A start value may stand there.
inline constexpr double kNearest_m = 0.1;

/// b = (1 − k)/(2R), 1/m.
inline double bend_of(double refraction_k) {
    return (1.0 - refraction_k) / (2.0 * measure::kEarthRadius_m);
}

/// Distances along one sight. All but plan_m are on the ground, not on the grid.
struct SightLine {
    double plan_m = 0.0;    ///< on the grid
    double ground_m = 0.0;  ///< d
    double rise_m = 0.0;    ///< v
    double slope_m = 0.0;   ///< √(d² + v²)
};

/// `to_m`: mark less axes, without the target height.
inline SightLine sight_line(const Eigen::Vector3d& to_m, double target_height_m,
                            double scale_factor, double bend, bool has_height) {
    SightLine out;
    out.plan_m = std::sqrt(to_m.x() * to_m.x() + to_m.y() * to_m.y());
    out.ground_m = out.plan_m / scale_factor;
    if (has_height) out.rise_m = to_m.z() + target_height_m - bend * out.ground_m * out.ground_m;
    out.slope_m = std::sqrt(out.ground_m * out.ground_m + out.rise_m * out.rise_m);
    return out;
}

/// Residual (as it should read less as it was read) and partial derivatives by the target's place
/// of each part of a sight that is present (0 direction, 1 zenith, 2 distance). The derivatives by
/// the axes' place are their negatives, that of the direction by the orientation is −1.
struct SightPartials {
    std::array<double, 3> residual{};
    std::array<std::array<double, 3>, 3> by_target{};
};

/// `to_m` as above. In the header, because a whole job is adjusted by calling it millions of times.
inline SightPartials sight_partials(const measure::ReducedSight& sight, double scale_factor,
                                    double bend, bool has_height, const Eigen::Vector3d& to_m,
                                    double orientation_rad) {
    constexpr double kSomeSquare = 1e-18;  // a nanometre
    SightPartials out;
    const double east = to_m.x();
    const double north = to_m.y();
    const SightLine line = sight_line(to_m, sight.target_height_m, scale_factor, bend, has_height);
    const double ground = line.ground_m;
    const double rise = line.rise_m;
    const double slope_square = ground * ground + rise * rise;
    const double to_ground = line.plan_m > 0.0 ? 1.0 / (line.plan_m * scale_factor) : 0.0;
    const double ground_by_east = east * to_ground;
    const double ground_by_north = north * to_ground;
    const double rise_by_ground = has_height ? -2.0 * bend * ground : 0.0;
    if (sight.has_direction) {
        double turn = std::atan2(east, north) - orientation_rad - sight.direction_rad;
        // One turn off is the usual case and cheaper than the general wrap.
        if (turn < -measure::kPi) turn += measure::kTwoPi;
        if (!(std::abs(turn) < measure::kPi)) turn = measure::wrap_pi(turn);
        out.residual[0] = turn;
        const double plan_square = east * east + north * north;
        const double inverse = plan_square > kSomeSquare ? 1.0 / plan_square : 0.0;
        out.by_target[0] = {north * inverse, -east * inverse, 0.0};
    }
    if (sight.has_zenith) {
        out.residual[1] = std::atan2(ground, rise) - sight.zenith_rad;
        const double inverse = slope_square > kSomeSquare ? 1.0 / slope_square : 0.0;
        const double by_ground = (rise - ground * rise_by_ground) * inverse;
        out.by_target[1] = {by_ground * ground_by_east, by_ground * ground_by_north,
                            -ground * inverse};
    }
    if (sight.has_distance && sight.distance_is_horizontal) {
        out.residual[2] = ground - sight.distance_m;
        out.by_target[2] = {ground_by_east, ground_by_north, 0.0};
    } else if (sight.has_distance) {
        out.residual[2] = line.slope_m - sight.distance_m;
        const double inverse = slope_square > kSomeSquare ? 1.0 / line.slope_m : 0.0;
        const double by_ground = (ground + rise * rise_by_ground) * inverse;
        out.by_target[2] = {by_ground * ground_by_east, by_ground * ground_by_north,
                            rise * inverse};
    }
    return out;
}

/// The parts that are present, in the order direction 0, zenith 1, distance 2.
struct SightParts {
    std::array<int, 3> part{};
    int count = 0;

    const int* begin() const { return part.data(); }
    const int* end() const { return part.data() + count; }
};

inline SightParts parts_of(const measure::ReducedSight& sight) {
    SightParts out;
    const std::array<bool, 3> present{sight.has_direction, sight.has_zenith, sight.has_distance};
    for (int part = 0; part < 3; ++part)
        if (present[static_cast<std::size_t>(part)])
            out.part[static_cast<std::size_t>(out.count++)] = part;
    return out;
}

/// Covariance of (direction, zenith, distance) of a sight whose target is `ground_m` away in plan,
/// on the ground. A distance that was measured settles it, and it is what reduce() made of it.
/// Without one the lean of the rod and the target's centring are lengths that need a distance to be
/// angles:
///   var(direction) = σ_a² + σ_p²/d²,  var(zenith) as in measure/sight_model.hpp with D = d/sin z,
/// z the one read, 90° without. Nearer than kNearest_m counts as that; a distance that is not
/// finite leaves what reduce() assumed.
Eigen::Matrix3d covariance_of(const measure::ReducedSight& sight,
                              const measure::Instrument& instrument, double ground_m);

/// Rows and columns of the parts that are present; no variance below kLeastVariance.
Eigen::MatrixXd present_covariance(const measure::ReducedSight& sight);

/// What a sight says in plan, for a target or axes without a height: no zenith angle, and the slope
/// distance with its zenith angle made a horizontal one, covariance and all. A slope distance
/// without a zenith angle is taken as horizontal.
measure::ReducedSight level_part(const measure::ReducedSight& sight);

/// True when a height takes part in what was read: a zenith angle, or a slope distance without one.
inline bool says_height(const measure::ReducedSight& sight) {
    return sight.has_zenith || (sight.has_distance && !sight.distance_is_horizontal);
}

/// The horizontal length of the distance read, on the ground: D sin z, or D where it is horizontal
/// or no zenith angle was read. 0 without a distance.
double ground_distance(const measure::ReducedSight& sight);

/// ∂(east, north, height)/∂(direction, zenith, distance) of where a sight puts its target: what
/// turns a sight's covariance into that of the place. `ahead`: unit, in plan; `ground_m` = D sin z,
/// `rise_m` = D cos z, `slope_m` = D. A level sight has no height, and its zenith angle moves
/// nothing. What refraction adds to the zenith angle's part, below 2e-4 of it at
/// a kilometre, is left out.
inline Eigen::Matrix3d place_by_reading(const Eigen::Vector2d& ahead, double ground_m,
                                        double rise_m, double slope_m, double scale_factor,
                                        bool is_level) {
    Eigen::Matrix3d out = Eigen::Matrix3d::Zero();
    const double plan_m = ground_m * scale_factor;
    out(0, 0) = plan_m * ahead.y();
    out(1, 0) = -plan_m * ahead.x();
    if (is_level) {
        out.block<2, 1>(0, 2) = scale_factor * ahead;
        return out;
    }
    const double inverse = slope_m > 0.0 ? 1.0 / slope_m : 0.0;
    out.block<2, 1>(0, 1) = scale_factor * rise_m * ahead;
    out(2, 1) = -ground_m;
    out.block<2, 1>(0, 2) = plan_m * inverse * ahead;
    out(2, 2) = rise_m * inverse;
    return out;
}

/// Direction, zenith, distance (those present, in this order) of one sight.
class SightFunction final : public adjust::ObservationFunction {
public:
    /// Which numbers are in one parameter block.
    enum class Blocks {
        joint,  ///< pose (east, north, orientation[, height]); mark (east, north[, height])
        split,  ///< pose (east, north, orientation); mark (east, north)[; height of the axes; of
                ///< the mark]
    };
    SightFunction(const measure::ReducedSight& sight, double scale_factor, double refraction_k,
                  bool has_height, Blocks blocks = Blocks::joint)
        : sight_(sight),
          scale_(scale_factor),
          bend_(bend_of(refraction_k)),
          has_height_(has_height),
          is_split_(blocks == Blocks::split) {}

    void evaluate(std::span<const double* const> blocks, double* residual,
                  double* const* jacobians) const override;

private:
    measure::ReducedSight sight_;
    double scale_;
    double bend_;
    bool has_height_;
    bool is_split_;
};

/// first − second − value, of up to three numbers of two blocks: two heights and the rise between
/// them, two places, the instrument and its mark.
class DifferenceFunction final : public adjust::ObservationFunction {
public:
    /// The leading numbers of both blocks.
    DifferenceFunction(std::span<const double> value, int first_size, int second_size);
    /// `numbers` of the first block against the leading ones of the second.
    DifferenceFunction(std::span<const double> value, std::span<const int> numbers, int first_size,
                       int second_size);

    void evaluate(std::span<const double* const> blocks, double* residual,
                  double* const* jacobians) const override;

private:
    std::array<double, 3> value_{};
    std::array<int, 3> number_{0, 1, 2};
    int count_;
    int first_size_;
    int second_size_;
};

/// Instrument over a mark: pose − mark (east, north[, height − instrument height]) is observed as
/// 0. Blocks: pose (east, north, orientation[, height]) and mark, one smaller.
std::unique_ptr<DifferenceFunction> over_mark(double instrument_height_m, bool with_height,
                                              int pose_size);

/// Standard deviations that go with it: centring twice and the taped height, none below kHeldSd_m.
Eigen::Vector3d over_mark_sd_m(const measure::Instrument& instrument);

/// Length of a tape on the ground, and its derivatives by its far end; those by the near end are
/// their negatives.
struct TapePartials {
    double length_m = 0.0;
    std::array<double, 3> by_end{};  ///< east, north, height
};

/// `rise_m` is 0 for a level tape. At no length at all the derivatives are 0.
inline TapePartials tape_partials(double east_m, double north_m, double rise_m,
                                  double scale_factor) {
    constexpr double kSome_m = 1e-9;
    TapePartials out;
    const double ground = std::hypot(east_m, north_m) / scale_factor;
    out.length_m = std::hypot(ground, rise_m);
    if (!(out.length_m > kSome_m)) return out;
    const double by_plan = 1.0 / (scale_factor * scale_factor * out.length_m);
    out.by_end = {east_m * by_plan, north_m * by_plan, rise_m / out.length_m};
    return out;
}

/// Distance between two plan blocks (east, north) over the scale; along the slope with two heights
/// (blocks of one number) after them.
class TapeFunction final : public adjust::ObservationFunction {
public:
    TapeFunction(double value_m, double scale_factor, bool is_slope)
        : value_m_(value_m), scale_(scale_factor), is_slope_(is_slope) {}

    void evaluate(std::span<const double* const> blocks, double* residual,
                  double* const* jacobians) const override;

private:
    double value_m_;
    double scale_;
    bool is_slope_;
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

}  // namespace layproof::station

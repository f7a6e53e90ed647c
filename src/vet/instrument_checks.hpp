#pragma once
// Is the instrument fit for the work today? Field checks with their statistics.
//
// Two faces. Half the difference of the faces shows, in the direction, c/sin z + t·cot z and, in
// the zenith angle, the index error i (standard geometry of the two faces, from memory; the signs
// are those of measure/face.hpp: corrections added to a face-one reading). c is the collimation of
// the line of sight, t the trunnion axis' tilt; t is found only with a steep sight, and c alone
// comes from flat ones. Least squares over all pairs, each half difference with σ/√2, σ one
// pointing.
//
// Sets of directions (after ISO 17123-3; counts of the standard from memory, procedure after
// textbooks; see docs/methods/vet.md): m series of n sets to t targets, each a mean of both faces.
//   horizontal  d_j = mean over sets of x_ij, r_ij = (d_j − x_ij) less its mean over targets,
//               ν = m (n − 1)(t − 1); full 4 × 3 × 5: 32, simplified 1 × 3 × 4: 6
//   vertical    r_ij = x_ij less its mean over sets, ν = m (n − 1) t; full 4 × 3 × 4: 32
// s = √(Σr²/ν) is that of one direction as the mean of both faces; it passes against a stated σ
// when s ≤ σ·√(χ²_0.95(ν)/ν) (1.20 for 32, 1.45 for 6).
//
// Lengths between points in one line (after ISO 17123-4, full procedure: 7 points, 21 lengths, ν =
// 14; the same sum with three points is the three-peg test): D_ij + δ = x_j − x_i, unknown the
// places and δ, the correction to be added to a length. δ is real when |δ| > t_0.975(ν)·s_δ; with ν
// = 0 the stated standard deviation stands in. A middle point off the line by o makes δ too small
// by o²/2·(1/AB + 1/BC) at most (10 mm over twice 15 m: 0.007 mm).

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "base/result.hpp"
#include "measure/face.hpp"

namespace layproof::vet {

/// An amount with its standard deviation, from `count` figures and `dof` to spare.
struct Found {
    double value = 0.0;
    double sd = 0.0;  ///< from the stated error of one reading
    int dof = 0;
    /// It cannot be told from 0 (or what is stored): |value| ≤ 3 sd (trade practice, no source).
    bool is_small = true;
};

struct TwoFaceCheck {
    int pairs = 0;
    std::optional<Found> collimation_rad;
    std::optional<Found> trunnion_rad;  ///< only with steep and flat sights
    std::optional<Found> index_rad;
    /// √(vᵀv/ν) of one half difference times √2: one pointing, as the pairs show it.
    std::optional<double> pointing_sd_rad;
    int dof = 0;
    /// vᵀv against χ² of the stated σ at 95 %: false means the pairs scatter more than stated.
    bool scatter_as_stated = true;
};

/// `stored`: what the instrument corrects already; the amounts are then judged against them.
struct StoredErrors {
    double collimation_rad = 0.0;
    double trunnion_rad = 0.0;
    double index_rad = 0.0;
};

/// Readings of both faces, in either order of each; finite. Nothing without a pair.
TwoFaceCheck two_face_check(std::span<const measure::CircleReading> face_one,
                            std::span<const measure::CircleReading> face_two,
                            double pointing_sd_rad, const StoredErrors& stored = {});

/// A reading of a set: mean of both faces.
struct SetReading {
    int series = 0;
    int set = 0;
    int target = 0;
    double angle_rad = 0.0;
};

struct SetsCheck {
    double s_rad = 0.0;
    int dof = 0;
    double limit_rad = 0.0;  ///< σ·√(χ²_0.95(ν)/ν)
    bool passes = false;
    int series = 0, sets = 0, targets = 0;
};

/// Series, sets and targets counted from 0, each set complete; `stated_rad`: σ of the mean of both
/// faces. Nothing when a set is not complete, or with fewer than two sets (or, horizontal, two
/// targets).
std::optional<SetsCheck> sets_check(std::span<const SetReading> readings, bool is_horizontal,
                                    double stated_rad);

struct LineLength {
    int from = 0, to = 0;  ///< points in their order along the line
    double length_m = 0.0;
};

struct LineCheck {
    Found constant_m;  ///< δ: to be added to a length
    int dof = 0;
    std::optional<double> s_m;      ///< of one length; nothing without redundancy
    std::optional<double> limit_m;  ///< stated·√(χ²_0.95(ν)/ν)
    bool s_passes = true;
    bool is_real = false;          ///< δ differs from 0 (t-test at 5 %)
    std::vector<double> places_m;  ///< of the points, the first at 0
    std::vector<double> residuals_m;
};

/// Points from 0 to n − 1, n ≥ 3. Nothing when the lengths leave a place or δ open.
std::optional<LineCheck> line_check(std::span<const LineLength> lengths, int points,
                                    double stated_m);

struct BaseReading {
    double known_m = 0.0;
    double measured_m = 0.0;
};

/// δ from lengths over known bases: the mean of known − measured. `known_sd_m` is common to
/// readings of one base length. Nothing without readings.
std::optional<LineCheck> base_check(std::span<const BaseReading> readings, double known_sd_m,
                                    double stated_m);

/// What instrument errors do to a point laid in one face.
struct LaidEffect {
    double across_m = 0.0;
    double along_m = 0.0;
    double height_m = 0.0;
};
/// At a plan distance and zenith angle, for errors of the line of sight, the trunnion axis, the
/// index and the length.
LaidEffect effect_on_laid(double plan_m, double zenith_rad, double collimation_rad,
                          double trunnion_rad, double index_rad, double length_m);

}  // namespace layproof::vet

#pragma once
// The linear model of a set-up in metres at the marks: what each sight says about where its mark
// is, minus where the sheet says it is.
//
// With pose x0 and the measured polar vector m of a sight, the sight puts its target at
// p = position + R(orientation)·m. The misfit y = p(x0) − sheet obeys
//     y = −(∂p/∂x)(x_true − x0) + μ + ν + b
// with μ the sheet's error of the mark (shared by all its sights), ν the sight's own error, b what
// a cause does to it. In these rows a moved mark, a leaning rod, a wrong rod height, a wrong prism
// constant and a wrong scale are linear exactly, not only for small amounts. Sights that lack a
// part give the rows that remain (across, along or up at the mark), linearised at x0.
//
// Pose order in this model: east, north, orientation, height (the last only with a height).

#include <Eigen/Core>
#include <vector>

#include "station/pose.hpp"
#include "station/prepared.hpp"

namespace layproof::station {

inline constexpr int kModelEast = 0;
inline constexpr int kModelNorth = 1;
inline constexpr int kModelOrientation = 2;
inline constexpr int kModelHeight = 3;

struct MisfitRow {
    int sight = -1;  ///< into Prepared::sights; −1: the instrument over its mark
    int mark = -1;   ///< into Prepared::marks
    Eigen::Vector3d by_target = Eigen::Vector3d::Zero();  ///< ∂y/∂(shift of where the sight points)
};

/// Directions of one sight at the solved pose, in site axes.
struct SightGeometry {
    Eigen::Vector3d along = Eigen::Vector3d::Zero();  ///< unit, station → target
    Eigen::Vector2d ahead = Eigen::Vector2d::Zero();  ///< unit, the same in plan
    Eigen::Vector2d right = Eigen::Vector2d::Zero();  ///< unit, 90° clockwise of ahead
    double plan_m = 0.0;                              ///< plan distance
    double slope_m = 0.0;
    double zenith_rad = 0.0;
    int first_row = -1;  ///< −1 if not used
    int rows = 0;
};

/// All matrices are dense: one set-up has tens of sights.
struct MisfitModel {
    int pose_size = 4;  ///< 3 without a height
    std::vector<MisfitRow> rows;
    std::vector<SightGeometry> sights;  ///< as Prepared::sights (geometry filled for all)
    Eigen::VectorXd misfit;             ///< y
    Eigen::Matrix<double, Eigen::Dynamic, 4> by_pose;  ///< ∂y/∂(x_true − x0)
    Eigen::MatrixXd covariance;                        ///< of μ + ν
    Eigen::MatrixXd weight;                            ///< its inverse
    Eigen::MatrixXd reduced;                           ///< M = W − W A (AᵀWA)⁻¹ AᵀW
    Eigen::VectorXd reduced_misfit;                    ///< M y
    Eigen::Matrix4d pose_covariance = Eigen::Matrix4d::Zero();  ///< (AᵀWA)⁻¹, padded with zeros
    Eigen::Vector4d pose_shift = Eigen::Vector4d::Zero();       ///< x̂ − x0
    Eigen::MatrixXd pose_from_misfit;                           ///< 4 × n: x̂ − x0 = (this) y
    double statistic = 0.0;                                     ///< yᵀMy ~ χ²(redundancy)
    int redundancy = 0;
    /// ½ ln det W − ½ ln det AᵀWA: what a model's evidence needs besides the statistic.
    double log_volume = 0.0;
    bool usable = false;  ///< false when the pose is open in this model
};

/// `mark_of_sight` overrides which mark each sight is to (size of Prepared::sights), for trying
/// other names; empty means as booked. `pose` is in site coordinates.
MisfitModel misfit_model(const Prepared& setup, const Pose& pose,
                         const std::vector<int>& mark_of_sight = {});

}  // namespace layproof::station

#pragma once
// The points asked from one place as arrays: the geometry of laying each, the covariance of its own
// laying sight (closed form of station::lay_model), and the chance that it falls within its
// tolerance when the station is known so and so well.
//
// Single precision: differences of variances of 1e-7 of themselves do not show in a probability
// read from a table to 1e-4. Arrays, so that the compiler can work on several points at once.

#include <Eigen/Core>
#include <span>
#include <vector>

#include "plan/crew.hpp"
#include "plan/plan_point.hpp"
#include "plan/within_table.hpp"

namespace layproof::plan {

/// What of a covariance of the pose (or of a change of it) reaches the points: variances of east,
/// north, orientation and height, and the covariances among the first three.
struct PoseSpread {
    float east = 0.0F, both = 0.0F, north = 0.0F;
    float east_turn = 0.0F, north_turn = 0.0F, turn = 0.0F;
    float height = 0.0F;

    PoseSpread() = default;
    /// Order east, north, orientation, height.
    explicit PoseSpread(const Eigen::Matrix4d& c);
};

/// How the points deviate for one unit of something that stays wrong: along, across and up.
struct LayColumn {
    std::vector<float> along, right, up;

    /// Leaves these rows only, in ascending order.
    void keep(std::span<const int> rows);
};

class LayRows {
public:
    using Column = Eigen::Matrix<double, 9, 1>;  ///< pose, prism, scale, tilt east, north, index

    /// `has_height`: of the station.
    void fill(const Eigen::Vector3d& axes, bool has_height, const Crew& crew,
              const std::vector<PlanPoint>& points, std::span<const int> asked);
    /// Leaves these rows only, in ascending order.
    void keep(std::span<const int> rows);
    /// The given rows of another.
    void take(const LayRows& from, std::span<const int> rows);
    std::size_t size() const { return plan_.size(); }

    LayColumn column(const Column& by_state) const;

    /// P of each row for a station known with this covariance; with a column also uncertain by
    /// `square` (variance) times it.
    void within(const WithinTable& table, const PoseSpread& pose, std::span<float> out,
                const LayColumn* column = nullptr, float square = 0.0F) const;
    /// sum += weight · P, the station being off by `mean` (pose) and by `amount` of the column.
    void add_shifted(const WithinTable& table, const PoseSpread& pose, const Eigen::Vector4f& mean,
                     float weight, std::span<float> sum, const LayColumn* column = nullptr,
                     float square = 0.0F, float amount = 0.0F) const;

    /// Means over the rows of the plan variance and the height variance of the laying sights alone,
    /// and of the plan distance squared.
    double mean_plan_variance() const;
    double mean_height_variance() const;
    double mean_square_m2() const;

private:
    struct Block;
    void block_of(std::size_t from, std::size_t n, const PoseSpread& pose, Block& block) const;

    std::vector<float> ahead_x_, ahead_y_, plan_, rise_, sine_, cosine_;
    std::vector<float> along_, across_, up_;
    std::vector<float> circle_square_, height_square_;
};

}  // namespace layproof::plan

#pragma once
// What a set-up will be able to prove, told before anything is measured.
//
// Predicted is the verdict that the act "station" will give about each point when nothing is wrong:
// the chance, over the random errors of the sights to come, that the point is called proven. The
// verdict itself averages over everything that may be wrong (cause), and so does the forecast:
//     p_i(y) = Σ_k w_k(y) P_ik(y),     chance_i = P(p_i(y) ≥ confidence | nothing wrong).
//
// Model: each mark is sighted once (or in two faces put together) from a free set-up; the misfits y
// of mark m are its three site axes with covariance R_m (sight_model.hpp and the sheet), weight
// W_m = R_m⁻¹, derivative A_m by the pose, so that
//     Q = (Σ A_mᵀ W_m A_m)⁻¹,  and for a cause with rows B:
//     G = Σ B_mᵀW_mB_m − tᵀQt,  t = Σ A_mᵀW_mB_m,  C = (S⁻¹ + G)⁻¹,
//     ln w_k = ln prior − ½ ln det(I + SG) + ½ gᵀCg,  g = Bᵀ·(misfits left over) ~ N(0, G).
// These are the formulas of infer/linear_evidence.hpp for a set-up whose marks are sighted once,
// where all blocks are 3 × 3: C, G and the determinants do not depend on y, and y enters through g
// alone. Under cause k the state is off by Uĝ, ĝ = Cg, with covariance Q + UCUᵀ.
//
// Explanations: marks moved or changed in height, rods leaning or wrong in height, prism, scale,
// tripod, level, index, exchanged names (their points are elsewhere). As the diagnosis does, what
// weighs less than 2e-4 is not believed; so no pair is, where nothing is wrong. Left out: gross
// readings, one wrong name, the rod height wrong on all (it does no harm).
//
// forecast() draws y a few times and averages over the draws, so that a point costs some table
// look-ups: the map. It takes ĝ as spread, Q + U(C + ĝĝᵀ)Uᵀ, which is the same probability to
// second order only. share() keeps marks and shifts apart and draws until the share stands: the
// figure that is stated for a chosen set-up. Agreement with the acts, draw by draw and in the mean:
// docs/studies/plan.md.
//
// Degenerate: fewer than two marks, or marks that leave the pose open: is_solvable is false and
// nothing is proven. More than kMostControl marks: the first ones given.

#include <Eigen/Core>
#include <array>
#include <cstdint>
#include <span>
#include <vector>

#include "plan/crew.hpp"
#include "plan/draws.hpp"
#include "plan/lay_rows.hpp"
#include "plan/plan_point.hpp"
#include "plan/within_table.hpp"

namespace layproof::plan {

inline constexpr int kMostControl = 12;

struct Naming {
    int mark = -1;        ///< into the marks given
    double chance = 0.0;  ///< that the diagnosis names it first, were it moved
};

/// How closely the share of a set-up is worked out: batches of draws until the standard error of
/// the share, judged by how the batches differ, is small enough.
struct CloseEffort {
    int batch = 100;
    int fewest = 600;  ///< draws, so that the standard error can be told
    int most = 4000;
    double standard_error = 0.003;
    std::uint64_t seed = 10;
};

class SetupOutlook {
public:
    /// `marks`: sighted, in this order; indices into `all`, which also say which random numbers are
    /// theirs.
    void stand(const Eigen::Vector3d& axes, const std::vector<ControlMark>& all,
               std::span<const int> marks, const Crew& crew);

    bool is_solvable() const { return solvable_; }
    bool has_height() const { return has_height_; }
    /// Order east, north, orientation, height, as station/misfit_model.hpp.
    const Eigen::Matrix4d& pose_covariance() const { return q_; }

    /// Chance of each asked point of being proven; `asked` are indices into points.
    void forecast(const Draws& draws, const std::vector<PlanPoint>& points,
                  std::span<const int> asked, const WithinTable& table,
                  std::vector<double>& chance);

    /// The same, every draw by itself and with its shifts.
    void share(const CloseEffort& effort, const std::vector<PlanPoint>& points,
               std::span<const int> asked, const WithinTable& table, std::vector<double>& chance);
    /// p of each asked point for these misfits of the marks (site axes, as station/misfit_model.hpp
    /// has them), as exact as its comparison with the confidence asks for; 0 where it could not be
    /// reached even with nothing wrong.
    void probabilities(std::span<const Eigen::Vector3d> misfits,
                       const std::vector<PlanPoint>& points, std::span<const int> asked,
                       const WithinTable& table, std::vector<double>& probability);
    /// Standard error of the mean of the last share's chances, and draws taken.
    double share_error() const { return share_error_; }
    int share_draws() const { return share_draws_; }

    /// For each mark: were it moved by the amounts of the causes table, how often would the largest
    /// probability be on that mark (moved, or its rod leaning, which one set of sights cannot
    /// split)?
    std::vector<Naming> naming(const Draws& draws, const Draws& amounts) const;

    /// Mean probability of "nothing wrong" over the draws of the last forecast or share; 0 when no
    /// point could be proven even then.
    double nothing_wrong() const { return mean_nothing_; }

private:
    using Column = LayRows::Column;

    struct Spot {
        int mark = -1;
        Eigen::Vector3d at = Eigen::Vector3d::Zero();
        bool has_height = false;
        Eigen::Matrix<double, 3, 4> a = Eigen::Matrix<double, 3, 4>::Zero();
        Eigen::Matrix3d covariance = Eigen::Matrix3d::Zero();
        Eigen::Matrix3d weight = Eigen::Matrix3d::Zero();
        Eigen::Matrix3d whiten = Eigen::Matrix3d::Zero();  ///< L⁻ᵀ: W y of a unit draw
        Eigen::Matrix<double, 3, 4> wa = Eigen::Matrix<double, 3, 4>::Zero();
        Eigen::Matrix<double, 4, 3> pose_by = Eigen::Matrix<double, 4, 3>::Zero();
        Eigen::Matrix3d left = Eigen::Matrix3d::Zero();  ///< block of M on the diagonal
        Eigen::Vector3d along = Eigen::Vector3d::Zero();
        Eigen::Vector2d ahead = Eigen::Vector2d::Zero();
        double plan_m = 0.0, slope_m = 0.0, rise_m = 0.0, variance = 0.0;
    };
    struct PlanFit {
        double log_prior = 0.0;  ///< with − ½ ln det
        double c00 = 0.0, c01 = 0.0, c11 = 0.0;
        double variance = 0.0;
        bool is_moved = false;  ///< the mark, not its rod
    };
    struct LineFit {
        double log_prior = 0.0;
        double c = 0.0;
    };
    struct TripodFit {
        double log_prior = 0.0;
        Eigen::Matrix3d c = Eigen::Matrix3d::Zero();
    };
    struct OnAll {
        int state = 0;  ///< row of Column
        std::vector<LineFit> sizes{};
        std::array<Eigen::Vector3d, kMostControl> by{};
        Column column = Column::Zero();
    };
    /// Weights of one draw's explanations, and their sums.
    struct Sums {
        double total = 0.0;  ///< of what is kept of this draw
        double full = 0.0;   ///< of all, pairs too
        double nothing = 0.0, elsewhere = 0.0;
        std::array<double, kMostControl> plan{}, height{}, after{};
        std::array<double, 5> on_all{};
        std::array<std::array<double, 3>, kMostControl> plan_square{};
        std::array<double, kMostControl> height_square{};
        std::array<Eigen::Matrix3d, kMostControl> after_square{};
        std::array<double, 5> on_all_square{};
        // Of each mark (or cause) and size; 0: not believed.
        std::array<std::array<double, 8>, kMostControl> plan_each, height_each;
        std::array<std::array<double, 4>, kMostControl> after_each;
        std::array<std::array<double, 8>, 5> on_all_each;
        std::array<Eigen::Vector3d, kMostControl> behind;  ///< left over from a sight on
        std::array<double, 5> on_all_left{};
    };
    /// What a draw left over on each mark, and its sums by place in the order of sights.
    struct Left {
        std::array<Eigen::Vector3d, kMostControl> v{};
    };

    void add_fits(const Crew& crew);
    void add_tripod(const Crew& crew);
    void add_on_all(const Crew& crew);
    void weigh_exchanges(const Crew& crew);
    /// `of_all`: the draws are for all marks, else for the sighted ones alone.
    Left left_over(const Draws& draws, int draw, bool of_all = true) const;
    Sums weigh(const Left& left) const;

    Left left_over(std::array<Eigen::Vector3d, kMostControl> weighted) const;
    bool find_open(const std::vector<PlanPoint>& points, std::span<const int> asked,
                   const WithinTable& table);
    double statistic(const Left& left) const;
    int redundancy() const;

    struct Part;
    class Mixture;

    bool solvable_ = false;
    bool has_height_ = false;
    int count_ = 0;
    Eigen::Vector3d axes_ = Eigen::Vector3d::Zero();
    const Crew* crew_ = nullptr;
    std::array<Spot, kMostControl> spots_{};
    Eigen::Matrix4d q_ = Eigen::Matrix4d::Zero();
    double nothing_prior_ = 0.0;
    double pairs_prior_ = 0.0;
    double elsewhere_ = 0.0;  ///< prior × likelihood of exchanged names
    double singles_prior_ = 0.0;
    std::array<std::array<PlanFit, 8>, kMostControl> plan_{};
    std::array<std::array<LineFit, 8>, kMostControl> height_{};
    int plan_sizes_ = 0;
    int height_sizes_ = 0;
    std::array<std::array<TripodFit, 4>, kMostControl> after_{};
    std::array<Eigen::Matrix<double, 4, 3>, kMostControl> after_by_{};
    int after_sizes_ = 0;
    std::array<OnAll, 5> on_all_{};
    int on_all_count_ = 0;
    double mean_nothing_ = 0.0;
    double share_error_ = 0.0;
    int share_draws_ = 0;
    // Kept between places for their memory.
    LayRows rows_;
    std::vector<int> open_;
    std::vector<float> draws_, sound_, loss_, sum_, proven_;
};

}  // namespace layproof::plan

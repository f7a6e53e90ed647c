#pragma once
// Which sets of things happened: competing sets of suspects on a linear model, none smeared over
// the others.
//
// Model: y = J δ + Σ B_h ∇_h + e over the suspects h of one set, δ flat, ∇_h ~ N(0, S_h), e white.
// With G = BᵀMB, g = BᵀMy (M takes out δ) a set has against the empty one
//     ln BF = ½ gᵀ(S⁻¹ + G)⁻¹g − ½ ln det(I + S G)
// (normal linear model, e.g. Koch, Introduction to Bayesian Statistics, 2007, ch. 4), several sizes
// being a mixture, and the prior odds of its members multiply. A set is judged as a whole: what two
// marks that moved together do to the others is explained by both or by none.
//
// Search: every single suspect; every pair while there are few, else pairs of the most probable and
// most explaining with all; larger sets grown from the best. Everything that was weighed is summed.

#include <Eigen/Core>
#include <vector>

namespace layproof::control {

struct Suspect {
    int first_column = 0;
    int columns = 1;
    double log_odds = 0.0;               ///< ln of prior odds that it happened
    std::vector<Eigen::VectorXd> sizes;  ///< standard deviations per column; they share the odds
    int group = -1;                      ///< at most one of a group holds; −1 none
};

struct SuspectSet {
    std::vector<int> members;   ///< ascending; empty: nothing happened
    double log_evidence = 0.0;  ///< against the empty set
    double log_weight = 0.0;    ///< with the prior odds
    double probability = 0.0;
};

struct SearchOptions {
    int most_at_once = 3;
    int beam = 60;                  ///< sets that grow further
    int all_pairs_up_to = 130;      ///< suspects
    double kept_below_best = 18.0;  ///< ln: less probable sets are summed, not listed
};

/// Most probable first, summing to one with what is not listed.
std::vector<SuspectSet> search_sets(const Eigen::MatrixXd& gram, const Eigen::VectorXd& misfit,
                                    const std::vector<Suspect>& suspects,
                                    const SearchOptions& options = {});

/// ln BF of one set.
double set_evidence(const Eigen::MatrixXd& gram, const Eigen::VectorXd& misfit,
                    const std::vector<Suspect>& suspects, const std::vector<int>& members);

/// The amounts of a set, over its sizes: mean and covariance, columns of the members in turn.
struct SetAmounts {
    Eigen::VectorXd mean;
    Eigen::MatrixXd covariance;
};
SetAmounts set_amounts(const Eigen::MatrixXd& gram, const Eigen::VectorXd& misfit,
                       const std::vector<Suspect>& suspects, const std::vector<int>& members);

}  // namespace layproof::control

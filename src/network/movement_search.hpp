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
// Unknown rates. How often things of one kind happen need not be known: the odds of a kind are
// those given times a rate ρ of mean one, and ρ is integrated out (rate_weights). Much that is seen
// of a kind then makes more of it likelier, and a job without any less.
//
// Search: every single suspect; every pair while there are few, else pairs of the most probable and
// most explaining with all; larger sets grown from the best, no point or sight with more than a few
// variants among them; then, within Occam's window (Madigan and Raftery 1994), members of the best
// sets are dropped and exchanged for any other until nothing new comes up. Everything that was
// weighed is summed. Sets grow on the factor of what they grow from, in which combinations of sizes
// below e⁻¹² of the best are left out.

#include <Eigen/Core>
#include <vector>

namespace layproof::network {

struct Suspect {
    int first_column = 0;
    int columns = 1;
    double log_odds = 0.0;                ///< ln of prior odds that it happened
    std::vector<Eigen::VectorXd> sizes;   ///< standard deviations per column; they share the odds
    int group = -1;                       ///< at most one of a group holds; −1 none
    int kind = -1;                        ///< whose rate is unknown: into SearchOptions; −1 known
    std::vector<double> log_shares = {};  ///< ln of the share of each size; empty: even
};

struct SuspectSet {
    std::vector<int> members;   ///< ascending; empty: nothing happened
    double log_evidence = 0.0;  ///< against the empty set
    double log_weight = 0.0;    ///< with the prior odds
    double probability = 0.0;
};

struct SearchOptions {
    int most_at_once = 5;
    int beam = 60;                  ///< sets of two that grow further
    int all_pairs_up_to = 130;      ///< suspects
    double window = 6.0;            ///< ln below the best: larger sets grow, members are exchanged
    int most_exchanged = 40;        ///< sets whose members are exchanged
    double kept_below_best = 18.0;  ///< ln: less probable sets are summed, not listed
    /// Per kind of suspects: ln of what k = 0, 1, 2 … of them weigh beyond the product of their
    /// odds.
    std::vector<std::vector<double>> rate_weights;
};

/// ln E[ρᵏ / Π(1 + ρ·o)] − ln E[1 / Π(1 + ρ·o)] for k = 0 … most, ρ ~ Gamma of mean one and the
/// given shape, o the odds of each subject of the kind (its suspects together).
std::vector<double> rate_weights(const std::vector<double>& odds, double shape, int most);

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

}  // namespace layproof::network

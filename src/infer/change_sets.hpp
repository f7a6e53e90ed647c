#pragma once
// Which sets of changes happened: competing sets of candidates on a linear model, none smeared over
// the others.
//
// Model: y = A δ + Σ B_h ∇_h + e over the candidates h of one set, as linear_evidence.hpp has it,
// several sizes of a candidate being a mixture; the prior odds of the members multiply. A set is
// judged as a whole: what two changes do together is explained by both or by none.
//
// Unknown rates. How often changes of one kind happen need not be known: the odds of a kind are
// those given times a rate ρ of mean one, and ρ is integrated out (rate_weights). Much that is seen
// of a kind then makes more of it likelier, and data that show none of it make it less likely.
//
// Search: every single candidate; every pair while there are few, else pairs of the most probable
// and most explaining with all; larger sets grown from the best, no subject with more than a few
// variants among them; then, within Occam's window (Madigan and Raftery, J. Am. Stat. Assoc. 1994),
// members of the best sets are dropped and exchanged for any other until nothing new comes up.
// Where all sets are few, all are weighed. Everything that was weighed is summed. Sets grow on the
// factor of what they grow from, in which combinations of sizes below e⁻¹² of the best are left
// out.
//
// What is left out: sets the search did not come upon are not bounded; against trying all
// (tests/infer) they hold less than 2 % where a beam of 12 was to find four of twelve. Of sets of
// more than `most_at_once` members, `more_at_once` tells how probable they are: the sums W_k over
// the sets of k members are continued by their last ratio. For changes that share no data and have
// known rates the truth is at most that (Newton's inequality for elementary symmetric
// polynomials).

#include <Eigen/Core>
#include <vector>

#include "infer/most_at_once.hpp"

namespace layproof::infer {

/// Columns of one candidate.
inline constexpr int kMostColumns = 4;

struct Candidate {
    int first_column = 0;
    int columns = 1;                      ///< 1 … kMostColumns, in a row
    double log_odds = 0.0;                ///< ln of prior odds that it happened
    std::vector<Eigen::VectorXd> sizes;   ///< standard deviations per column; they share the odds
    int group = -1;                       ///< at most one of a group holds; −1 none
    int kind = -1;                        ///< whose rate is unknown: into rate_weights; −1 known
    std::vector<double> log_shares = {};  ///< ln of the share of each size; empty: even
};

struct ChangeSet {
    std::vector<int> members;   ///< ascending; empty: nothing happened
    double log_evidence = 0.0;  ///< against the empty set
    double log_weight = 0.0;    ///< with the prior odds
    double probability = 0.0;
};

struct SearchOptions {
    int most_at_once = kMostAtOnce;  ///< up to 8
    int all_sets_up_to = 300;        ///< sets in all: weigh every one
    int beam = 60;                   ///< sets of two that grow further
    int all_pairs_up_to = 130;       ///< candidates
    double window = 6.0;             ///< ln below the best: larger sets grow, members are exchanged
    int most_exchanged = 40;         ///< sets whose members are exchanged
    double kept_below_best = 18.0;   ///< ln: less probable sets are summed, not listed
    /// Per kind of candidates: ln of what k = 0, 1, 2 … of them weigh beyond the product of their
    /// odds.
    std::vector<std::vector<double>> rate_weights;
};

struct SearchResult {
    std::vector<ChangeSet> sets;  ///< most probable first; sum to one with what is not listed
    double more_at_once = 0.0;    ///< probability that more changes hold than were allowed at once
};

/// ln E[ρᵏ / Π(1 + ρ·o)] − ln E[1 / Π(1 + ρ·o)] for k = 0 … most, ρ ~ Gamma of mean one and the
/// given shape, o the odds of each subject of the kind (its candidates together). A shape that is
/// not a finite number above 0 stands for a known rate: zeros.
std::vector<double> rate_weights(const std::vector<double>& odds, double shape, int most);

/// `gram` = BᵀMB and `misfit` = BᵀMy over the columns of all candidates.
SearchResult search_sets(const Eigen::MatrixXd& gram, const Eigen::VectorXd& misfit,
                         const std::vector<Candidate>& candidates,
                         const SearchOptions& options = {});

/// ln BF of one set.
double set_evidence(const Eigen::MatrixXd& gram, const Eigen::VectorXd& misfit,
                    const std::vector<Candidate>& candidates, const std::vector<int>& members);

/// The amounts of a set, over its sizes: mean and covariance, columns of the members in turn.
struct SetAmounts {
    double weight = 0.0;
    Eigen::VectorXd mean;
    Eigen::MatrixXd covariance;
};
SetAmounts set_amounts(const Eigen::MatrixXd& gram, const Eigen::VectorXd& misfit,
                       const std::vector<Candidate>& candidates, const std::vector<int>& members);

}  // namespace layproof::infer

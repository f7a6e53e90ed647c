#pragma once
// What is wrong at a set-up, with the probability of each explanation.
//
// Model: exactly one explanation of the table holds (or a pair, see below). Each changes the misfit
// model y = A·δ + noise (station/misfit_model.hpp) by b = B·∇ with ∇ ~ N(0, S), or exchanges which
// mark a sight is to. The marginal likelihood against "nothing wrong" is, the pose being flat,
//     ln BF = ½ gᵀ(S⁻¹ + G)⁻¹g − ½ ln det(I + S·G),   g = BᵀMy, G = BᵀMB
// (infer/linear_evidence.hpp). Several sizes are a mixture.
// Exchanged names are solved anew; those that cannot win are left out by a lower bound on their
// misfit (the closed-form rigid fit with the largest variance of any sight), which never drops a
// contender. The rows are linear in every amount but the orientation; the model is set up again at
// the pose of the leading explanation until that pose stays (at most five times).
//
// Pairs: with the explanations that take most out of the misfit or are most probable (pair_seeds of
// each), every other is tried as second. A pair both of whose members do little alone is not found;
// its share is bounded by the pairs' total frequency. Against trying all: docs/studies/causes.md.
//
// Words that the data cannot split are one entry: see grouping.hpp.

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "cause/catalogue.hpp"
#include "cause/cause_table.hpp"
#include "station/lay_prediction.hpp"
#include "station/misfit_model.hpp"
#include "station/prepared.hpp"
#include "station/solution.hpp"

namespace layproof::cause {

/// How much, if the explanation holds: posterior mean and standard deviation of the amount.
struct Estimate {
    std::optional<double> east_m, north_m, height_m;  ///< shift of the mark or the rod
    std::optional<double> length_m;  ///< rod longer than booked; distances too long by this
    std::optional<double> ratio;     ///< distances too long by this share
    std::optional<double>
        angle_rad;               ///< turn of the tripod, tilt, index, reading too large by this
    std::optional<double> sd_m;  ///< of the largest length component
    std::optional<double> sd_angle_rad;
};

/// One explanation: a cause and what it happened to.
struct Explanation {
    Cause cause = Cause::nothing_wrong;
    /// Marks by name; names-swapped has two, wrong-name the booked and the likely one;
    /// tripod-disturbed the first target sighted after it.
    std::vector<std::string> subjects;
    int sight =
        -1;  ///< into Prepared::sights: the sight (most probable one) or the first one after
    double probability = 0.0;
    /// ln of the mean likelihood against nothing-wrong: what the data alone say.
    double log_evidence = 0.0;
    Estimate estimate;
    station::State pose_change =
        station::State::Zero();  ///< state if it holds, against the solution
};

/// One or several explanations that the data cannot split, or a pair of causes at once.
struct Entry {
    std::vector<Explanation> members;  ///< most probable first
    bool is_pair = false;              ///< members hold together, not instead of each other
    double probability = 0.0;
};

struct Working;

struct Diagnosis {
    std::vector<Entry> entries;  ///< most probable first; sums to 1; always holds nothing-wrong
    std::vector<station::Belief>
        beliefs;  ///< about the state against the solution's pose; sums to 1
    /// State under the best explanation (entries.front()), against the solution's pose.
    station::State best_state = station::State::Zero();
    bool model_usable = false;  ///< false: the sights carry nothing beyond the pose; priors stand
    std::shared_ptr<const Working> working;  ///< for next_sight.hpp; null when not usable
    double pairs_left_out = 0.0;             ///< bound on the probability of pairs not tried
};

struct DiagnoseOptions {
    bool try_pairs = true;
    /// First members of pairs: this many of the most probable, and of the most explaining, single
    /// explanations with their size.
    int pair_seeds = 8;
    /// Explanations less probable than this are not listed one by one but never lost from the sum.
    double smallest_listed = 0.0005;
};

/// `others`: further marks of the job that a sight may really have been to, in site coordinates
/// (the origin not taken off).
Diagnosis diagnose(const station::Prepared& setup, const station::Solution& solution,
                   const CauseTable& table, const std::vector<station::UsedMark>& others = {},
                   const DiagnoseOptions& options = {});

}  // namespace layproof::cause

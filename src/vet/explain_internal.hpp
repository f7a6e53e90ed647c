#pragma once
// All explanations of the evidence with their weights.

#include <deque>
#include <memory>
#include <utility>
#include <vector>

#include "base/parallel.hpp"
#include "vet/patterns_internal.hpp"
#include "vet/variants_internal.hpp"

namespace layproof::vet::internal {

/// A way of reading the lists, solved, with its errors as columns.
struct Read {
    Variant variant;
    Solved solved;
    const Gathered* all = nullptr;
    mutable std::unique_ptr<Evidences> evidences;  ///< made when first asked for
    /// Its errors as columns. Not for two threads.
    const Evidences& errors() const {
        if (evidences == nullptr) evidences = std::make_unique<Evidences>(*all, solved);
        return *evidences;
    }
    /// Evidence without any error, from the reading's own solution.
    double log_evidence = 0.0;
    double statistic = 0.0;  ///< of that solution
    bool is_seen = true;
};

/// A reading with up to two errors, or a set of entries (other_revision).
struct Weighed {
    int read = -1;                    ///< into Explained::reads; −1: not solved, tells nothing
    Variant variant;                  ///< of an unsolved one
    Trap trap = Trap::nothing_wrong;  ///< of the error; nothing_wrong: none
    std::vector<int> patterns;
    bool is_pair = false;  ///< reading and error, or two errors
    bool is_seen = true;
    double log_evidence = 0.0;  ///< up to a constant
    double weight = 0.0;        ///< prior · evidence, then probability
    /// Prior standard deviations that share it, with their shares of the posterior.
    std::vector<std::pair<Eigen::VectorXd, double>> sizes;
};

struct Explained {
    std::deque<Read> reads;    ///< addresses stay
    std::vector<Weighed> all;  ///< most probable first; sums to 1
    double plain_log = 0.0;    ///< log_evidence of nothing wrong
    int plain = -1;            ///< into reads: nothing wrong, the likeliest choice
    bool stopped = false;      ///< the workers were told to end; nothing else here counts
};

/// `all` must outlive it.
Explained explain(const Gathered& all, Workers* workers);

}  // namespace layproof::vet::internal

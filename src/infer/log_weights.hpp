#pragma once
// Sums of weights that are kept as logarithms, without overflow.

#include <limits>
#include <span>
#include <vector>

namespace layproof::infer {

/// ln Σ exp(log) of logs that come one after another; −∞ of none.
class LogSum {
public:
    void add(double log);
    double value() const;

private:
    double most_ = -std::numeric_limits<double>::infinity();
    double sum_ = 0.0;  ///< in units of exp(most_)
};

/// −∞ of none.
double ln_sum_exp(std::span<const double> logs);
/// ln of the mean of exp(logs); −∞ of none.
double ln_mean_exp(std::span<const double> logs);

/// Shares in proportion to exp(logs) that sum to one. Where every log is −∞ (or there is none), all
/// are 0.
std::vector<double> shares_of(std::span<const double> logs);

}  // namespace layproof::infer

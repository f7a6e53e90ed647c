#include "infer/log_weights.hpp"

#include <algorithm>
#include <cmath>

namespace layproof::infer {
namespace {

constexpr double kNone = -std::numeric_limits<double>::infinity();

}  // namespace

void LogSum::add(double log) {
    if (log == kNone) return;
    if (log > most_) {
        sum_ = sum_ * std::exp(most_ - log) + 1.0;
        most_ = log;
    } else {
        sum_ += std::exp(log - most_);
    }
}

double LogSum::value() const {
    return sum_ > 0.0 ? most_ + std::log(sum_) : kNone;
}

double ln_sum_exp(std::span<const double> logs) {
    if (logs.empty()) return kNone;
    const double most = *std::max_element(logs.begin(), logs.end());
    if (most == kNone) return kNone;
    double sum = 0.0;
    for (const double log : logs) sum += std::exp(log - most);
    return most + std::log(sum);
}

double ln_mean_exp(std::span<const double> logs) {
    if (logs.empty()) return kNone;
    return ln_sum_exp(logs) - std::log(static_cast<double>(logs.size()));
}

std::vector<double> shares_of(std::span<const double> logs) {
    std::vector<double> out(logs.size(), 0.0);
    if (logs.empty()) return out;
    const double most = *std::max_element(logs.begin(), logs.end());
    if (most == kNone) return out;
    double total = 0.0;
    for (std::size_t i = 0; i < logs.size(); ++i) total += out[i] = std::exp(logs[i] - most);
    for (double& share : out) share /= total;
    return out;
}

}  // namespace layproof::infer

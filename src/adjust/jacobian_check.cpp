#include "adjust/jacobian_check.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <limits>
#include <vector>

namespace layproof::adjust {
namespace {

constexpr std::size_t kRows = Problem::kMaxObservationSize;
constexpr int kTableau = 10;
constexpr double kShrink = 1.4;

using Rows = std::array<double, kRows>;

struct Derivative {
    double value = 0.0;
    double error = std::numeric_limits<double>::infinity();
};

class Differences {
public:
    Differences(const ObservationFunction& function, int size,
                std::span<const std::span<const double>> blocks)
        : function_(function), size_(static_cast<std::size_t>(size)) {
        for (const auto block : blocks) values_.emplace_back(block.begin(), block.end());
        for (const auto& block : values_) pointers_.push_back(block.data());
    }

    std::vector<Derivative> column(std::size_t block, std::size_t index, double first_step) {
        double& value = values_[block][index];
        const double middle = value;
        double step = first_step;
        std::vector<Derivative> best(size_);
        // tableau[j]: the previous row of the extrapolation, one column per order.
        std::array<Rows, kTableau> previous{};
        std::array<Rows, kTableau> next{};
        for (int i = 0; i < kTableau; ++i, step /= kShrink) {
            // The step that is really taken, not the one asked for.
            const double above = middle + step;
            const double below = middle - step;
            value = above;
            const Rows high = evaluate();
            value = below;
            const Rows low = evaluate();
            value = middle;
            double factor = kShrink * kShrink;
            for (std::size_t r = 0; r < size_; ++r)
                next[0][r] = (high[r] - low[r]) / (above - below);
            for (int j = 1; j <= i; ++j, factor *= kShrink * kShrink) {
                const auto order = static_cast<std::size_t>(j);
                for (std::size_t r = 0; r < size_; ++r) {
                    next[order][r] =
                        (next[order - 1][r] * factor - previous[order - 1][r]) / (factor - 1.0);
                    const double error =
                        std::max(std::abs(next[order][r] - next[order - 1][r]),
                                 std::abs(next[order][r] - previous[order - 1][r]));
                    if (error <= best[r].error) best[r] = {next[order][r], error};
                }
            }
            previous = next;
        }
        return best;
    }

    std::vector<std::vector<double>> analytic() {
        std::vector<std::vector<double>> out;
        std::vector<double*> pointers;
        for (const auto& block : values_)
            out.emplace_back(size_ * block.size(), std::numeric_limits<double>::quiet_NaN());
        for (auto& jacobian : out) pointers.push_back(jacobian.data());
        Rows residual{};
        function_.evaluate(pointers_, residual.data(), pointers.data());
        return out;
    }

private:
    Rows evaluate() const {
        Rows residual{};
        function_.evaluate(pointers_, residual.data(), nullptr);
        return residual;
    }

    const ObservationFunction& function_;
    std::size_t size_;
    std::vector<std::vector<double>> values_;
    std::vector<const double*> pointers_;
};

}  // namespace

JacobianDisagreement check_jacobian(const ObservationFunction& function, int size,
                                    std::span<const std::span<const double>> blocks,
                                    double first_step) {
    Differences differences(function, size, blocks);
    const auto analytic = differences.analytic();
    JacobianDisagreement result;
    for (std::size_t b = 0; b < blocks.size(); ++b) {
        const std::size_t width = blocks[b].size();
        std::vector<std::vector<Derivative>> numeric;
        numeric.reserve(width);
        for (std::size_t c = 0; c < width; ++c)
            numeric.push_back(differences.column(b, c, first_step));
        for (std::size_t r = 0; r < static_cast<std::size_t>(size); ++r) {
            double scale = 0.0;
            for (std::size_t c = 0; c < width; ++c)
                scale = std::max(
                    {scale, std::abs(analytic[b][r * width + c]), std::abs(numeric[c][r].value)});
            if (scale == 0.0) scale = 1.0;
            for (std::size_t c = 0; c < width; ++c) {
                const double exact = analytic[b][r * width + c];
                const Derivative& other = numeric[c][r];
                double worst = std::max(0.0, std::abs(exact - other.value) - other.error) / scale;
                if (!std::isfinite(exact) || !std::isfinite(other.error))
                    worst = std::numeric_limits<double>::infinity();
                if (worst > result.worst || (b == 0 && r == 0 && c == 0)) {
                    result = {worst, static_cast<int>(r), static_cast<int>(b), static_cast<int>(c),
                              exact, other.value,         other.error};
                }
            }
        }
    }
    return result;
}

JacobianDisagreement check_jacobians(const Problem& problem, double first_step) {
    JacobianDisagreement worst;
    for (const auto& block : problem.observations()) {
        std::vector<std::span<const double>> values;
        values.reserve(static_cast<std::size_t>(block.block_count));
        for (int k = 0; k < block.block_count; ++k)
            values.push_back(problem.value(
                {problem.block_list()[static_cast<std::size_t>(block.block_begin + k)]}));
        const JacobianDisagreement one =
            check_jacobian(*block.function, block.size, values, first_step);
        if (one.worst > worst.worst) worst = one;
    }
    return worst;
}

}  // namespace layproof::adjust

#include "adjust/solve.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <optional>
#include <utility>
#include <vector>

#include "adjust/normal_internal.hpp"

namespace layproof::adjust {
namespace {

using internal::Factor;
using internal::InnerDatum;
using internal::Layout;
using internal::NormalEquations;

// A step this small against its block's values is rounding.
constexpr double kRelativeStep = 1e-15;
// All below as a share of max(1, vᵀWv). A promised decrease is the squared length of the step in
// standard deviations. Close to the solution the sum, taken from large coordinates and small
// standard deviations, can no longer tell a better point from a worse one; there a full step counts
// if the steps get shorter and the sum does not rise by more than kSlack.
constexpr double kClose = 1e-8;
constexpr double kSlack = 1e-10;
constexpr double kContracting = 0.9;
// Steps that no longer get shorter, and shorter than 1e-6 standard deviations, are rounding.
constexpr double kAtRest = 1e-12;
// Where no damped step helps either, the gradient must be orthogonal within this cosine, or the
// full step close, to be called the solution.
constexpr double kRestCosine = 1e-7;
// A step counts if the sum falls by this share of what the linear model promised.
constexpr double kEnough = 1e-4;
// Damping of the scaled normal matrix (unit diagonal), after Levenberg and Marquardt, with the
// update of Nielsen (1999), "Damping parameter in Marquardt's method".
constexpr double kFirstDamping = 1e-3;
constexpr double kOpenDamping = 1e-6;
constexpr double kNegligibleDamping = 1e-12;
constexpr double kLargestDamping = 1e16;

class Minimiser {
public:
    Minimiser(Problem& problem, const SolveOptions& options)
        : problem_(problem),
          options_(options),
          layout_(problem),
          current_(layout_.unknowns),
          trial_(layout_.unknowns),
          factor_(layout_.unknowns),
          step_(static_cast<std::size_t>(layout_.unknowns)),
          values_(problem.values()),
          trial_values_(problem.values()) {
        if (problem.inner_datum().empty()) return;
        datum_.emplace(problem, layout_);
        system_.emplace(layout_.unknowns);
    }

    SolveSummary run() {
        SolveSummary summary;
        const bool finite = std::all_of(values_.begin(), values_.end(),
                                        [](double x) { return std::isfinite(x); }) &&
                            internal::accumulate(problem_, layout_, values_.data(), current_);
        summary.status = !finite                 ? SolveStatus::not_finite
                         : layout_.unknowns == 0 ? SolveStatus::converged
                                                 : iterate(summary.iterations);
        summary.weighted_square_sum = finite ? current_.square_sum : 0.0;
        summary.defect = datum_ ? datum_->defect() : 0;
        summary.redundancy = problem_.observation_count() - layout_.unknowns + summary.defect;
        if (summary.status == SolveStatus::rank_deficient)
            summary.weakest = internal::weakest_direction(current_, layout_);
        if (summary.status == SolveStatus::converged ||
            summary.status == SolveStatus::not_converged)
            std::copy(values_.begin(), values_.end(), problem_.values().begin());
        return summary;
    }

private:
    SolveStatus iterate(int& iterations) {
        double last_decrease = std::numeric_limits<double>::infinity();
        bool determined = true;
        while (iterations < options_.max_iterations) {
            ++iterations;
            if (datum_ && !apply_datum()) return SolveStatus::rank_deficient;
            update_weights();
            determined = factor(0.0) && factor_.smallest_pivot() >= options_.rank_tolerance;
            double decrease = std::numeric_limits<double>::infinity();
            if (determined) {
                decrease = promise(0.0);
                if (is_negligible_step()) return finish();
                const double scale = std::max(1.0, current_.square_sum);
                const bool contracts = decrease <= kContracting * last_decrease;
                if (!contracts && decrease <= kAtRest * scale) return SolveStatus::converged;
                const bool is_close = decrease <= kClose * scale;
                last_decrease = is_close ? decrease : std::numeric_limits<double>::infinity();
                if (is_close && contracts && evaluate_trial() &&
                    trial_.square_sum <= current_.square_sum + kSlack * scale) {
                    accept();
                    continue;
                }
                if (damping_ == 0.0) {
                    if (try_step(decrease)) continue;
                    damping_ = last_damping_;
                }
            } else if (damping_ == 0.0) {
                damping_ = kOpenDamping;
            }
            if (damped_step(determined)) continue;
            if (!determined) return SolveStatus::rank_deficient;
            return is_at_rest(decrease) ? SolveStatus::converged : SolveStatus::not_converged;
        }
        return determined ? SolveStatus::not_converged : SolveStatus::rank_deficient;
    }

    /// Raises the damping until a step lowers the sum. False if none does, or if the iteration is
    /// at rest while a direction is still open.
    bool damped_step(bool determined) {
        double growth = 2.0;
        for (; damping_ < kLargestDamping; damping_ *= growth, growth *= 2.0) {
            if (!factor(damping_)) continue;
            const double decrease = promise(damping_);
            if (!determined && is_negligible_step()) return false;
            if (!try_step(decrease)) continue;
            const double surplus = 2.0 * gain_ - 1.0;
            damping_ *= std::max(gain_ > 0.75 ? 0.1 : 1.0 / 3.0,
                                 std::min(2.0, 1.0 - surplus * surplus * surplus));
            last_damping_ = std::max(damping_, kNegligibleDamping);
            if (damping_ < kNegligibleDamping) damping_ = 0.0;
            return true;
        }
        return false;
    }

    const NormalEquations& system() const { return system_ ? *system_ : current_; }

    bool factor(double damping) {
        return factor_.compute(system().matrix, datum_ ? datum_->envelope : layout_.envelope,
                               damping, weights_);
    }

    bool apply_datum() {
        if (!datum_->find(current_, options_.rank_tolerance)) return false;
        *system_ = current_;
        datum_->apply(*system_, offset(values_));
        return true;
    }

    /// Change since the start of the call, in elimination order.
    Eigen::VectorXd offset(const std::vector<double>& values) const {
        Eigen::VectorXd out(layout_.unknowns);
        for_each_unknown([&](std::size_t value, std::size_t row) {
            out(static_cast<Eigen::Index>(row)) = values[value] - problem_.values()[value];
        });
        return out;
    }

    template <class Visit>
    void for_each_unknown(Visit visit) const {
        const auto& parameters = problem_.parameters();
        for (std::size_t p = 0; p < parameters.size(); ++p) {
            if (layout_.first[p] < 0) continue;
            for (int i = 0; i < parameters[p].size; ++i)
                visit(static_cast<std::size_t>(parameters[p].offset + i),
                      static_cast<std::size_t>(layout_.first[p] + i));
        }
    }

    /// Step of the factored system and the decrease of the sum that the linear model promises.
    double promise(double damping) {
        factor_.solve(system().gradient, step_);
        double product = 0.0;
        for (std::size_t i = 0; i < step_.size(); ++i) product -= system().gradient[i] * step_[i];
        if (damping == 0.0) return product;
        double square = 0.0;
        for (std::size_t i = 0; i < step_.size(); ++i) square += weights_[i] * step_[i] * step_[i];
        return product + damping * square;
    }

    /// Damping weights: the largest diagonal of N met so far (Moré 1978), so that an unknown which
    /// has lost its influence does not run away.
    void update_weights() {
        const std::size_t n = step_.size();
        weights_.resize(n, 0.0);
        for (std::size_t i = 0; i < n; ++i)
            weights_[i] = std::max(weights_[i], system().matrix[i * n + i]);
        const double largest = *std::max_element(weights_.begin(), weights_.end());
        for (double& weight : weights_) {
            if (weight == 0.0) weight = largest > 0.0 ? largest : 1.0;
        }
    }

    bool is_negligible_step() const {
        const auto& parameters = problem_.parameters();
        for (std::size_t p = 0; p < parameters.size(); ++p) {
            if (layout_.first[p] < 0) continue;
            double largest = 0.0;
            double moved = 0.0;
            for (int i = 0; i < parameters[p].size; ++i) {
                largest = std::max(
                    largest, std::abs(values_[static_cast<std::size_t>(parameters[p].offset + i)]));
                moved = std::max(moved,
                                 std::abs(step_[static_cast<std::size_t>(layout_.first[p] + i)]));
            }
            if (!(moved <= std::max(options_.step_tolerance, kRelativeStep * largest)))
                return false;
        }
        return true;
    }

    bool is_at_rest(double decrease) const {
        if (decrease <= kClose * std::max(1.0, current_.square_sum)) return true;
        const auto n = step_.size();
        for (std::size_t i = 0; i < n; ++i) {
            const double bound = std::sqrt(system().matrix[i * n + i] * current_.square_sum);
            if (!(std::abs(system().gradient[i]) <= kRestCosine * bound)) return false;
        }
        return true;
    }

    void move() {
        for_each_unknown([&](std::size_t value, std::size_t row) {
            trial_values_[value] = values_[value] + step_[row];
        });
    }

    bool evaluate_trial() {
        move();
        return internal::accumulate(problem_, layout_, trial_values_.data(), trial_);
    }

    void accept() {
        std::swap(values_, trial_values_);
        std::swap(current_, trial_);
    }

    /// The last step is below the tolerance: taking it changes the sum by less than rounding.
    SolveStatus finish() {
        move();
        std::swap(values_, trial_values_);
        return SolveStatus::converged;
    }

    bool try_step(double promised) {
        if (!(promised > 0.0) || !evaluate_trial()) return false;
        double decrease = current_.square_sum - trial_.square_sum;
        if (datum_)
            decrease += datum_->penalty(offset(values_)) - datum_->penalty(offset(trial_values_));
        gain_ = decrease / promised;
        if (!(gain_ >= kEnough)) return false;
        accept();
        return true;
    }

    Problem& problem_;
    const SolveOptions& options_;
    Layout layout_;
    NormalEquations current_;
    NormalEquations trial_;
    Factor factor_;
    std::vector<double> step_;
    std::vector<double> weights_;
    std::vector<double> values_;
    std::vector<double> trial_values_;
    std::optional<InnerDatum> datum_;
    std::optional<NormalEquations> system_;  // with the datum added
    double damping_ = 0.0;
    double last_damping_ = kFirstDamping;
    double gain_ = 0.0;
};

}  // namespace

SolveSummary solve(Problem& problem, const SolveOptions& options) {
    return Minimiser(problem, options).run();
}

}  // namespace layproof::adjust

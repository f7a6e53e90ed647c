#include "adjust/sparse_solve.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include "adjust/sparse_state_internal.hpp"

namespace layproof::adjust {
namespace internal {
namespace {

std::size_t entry_at(int index) {
    return static_cast<std::size_t>(index);
}

// Nested dissection itself takes about as long as this many multiplications for each block and pair
// of the graph; it is tried where it can save more.
constexpr double kDissectionPrice = 2000.0;
// A factorisation is done a few times over, and the selected inverse takes two more.
constexpr double kFactorisations = 5.0;
constexpr double kLikelySaving = 0.4;

constexpr int kMostRounds = 20;
constexpr int kMostSuspects = 200;

// Bounds on the way to the solution, as in the dense solver (solve.cpp), all as a share of
// max(1, vᵀWv).
constexpr double kNear = 1e-8;
constexpr double kSumSlack = 1e-10;
constexpr double kShrinking = 0.9;
constexpr double kResting = 1e-12;
constexpr double kSufficient = 1e-4;
constexpr double kStartDamping = 1e-3;
constexpr double kLeastDamping = 1e-12;
constexpr double kMostDamping = 1e12;
constexpr double kTinyRelative = 1e-15;
// An old factor serves while each step promises less than this share of what the one before
// promised (a decrease goes with the square of the step).
constexpr double kOldFactorServes = 0.04;

}  // namespace

Elimination::Elimination(const SparseProblem& problem, EliminationOrder wanted) : pattern(problem) {
    const BlockGraph& graph = pattern.graph;
    const ReducedGraph reduced(graph);
    const BlockGraph& ordered = reduced.is_worthwhile ? reduced.rest : graph;
    const auto whole = [&](std::vector<int> order) {
        return reduced.is_worthwhile ? reduced.extend(order) : std::move(order);
    };
    std::optional<EliminationTree> tree;
    if (wanted != EliminationOrder::nested_dissection)
        tree.emplace(graph, whole(minimum_degree_order(ordered)));
    const double price = kDissectionPrice * (static_cast<double>(ordered.count()) +
                                             static_cast<double>(ordered.neighbour.size()));
    if (!tree || (wanted == EliminationOrder::automatic &&
                  kLikelySaving * kFactorisations * tree->multiplications > price)) {
        std::vector<int> order = nested_dissection_order(ordered);
        if (order.empty() && !tree && ordered.count() > 0) order = minimum_degree_order(ordered);
        if (order.size() == ordered.size.size()) {
            EliminationTree other(graph, whole(std::move(order)));
            if (!tree || other.multiplications < tree->multiplications) {
                tree.emplace(std::move(other));
                by_nested_dissection = true;
            }
        }
    }
    multiplications = tree->multiplications;
    fronts = std::make_shared<const Fronts>(graph, *tree, pattern.diagonal);
    value_of.reserve(entry_at(pattern.unknowns));
    for (const int block : fronts->order) {
        const auto& parameter = problem.parameters()[entry_at(pattern.parameter[entry_at(block)])];
        for (int k = 0; k < parameter.size; ++k) value_of.push_back(parameter.offset + k);
    }
}

void factorise(const SparseProblem& problem, const Elimination& elimination,
               const SparseNormal& normal, double tolerance, Factored& out) {
    const NormalPattern& pattern = elimination.pattern;
    const Fronts& fronts = *elimination.fronts;
    // An analysis may still hold the last one.
    if (!out.factor || out.factor.use_count() > 1)
        out.factor = std::make_shared<FrontFactor>(elimination.fronts);
    out.diagonal.clear();
    for (const int block : fronts.order) {
        const int size = pattern.graph.size[entry_at(block)];
        for (int k = 0; k < size; ++k)
            out.diagonal.push_back(
                normal.matrix[pattern.diagonal[entry_at(block)] + entry_at(k * (size + 1))]);
    }
    FrontFactor::Setting setting;
    out.factor->compute(normal.matrix, setting);
    out.open.reset();
    // Rounding leaves a pivot of none the larger, the further its null vector h reaches; of the
    // two, hᵀNh against the sum of what each unknown of h would weigh alone tells them apart.
    std::vector<int> found;
    for (int round = 0; round < kMostRounds; ++round) {
        const std::size_t before = found.size();
        Eigen::VectorXd h = Eigen::VectorXd::Zero(static_cast<Eigen::Index>(out.diagonal.size()));
        int last = -1;
        int looked_at = 0;
        for (const FrontFactor::Suspect& suspect : out.factor->suspects()) {
            if (++looked_at > kMostSuspects) break;
            const int from = out.factor->null_vector(suspect.column, h.data());
            double apart = 0.0;
            for (int i = from; i <= suspect.column; ++i)
                apart += h(i) * h(i) * out.diagonal[entry_at(i)];
            h.segment(from, suspect.column - from + 1).setZero();
            const double along = suspect.share * out.diagonal[entry_at(suspect.column)];
            // What follows one that is none is spoilt by it; only another branch is not.
            if (from <= last || !(along <= tolerance * apart)) continue;
            found.push_back(suspect.column);
            last = suspect.column;
        }
        if (found.size() == before) break;
        std::sort(found.begin(), found.end());
        setting.held = found;
        out.factor->compute(normal.matrix, setting);
    }
    if (out.factor->open().empty()) return;

    std::vector<char> in_datum(out.diagonal.size(), 0);
    for (const ParameterId id : problem.inner_datum()) {
        const int free = pattern.free_index[entry_at(id.index)];
        if (free < 0) continue;
        const int position = fronts.position[entry_at(free)];
        for (int i = fronts.first_column[entry_at(position)];
             i < fronts.first_column[entry_at(position) + 1]; ++i)
            in_datum[entry_at(i)] = 1;
    }
    out.open.emplace(*out.factor, pattern, out.diagonal, in_datum);
    if (out.open->basis().cols() == 0) return;
    // What elimination happened to leave open may lie close together; the best columns to hold are
    // those far apart. The null vectors stay what they are.
    const std::vector<int> first_open = out.factor->open();
    std::vector<int> held = out.open->best_held();
    if (static_cast<std::size_t>(out.open->basis().cols()) != first_open.size()) return;
    setting.held = held;
    out.factor->compute(normal.matrix, setting);
    if (out.factor->open().size() != first_open.size()) {
        setting.held = first_open;
        out.factor->compute(normal.matrix, setting);
    }
}

namespace {

class SparseMinimiser {
public:
    explicit SparseMinimiser(SparseSolver::Data& data)
        : data_(data),
          problem_(data.problem),
          elimination_(data.elimination),
          start_(problem_.values()),
          values_(start_),
          trial_(start_),
          step_(elimination_.pattern.unknowns) {}

    SparseSummary run() {
        summary_.status = iterate();
        summary_.redundancy =
            problem_.observation_count() - elimination_.pattern.unknowns + summary_.defect;
        summary_.weighted_square_sum = square_sum_;
        if (summary_.status == SolveStatus::converged ||
            summary_.status == SolveStatus::not_converged) {
            problem_.values() = values_;
        } else {
            data_.values_at_factor.clear();
        }
        if (summary_.status == SolveStatus::not_finite) summary_.weighted_square_sum = 0.0;
        return summary_;
    }

private:
    SolveStatus iterate() {
        const bool finite =
            std::all_of(values_.begin(), values_.end(), [](double x) { return std::isfinite(x); });
        if (!finite || !evaluate(values_, Depth::matrix, current_)) return SolveStatus::not_finite;
        is_matrix_current_ = true;
        square_sum_ = current_.square_sum;
        if (elimination_.pattern.unknowns == 0) return SolveStatus::converged;
        double last_promise = std::numeric_limits<double>::infinity();
        bool fresh = false;
        while (summary_.iterations < data_.options.max_iterations) {
            ++summary_.iterations;
            if (!has_factor_) {
                if (!renew_factor()) return *failure_;
                fresh = true;
            }
            double promise = newton_step();
            if (!fresh && !(promise <= kOldFactorServes * last_promise)) {
                if (!renew_factor()) return *failure_;
                fresh = true;
                promise = newton_step();
            }
            if (is_negligible()) {
                move();
                std::swap(values_, trial_);
                return SolveStatus::converged;
            }
            const double scale = std::max(1.0, square_sum_);
            const bool shrinks = promise <= kShrinking * last_promise;
            if (fresh && !shrinks && promise <= kResting * scale) return SolveStatus::converged;
            const bool near = promise <= kNear * scale;
            if (try_step(promise, near && shrinks)) {
                last_promise = promise;
                fresh = false;
                continue;
            }
            if (!fresh) {
                has_factor_ = false;  // once more from here with a new one
                continue;
            }
            if (!damped_step())
                return is_resting(promise) ? SolveStatus::converged : SolveStatus::not_converged;
            last_promise = std::numeric_limits<double>::infinity();
            has_factor_ = false;
        }
        return SolveStatus::not_converged;
    }

    bool evaluate(const std::vector<double>& values, Depth depth, SparseNormal& out) {
        return accumulate(problem_, elimination_.pattern, values.data(), depth, out);
    }

    /// Normal equations and their factor at values_.
    bool renew_factor() {
        if (!is_matrix_current_ && !evaluate(values_, Depth::matrix, current_)) {
            failure_ = SolveStatus::not_finite;
            return false;
        }
        is_matrix_current_ = true;
        factorise(problem_, elimination_, current_, data_.options.rank_tolerance, data_.factored);
        ++summary_.factorisations;
        has_factor_ = true;
        data_.values_at_factor = values_;
        data_.revision_at_factor = problem_.weight_revision();
        const auto& open = data_.factored.open;
        summary_.defect = static_cast<int>(data_.factored.factor->open().size());
        summary_.loose = open ? open->loose() : std::vector<LoosePart>{};
        if (open &&
            (open->is_beyond_limits() || (!open->loose().empty() && !data_.options.keep_loose))) {
            failure_ = SolveStatus::rank_deficient;
            return false;
        }
        return true;
    }

    /// Fills step_; the decrease of the sum that the linear model promises.
    double newton_step() {
        const auto n = static_cast<Eigen::Index>(elimination_.value_of.size());
        for (Eigen::Index i = 0; i < n; ++i)
            step_(i) =
                -current_.gradient[entry_at(elimination_.value_of[static_cast<std::size_t>(i)])];
        data_.factored.factor->solve(step_.data());
        double promise = 0.0;
        for (Eigen::Index i = 0; i < n; ++i)
            promise -=
                step_(i) *
                current_.gradient[entry_at(elimination_.value_of[static_cast<std::size_t>(i)])];
        if (data_.factored.open && data_.factored.open->basis().cols() > 0) {
            Eigen::VectorXd moved(n);
            for (Eigen::Index i = 0; i < n; ++i) {
                const auto value = entry_at(elimination_.value_of[static_cast<std::size_t>(i)]);
                moved(i) = values_[value] - start_[value] + step_(i);
            }
            data_.factored.open->centre(moved);
            for (Eigen::Index i = 0; i < n; ++i) {
                const auto value = entry_at(elimination_.value_of[static_cast<std::size_t>(i)]);
                step_(i) = moved(i) - (values_[value] - start_[value]);
            }
        }
        return std::max(promise, 0.0);
    }

    bool is_negligible() const {
        for (Eigen::Index i = 0; i < step_.size(); ++i) {
            const double value =
                std::abs(values_[entry_at(elimination_.value_of[static_cast<std::size_t>(i)])]);
            if (!(std::abs(step_(i)) <=
                  std::max(data_.options.step_tolerance, kTinyRelative * value)))
                return false;
        }
        return true;
    }

    void move() {
        for (Eigen::Index i = 0; i < step_.size(); ++i) {
            const auto value = entry_at(elimination_.value_of[static_cast<std::size_t>(i)]);
            trial_[value] = values_[value] + step_(i);
        }
    }

    bool try_step(double promise, bool is_near) {
        move();
        if (!evaluate(trial_, Depth::gradient, next_)) return false;
        const double decrease = square_sum_ - next_.square_sum;
        const double scale = std::max(1.0, square_sum_);
        if (!(decrease >= kSufficient * promise) && !(is_near && decrease >= -kSumSlack * scale))
            return false;
        accept();
        return true;
    }

    void accept() {
        std::swap(values_, trial_);
        std::swap(current_.gradient, next_.gradient);
        square_sum_ = next_.square_sum;
        is_matrix_current_ = false;
    }

    /// Levenberg and Marquardt, with the largest diagonal met so far as weights (Moré 1978), until
    /// a step lowers the sum.
    bool damped_step() {
        const std::vector<double>& diagonal = data_.factored.diagonal;
        weights_.resize(diagonal.size(), 0.0);
        double largest = 0.0;
        for (std::size_t i = 0; i < weights_.size(); ++i) {
            weights_[i] = std::max(weights_[i], diagonal[i]);
            largest = std::max(largest, weights_[i]);
        }
        for (double& weight : weights_) {
            if (weight == 0.0) weight = largest > 0.0 ? largest : 1.0;
        }
        data_.values_at_factor.clear();
        FrontFactor& factor = *data_.factored.factor;
        std::vector<double> extra(weights_.size());
        double growth = 2.0;
        for (; damping_ < kMostDamping; damping_ *= growth, growth *= 2.0) {
            for (std::size_t i = 0; i < extra.size(); ++i) extra[i] = damping_ * weights_[i];
            FrontFactor::Setting setting;
            setting.extra = extra.data();
            setting.held = factor.open();
            const std::vector<int> open = factor.open();
            setting.held = open;
            factor.compute(current_.matrix, setting);
            ++summary_.factorisations;
            double promise = newton_step();
            for (Eigen::Index i = 0; i < step_.size(); ++i)
                promise += extra[static_cast<std::size_t>(i)] * step_(i) * step_(i);
            if (!(promise > 0.0) || !try_step(promise, false)) continue;
            damping_ = std::max(damping_ * 0.1, kLeastDamping);
            return true;
        }
        damping_ = kStartDamping;
        return false;
    }

    /// No step helps: the solution all the same if the gradient is orthogonal within rounding.
    bool is_resting(double promise) const { return promise <= kNear * std::max(1.0, square_sum_); }

    SparseSolver::Data& data_;
    SparseProblem& problem_;
    const Elimination& elimination_;
    std::vector<double> start_;
    std::vector<double> values_;
    std::vector<double> trial_;
    Eigen::VectorXd step_;
    SparseNormal current_;
    SparseNormal next_;
    std::vector<double> weights_;
    double square_sum_ = 0.0;
    double damping_ = kStartDamping;
    bool has_factor_ = false;
    bool is_matrix_current_ = false;  // current_ has the matrix at values_
    std::optional<SolveStatus> failure_;
    SparseSummary summary_;
};

}  // namespace
}  // namespace internal

SparseSolver::SparseSolver(SparseProblem& problem, const SparseOptions& options)
    : data_(std::make_unique<Data>(problem, options)) {}
SparseSolver::~SparseSolver() = default;
SparseSolver::SparseSolver(SparseSolver&&) noexcept = default;
SparseSolver& SparseSolver::operator=(SparseSolver&&) noexcept = default;

SparseSummary SparseSolver::solve() {
    return internal::SparseMinimiser(*data_).run();
}

EliminationCost SparseSolver::cost() const {
    const internal::Elimination& elimination = data_->elimination;
    EliminationCost out;
    out.by_nested_dissection = elimination.by_nested_dissection;
    out.factor_numbers = static_cast<std::int64_t>(elimination.fronts->factor_numbers);
    out.multiplications = elimination.multiplications;
    out.largest_front = elimination.fronts->largest_front;
    out.stack_numbers = static_cast<std::int64_t>(elimination.fronts->stack_numbers[0] +
                                                  elimination.fronts->stack_numbers[1]);
    return out;
}

}  // namespace layproof::adjust

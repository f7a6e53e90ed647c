#include "infer/change_sets.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <set>
#include <utility>

#include "infer/linear_evidence.hpp"
#include "infer/log_weights.hpp"
#include "infer/mixture.hpp"

namespace layproof::infer {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr int kMostInSet = 8;
constexpr int kMostOfSet = kMostInSet * kMostColumns;

/// A set's amounts and one candidate's, without the heap.
constexpr int kDynamic = Eigen::Dynamic;
using SetData = ColumnData<kDynamic, kMostOfSet>;
using SetColumn = Amounts<kDynamic, kMostOfSet>;
using SetFactor = AmountFactor<kDynamic, kMostOfSet>;
using OneData = ColumnData<kDynamic, kMostColumns>;
using OneColumn = Amounts<kDynamic, kMostColumns>;

const Candidate& at(const std::vector<Candidate>& candidates, int i) {
    return candidates[static_cast<std::size_t>(i)];
}

int columns_of(const std::vector<Candidate>& candidates, const std::vector<int>& members) {
    int out = 0;
    for (const int m : members) out += at(candidates, m).columns;
    return out;
}

SetData pick(const MatrixXd& gram, const VectorXd& misfit, const std::vector<Candidate>& candidates,
             const std::vector<int>& members) {
    const int size = columns_of(candidates, members);
    SetData out;
    out.g.resize(size);
    out.gram.resize(size, size);
    int row = 0;
    for (const int m : members) {
        const Candidate& a = at(candidates, m);
        out.g.segment(row, a.columns) = misfit.segment(a.first_column, a.columns);
        int column = 0;
        for (const int n : members) {
            const Candidate& b = at(candidates, n);
            out.gram.block(row, column, a.columns, b.columns) =
                gram.block(a.first_column, b.first_column, a.columns, b.columns);
            column += b.columns;
        }
        row += a.columns;
    }
    return out;
}

double log_share(const Candidate& candidate, std::size_t size) {
    return candidate.log_shares.empty() ? -std::log(static_cast<double>(candidate.sizes.size()))
                                        : candidate.log_shares[size];
}

/// Calls `f(ln share, standard deviations)` for every combination of sizes.
template <class F>
void for_sizes(const std::vector<Candidate>& candidates, const std::vector<int>& members, F&& f) {
    std::vector<std::size_t> choice(members.size(), 0);
    SetColumn sd(columns_of(candidates, members));
    for (;;) {
        int row = 0;
        double share = 0.0;
        for (std::size_t i = 0; i < members.size(); ++i) {
            const Candidate& c = at(candidates, members[i]);
            sd.segment(row, c.columns) = c.sizes[choice[i]];
            share += log_share(c, choice[i]);
            row += c.columns;
        }
        f(share, sd);
        std::size_t i = 0;
        while (i < members.size() && ++choice[i] == at(candidates, members[i]).sizes.size())
            choice[i++] = 0;
        if (i == members.size()) return;
    }
}

/// What one more candidate adds to a set: the factor of the set for each combination of its sizes
/// that counts.
class GrowingSet {
public:
    GrowingSet(const MatrixXd& gram, const VectorXd& misfit,
               const std::vector<Candidate>& candidates, const std::vector<int>& members)
        : gram_(gram), misfit_(misfit), candidates_(candidates), members_(members) {
        constexpr double kCounts = 12.0;
        const SetData picked = pick(gram, misfit, candidates, members);
        double most = -std::numeric_limits<double>::infinity();
        for_sizes(candidates, members, [&](double share, const SetColumn& sd) {
            AtSizes one{SetFactor(picked.gram, sd), {}, share};
            one.z = one.factor.forward(sd.cwiseProduct(picked.g));
            one.log += 0.5 * one.z.squaredNorm() - one.factor.half_log_det();
            most = std::max(most, one.log);
            sizes_.push_back(std::move(one));
        });
        std::erase_if(sizes_, [&](const AtSizes& one) { return one.log < most - kCounts; });
    }

    /// ln BF of the set with this one.
    double with(int candidate) const {
        const Candidate& c = at(candidates_, candidate);
        const Eigen::Index size = c.columns;
        const OneData own{misfit_.segment(c.first_column, size),
                          gram_.block(c.first_column, c.first_column, size, size)};
        LogSum sum;
        Eigen::Matrix<double, kDynamic, kDynamic, Eigen::ColMajor, kMostOfSet, kMostColumns> x;
        for (const AtSizes& one : sizes_) {
            OneData left = own;
            x.resize(one.z.size(), size);
            for (Eigen::Index k = 0; k < size; ++k)
                x.col(k) = one.factor.forward(
                    one.factor.sd().cwiseProduct(with_members(c.first_column + k)));
            for (Eigen::Index i = 0; i < size; ++i) {
                left.g[i] -= x.col(i).dot(one.z);
                for (Eigen::Index k = 0; k < size; ++k) left.gram(i, k) -= x.col(i).dot(x.col(k));
            }
            for (std::size_t k = 0; k < c.sizes.size(); ++k)
                sum.add(one.log + log_share(c, k) + log_bayes(left, OneColumn(c.sizes[k])));
        }
        return sum.value();
    }

private:
    /// What a column has in common with those of the set.
    SetColumn with_members(Eigen::Index column) const {
        SetColumn out(sizes_.front().z.size());
        int row = 0;
        for (const int m : members_) {
            const Candidate& other = at(candidates_, m);
            out.segment(row, other.columns) =
                gram_.col(column).segment(other.first_column, other.columns);
            row += other.columns;
        }
        return out;
    }

    struct AtSizes {
        SetFactor factor;
        SetColumn z;
        double log = 0.0;
    };
    const MatrixXd& gram_;
    const VectorXd& misfit_;
    const std::vector<Candidate>& candidates_;
    const std::vector<int>& members_;
    std::vector<AtSizes> sizes_;
};

class SetSearch {
public:
    SetSearch(const MatrixXd& gram, const VectorXd& misfit,
              const std::vector<Candidate>& candidates, const SearchOptions& options)
        : gram_(gram), misfit_(misfit), candidates_(candidates), options_(options) {}

    SearchResult run() {
        sets_.push_back({});
        seen_.insert(std::vector<int>{});
        const auto most =
            static_cast<std::size_t>(std::clamp(options_.most_at_once, 0, kMostInSet));
        all_ = sets_in_all(most) <= options_.all_sets_up_to;
        if (most > 0) grow({});
        for (std::size_t size = 2; size <= most; ++size) {
            for (const ChangeSet& seed : seeds_of(size - 1)) grow(seed.members);
        }
        if (!all_) exchange(most);
        return normalised(most);
    }

private:
    /// Elementary symmetric polynomials of how many each group holds.
    double sets_in_all(std::size_t most) const {
        std::map<int, int> of_group;
        int alone = -1;
        for (const Candidate& c : candidates_) ++of_group[c.group >= 0 ? c.group : alone--];
        std::vector<double> sets(most + 1, 0.0);
        sets[0] = 1.0;
        for (const auto& [group, count] : of_group)
            for (std::size_t k = most; k > 0; --k) sets[k] += count * sets[k - 1];
        double out = 0.0;
        for (const double count : sets) out += count;
        return out;
    }

    double log_prior(const std::vector<int>& members) const {
        double out = 0.0;
        std::vector<std::size_t> count(options_.rate_weights.size(), 0);
        for (const int m : members) {
            const Candidate& c = at(candidates_, m);
            out += c.log_odds;
            if (c.kind >= 0 && static_cast<std::size_t>(c.kind) < count.size())
                ++count[static_cast<std::size_t>(c.kind)];
        }
        for (std::size_t k = 0; k < count.size(); ++k) {
            const std::vector<double>& weights = options_.rate_weights[k];
            if (!weights.empty()) out += weights[std::min(count[k], weights.size() - 1)];
        }
        return out;
    }

    bool fits(const std::vector<int>& members, int candidate) const {
        const int group = at(candidates_, candidate).group;
        return std::none_of(members.begin(), members.end(), [&](int m) {
            return m == candidate || (group >= 0 && at(candidates_, m).group == group);
        });
    }

    /// Weighs the set with every other candidate, what is new of it.
    void grow(const std::vector<int>& members) {
        if (!grown_.insert(members).second) return;
        const GrowingSet growing(gram_, misfit_, candidates_, members);
        for (int h = 0; h < static_cast<int>(candidates_.size()); ++h) {
            if (!fits(members, h)) continue;
            ChangeSet one;
            one.members = members;
            one.members.insert(std::upper_bound(one.members.begin(), one.members.end(), h), h);
            if (!seen_.insert(one.members).second) continue;
            one.log_evidence = growing.with(h);
            one.log_weight = one.log_evidence + log_prior(one.members);
            best_ = std::max(best_, one.log_weight);
            sets_.push_back(std::move(one));
        }
    }

    /// Candidates of one group are variants of one thing.
    std::vector<int> subjects_of(const ChangeSet& set) const {
        std::vector<int> out;
        for (const int m : set.members) {
            const int group = at(candidates_, m).group;
            out.push_back(group >= 0 ? group : -1 - m);
        }
        std::sort(out.begin(), out.end());
        return out;
    }

    /// By weight, and by evidence: two that hide each other explain little of the whole alone, but
    /// more than their share. Beyond three at once only within the window.
    std::vector<ChangeSet> seeds_of(std::size_t size) const {
        std::vector<const ChangeSet*> level;
        for (const ChangeSet& set : sets_)
            if (set.members.size() == size &&
                (all_ || size < 3 || set.log_weight >= best_ - options_.window))
                level.push_back(&set);
        std::vector<ChangeSet> out;
        const auto beam = static_cast<std::size_t>(std::max(options_.beam, 0));
        if (all_ || level.size() <= beam ||
            (size == 1 && static_cast<int>(level.size()) <= options_.all_pairs_up_to)) {
            for (const ChangeSet* set : level) out.push_back(*set);
            return out;
        }
        constexpr int kVariants = 6;
        std::set<const ChangeSet*> taken;
        const auto take = [&](std::size_t count, auto&& value) {
            std::stable_sort(
                level.begin(), level.end(),
                [&](const ChangeSet* a, const ChangeSet* b) { return value(*a) > value(*b); });
            std::map<std::vector<int>, int> variants;
            for (const ChangeSet* set : level) {
                if (count == 0) return;
                if (++variants[subjects_of(*set)] > kVariants || !taken.insert(set).second)
                    continue;
                out.push_back(*set);
                --count;
            }
        };
        take(beam - beam / 3, [](const ChangeSet& set) { return set.log_weight; });
        take(beam / 3, [](const ChangeSet& set) { return set.log_evidence; });
        return out;
    }

    /// Drops each member of the best sets in turn and weighs what remains with every other, best
    /// first, until the window holds nothing new.
    void exchange(std::size_t most) {
        std::set<std::vector<int>> done;
        for (int round = 0; round < options_.most_exchanged; ++round) {
            const ChangeSet* next = nullptr;
            for (const ChangeSet& set : sets_)
                if (set.log_weight >= best_ - options_.window && !set.members.empty() &&
                    (next == nullptr || set.log_weight > next->log_weight) &&
                    !done.contains(set.members))
                    next = &set;
            if (next == nullptr) return;
            const std::vector<int> members = next->members;  // growing moves the sets
            done.insert(members);
            if (members.size() < most) grow(members);
            for (std::size_t i = 0; i < members.size(); ++i) {
                std::vector<int> rest = members;
                rest.erase(rest.begin() + static_cast<std::ptrdiff_t>(i));
                grow(rest);
            }
        }
    }

    SearchResult normalised(std::size_t most) {
        std::vector<double> logs;
        logs.reserve(sets_.size());
        std::vector<LogSum> of_size(most + 1);
        for (const ChangeSet& set : sets_) {
            logs.push_back(set.log_weight);
            of_size[set.members.size()].add(set.log_weight);
        }
        const double total = ln_sum_exp(logs);
        const double best = *std::max_element(logs.begin(), logs.end());
        SearchResult out;
        out.more_at_once = beyond(of_size, total);
        for (ChangeSet& set : sets_) {
            if (set.log_weight < best - options_.kept_below_best && !set.members.empty()) continue;
            set.probability = std::exp(set.log_weight - total);
            out.sets.push_back(std::move(set));
        }
        std::stable_sort(
            out.sets.begin(), out.sets.end(),
            [](const ChangeSet& a, const ChangeSet& b) { return a.log_weight > b.log_weight; });
        return out;
    }

    /// W_{m+1} + W_{m+2} … as W_m r + W_m r² …, r = W_m / W_{m−1}, as many as there are candidates.
    double beyond(const std::vector<LogSum>& of_size, double total) const {
        const std::size_t most = of_size.size() - 1;
        if (most == 0 || candidates_.size() <= most) return 0.0;
        const double last = of_size[most].value();
        const double ratio = last - of_size[most - 1].value();
        if (!std::isfinite(last) || !std::isfinite(ratio)) return 0.0;
        LogSum tail;
        double log = last - total;
        for (std::size_t k = most; k < candidates_.size(); ++k) tail.add(log += ratio);
        return 1.0 / (1.0 + std::exp(-tail.value()));
    }

    const MatrixXd& gram_;
    const VectorXd& misfit_;
    const std::vector<Candidate>& candidates_;
    const SearchOptions& options_;
    bool all_ = false;
    std::vector<ChangeSet> sets_;
    std::set<std::vector<int>> seen_, grown_;
    double best_ = 0.0;
};

}  // namespace

std::vector<double> rate_weights(const std::vector<double>& odds, double shape, int most) {
    const auto count = static_cast<std::size_t>(std::max(most, 0)) + 1;
    std::vector<double> out(count, 0.0);
    if (!(shape > 0.0) || !std::isfinite(shape)) return out;
    // Over u = ln ρ, about its spread, the integrand is smooth and falls to nothing at both ends:
    // the trapezium rule.
    constexpr int kSteps = 1000;
    const double spread = 1.0 / std::sqrt(std::max(shape, 1.0));
    const double least = -30.0 * spread;
    const double step = 35.0 * spread / kSteps;
    std::vector<std::vector<double>> logs(count);
    for (int i = 0; i <= kSteps; ++i) {
        const double u = least + step * i;
        const double rate = std::exp(u);
        double log = shape * (u - rate);
        for (const double o : odds) log -= std::log1p(rate * o);
        for (std::size_t k = 0; k < count; ++k) logs[k].push_back(log + static_cast<double>(k) * u);
    }
    const double none = ln_sum_exp(logs[0]);
    for (std::size_t k = 0; k < count; ++k) out[k] = ln_sum_exp(logs[k]) - none;
    return out;
}

double set_evidence(const MatrixXd& gram, const VectorXd& misfit,
                    const std::vector<Candidate>& candidates, const std::vector<int>& members) {
    if (members.empty()) return 0.0;
    const SetData picked = pick(gram, misfit, candidates, members);
    LogSum sum;
    for_sizes(candidates, members,
              [&](double share, const SetColumn& sd) { sum.add(share + log_bayes(picked, sd)); });
    return sum.value();
}

SetAmounts set_amounts(const MatrixXd& gram, const VectorXd& misfit,
                       const std::vector<Candidate>& candidates, const std::vector<int>& members) {
    const SetData picked = pick(gram, misfit, candidates, members);
    std::vector<double> logs;
    std::vector<SetAmounts> parts;
    for_sizes(candidates, members, [&](double share, const SetColumn& sd) {
        const auto fit = fit_amounts(picked, sd);
        logs.push_back(share + fit.log_bayes);
        parts.push_back({0.0, fit.mean, fit.covariance});
    });
    const std::vector<double> shares = shares_of(logs);
    const Eigen::Index size = picked.g.size();
    SetAmounts out{0.0, VectorXd::Zero(size), MatrixXd::Zero(size, size)};
    for (std::size_t i = 0; i < parts.size(); ++i) {
        parts[i].weight = shares[i];
        put_together(out, parts[i]);
    }
    return out;
}

SearchResult search_sets(const MatrixXd& gram, const VectorXd& misfit,
                         const std::vector<Candidate>& candidates, const SearchOptions& options) {
    return SetSearch(gram, misfit, candidates, options).run();
}

}  // namespace layproof::infer

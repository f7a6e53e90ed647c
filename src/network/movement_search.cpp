#include "network/movement_search.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <set>
#include <utility>

namespace layproof::network {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;

/// Up to eight suspects of three columns without the heap.
using SmallGram = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::ColMajor, 24, 24>;
using SmallColumn = Eigen::Matrix<double, Eigen::Dynamic, 1, Eigen::ColMajor, 24, 1>;
constexpr std::size_t kMostMoved = 8;

struct PickedColumns {
    SmallGram gram;
    SmallColumn misfit;
};

PickedColumns pick(const MatrixXd& gram, const VectorXd& misfit,
                   const std::vector<Suspect>& suspects, const std::vector<int>& members) {
    int size = 0;
    for (const int m : members) size += suspects[static_cast<std::size_t>(m)].columns;
    PickedColumns out{SmallGram(size, size), SmallColumn(size)};
    int row = 0;
    for (const int m : members) {
        const Suspect& a = suspects[static_cast<std::size_t>(m)];
        out.misfit.segment(row, a.columns) = misfit.segment(a.first_column, a.columns);
        int column = 0;
        for (const int n : members) {
            const Suspect& b = suspects[static_cast<std::size_t>(n)];
            out.gram.block(row, column, a.columns, b.columns) =
                gram.block(a.first_column, b.first_column, a.columns, b.columns);
            column += b.columns;
        }
        row += a.columns;
    }
    return out;
}

double log_share(const Suspect& suspect, std::size_t size) {
    return suspect.log_shares.empty() ? -std::log(static_cast<double>(suspect.sizes.size()))
                                      : suspect.log_shares[size];
}

/// Calls `f(ln share, standard deviations)` for every combination of sizes.
template <class F>
void for_sizes(const std::vector<Suspect>& suspects, const std::vector<int>& members, F&& f) {
    std::vector<std::size_t> choice(members.size(), 0);
    int size = 0;
    for (const int m : members) size += suspects[static_cast<std::size_t>(m)].columns;
    SmallColumn sd(size);
    for (;;) {
        int row = 0;
        double share = 0.0;
        for (std::size_t i = 0; i < members.size(); ++i) {
            const Suspect& s = suspects[static_cast<std::size_t>(members[i])];
            sd.segment(row, s.columns) = s.sizes[choice[i]];
            share += log_share(s, choice[i]);
            row += s.columns;
        }
        f(share, sd);
        std::size_t i = 0;
        while (i < members.size() &&
               ++choice[i] == suspects[static_cast<std::size_t>(members[i])].sizes.size())
            choice[i++] = 0;
        if (i == members.size()) return;
    }
}

double evidence_at(const PickedColumns& picked, const SmallColumn& sd) {
    SmallGram a = sd.asDiagonal() * picked.gram * sd.asDiagonal();
    a.diagonal().array() += 1.0;
    const Eigen::LLT<SmallGram> factor(a);
    const SmallColumn h = sd.cwiseProduct(picked.misfit);
    const SmallColumn z = factor.matrixL().solve(h);
    double log_det = 0.0;
    for (Eigen::Index i = 0; i < a.rows(); ++i) log_det += std::log(factor.matrixLLT()(i, i));
    return 0.5 * z.squaredNorm() - log_det;
}

double ln_sum(const std::vector<double>& logs) {
    const double most = *std::max_element(logs.begin(), logs.end());
    if (!std::isfinite(most)) return most;
    double sum = 0.0;
    for (const double l : logs) sum += std::exp(l - most);
    return most + std::log(sum);
}

/// What one more suspect adds to a set: the factor of the set for each combination of its sizes
/// that counts.
class GrowingSet {
public:
    GrowingSet(const MatrixXd& gram, const VectorXd& misfit, const std::vector<Suspect>& suspects,
               const std::vector<int>& members)
        : gram_(gram), misfit_(misfit), suspects_(suspects), members_(members) {
        constexpr double kCounts = 12.0;
        const PickedColumns picked = pick(gram, misfit, suspects, members);
        double most = -std::numeric_limits<double>::infinity();
        for_sizes(suspects, members, [&](double share, const SmallColumn& sd) {
            SmallGram a = sd.asDiagonal() * picked.gram * sd.asDiagonal();
            a.diagonal().array() += 1.0;
            const Eigen::LLT<SmallGram> factor(a);
            AtSizes one{factor.matrixL(), sd, sd.cwiseProduct(picked.misfit), share};
            one.lower.triangularView<Eigen::Lower>().solveInPlace(one.z);
            one.log += 0.5 * one.z.squaredNorm();
            for (Eigen::Index i = 0; i < a.rows(); ++i) one.log -= std::log(one.lower(i, i));
            most = std::max(most, one.log);
            sizes_.push_back(std::move(one));
        });
        std::erase_if(sizes_, [&](const AtSizes& one) { return one.log < most - kCounts; });
    }

    /// ln BF of the set with this one.
    double with(int suspect) const {
        const Suspect& s = suspects_[static_cast<std::size_t>(suspect)];
        using Block = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::ColMajor, 24, 3>;
        using Three = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::ColMajor, 3, 3>;
        using Column = Eigen::Matrix<double, Eigen::Dynamic, 1, Eigen::ColMajor, 3, 1>;
        Block cross(sizes_.front().sd.size(), s.columns);
        int row = 0;
        for (const int m : members_) {
            const Suspect& other = suspects_[static_cast<std::size_t>(m)];
            cross.middleRows(row, other.columns) =
                gram_.block(other.first_column, s.first_column, other.columns, s.columns);
            row += other.columns;
        }
        const Three own = gram_.block(s.first_column, s.first_column, s.columns, s.columns);
        const Column own_misfit = misfit_.segment(s.first_column, s.columns);
        double most = -std::numeric_limits<double>::infinity();
        double sum = 0.0;
        for (const AtSizes& one : sizes_) {
            Block x = one.sd.asDiagonal() * cross;
            one.lower.triangularView<Eigen::Lower>().solveInPlace(x);
            const Three left = own - x.transpose() * x;
            const Column left_misfit = own_misfit - x.transpose() * one.z;
            for (std::size_t k = 0; k < s.sizes.size(); ++k) {
                const Column sd = s.sizes[k];
                Three a = sd.asDiagonal() * left * sd.asDiagonal();
                a.diagonal().array() += 1.0;
                const Eigen::LLT<Three> factor(a);
                Column z = sd.cwiseProduct(left_misfit);
                factor.matrixL().solveInPlace(z);
                double log = one.log + log_share(s, k) + 0.5 * z.squaredNorm();
                for (Eigen::Index i = 0; i < a.rows(); ++i)
                    log -= std::log(factor.matrixLLT()(i, i));
                if (log > most) {
                    sum = sum * std::exp(most - log) + 1.0;
                    most = log;
                } else {
                    sum += std::exp(log - most);
                }
            }
        }
        return most + std::log(sum);
    }

private:
    struct AtSizes {
        SmallGram lower;
        SmallColumn sd, z;
        double log = 0.0;
    };
    const MatrixXd& gram_;
    const VectorXd& misfit_;
    const std::vector<Suspect>& suspects_;
    const std::vector<int>& members_;
    std::vector<AtSizes> sizes_;
};

class SetSearch {
public:
    SetSearch(const MatrixXd& gram, const VectorXd& misfit, const std::vector<Suspect>& suspects,
              const SearchOptions& options)
        : gram_(gram), misfit_(misfit), suspects_(suspects), options_(options) {}

    std::vector<SuspectSet> run() {
        sets_.push_back({});
        seen_.insert(std::vector<int>{});
        const auto most = static_cast<std::size_t>(
            std::clamp(options_.most_at_once, 0, static_cast<int>(kMostMoved)));
        if (most > 0) grow({});
        for (std::size_t size = 2; size <= most; ++size) {
            for (const SuspectSet& seed : seeds_of(size - 1)) grow(seed.members);
        }
        exchange(most);
        return normalised();
    }

private:
    double log_prior(const std::vector<int>& members) const {
        double out = 0.0;
        std::vector<std::size_t> count(options_.rate_weights.size(), 0);
        for (const int m : members) {
            const Suspect& s = suspects_[static_cast<std::size_t>(m)];
            out += s.log_odds;
            if (s.kind >= 0 && static_cast<std::size_t>(s.kind) < count.size())
                ++count[static_cast<std::size_t>(s.kind)];
        }
        for (std::size_t k = 0; k < count.size(); ++k) {
            const std::vector<double>& weights = options_.rate_weights[k];
            if (!weights.empty()) out += weights[std::min(count[k], weights.size() - 1)];
        }
        return out;
    }

    bool fits(const std::vector<int>& members, int suspect) const {
        const int group = suspects_[static_cast<std::size_t>(suspect)].group;
        return std::none_of(members.begin(), members.end(), [&](int m) {
            return m == suspect ||
                   (group >= 0 && suspects_[static_cast<std::size_t>(m)].group == group);
        });
    }

    /// Weighs the set with every other suspect, what is new of it.
    void grow(const std::vector<int>& members) {
        if (!grown_.insert(members).second) return;
        const GrowingSet growing(gram_, misfit_, suspects_, members);
        for (int h = 0; h < static_cast<int>(suspects_.size()); ++h) {
            if (!fits(members, h)) continue;
            SuspectSet one;
            one.members = members;
            one.members.insert(std::upper_bound(one.members.begin(), one.members.end(), h), h);
            if (!seen_.insert(one.members).second) continue;
            one.log_evidence = growing.with(h);
            one.log_weight = one.log_evidence + log_prior(one.members);
            best_ = std::max(best_, one.log_weight);
            sets_.push_back(std::move(one));
        }
    }

    /// The same subjects with other gaps and causes are variants of one thing.
    std::vector<int> subjects_of(const SuspectSet& set) const {
        std::vector<int> out;
        for (const int m : set.members) {
            const int group = suspects_[static_cast<std::size_t>(m)].group;
            out.push_back(group >= 0 ? group : -1 - m);
        }
        std::sort(out.begin(), out.end());
        return out;
    }

    /// By weight, and by evidence: two that hide each other explain little of the whole alone, but
    /// more than their share. Beyond three at once only within the window.
    std::vector<SuspectSet> seeds_of(std::size_t size) const {
        std::vector<const SuspectSet*> level;
        for (const SuspectSet& set : sets_)
            if (set.members.size() == size &&
                (size < 3 || set.log_weight >= best_ - options_.window))
                level.push_back(&set);
        std::vector<SuspectSet> out;
        const auto beam = static_cast<std::size_t>(options_.beam);
        if (level.size() <= beam ||
            (size == 1 && static_cast<int>(level.size()) <= options_.all_pairs_up_to)) {
            for (const SuspectSet* set : level) out.push_back(*set);
            return out;
        }
        constexpr int kVariants = 6;
        std::set<const SuspectSet*> taken;
        const auto take = [&](std::size_t count, auto&& value) {
            std::stable_sort(
                level.begin(), level.end(),
                [&](const SuspectSet* a, const SuspectSet* b) { return value(*a) > value(*b); });
            std::map<std::vector<int>, int> variants;
            for (const SuspectSet* set : level) {
                if (count == 0) return;
                if (++variants[subjects_of(*set)] > kVariants || !taken.insert(set).second)
                    continue;
                out.push_back(*set);
                --count;
            }
        };
        take(beam - beam / 3, [](const SuspectSet& set) { return set.log_weight; });
        take(beam / 3, [](const SuspectSet& set) { return set.log_evidence; });
        return out;
    }

    /// Drops each member of the best sets in turn and weighs what remains with every other, best
    /// first, until the window holds nothing new.
    void exchange(std::size_t most) {
        std::set<std::vector<int>> done;
        for (int round = 0; round < options_.most_exchanged; ++round) {
            const SuspectSet* next = nullptr;
            for (const SuspectSet& set : sets_)
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

    std::vector<SuspectSet> normalised() {
        std::vector<double> logs;
        logs.reserve(sets_.size());
        for (const SuspectSet& set : sets_) logs.push_back(set.log_weight);
        const double total = ln_sum(logs);
        const double best = *std::max_element(logs.begin(), logs.end());
        std::vector<SuspectSet> out;
        for (SuspectSet& set : sets_) {
            if (set.log_weight < best - options_.kept_below_best && !set.members.empty()) continue;
            set.probability = std::exp(set.log_weight - total);
            out.push_back(std::move(set));
        }
        std::stable_sort(out.begin(), out.end(), [](const SuspectSet& a, const SuspectSet& b) {
            return a.log_weight > b.log_weight;
        });
        return out;
    }

    const MatrixXd& gram_;
    const VectorXd& misfit_;
    const std::vector<Suspect>& suspects_;
    const SearchOptions& options_;
    std::vector<SuspectSet> sets_;
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
    const double none = ln_sum(logs[0]);
    for (std::size_t k = 0; k < count; ++k) out[k] = ln_sum(logs[k]) - none;
    return out;
}

double set_evidence(const MatrixXd& gram, const VectorXd& misfit,
                    const std::vector<Suspect>& suspects, const std::vector<int>& members) {
    if (members.empty()) return 0.0;
    const PickedColumns picked = pick(gram, misfit, suspects, members);
    double most = -std::numeric_limits<double>::infinity();
    double sum = 0.0;
    for_sizes(suspects, members, [&](double share, const SmallColumn& sd) {
        const double log = share + evidence_at(picked, sd);
        if (log > most) {
            sum = sum * std::exp(most - log) + 1.0;
            most = log;
        } else {
            sum += std::exp(log - most);
        }
    });
    return most + std::log(sum);
}

SetAmounts set_amounts(const MatrixXd& gram, const VectorXd& misfit,
                       const std::vector<Suspect>& suspects, const std::vector<int>& members) {
    const PickedColumns picked = pick(gram, misfit, suspects, members);
    const Eigen::Index size = picked.misfit.size();
    std::vector<double> logs;
    std::vector<std::pair<VectorXd, MatrixXd>> parts;
    for_sizes(suspects, members, [&](double share, const SmallColumn& sd) {
        logs.push_back(share + evidence_at(picked, sd));
        MatrixXd a = sd.asDiagonal() * picked.gram * sd.asDiagonal();
        a.diagonal().array() += 1.0;
        const MatrixXd covariance = sd.asDiagonal() * a.llt().solve(MatrixXd(sd.asDiagonal()));
        parts.emplace_back(covariance * picked.misfit, covariance);
    });
    const double total = ln_sum(logs);
    SetAmounts out{VectorXd::Zero(size), MatrixXd::Zero(size, size)};
    for (std::size_t i = 0; i < parts.size(); ++i)
        out.mean += std::exp(logs[i] - total) * parts[i].first;
    for (std::size_t i = 0; i < parts.size(); ++i) {
        const VectorXd off = parts[i].first - out.mean;
        out.covariance += std::exp(logs[i] - total) * (parts[i].second + off * off.transpose());
    }
    return out;
}

std::vector<SuspectSet> search_sets(const MatrixXd& gram, const VectorXd& misfit,
                                    const std::vector<Suspect>& suspects,
                                    const SearchOptions& options) {
    return SetSearch(gram, misfit, suspects, options).run();
}

}  // namespace layproof::network

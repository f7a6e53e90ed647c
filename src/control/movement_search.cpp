#include "control/movement_search.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>
#include <set>
#include <utility>

namespace layproof::control {
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

/// Calls `f(ln share, standard deviations)` for every combination of sizes.
template <class F>
void for_sizes(const std::vector<Suspect>& suspects, const std::vector<int>& members, F&& f) {
    std::vector<std::size_t> choice(members.size(), 0);
    int size = 0;
    double share = 0.0;
    for (const int m : members) {
        const Suspect& s = suspects[static_cast<std::size_t>(m)];
        size += s.columns;
        share -= std::log(static_cast<double>(s.sizes.size()));
    }
    SmallColumn sd(size);
    for (;;) {
        int row = 0;
        for (std::size_t i = 0; i < members.size(); ++i) {
            const Suspect& s = suspects[static_cast<std::size_t>(members[i])];
            sd.segment(row, s.columns) = s.sizes[choice[i]];
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

class SetSearch {
public:
    SetSearch(const MatrixXd& gram, const VectorXd& misfit, const std::vector<Suspect>& suspects,
              const SearchOptions& options)
        : gram_(gram), misfit_(misfit), suspects_(suspects), options_(options) {}

    std::vector<SuspectSet> run() {
        sets_.push_back({});
        const int n = static_cast<int>(suspects_.size());
        std::vector<SuspectSet> level;
        for (int h = 0; h < n; ++h) level.push_back(weigh({h}));
        add(level);
        const int most = std::min(options_.most_at_once, static_cast<int>(kMostMoved));
        for (int size = 2; size <= most && !level.empty(); ++size) {
            const std::vector<SuspectSet> seeds =
                size == 2 && n <= options_.all_pairs_up_to ? level : best_of(level);
            level = grown(seeds, n);
            add(level);
        }
        return normalised();
    }

private:
    SuspectSet weigh(std::vector<int> members) const {
        SuspectSet out;
        out.log_evidence = set_evidence(gram_, misfit_, suspects_, members);
        out.log_weight = out.log_evidence;
        for (const int m : members)
            out.log_weight += suspects_[static_cast<std::size_t>(m)].log_odds;
        out.members = std::move(members);
        return out;
    }

    bool fits(const std::vector<int>& members, int suspect) const {
        const int group = suspects_[static_cast<std::size_t>(suspect)].group;
        return std::none_of(members.begin(), members.end(), [&](int m) {
            return m == suspect ||
                   (group >= 0 && suspects_[static_cast<std::size_t>(m)].group == group);
        });
    }

    /// By weight, and by evidence: two that hide each other explain little of the whole alone, but
    /// more than their share.
    std::vector<SuspectSet> best_of(std::vector<SuspectSet> level) const {
        const auto beam = static_cast<std::size_t>(options_.beam);
        if (level.size() <= beam) return level;
        std::vector<SuspectSet> out;
        std::set<std::vector<int>> taken;
        const auto take = [&](std::size_t count, auto&& less) {
            std::partial_sort(level.begin(), level.begin() + static_cast<std::ptrdiff_t>(count),
                              level.end(), less);
            for (std::size_t i = 0; i < count; ++i)
                if (taken.insert(level[i].members).second) out.push_back(level[i]);
        };
        take(beam - beam / 3,
             [](const SuspectSet& a, const SuspectSet& b) { return a.log_weight > b.log_weight; });
        take(beam / 3, [](const SuspectSet& a, const SuspectSet& b) {
            return a.log_evidence > b.log_evidence;
        });
        return out;
    }

    std::vector<SuspectSet> grown(const std::vector<SuspectSet>& seeds, int n) const {
        std::vector<SuspectSet> out;
        std::set<std::vector<int>> seen;
        for (const SuspectSet& seed : seeds)
            for (int h = 0; h < n; ++h) {
                if (!fits(seed.members, h)) continue;
                std::vector<int> members = seed.members;
                members.insert(std::upper_bound(members.begin(), members.end(), h), h);
                if (!seen.insert(members).second) continue;
                out.push_back(weigh(std::move(members)));
            }
        return out;
    }

    void add(const std::vector<SuspectSet>& level) {
        sets_.insert(sets_.end(), level.begin(), level.end());
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
};

}  // namespace

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

}  // namespace layproof::control

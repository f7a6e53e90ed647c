#include "infer/grouping.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace layproof::infer {
namespace {

class Grouping {
public:
    Grouping(std::span<const Nameable> list, int ways, const Joins& joins,
             const SameTrace& same_trace)
        : list_(list), ways_(ways), joins_(joins), same_trace_(same_trace), order_(list.size()) {
        std::iota(order_.begin(), order_.end(), 0);
        std::stable_sort(order_.begin(), order_.end(),
                         [&](int a, int b) { return of(a).probability > of(b).probability; });
    }

    std::vector<std::vector<int>> run() {
        taken_.assign(list_.size(), 0);
        std::vector<std::vector<int>> out;
        for (std::size_t at = 0; at < order_.size(); ++at) {
            if (taken(order_[at])) continue;
            std::vector<int> members{order_[at]};
            double most = -1.0;
            for (int way = 0; of(order_[at]).may_lead && way < ways_; ++way) {
                std::vector<int> gathered = gather(at, way);
                if (sum(gathered) <= most) continue;
                most = sum(gathered);
                members = std::move(gathered);
            }
            for (const int i : members) taken_[static_cast<std::size_t>(i)] = 1;
            out.push_back(std::move(members));
        }
        std::stable_sort(out.begin(), out.end(),
                         [&](const auto& a, const auto& b) { return sum(a) > sum(b); });
        return out;
    }

private:
    const Nameable& of(int i) const { return list_[static_cast<std::size_t>(i)]; }
    bool taken(int i) const { return taken_[static_cast<std::size_t>(i)] != 0; }

    double sum(const std::vector<int>& members) const {
        double out = 0.0;
        for (const int i : members) out += of(i).probability;
        return out;
    }

    bool same_trace(int a, int b) const { return same_trace_ && same_trace_(a, b); }

    bool cannot_split(const std::vector<int>& members, int other) const {
        const int lead = members.front();
        const bool is_named = of(other).probability >= kWorthNaming * of(lead).probability;
        return (is_named || same_trace(lead, other)) &&
               std::all_of(members.begin(), members.end(), [&](int m) {
                   return std::abs(of(m).log_evidence - of(other).log_evidence) < kSplitEvidence ||
                          same_trace(m, other);
               });
    }

    std::vector<int> gather(std::size_t at, int way) const {
        std::vector<int> out{order_[at]};
        for (std::size_t k = at + 1; k < order_.size() && out.size() < kMostMembers; ++k) {
            const int other = order_[k];
            if (!taken(other) && of(other).may_join && joins_(way, out, other) &&
                cannot_split(out, other))
                out.push_back(other);
        }
        return out;
    }

    std::span<const Nameable> list_;
    int ways_;
    const Joins& joins_;
    const SameTrace& same_trace_;
    std::vector<int> order_;
    std::vector<char> taken_;
};

}  // namespace

std::vector<std::vector<int>> group_alike(std::span<const Nameable> list, int ways,
                                          const Joins& joins, const SameTrace& same_trace) {
    return Grouping(list, ways, joins, same_trace).run();
}

}  // namespace layproof::infer

#include "plan/choice_branch_internal.hpp"

#include <algorithm>
#include <limits>
#include <memory>
#include <numeric>

namespace layproof::plan::internal {
namespace {

/// Parts worked at beside each other.
constexpr std::size_t kLot = 16;
/// Subgradients on a part: much is gained near the root, where a branch costs most.
constexpr Patience kPatienceAbove{240, 0.6};
constexpr Patience kPatienceBelow{60, 0.6};
constexpr std::size_t kAbove = 2;
/// Starts from which points are gathered.
constexpr std::size_t kGatherings = 24;

/// What the branches of one part have in common.
struct Parent {
    Picks picks;
    std::vector<std::uint32_t> candidates;
    std::vector<std::uint32_t> branches;  ///< candidates, one of which must be chosen
    std::vector<float> v;                 ///< of each point
};

struct Branch {
    std::shared_ptr<const Parent> parent;
    std::size_t at = 0;  ///< into branches: this one is chosen, those before it are left out
};

struct Split {
    bool is_found = false;
    Picks found;
    std::shared_ptr<const Parent> parent;  ///< null: nothing left to look at
    std::int64_t work = 0;
};

/// Gathers points until leaving all of them out costs more than `spare`; marks those who hold one.
/// False: not possible with fewer than `fewer` of them.
class Gathering {
public:
    Gathering(const Part& part, const NumberLists& holders, double spare, std::int64_t& work)
        : part_(part), holders_(holders), spare_(spare), work_(work) {}

    bool run(std::uint32_t start, std::size_t fewer) {
        marked_.assign(part_.size(), 0);
        gathered_.clear();
        open_.resize(part_.points.size());
        for (std::uint32_t i = 0; i < open_.size(); ++i) open_[i] = holders_.of(i).size();
        std::vector<char> is_in(open_.size(), 0);
        double cost = 0.0;
        std::uint32_t next = start;
        while (true) {
            for (const std::uint32_t c : holders_.of(next)) {
                if (marked_[c] != 0) continue;
                marked_[c] = 1;
                gathered_.push_back(c);
                for (const std::uint32_t i : part_.lists.of(c)) --open_[i];
                work_ += static_cast<std::int64_t>(part_.lists.of(c).size());
            }
            if (gathered_.size() >= fewer) return false;
            double least = std::numeric_limits<double>::infinity();
            for (std::uint32_t i = 0; i < open_.size(); ++i) {
                if (is_in[i] != 0) continue;
                const double lost = 1.0 - part_.v[i];
                if (open_[i] == 0) {
                    is_in[i] = 1;
                    cost += lost;
                } else if (lost > 0.05) {
                    const double price = static_cast<double>(open_[i]) / lost;
                    if (price < least) {
                        least = price;
                        next = i;
                    }
                }
            }
            work_ += static_cast<std::int64_t>(open_.size());
            if (cost > spare_) return true;
            if (least == std::numeric_limits<double>::infinity()) return false;
        }
    }
    const std::vector<std::uint32_t>& gathered() const { return gathered_; }

private:
    const Part& part_;
    const NumberLists& holders_;
    double spare_;
    std::int64_t& work_;
    std::vector<char> marked_;
    std::vector<std::size_t> open_;
    std::vector<std::uint32_t> gathered_;
};

/// Few candidates, one of which every sufficient choice holds; into part.candidates.
std::vector<std::uint32_t> branches_of(const Part& part, std::int64_t& work) {
    std::vector<std::uint32_t> best(part.size());
    std::iota(best.begin(), best.end(), 0U);
    const NumberLists holders = holders_of(part.lists, part.points.size());
    std::vector<std::pair<double, std::uint32_t>> starts;
    for (std::uint32_t i = 0; i < part.points.size(); ++i)
        if (part.v[i] < 0.8)
            starts.emplace_back(static_cast<double>(holders.of(i).size()) / (1.0 - part.v[i]), i);
    std::sort(starts.begin(), starts.end());
    // Without them U falls by 1 − v of each point that is lost.
    const double spare = part.most - static_cast<double>(part.needed) + 2.0 * kProofSlack;
    Gathering gathering(part, holders, spare, work);
    const std::size_t tries = std::min(kGatherings, starts.size());
    for (std::size_t t = 0; t < tries; ++t) {
        // From the cheaper half.
        const std::size_t at = t * starts.size() / tries / 2;
        if (gathering.run(starts[at].second, best.size())) best = gathering.gathered();
    }
    const std::vector<double> worth = worth_of(part, part.v);
    std::sort(best.begin(), best.end(), [&](std::uint32_t a, std::uint32_t b) {
        return worth[a] > worth[b] || (worth[a] == worth[b] && a < b);
    });
    return best;
}

std::shared_ptr<const Parent> split(const Reduced& reduced, const Picks& picks, const Part& part,
                                    std::int64_t& work) {
    auto out = std::make_shared<Parent>();
    out->picks = picks;
    out->candidates = part.candidates;
    for (const std::uint32_t c : branches_of(part, work))
        out->branches.push_back(part.candidates[c]);
    out->v.assign(reduced.point_count(), 0.0F);
    for (std::size_t i = 0; i < part.points.size(); ++i)
        out->v[part.points[i]] = static_cast<float>(part.v[i]);
    return out;
}

Split look_at(const Reduced& reduced, const Branch& branch, std::size_t places,
              std::size_t needed) {
    const Parent& parent = *branch.parent;
    Split out;
    Picks picks = parent.picks;
    picks.push_back(parent.branches[branch.at]);
    std::vector<char> is_out(reduced.size(), 0);
    for (std::size_t k = 0; k <= branch.at; ++k) is_out[parent.branches[k]] = 1;
    std::vector<std::uint32_t> candidates;
    for (const std::uint32_t c : parent.candidates)
        if (is_out[c] == 0) candidates.push_back(c);
    Part part = part_of(reduced, picks, candidates, places, needed, parent.v);
    out.work = static_cast<std::int64_t>(part.lists.items.size() + reduced.size());
    if (part.needed == 0) {
        out.is_found = true;
        out.found = std::move(picks);
        return out;
    }
    if (is_too_few(part, picks.size() < kAbove ? kPatienceAbove : kPatienceBelow, out.work))
        return out;
    out.parent = split(reduced, picks, part, out.work);
    return out;
}

}  // namespace

BranchOutcome try_all(const Reduced& reduced, const Part& root, std::size_t places,
                      std::size_t needed, Workers* workers, std::int64_t& work) {
    BranchOutcome out;
    std::vector<Branch> open;
    const auto append = [&](const std::shared_ptr<const Parent>& parent) {
        for (std::size_t k = parent->branches.size(); k-- > 0;) open.push_back({parent, k});
    };
    append(split(reduced, {}, root, work));
    while (!open.empty()) {
        if (work <= 0) return out;
        const std::size_t lot = std::min(kLot, open.size());
        std::vector<Branch> taken(open.end() - static_cast<std::ptrdiff_t>(lot), open.end());
        open.resize(open.size() - lot);
        std::vector<Split> splits(lot);
        each(workers, lot,
             [&](std::size_t k) { splits[k] = look_at(reduced, taken[k], places, needed); });
        for (const Split& s : splits) {
            work -= s.work;
            if (s.is_found) {
                out.kind = BranchOutcome::Kind::found;
                out.found = s.found;
                return out;
            }
            if (s.parent != nullptr) append(s.parent);
        }
    }
    out.kind = BranchOutcome::Kind::none;
    return out;
}

}  // namespace layproof::plan::internal

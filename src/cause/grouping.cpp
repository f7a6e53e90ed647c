#include "cause/grouping.hpp"

#include <algorithm>
#include <cmath>

namespace layproof::cause {
namespace {

constexpr double kWorthNaming = 0.05;

bool data_cannot_split(const Explanation& a, const Explanation& b) {
    return std::abs(a.log_evidence - b.log_evidence) < kSplitEvidence;
}

bool same_place(const Explanation& a, const Explanation& b) {
    return a.subjects.empty() || b.subjects.empty() || a.subjects == b.subjects;
}

/// The leading explanation and the most probable ones that fit `joins`, from a list in falling
/// order.
template <class Joins>
std::vector<std::size_t> gather(const std::vector<Explanation>& list,
                                const std::vector<bool>& taken, std::size_t lead, Joins joins) {
    std::vector<std::size_t> out{lead};
    for (std::size_t i = lead + 1; i < list.size() && out.size() < kMostMembers; ++i) {
        if (taken[i] || list[i].cause == Cause::nothing_wrong ||
            list[i].probability < kWorthNaming * list[lead].probability)
            continue;
        bool fits = true;
        for (const std::size_t member : out)
            fits = fits && data_cannot_split(list[member], list[i]) && joins(list[member], list[i]);
        if (fits) out.push_back(i);
    }
    return out;
}

double sum(const std::vector<Explanation>& list, const std::vector<std::size_t>& members) {
    double total = 0.0;
    for (const std::size_t i : members) total += list[i].probability;
    return total;
}

}  // namespace

std::vector<Entry> group(std::vector<Explanation> explanations) {
    std::stable_sort(explanations.begin(), explanations.end(),
                     [](const auto& a, const auto& b) { return a.probability > b.probability; });
    std::vector<Entry> out;
    std::vector<bool> taken(explanations.size(), false);
    for (std::size_t lead = 0; lead < explanations.size(); ++lead) {
        if (taken[lead]) continue;
        std::vector<std::size_t> members{lead};
        if (explanations[lead].cause != Cause::nothing_wrong) {
            const auto causes = gather(explanations, taken, lead, [](const auto& a, const auto& b) {
                return a.cause != b.cause && same_place(a, b);
            });
            const auto subjects =
                gather(explanations, taken, lead, [](const auto& a, const auto& b) {
                    return a.cause == b.cause && a.subjects.size() == 1 && b.subjects.size() == 1;
                });
            members = sum(explanations, causes) >= sum(explanations, subjects) ? causes : subjects;
        }
        Entry entry;
        for (const std::size_t i : members) {
            taken[i] = true;
            entry.probability += explanations[i].probability;
            entry.members.push_back(explanations[i]);
        }
        out.push_back(std::move(entry));
    }
    std::stable_sort(out.begin(), out.end(),
                     [](const Entry& a, const Entry& b) { return a.probability > b.probability; });
    return out;
}

}  // namespace layproof::cause

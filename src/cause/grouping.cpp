#include "cause/grouping.hpp"

#include <algorithm>

#include "infer/grouping.hpp"

namespace layproof::cause {
namespace {

bool same_place(const Explanation& a, const Explanation& b) {
    return a.subjects.empty() || b.subjects.empty() || a.subjects == b.subjects;
}

}  // namespace

std::vector<Entry> group(std::vector<Explanation> explanations) {
    std::vector<infer::Nameable> list;
    list.reserve(explanations.size());
    for (const Explanation& e : explanations) {
        const bool alone = e.cause == Cause::nothing_wrong;
        list.push_back({e.probability, e.log_evidence, !alone, !alone});
    }
    const auto of = [&](int i) -> const Explanation& {
        return explanations[static_cast<std::size_t>(i)];
    };
    const auto joins = [&](int way, const std::vector<int>& members, int other) {
        const Explanation& b = of(other);
        return std::all_of(members.begin(), members.end(), [&](int member) {
            const Explanation& a = of(member);
            return way == 0
                       ? a.cause != b.cause && same_place(a, b)
                       : a.cause == b.cause && a.subjects.size() == 1 && b.subjects.size() == 1;
        });
    };
    std::vector<Entry> out;
    for (const std::vector<int>& members : infer::group_alike(list, 2, joins)) {
        Entry entry;
        for (const int i : members) {
            entry.probability += of(i).probability;
            entry.members.push_back(std::move(explanations[static_cast<std::size_t>(i)]));
        }
        out.push_back(std::move(entry));
    }
    return out;
}

}  // namespace layproof::cause

#include <algorithm>
#include <cmath>
#include <map>

#include "infer/grouping.hpp"
#include "infer/mixture.hpp"
#include "watch/hypotheses_internal.hpp"

namespace layproof::watch::internal {
namespace {

/// Explanations less probable than this are not listed one by one.
constexpr double kSmallestListed = 0.0005;

using Key = std::pair<int, int>;  // patterns, in order of time; −1: none

struct Draft {
    Key key;
    double probability = 0.0;
    double prior = 0.0;
    int first_shown = -1;
    Hypothesis hypothesis;
};

std::string subject_of(const Day& day, const Evidence& evidence, const Pattern& pattern) {
    if (pattern.mark >= 0) return day.start.marks[static_cast<std::size_t>(pattern.mark)];
    if (pattern.observation < 0) return {};
    const Observation& seen = evidence.observations[static_cast<std::size_t>(pattern.observation)];
    return seen.mark >= 0 ? day.start.marks[static_cast<std::size_t>(seen.mark)]
                          : day.points[static_cast<std::size_t>(seen.point)].target.name;
}

Key key_of(const Member& m) {
    return m.second >= 0 ? Key(std::min(m.pattern, m.second), std::max(m.pattern, m.second))
                         : Key(m.pattern, -1);
}

/// Could two single changes be two names for what was seen?
bool look_alike(const Evidence& evidence, const Draft& a, const Draft& b) {
    const auto& pa = evidence.patterns[static_cast<std::size_t>(a.key.first)];
    const auto& pb = evidence.patterns[static_cast<std::size_t>(b.key.first)];
    if (pa.first_shown < 0 || pb.first_shown < 0) return false;
    if (pa.change == Change::bump && pb.change == Change::bump)
        return std::abs(pa.stretch - pb.stretch) == 1;
    return pa.first_shown == pb.first_shown;
}

}  // namespace

Listed list_hypotheses(const Day& day, const Evidence& evidence,
                       const std::vector<Scenario>& scenarios) {
    std::map<Key, Draft> by_key;
    for (const Member& m : evidence.members) {
        Draft& d = by_key[key_of(m)];
        d.key = key_of(m);
        d.probability += m.weight;
        d.prior += m.prior;
    }
    const auto evidence_of = [](const Draft& d) {
        return std::log(std::max(d.probability, 1e-300)) - std::log(std::max(d.prior, 1e-300));
    };
    const Draft& nothing = by_key[Key(-1, -1)];
    const double base = evidence_of(nothing);

    Listed out;
    std::vector<Draft> drafts;
    for (auto& [key, d] : by_key) {
        if (key.first >= 0 && d.probability < kSmallestListed) {
            out.others += d.probability;
            continue;
        }
        d.hypothesis.probability = d.probability;
        d.hypothesis.log_evidence = evidence_of(d) - base;
        for (const int p : {key.first, key.second}) {
            if (p < 0) continue;
            const Pattern& pattern = evidence.patterns[static_cast<std::size_t>(p)];
            ChangeReport change;
            change.change = pattern.change;
            change.subject = subject_of(day, evidence, pattern);
            change.from_event = pattern.from_event;
            change.to_event = pattern.to_event;
            infer::Normal<4> amount;
            for (const Scenario& s : scenarios) {
                if (key_of(s.member) != key) continue;
                const int at = s.member.pattern == p ? 0 : 4;
                infer::put_together(amount,
                                    infer::Normal<4>{s.weight, s.amount.mean.segment<4>(at),
                                                     s.amount.covariance.block<4, 4>(at, at)});
            }
            if (amount.weight > 0.0) {
                change.amount = amount.mean;
                change.amount_sd = amount.covariance.diagonal().cwiseMax(0.0).cwiseSqrt();
            }
            d.hypothesis.changes.push_back(std::move(change));
        }
        drafts.push_back(d);
    }
    std::vector<infer::Nameable> list;
    for (const Draft& d : drafts) {
        const bool single = d.key.first >= 0 && d.key.second < 0;
        list.push_back({d.probability, d.hypothesis.log_evidence, single, single});
    }
    const auto joins = [&](int, const std::vector<int>& members, int other) {
        return look_alike(evidence, drafts[static_cast<std::size_t>(members.front())],
                          drafts[static_cast<std::size_t>(other)]);
    };
    for (const std::vector<int>& members : infer::group_alike(list, 1, joins)) {
        HypothesisGroup& group = out.groups.emplace_back();
        for (const int i : members) {
            const Draft& draft = drafts[static_cast<std::size_t>(i)];
            group.probability += draft.probability;
            group.members.push_back(draft.hypothesis);
        }
    }
    return out;
}

}  // namespace layproof::watch::internal

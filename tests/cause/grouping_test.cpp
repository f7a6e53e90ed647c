#include "cause/grouping.hpp"

#include <gtest/gtest.h>

#include <set>
#include <string>

#include "base/random.hpp"
#include "infer/grouping.hpp"

namespace layproof::cause {
namespace {

Explanation explanation(Cause cause, std::vector<std::string> subjects, double probability,
                        double log_evidence) {
    Explanation out;
    out.cause = cause;
    out.subjects = std::move(subjects);
    out.probability = probability;
    out.log_evidence = log_evidence;
    return out;
}

TEST(Grouping, alike_causes_at_one_mark_are_one_entry) {
    const auto entries = group({explanation(Cause::mark_moved, {"A"}, 0.5, 9.0),
                                explanation(Cause::rod_not_plumb, {"A"}, 0.3, 9.5),
                                explanation(Cause::nothing_wrong, {}, 0.2, 0.0)});
    ASSERT_EQ(entries.size(), 2U);
    ASSERT_EQ(entries[0].members.size(), 2U);
    EXPECT_EQ(entries[0].members[0].cause, Cause::mark_moved);
    EXPECT_NEAR(entries[0].probability, 0.8, 1e-12);
}

TEST(Grouping, evidence_of_more_than_three_to_one_keeps_apart) {
    // Jeffreys' "not worth more than a bare mention": from memory, 10^(1/2) or 3.2.
    EXPECT_NEAR(std::exp(infer::kSplitEvidence), 3.2, 1e-12);
    for (const double gap : {1.16, 1.17}) {
        const auto entries = group({explanation(Cause::mark_moved, {"A"}, 0.5, 9.0),
                                    explanation(Cause::rod_not_plumb, {"A"}, 0.3, 9.0 - gap)});
        EXPECT_EQ(entries.size(), gap < infer::kSplitEvidence ? 1U : 2U);
    }
}

TEST(Grouping, one_cause_at_several_marks_is_one_entry) {
    const auto entries = group({explanation(Cause::mark_moved, {"A"}, 0.4, 9.0),
                                explanation(Cause::mark_moved, {"B"}, 0.35, 9.0),
                                explanation(Cause::rod_not_plumb, {"A"}, 0.1, 9.0),
                                explanation(Cause::nothing_wrong, {}, 0.15, 0.0)});
    ASSERT_EQ(entries[0].members.size(), 2U);
    EXPECT_EQ(entries[0].members[1].subjects.front(), "B");
    EXPECT_NEAR(entries[0].probability, 0.75, 1e-12);
}

TEST(Grouping, causes_without_a_subject_may_join) {
    const auto entries = group({explanation(Cause::prism_constant_wrong, {}, 0.5, 9.0),
                                explanation(Cause::distance_scale_wrong, {}, 0.2, 9.0),
                                explanation(Cause::mark_moved, {"A"}, 0.3, 9.0)});
    ASSERT_EQ(entries.size(), 1U);
    EXPECT_EQ(entries[0].members.size(), 3U);
}

TEST(Grouping, never_mixes_subjects_and_causes) {
    const auto entries = group({explanation(Cause::mark_moved, {"A"}, 0.5, 9.0),
                                explanation(Cause::rod_not_plumb, {"B"}, 0.5, 9.0)});
    EXPECT_EQ(entries.size(), 2U);
}

TEST(Grouping, small_members_and_nothing_wrong_stay_apart) {
    const auto entries = group({explanation(Cause::mark_moved, {"A"}, 0.9, 0.5),
                                explanation(Cause::rod_not_plumb, {"A"}, 0.04, 0.5),
                                explanation(Cause::nothing_wrong, {}, 0.06, 0.0)});
    EXPECT_EQ(entries.size(), 3U);
}

TEST(Grouping, holds_each_explanation_once_and_at_most_three) {
    Random random(5);
    for (int run = 0; run < 500; ++run) {
        std::vector<Explanation> list;
        double total = 0.0;
        const int count = 1 + random.below(12);
        for (int i = 0; i < count; ++i) {
            std::vector<std::string> subjects;
            if (random.below(4) != 0)
                subjects.push_back(std::string(1, char('A' + random.below(4))));
            list.push_back(explanation(static_cast<Cause>(random.below(kCauseCount)), subjects,
                                       random.uniform(), random.uniform(0.0, 3.0)));
            list.back().sight = i;  // tells them apart
            total += list.back().probability;
        }
        std::set<int> seen;
        double sum = 0.0;
        double last = 1e9;
        for (const Entry& entry : group(list)) {
            EXPECT_LE(entry.members.size(), 3U);
            EXPECT_LE(entry.probability, last);
            last = entry.probability;
            sum += entry.probability;
            double members = 0.0;
            for (const Explanation& e : entry.members) {
                EXPECT_TRUE(seen.insert(e.sight).second);
                members += e.probability;
                if (e.cause == Cause::nothing_wrong) {
                    EXPECT_EQ(entry.members.size(), 1U);
                }
            }
            EXPECT_NEAR(members, entry.probability, 1e-12);
        }
        EXPECT_EQ(seen.size(), list.size());
        EXPECT_NEAR(sum, total, 1e-9);
    }
    EXPECT_TRUE(group({}).empty());
}

}  // namespace
}  // namespace layproof::cause

#include "infer/grouping.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <set>

#include "base/random.hpp"

namespace layproof::infer {
namespace {

bool always(int, const std::vector<int>&, int) {
    return true;
}

TEST(grouping, what_the_data_do_not_split_is_one_entry) {
    EXPECT_NEAR(std::exp(kSplitEvidence), 3.2, 1e-12);
    for (const double gap : {0.0, 1.16, 1.17}) {
        const std::vector<Nameable> list{{0.3, 9.0 - gap}, {0.5, 9.0}};
        const auto groups = group_alike(list, 1, always);
        if (gap < kSplitEvidence) {
            ASSERT_EQ(groups.size(), 1U);
            EXPECT_EQ(groups[0], (std::vector<int>{1, 0}));
        } else {
            EXPECT_EQ(groups.size(), 2U);
        }
    }
}

TEST(grouping, every_two_members_must_be_alike) {
    // The second lies 1 above the first, the third 1 below: those two are 2 apart.
    const std::vector<Nameable> list{{0.5, 9.0}, {0.3, 10.0}, {0.2, 8.0}};
    const auto groups = group_alike(list, 1, always);
    ASSERT_EQ(groups.size(), 2U);
    EXPECT_EQ(groups[0], (std::vector<int>{0, 1}));
}

TEST(grouping, way_that_gathers_most_is_taken) {
    const std::vector<Nameable> list{{0.4, 9.0}, {0.35, 9.0}, {0.15, 9.0}, {0.1, 9.0}};
    // One way joins what is even, the other what is odd, each with the leading one.
    const auto joins = [](int way, const std::vector<int>&, int other) { return other % 2 == way; };
    const auto groups = group_alike(list, 2, joins);
    ASSERT_EQ(groups.size(), 2U);
    EXPECT_EQ(groups[0], (std::vector<int>{0, 1, 3}));
    EXPECT_EQ(groups[1], (std::vector<int>{2}));
}

TEST(grouping, small_members_stay_out_unless_they_leave_the_same_trace) {
    const std::vector<Nameable> list{{0.9, 9.0}, {0.04, 9.0}, {0.06, 3.0}};
    EXPECT_EQ(group_alike(list, 1, always).size(), 3U);
    const auto same = [](int, int) { return true; };
    EXPECT_EQ(group_alike(list, 1, always, same).size(), 1U);
}

TEST(grouping, who_may_not_lead_or_join_stands_alone) {
    const std::vector<Nameable> list{{0.5, 9.0, false, true}, {0.3, 9.0}, {0.2, 9.0, true, false}};
    EXPECT_EQ(group_alike(list, 1, always).size(), 3U);
    EXPECT_EQ(group_alike(list, 0, always).size(), 3U);
}

TEST(grouping, holds_each_once_at_most_three_most_probable_first) {
    Random random(5);
    for (int run = 0; run < 300; ++run) {
        std::vector<Nameable> list(static_cast<std::size_t>(random.below(13)));
        for (Nameable& one : list) one = {random.uniform(), random.uniform(0.0, 3.0)};
        std::set<int> seen;
        double last = 1e9;
        const auto joins = [&](int way, const std::vector<int>& members, int other) {
            return (members.front() + other) % 2 == way;
        };
        for (const std::vector<int>& group : group_alike(list, 2, joins)) {
            EXPECT_LE(static_cast<int>(group.size()), kMostMembers);
            double sum = 0.0;
            for (const int i : group) {
                EXPECT_TRUE(seen.insert(i).second);
                EXPECT_LE(list[static_cast<std::size_t>(i)].probability,
                          list[static_cast<std::size_t>(group.front())].probability);
                sum += list[static_cast<std::size_t>(i)].probability;
            }
            EXPECT_LE(sum, last);
            last = sum;
        }
        EXPECT_EQ(seen.size(), list.size());
    }
}

}  // namespace
}  // namespace layproof::infer

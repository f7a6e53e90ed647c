#include "job/revision.hpp"

#include <gtest/gtest.h>

namespace layproof::job {
namespace {

using Order = std::optional<std::strong_ordering>;
constexpr Order kLess = std::strong_ordering::less;
constexpr Order kGreater = std::strong_ordering::greater;
constexpr Order kEqual = std::strong_ordering::equal;

struct Case {
    const char* a;
    const char* b;
    Order order;
};

TEST(Revisions, each_pair_has_its_order_both_ways) {
    const Case cases[] = {
        {"", "", kEqual},
        {"", "A", kLess},
        {"", "0", kLess},
        {"A", "B", kLess},
        {"a", "B", kLess},
        {"Z", "AA", kLess},
        {"AZ", "BA", kLess},
        {"2", "10", kLess},
        {"02", "2", kEqual},
        {"Rev 2", "rev. 10", kLess},
        {"Revision C", "D", kLess},
        {"rev B", "b", kEqual},
        {"P2", "P10", kLess},
        {"P-02", "p2", kEqual},
        {"2030-03-17", "2030-04-01", kLess},
        {"1.9", "1.10", kLess},
        {"R", "S", kLess},
        {"R2", "R10", kLess},
        {"P1", "C1", std::nullopt},
        {"A", "1", std::nullopt},
        {"B", "B2", std::nullopt},
        {"1.2", "1.2.1", std::nullopt},
    };
    for (const Case& c : cases) {
        EXPECT_EQ(compare_revisions(c.a, c.b), c.order) << c.a << " | " << c.b;
        const Order back = c.order == kLess ? kGreater : c.order;
        EXPECT_EQ(compare_revisions(c.b, c.a), back) << c.b << " | " << c.a;
    }
}

}  // namespace
}  // namespace layproof::job

#include <gtest/gtest.h>

#include <numeric>

#include "plan/choice.hpp"

namespace layproof::plan {
namespace {

TEST(short_walk, line_is_walked_from_end_to_end) {
    for (const int n : {2, 3, 4, 5, 8, 10, 25}) {
        std::vector<Eigen::Vector2d> places;
        for (int i = 0; i < n; ++i) places.emplace_back((i * 7) % n, 0.0);
        const auto order = short_walk(places);
        double length = 0.0;
        for (std::size_t i = 1; i < order.size(); ++i)
            length += (places[order[i]] - places[order[i - 1]]).norm();
        if (std::gcd(n, 7) == 1) {
            EXPECT_DOUBLE_EQ(length, n - 1.0) << n;
        }
    }
    EXPECT_TRUE(short_walk({}).empty());
}

}  // namespace
}  // namespace layproof::plan

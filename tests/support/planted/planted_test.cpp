// In each test program under sanitizers: what is planted is seen, so that silence means something.

#include "support/planted/planted.hpp"

#include <gtest/gtest.h>

#include <limits>
#include <memory>

namespace layproof::planted {
namespace {

TEST(sanitizer, sees_what_is_planted_in_templates_that_room_and_test_share) {
    ASSERT_EQ(room_without_fault(), 10);
    const auto numbers = std::make_unique<int[]>(3);
    const Eigen::VectorXi column = Eigen::VectorXi::Ones(3);
    EXPECT_DEATH(read(numbers.get(), 3), "heap-buffer-overflow");
    EXPECT_DEATH(sum(std::numeric_limits<int>::max(), 1), "signed integer overflow");
    EXPECT_DEATH(claimed(0), "value > T");
    EXPECT_DEATH(entry<int>(column, 3), "index >= 0 && index < size");
}

#ifdef LAYPROOF_TEST_SANITIZED
TEST(sanitizer, sees_what_is_planted_in_the_test_itself) {
    const auto numbers = std::make_unique<int[]>(3);
    volatile std::size_t at = 3;
    EXPECT_DEATH(numbers[at] = 1, "heap-buffer-overflow");
    volatile int large = std::numeric_limits<int>::max();
    EXPECT_DEATH(large = large + 1, "signed integer overflow");
    const Eigen::VectorXi column = Eigen::VectorXi::Ones(3);
    EXPECT_DEATH(large = column(static_cast<Eigen::Index>(at)), "index >= 0 && index < size");
}
#endif

}  // namespace
}  // namespace layproof::planted

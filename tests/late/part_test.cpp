#include "late/part.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <array>
#include <string>
#include <thread>
#include <vector>

#include "adjust/front_library.hpp"

namespace layproof::late {
namespace {

using ::testing::HasSubstr;

TEST(part, that_is_not_there_is_refused_with_the_folders_looked_in) {
    const auto found = find_part("that_nobody_built");
    ASSERT_FALSE(found.ok());
    EXPECT_EQ(found.refusal().code, ErrorCode::cannot_read);
    EXPECT_EQ(found.refusal().place.file, "layproof_that_nobody_built.so");
    EXPECT_THAT(found.refusal().found, HasSubstr("/lib/layproof, nor in /"));
    EXPECT_EQ(find_part("that_nobody_built").refusal().to_text(), found.refusal().to_text());
}

TEST(part, of_another_build_is_refused) {
    const auto found = find_part("of_another_build");
    ASSERT_FALSE(found.ok());
    EXPECT_EQ(found.refusal().found, "a part of 0.0.0 some compiler");
}

TEST(part, without_its_entry_is_refused) {
    const auto found = find_part("without_entry");
    ASSERT_FALSE(found.ok());
    EXPECT_EQ(found.refusal().found, "another library");
}

TEST(part, is_the_same_for_all_threads) {
    std::array<const void*, 4> seen{};
    std::vector<std::thread> threads;
    for (const void*& one : seen)
        threads.emplace_back([&one] {
            const auto found = find_part("sparse");
            if (found) one = *found;
        });
    for (std::thread& one : threads) one.join();
    ASSERT_NE(seen[0], nullptr);
    for (const void* one : seen) EXPECT_EQ(one, seen[0]);
}

TEST(front_library, multiplies_and_finds_an_order) {
    const auto& library = adjust::front_library();
    ASSERT_TRUE(library.ok()) << library.refusal().to_text();
    EXPECT_FALSE(adjust::lacks_front_library().has_value());
    // c −= a aᵀ of a = (1, 2)ᵀ, lower triangle.
    const std::array<double, 2> a{1.0, 2.0};
    std::array<double, 4> c{10.0, 20.0, 99.0, 30.0};
    const int n = 2, k = 1;
    const double minus = -1.0, one = 1.0;
    (*library)->dsyrk("L", "N", &n, &k, &minus, a.data(), &n, &one, c.data(), &n);
    EXPECT_EQ(c, (std::array<double, 4>{9.0, 18.0, 99.0, 26.0}));
    // A path of three nodes.
    std::vector<int> begin{0, 1, 3, 4}, neighbour{1, 0, 2, 1}, size{1, 1, 1}, order(3), position(3);
    ASSERT_TRUE((*library)->dissect(3, begin.data(), neighbour.data(), size.data(), order.data(),
                                    position.data()));
    for (int i = 0; i < 3; ++i)
        EXPECT_EQ(position[static_cast<std::size_t>(order[static_cast<std::size_t>(i)])], i);
}

}  // namespace
}  // namespace layproof::late

// Each piece once, whoever does it, and an end when one is wanted.

#include "threads/threads.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <stdexcept>
#include <thread>
#include <vector>

namespace layproof::threads {
namespace {

TEST(threads, every_piece_is_done_once) {
    std::vector<int> done(1000, 0);
    std::vector<std::size_t> by(done.size(), 0);
    EXPECT_TRUE(share(done.size(), [&](std::size_t thread, std::size_t i) {
        ++done[i];
        by[i] = thread;
    }));
    EXPECT_EQ(std::count(done.begin(), done.end(), 1), 1000);
    EXPECT_LT(*std::max_element(by.begin(), by.end()), most());
    EXPECT_TRUE(share(0, [](std::size_t, std::size_t) { FAIL(); }));
}

TEST(threads, an_end_leaves_pieces_out_and_says_so) {
    std::vector<int> done(1000, 0);
    int looks = 0;
    const auto work = [&](std::size_t, std::size_t i) { ++done[i]; };
    EXPECT_FALSE(share(done.size(), work, [&](double) { return ++looks < 1; }));
    EXPECT_EQ(looks, 1);
    // How many the others had done by then is theirs.
    EXPECT_EQ(std::count_if(done.begin(), done.end(), [](int n) { return n > 1; }), 0);
    EXPECT_FALSE(share(1, work, [](double) { return false; }));
}

TEST(threads, the_part_of_the_whole_rises_on_the_calling_thread) {
    const auto here = std::this_thread::get_id();
    std::vector<double> told;
    SharedWorkers workers([&](double fraction) {
        EXPECT_EQ(std::this_thread::get_id(), here);
        told.push_back(fraction);
        return true;
    });
    std::vector<int> done(200, 0);
    EXPECT_TRUE(each(&workers, done.size(), 0.25, 0.75, [&](std::size_t i) { ++done[i]; }));
    EXPECT_EQ(std::count(done.begin(), done.end(), 1), 200);
    ASSERT_FALSE(told.empty());
    EXPECT_TRUE(std::is_sorted(told.begin(), told.end()));
    EXPECT_GE(told.front(), 0.25);
    EXPECT_LE(told.back(), 0.75);
}

TEST(threads, without_workers_this_thread_goes_in_order) {
    std::vector<std::size_t> order;
    EXPECT_TRUE(each(nullptr, 4, [&](std::size_t i) { order.push_back(i); }));
    EXPECT_EQ(order, (std::vector<std::size_t>{0, 1, 2, 3}));
}

TEST(threads, what_a_piece_throws_reaches_who_asked) {
    const auto work = [](std::size_t, std::size_t i) {
        if (i == 7) throw std::runtime_error("seven");
    };
    EXPECT_THROW(share(20, work), std::runtime_error);
    auto beside = begin([] { return 3; });
    EXPECT_EQ(beside.get(), 3);
}

}  // namespace
}  // namespace layproof::threads

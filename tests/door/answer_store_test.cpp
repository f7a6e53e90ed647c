// Answers and files that are kept for a while.

#include "door/answer_store.hpp"

#include <gtest/gtest.h>

#include <atomic>
#include <thread>
#include <vector>

#include "door/file_shelf.hpp"

namespace layproof::acts {
namespace {

Asked answer(const std::string& text) {
    return {std::make_shared<const std::string>(text), {}};
}
Asked refusal(ErrorCode code) {
    return {nullptr, RefusedRequest{{code, {}, "x", "y"}, {}}};
}

TEST(answer_store, answer_is_made_once_for_a_generation) {
    AnswerStore store;
    int made = 0;
    const auto make = [&] { return answer(std::to_string(++made)); };
    EXPECT_EQ(*store.get(1, "a", make).json, "1");
    EXPECT_EQ(*store.get(1, "a", make).json, "1");
    EXPECT_EQ(*store.get(1, "b", make).json, "2");
    EXPECT_EQ(*store.get(2, "a", make).json, "3");
}

TEST(answer_store, what_may_come_out_otherwise_is_not_kept) {
    AnswerStore store;
    int made = 0;
    for (const ErrorCode code : {ErrorCode::stopped, ErrorCode::job_busy}) {
        store.get(1, "a", [&] {
            ++made;
            return refusal(code);
        });
    }
    EXPECT_EQ(made, 2);
    for (int i = 0; i < 2; ++i)
        store.get(1, "a", [&] {
            ++made;
            return refusal(ErrorCode::too_few_marks);
        });
    EXPECT_EQ(made, 3) << "the facts are the same: so is the refusal";
}

TEST(answer_store, who_asks_meanwhile_waits_for_the_same_answer) {
    constexpr int kAsking = 8;
    AnswerStore store;
    std::atomic<int> asking = 0;
    std::atomic<int> made = 0;
    std::vector<std::thread> threads;
    for (int i = 0; i < kAsking; ++i)
        threads.emplace_back([&] {
            ++asking;
            const Asked asked = store.get(1, "a", [&] {
                ++made;
                while (asking < kAsking) std::this_thread::yield();
                return answer("x");
            });
            EXPECT_EQ(*asked.json, "x");
        });
    for (std::thread& thread : threads) thread.join();
    EXPECT_EQ(made, 1);
}

TEST(answer_store, oldest_answers_make_room) {
    AnswerStore store;
    int made = 0;
    const auto ask = [&](std::size_t i) {
        store.get(1, std::to_string(i), [&] {
            ++made;
            return answer("x");
        });
    };
    for (std::size_t i = 0; i <= AnswerStore::kMostAnswers; ++i) ask(i);
    const int all = made;
    ask(AnswerStore::kMostAnswers);
    EXPECT_EQ(made, all);
    ask(0);
    EXPECT_EQ(made, all + 1);
}

TEST(answer_store, bytes_are_bounded) {
    AnswerStore store;
    int made = 0;
    const auto ask = [&](int i) {
        store.get(1, std::to_string(i), [&] {
            ++made;
            return answer(std::string(AnswerStore::kMostBytes / 3, 'x'));
        });
    };
    for (int i = 0; i < 5; ++i) ask(i);
    ask(4);
    EXPECT_EQ(made, 5);
    ask(0);
    EXPECT_EQ(made, 6);
}

TEST(file_shelf, file_is_found_by_its_digest_until_it_makes_room) {
    FileShelf shelf;
    const std::string first = shelf.keep({"a", "bytes"});
    EXPECT_EQ(first.size(), 64U);
    EXPECT_EQ(shelf.find(first)->name, "a");
    EXPECT_EQ(shelf.keep({"b", "bytes"}), first);
    EXPECT_EQ(shelf.find(first)->name, "b");
    EXPECT_FALSE(shelf.find("rubbish"));
    for (std::size_t i = 0; i < FileShelf::kMostFiles; ++i) shelf.keep({"x", std::to_string(i)});
    EXPECT_FALSE(shelf.find(first));
}

TEST(file_shelf, bytes_are_bounded) {
    FileShelf shelf;
    const std::string large(FileShelf::kMostBytes / 2 + 1, 'x');
    const std::string first = shelf.keep({"a", large});
    const std::string second = shelf.keep({"b", large + "y"});
    EXPECT_FALSE(shelf.find(first));
    EXPECT_TRUE(shelf.find(second));
}

}  // namespace
}  // namespace layproof::acts

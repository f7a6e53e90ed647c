// Work that is going on: who is told of it, when, and how it is stopped.

#include <gtest/gtest.h>

#include <atomic>
#include <chrono>
#include <map>
#include <mutex>
#include <thread>
#include <vector>

#include "door/door.hpp"
#include "door/work_list.hpp"

namespace layproof::acts {
namespace {

/// Time passes when the test says so.
class work_list : public ::testing::Test {
protected:
    WorkList made(std::function<void(const WorkNote&)> notes) {
        return WorkList(std::move(notes), [this] {
            return WorkList::Clock::time_point(WorkList::Clock::duration(now_));
        });
    }
    void pass(WorkList::Clock::duration some) { now_ += some.count(); }
    void outlast_quiet() { pass(WorkList::kQuiet); }

private:
    std::atomic<WorkList::Clock::rep> now_{0};
};

TEST_F(work_list, quick_work_is_never_spoken_of) {
    int notes = 0;
    WorkList works = made([&](const WorkNote&) { ++notes; });
    {
        const auto work = works.begin("take");
        pass(WorkList::kQuiet - std::chrono::milliseconds(1));
        work->report(0.5, "Taking");
        works.look();
        EXPECT_TRUE(works.going_on().empty());
    }
    EXPECT_EQ(notes, 0);
    EXPECT_FALSE(works.stop("take-1"));
}

TEST_F(work_list, stop_reaches_the_work_of_that_name) {
    WorkList works = made([](const WorkNote&) {});
    const auto one = works.begin("take");
    const auto two = works.begin("take");
    EXPECT_TRUE(works.stop("take-2"));
    EXPECT_FALSE(one->stop_requested());
    EXPECT_TRUE(two->stop_requested());
    works.stop_all();
    EXPECT_TRUE(one->stop_requested());
    EXPECT_TRUE(works.begin("sheet")->stop_requested()) << "the door is closed";
}

TEST_F(work_list, lasting_work_is_told_to_its_end) {
    std::vector<WorkNote> notes;
    WorkList works = made([&](const WorkNote& note) { notes.push_back(note); });
    {
        const auto work = works.begin("take");
        outlast_quiet();
        work->report(0.25, "Taking points.csv");
        pass(WorkList::kBetweenNotes - std::chrono::milliseconds(1));
        work->report(0.50, "Taking points.csv");
        pass(std::chrono::milliseconds(1));
        work->report(0.75, "Taking points.csv");
    }
    ASSERT_EQ(notes.size(), 3U) << "one was too soon after another";
    EXPECT_EQ(notes[0].done, 0.25);
    EXPECT_FALSE(notes[0].ended);
    EXPECT_EQ(notes[1].done, 0.75);
    EXPECT_FALSE(notes[1].ended);
    EXPECT_TRUE(notes[2].ended);
    EXPECT_EQ(notes[0].work, notes[2].work);
}

TEST_F(work_list, work_that_told_where_it_is_only_at_its_beginning_is_spoken_of_when_it_lasts) {
    std::vector<WorkNote> notes;
    WorkList works = made([&](const WorkNote& note) { notes.push_back(note); });
    {
        const auto work = works.begin("station");
        const auto silent = works.begin("book");
        work->report(0.0, "Placing S1");
        works.look();
        EXPECT_TRUE(notes.empty());
        outlast_quiet();
        works.look();
        works.look();
        ASSERT_EQ(notes.size(), 1U) << "once, and nothing of what has no words";
        EXPECT_EQ(notes[0].work, "station-1");
        EXPECT_EQ(notes[0].says, "Placing S1");
    }
    ASSERT_EQ(notes.size(), 2U);
    EXPECT_TRUE(notes[1].ended);
}

TEST_F(work_list, who_comes_later_is_given_what_is_going_on_as_it_stands_now) {
    WorkList works = made([](const WorkNote&) {});
    const auto quick = works.begin("sheet");
    auto lasting = works.begin("vet");
    auto other = works.begin("plan");
    outlast_quiet();
    lasting->report(0.25, "Vetting");
    lasting->report(0.30, "Vetting");  // too soon to be told, but known
    other->report(0.5, "Planning");
    const auto now = works.going_on();
    ASSERT_EQ(now.size(), 2U);
    EXPECT_EQ(now[0].work, "plan-3");
    EXPECT_EQ(now[1].work, "vet-2");
    EXPECT_EQ(now[1].done, 0.30);
    EXPECT_FALSE(now[1].ended);
    other.reset();
    lasting.reset();
    EXPECT_TRUE(works.going_on().empty());
}

// Whatever the threads do, nothing is said of a work after its end: somebody would wait for ever.
TEST_F(work_list, last_note_of_a_work_is_its_end_with_many_at_once) {
    std::map<std::string, bool> ended;
    std::mutex mutex;
    int after_the_end = 0;
    WorkList works = made([&](const WorkNote& note) {
        const std::lock_guard lock(mutex);
        if (ended[note.work]) ++after_the_end;
        ended[note.work] = note.ended;
    });
    std::atomic<bool> is_over{false};
    std::thread looking([&] {
        while (!is_over) works.look();
    });
    std::vector<std::thread> workers;
    for (int k = 0; k < 4; ++k) {
        workers.emplace_back([&] {
            std::vector<std::unique_ptr<Progress>> some;
            for (int i = 0; i < 20; ++i) {
                some.push_back(works.begin("sheet"));
                some.back()->report(0.0, "Placing");
            }
            outlast_quiet();
            for (auto& work : some) {
                work->report(0.5, "Placing");
                work.reset();
            }
        });
    }
    for (std::thread& worker : workers) worker.join();
    is_over = true;
    looking.join();
    EXPECT_EQ(ended.size(), 80U);
    EXPECT_EQ(after_the_end, 0);
    for (const auto& [work, is_ended] : ended) EXPECT_TRUE(is_ended) << work;
}

}  // namespace
}  // namespace layproof::acts

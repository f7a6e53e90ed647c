#include <fcntl.h>
#include <sched.h>
#include <sys/mount.h>
#include <sys/resource.h>
#include <sys/wait.h>

#include <csignal>
#include <functional>
#include <thread>

#include "job_support.hpp"

namespace layproof::job {
namespace {

class Durability : public JobTest {
protected:
    /// Imports and decides without end, telling the id of each acknowledged fact through the pipe.
    [[noreturn]] static void write_on(const std::string& path, int pipe, std::uint64_t seed) {
        SystemClock clock;
        SystemEntropy entropy;
        Random random(seed);
        auto job = Job::open(path, Mode::write, clock, entropy);
        if (!job) _exit(1);
        for (int i = 0;; ++i) {
            std::vector<FactId> told;
            auto writing = job->begin();
            if (!writing) _exit(2);
            if (i % 2 == 0) {
                // An import: a document and what was read from it.
                const std::string bytes(static_cast<std::size_t>(1 + random.below(20'000)),
                                        static_cast<char>('a' + random.below(26)));
                auto sheet = writing->add_document("s" + std::to_string(random.bits()), "sights",
                                                   "", bytes_of(bytes));
                if (!sheet) _exit(3);
                told.push_back(sheet->id);
                for (int k = 0; k < 20; ++k) {
                    measure::Sight shot = sight("S1", "H1", random.uniform());
                    shot.place.line = k;
                    auto added = writing->add(shot, {sheet->digest, ""});
                    if (!added) _exit(4);
                    told.push_back(added->id);
                }
            } else {
                auto added = writing->add(decision(DecisionKind::mark_moved, SubjectKind::mark,
                                                   "H" + std::to_string(random.below(9))));
                if (!added) _exit(5);
                told.push_back(added->id);
            }
            if (!writing->commit()) _exit(6);
            const auto size = told.size() * sizeof(FactId);
            if (write(pipe, told.data(), size) != static_cast<ssize_t>(size)) _exit(7);
        }
    }

    /// Kills a writer that has acknowledged something; returns how many facts it had acknowledged.
    std::size_t round(const std::string& name, Random& random) {
        int ends[2];
        EXPECT_EQ(pipe(ends), 0);
        const std::uint64_t seed = random.bits();
        const pid_t child = fork();
        if (child == 0) {
            close(ends[0]);
            write_on(folder / name, ends[1], seed);
        }
        close(ends[1]);
        std::string told;
        char buffer[65536];
        const auto hear = [&] {
            const ssize_t n = read(ends[0], buffer, sizeof buffer);
            if (n > 0) told.append(buffer, static_cast<std::size_t>(n));
            return n > 0;
        };
        // One read may bring several acknowledgements.
        for (auto wanted = 1 + random.below(4); wanted > 0 && hear();) --wanted;
        // Decides only where in the commits that follow it is killed: on a slow machine earlier.
        usleep(static_cast<useconds_t>(random.below(10'000)));
        kill(child, SIGKILL);
        int status = 0;
        waitpid(child, &status, 0);
        EXPECT_TRUE(WIFSIGNALED(status)) << "writer ended by itself: " << WEXITSTATUS(status);
        while (hear()) {
        }
        close(ends[0]);

        RawDb raw(folder / name);
        std::set<std::string> held;
        for (const auto& row : raw.rows("SELECT lower(hex(id)) FROM fact")) held.insert(row[0]);
        std::size_t count = 0;
        for (; (count + 1) * sizeof(FactId) <= told.size(); ++count) {
            FactId id;
            std::copy_n(told.begin() + static_cast<std::ptrdiff_t>(count * sizeof(FactId)),
                        sizeof(FactId), id.bytes.begin());
            EXPECT_TRUE(held.contains(to_hex(id.bytes)));
        }
        EXPECT_GE(count, 1U) << "nothing was acknowledged: nothing was tested";
        return count;
    }

    void rounds(int count) {
        Random random(1000);
        std::size_t acknowledged = 0;
        int file = 0;
        for (int i = 0; i < count; ++i) {
            // A new file now and then, so that a round does not take longer and longer.
            if (i % 20 == 0) create("k" + std::to_string(++file) + ".job");
            const std::string name = "k" + std::to_string(file) + ".job";
            acknowledged += round(name, random);
            auto job = try_open(name, i % 2 == 0 ? Mode::read : Mode::write);
            ASSERT_TRUE(job) << job.refusal().to_text();
            const auto report = job->verify();
            ASSERT_TRUE(report && report->sound()) << "round " << i << findings_text(*report);
        }
        RecordProperty("acknowledged", std::to_string(acknowledged));
        std::printf("%zu facts acknowledged in %d rounds\n", acknowledged, count);
    }

    /// In a child, so that a limit or a mount ends with it.
    static int in_child(const std::function<int()>& what) {
        const pid_t child = fork();
        if (child == 0) _exit(what());
        int status = 0;
        waitpid(child, &status, 0);
        return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
    }

    /// Writes until refused; the refusal, and how many facts were acknowledged before it.
    static std::pair<Refusal, std::int64_t> write_until_refused(Job& job) {
        const std::string bytes(50'000, 'x');
        for (std::int64_t i = 0; i < 10'000; ++i) {
            auto added = job.add_document("d" + std::to_string(i), "other", "", bytes_of(bytes));
            if (!added) return {added.refusal(), i};
            auto shot = job.add(sight("S1", "H1", 1.0));
            if (!shot) return {shot.refusal(), i};
        }
        return {Refusal{}, 0};
    }
};

TEST_F(Durability, killed_writer_loses_no_acknowledged_fact) {
    rounds(40);
}

TEST_F(Durability, slow_killed_writer_loses_no_acknowledged_fact_in_1000_rounds) {
    rounds(1000);
}

TEST_F(Durability, full_disk_is_said_and_what_was_there_stays) {
    constexpr int kNoMount = 77;
    const std::string place = folder / "small";
    std::filesystem::create_directory(place);
    const int result = in_child([&] {
        // A file system of its own, seen by this process only.
        if (unshare(geteuid() == 0 ? CLONE_NEWNS : CLONE_NEWUSER | CLONE_NEWNS) != 0 ||
            mount("none", "/", nullptr, MS_REC | MS_PRIVATE, nullptr) != 0 ||
            mount("tmpfs", place.c_str(), "tmpfs", 0, "size=2m") != 0) {
            return kNoMount;
        }
        const std::string path = place + "/a.job";
        auto job = Job::create(path, {"full", "crew", {}}, clock, entropy);
        if (!job) return 1;
        const auto [why, count] = write_until_refused(*job);
        if (why.code != ErrorCode::job_full || count < 5) {
            std::printf("%s after %ld\n", why.to_text().c_str(), static_cast<long>(count));
            return 2;
        }
        const auto report = job->verify();
        if (!report || !report->sound()) return 3;
        if (static_cast<std::int64_t>(job->all<Document>()->size()) < count) return 4;
        // Also for a program that opens it anew on the full disk.
        auto again = Job::open(path, Mode::read, clock, entropy);
        if (!again || static_cast<std::int64_t>(again->all<Document>()->size()) < count) return 5;
        if (again->copy_to(place + "/b.job")) return 6;
        if (std::filesystem::exists(place + "/b.job")) return 7;
        return 0;
    });
    if (result == kNoMount) GTEST_SKIP() << "no leave to mount a small file system";
    EXPECT_EQ(result, 0);
}

TEST_F(Durability, disk_that_takes_no_more_is_said_and_what_was_there_stays) {
    { create("a.job"); }
    const int result = in_child([&] {
        std::signal(SIGXFSZ, SIG_IGN);
        const rlimit limit{1'000'000, 1'000'000};
        if (setrlimit(RLIMIT_FSIZE, &limit) != 0) return 1;
        auto job = try_open("a.job");
        if (!job) return 2;
        const auto [why, count] = write_until_refused(*job);
        const bool said = why.code == ErrorCode::cannot_write || why.code == ErrorCode::job_full;
        if (!said || count < 3) {
            std::printf("%s after %ld\n", why.to_text().c_str(), static_cast<long>(count));
            return 3;
        }
        const auto report = job->verify();
        if (!report || !report->sound()) return 4;
        return static_cast<std::int64_t>(job->all<Document>()->size()) >= count ? 0 : 5;
    });
    EXPECT_EQ(result, 0);
    Job job = open("a.job");
    EXPECT_TRUE(job.verify()->sound());
    EXPECT_GE(job.all<Document>()->size(), 3U);
    EXPECT_TRUE(job.add(mark("H1", 1, 2, 3)));
}

TEST_F(Durability, second_writer_is_told_to_wait_and_reader_is_not_disturbed) {
    Job first = create("a.job");
    auto writing = first.begin();
    ASSERT_TRUE(writing);
    ASSERT_TRUE(writing->add(mark("H1", 1, 2, 3)));
    Job second = open("a.job");
    const auto busy = second.add(mark("H2", 1, 2, 3));
    ASSERT_FALSE(busy);
    EXPECT_EQ(busy.refusal().code, ErrorCode::job_busy);
    EXPECT_NE(busy.refusal().to_text().find("another program"), std::string::npos);
    EXPECT_TRUE(open("a.job", Mode::read).all<frame::Mark>()->empty());
    ASSERT_TRUE(writing->commit());
    ASSERT_TRUE(second.add(mark("H2", 1, 2, 3)));
    ASSERT_TRUE(first.add(mark("H3", 1, 2, 3)));
    EXPECT_EQ(first.all<frame::Mark>()->size(), 3U);
    EXPECT_EQ(first.summary()->writers.size(), 1U);
    EXPECT_TRUE(first.verify()->sound());
}

TEST_F(Durability, two_programs_writing_at_once_share_the_chain_and_lose_nothing) {
    { create("a.job"); }
    constexpr int kEach = 30;
    std::vector<pid_t> children;
    for (int program = 0; program < 2; ++program) {
        const pid_t child = fork();
        if (child == 0) {
            SystemClock real_clock;
            SystemEntropy real_entropy;
            auto job = Job::open(folder / "a.job", Mode::write, real_clock, real_entropy,
                                 {.busy_ms = 600'000});
            if (!job) _exit(1);
            for (int i = 0; i < kEach; ++i) {
                if (!job->add(
                        mark("M" + std::to_string(program) + "-" + std::to_string(i), i, 0, 0))) {
                    _exit(2);
                }
            }
            _exit(0);
        }
        children.push_back(child);
    }
    for (const pid_t child : children) {
        int status = 0;
        waitpid(child, &status, 0);
        EXPECT_TRUE(WIFEXITED(status) && WEXITSTATUS(status) == 0) << WEXITSTATUS(status);
    }
    Job job = open("a.job");
    EXPECT_EQ(job.all<frame::Mark>()->size(), 2U * kEach);
    EXPECT_EQ(job.summary()->writers.size(), 1U);
    EXPECT_TRUE(job.verify()->sound());
}

}  // namespace
}  // namespace layproof::job

#include <sys/stat.h>
#include <sys/wait.h>

#include <functional>

#include "job_support.hpp"

namespace layproof::job {
namespace {

class Opening : public JobTest {
protected:
    void expect_refused(const std::string& name, ErrorCode code, const std::string& words) {
        const std::string before = file_bytes(folder / name);
        for (const Mode mode : {Mode::read, Mode::write}) {
            auto opened = try_open(name, mode);
            ASSERT_FALSE(opened);
            EXPECT_EQ(opened.refusal().code, code) << opened.refusal().to_text();
            EXPECT_NE(opened.refusal().to_text().find(words), std::string::npos)
                << opened.refusal().to_text();
            EXPECT_EQ(opened.refusal().place.file, folder / name);
        }
        EXPECT_EQ(file_bytes(folder / name), before);
    }

    /// Runs in a child that is nobody, when the test runs as root: root may write everywhere.
    static bool as_nobody(const std::function<bool()>& what) {
        const pid_t child = fork();
        if (child == 0) {
            if (geteuid() == 0 && setuid(65534) != 0) _exit(2);
            _exit(what() ? 0 : 1);
        }
        int status = 0;
        waitpid(child, &status, 0);
        return WIFEXITED(status) && WEXITSTATUS(status) == 0;
    }
};

TEST_F(Opening, missing_file_and_folder_are_refused) {
    EXPECT_EQ(try_open("none.job").refusal().code, ErrorCode::cannot_read);
    EXPECT_EQ(Job::open(folder.path(), Mode::read, clock, entropy).refusal().code,
              ErrorCode::cannot_read);
    auto made = Job::create(folder / "no/such/a.job", {}, clock, entropy);
    ASSERT_FALSE(made);
    EXPECT_EQ(made.refusal().code, ErrorCode::cannot_write);
}

TEST_F(Opening, file_of_another_kind_is_refused) {
    write_bytes(folder / "empty.job", "");
    expect_refused("empty.job", ErrorCode::empty_file, "empty");
    write_bytes(folder / "text.job", "mark,east,north\nH1,1,2\n");
    expect_refused("text.job", ErrorCode::not_a_job, "another kind");
    write_bytes(folder / "one.job", "x");
    expect_refused("one.job", ErrorCode::not_a_job, "another kind");
    write_bytes(folder / "zero.job", std::string(8192, '\0'));
    expect_refused("zero.job", ErrorCode::not_a_job, "another kind");
}

TEST_F(Opening, database_of_another_program_is_refused) {
    {
        RawDb raw(folder / "foreign.job");
        raw.run("PRAGMA application_id = 77; CREATE TABLE fact (x)");
    }
    expect_refused("foreign.job", ErrorCode::not_a_job, "another program");
    {
        RawDb raw(folder / "plain.job");
        raw.run("CREATE TABLE fact (x)");
    }
    expect_refused("plain.job", ErrorCode::not_a_job, "another program");
}

TEST_F(Opening, file_cut_short_at_each_page_says_what_is_readable) {
    {
        Job job = create("a.job");
        fill(job);
        std::vector<measure::Sight> sights;
        for (int i = 0; i < 400; ++i) sights.push_back(sight("S1", "H1", i * 0.01));
        ASSERT_TRUE(job.add_all<measure::Sight>(sights));
    }
    const std::string whole = file_bytes(folder / "a.job");
    constexpr std::size_t kPage = 4096;
    ASSERT_EQ(whole.size() % kPage, 0U);
    ASSERT_GT(whole.size() / kPage, 30U);
    int said_sights = 0;
    for (std::size_t size = 0; size < whole.size(); size += kPage) {
        write_bytes(folder / "cut.job", std::string_view(whole).substr(0, size));
        if (size == 0) {
            expect_refused("cut.job", ErrorCode::empty_file, "empty");
            continue;
        }
        expect_refused("cut.job", ErrorCode::job_cut_short,
                       std::to_string(size) + " of " + std::to_string(whole.size()) + " bytes");
        const std::string text = try_open("cut.job").refusal().to_text();
        EXPECT_NE(text.find("still readable: "), std::string::npos);
        if (text.find(" sight") != std::string::npos) ++said_sights;
    }
    EXPECT_GT(said_sights, 5);
    for (const std::size_t size : {std::size_t{1}, std::size_t{50}, std::size_t{99},
                                   std::size_t{100}, std::size_t{5000}, whole.size() - 1}) {
        write_bytes(folder / "cut.job", std::string_view(whole).substr(0, size));
        expect_refused("cut.job", ErrorCode::job_cut_short, "readable");
    }
    write_bytes(folder / "cut.job", whole);
    EXPECT_TRUE(open("cut.job").verify()->sound());
}

TEST_F(Opening, read_only_file_reads_and_refuses_writing) {
    {
        Job job = create("a.job");
        fill(job);
    }
    ASSERT_EQ(chmod((folder / "a.job").c_str(), 0444), 0);
    ASSERT_EQ(chmod(folder.path().c_str(), 0777), 0);
    EXPECT_TRUE(as_nobody([&] {
        auto reading = try_open("a.job", Mode::read);
        return reading.ok() && reading->current<frame::Mark>()->size() == 2 &&
               reading->verify()->sound() &&
               reading->add(mark("H9", 1, 2, 3)).refusal().code == ErrorCode::job_read_only &&
               try_open("a.job", Mode::write).refusal().code == ErrorCode::job_read_only;
    }));
    EXPECT_TRUE(open("a.job").verify()->sound());
}

TEST_F(Opening, read_only_folder_reads_and_refuses_writing) {
    {
        Job job = create("a.job");
        fill(job);
    }
    ASSERT_EQ(chmod((folder / "a.job").c_str(), 0666), 0);
    ASSERT_EQ(chmod(folder.path().c_str(), 0555), 0);
    const bool fine = as_nobody([&] {
        auto reading = try_open("a.job", Mode::read);
        auto made = Job::create(folder / "b.job", {}, clock, entropy);
        return reading.ok() && reading->current<frame::Mark>()->size() == 2 &&
               try_open("a.job", Mode::write).refusal().code == ErrorCode::job_read_only &&
               made.refusal().code == ErrorCode::cannot_write &&
               reading->copy_to(folder / "b.job").refusal().code == ErrorCode::cannot_write;
    });
    ASSERT_EQ(chmod(folder.path().c_str(), 0777), 0);
    EXPECT_TRUE(fine);
}

TEST_F(Opening, job_opened_for_reading_refuses_writing_and_leaves_the_file) {
    { create("a.job"); }
    const std::string before = file_bytes(folder / "a.job");
    {
        Job job = open("a.job", Mode::read);
        EXPECT_EQ(job.add(mark("H1", 1, 2, 3)).refusal().code, ErrorCode::job_read_only);
        EXPECT_EQ(job.merge_from(folder / "a.job").refusal().code, ErrorCode::job_read_only);
    }
    EXPECT_EQ(file_bytes(folder / "a.job"), before);
}

TEST_F(Opening, path_with_odd_characters_works) {
    const std::string name = "a b%20?#é'\".job";
    {
        Job job = create(name);
        ASSERT_TRUE(job.add(mark("H1", 1, 2, 3)));
    }
    EXPECT_EQ(open(name, Mode::read).all<frame::Mark>()->size(), 1U);
    const std::string whole = file_bytes(folder / name);
    write_bytes(folder / name, std::string_view(whole).substr(0, whole.size() - 4096));
    EXPECT_NE(try_open(name).refusal().to_text().find("1 mark"), std::string::npos)
        << try_open(name).refusal().to_text();
}

}  // namespace
}  // namespace layproof::job

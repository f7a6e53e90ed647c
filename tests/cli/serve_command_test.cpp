// `layproof serve` as it is started and ended by hand.

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <poll.h>
#include <sys/wait.h>
#include <unistd.h>

#include <csignal>
#include <regex>
#include <string>

#include "cli/program.hpp"
#include "server/client.hpp"

namespace layproof::testing {
namespace {

using ::testing::HasSubstr;
namespace fs = std::filesystem;

/// After so long nothing is believed to come any more. A test that passes never waits for it.
constexpr int kPatience_ms = 300'000;

/// The program as a child, with what it says.
class Serving {
public:
    Serving(const fs::path& folder, const std::vector<std::string>& args) {
        int ends[2];
        if (pipe(ends) != 0) throw std::runtime_error("no pipe");
        pid_ = fork();
        if (pid_ == 0) {
            if (chdir(folder.c_str()) != 0) _exit(127);
            dup2(ends[1], STDOUT_FILENO);
            dup2(ends[1], STDERR_FILENO);
            close(ends[0]);
            close(ends[1]);
            std::vector<std::string> words{LAYPROOF_CLI, "serve"};
            words.insert(words.end(), args.begin(), args.end());
            std::vector<char*> pointers;
            for (std::string& word : words) pointers.push_back(word.data());
            pointers.push_back(nullptr);
            execv(LAYPROOF_CLI, pointers.data());
            _exit(127);
        }
        close(ends[1]);
        out_ = ends[0];
    }
    ~Serving() {
        if (pid_ > 0) {
            kill(pid_, SIGKILL);
            waitpid(pid_, nullptr, 0);
        }
        close(out_);
    }
    Serving(const Serving&) = delete;
    Serving& operator=(const Serving&) = delete;

    const std::string& read_until(const std::string& piece) {
        char bytes[4096];
        pollfd waiting{out_, POLLIN, 0};
        while (said_.find(piece) == std::string::npos && poll(&waiting, 1, kPatience_ms) > 0) {
            const ssize_t n = read(out_, bytes, sizeof bytes);
            if (n <= 0) break;
            said_.append(bytes, static_cast<std::size_t>(n));
        }
        return said_;
    }

    std::uint16_t port() {
        std::smatch found;
        const std::string text = read_until("Ctrl-C");
        if (!std::regex_search(text, found, std::regex(":([0-9]+)/")))
            throw std::runtime_error(text);
        return static_cast<std::uint16_t>(std::stoi(found[1]));
    }

    int end_with(int signal) {
        kill(pid_, signal);
        int status = 0;
        waitpid(pid_, &status, 0);
        pid_ = -1;
        return WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
    }

private:
    pid_t pid_ = -1;
    int out_ = -1;
    std::string said_;
};

class serve_command : public ::testing::Test {
protected:
    void SetUp() override {
        const std::string hall = std::string(LAYPROOF_SOURCE_DIR) + "/examples/invented-mill-hall/";
        run({"job", "new", "hall.job", "--title", "Invented hall", "--crew", "A"});
        run({"job", "take", "hall.job", "--marks", hall + "marks.csv", "--sights",
             hall + "sights.csv", "--setups", hall + "setups.csv", "--points", hall + "points.csv",
             "--unit", "ft"});
    }
    Ran run(const std::vector<std::string>& args) {
        return run_layproof(args, {work.path(), false, ""});
    }
    WorkFolder work{"serve"};
};

TEST_F(serve_command, page_gets_the_document_of_the_command_line) {
    Serving serving(work.path(), {"hall.job", "--port", "0"});
    server::testing::Client client(serving.port());
    for (const char* act : {"station", "lay"}) {
        const Ran ran = run({act, "--job", "hall.job", "--json"});
        EXPECT_EQ(client.post(std::string("/api/") + act, "{}").body, ran.out);
    }
    // And hears of what the command line does meanwhile.
    EXPECT_EQ(run({"job", "decide", "hall.job", "mark-moved", "H3", "--reason", "struck",
                   "--initials", "AB"})
                  .exit_status,
              0);
    EXPECT_THAT(client.post("/api/sheet", "{}").body, HasSubstr("\"reason\": \"struck\""));
}

TEST_F(serve_command, interrupt_ends_it_cleanly) {
    for (const int signal : {SIGINT, SIGTERM}) {
        Serving serving(work.path(), {"hall.job", "--port", "0"});
        server::testing::Client stream(serving.port());
        stream.send("GET /api/events HTTP/1.1\r\nHost: " + stream.host() + "\r\n\r\n");
        stream.read_until("event: job");
        EXPECT_EQ(serving.end_with(signal), 0);
        EXPECT_THAT(serving.read_until("Ended."), HasSubstr("Ended."));
        EXPECT_FALSE(fs::exists(work.path() / "hall.job-wal")) << "the job is one file again";
        EXPECT_EQ(run({"job", "verify", "hall.job"}).exit_status, 0);
    }
}

TEST_F(serve_command, network_brings_a_code_and_a_warning) {
    Serving serving(work.path(), {"hall.job", "--port", "0", "--listen", "0.0.0.0"});
    const std::uint16_t port = serving.port();
    EXPECT_THAT(serving.read_until("Ctrl-C"), HasSubstr("not encrypted"));
    EXPECT_THAT(serving.read_until("Ctrl-C"), HasSubstr("Pairing code: "));
    server::testing::Client client(port);
    EXPECT_EQ(client.post("/api/sheet", "{}").status, 401);
}

TEST_F(serve_command, what_cannot_be_served_is_said) {
    EXPECT_EQ(run({"serve", "nothing.job"}).exit_status, 4);
    write_text(work.path() / "x.job", "rubbish");
    EXPECT_EQ(run({"serve", "x.job"}).exit_status, 4);
    EXPECT_EQ(run({"serve"}).exit_status, 2);
    EXPECT_EQ(run({"serve", "hall.job", "--port", "99999"}).exit_status, 2);
    const Ran nowhere = run({"serve", "hall.job", "--listen", "192.0.2.1"});
    EXPECT_EQ(nowhere.exit_status, 4);
    EXPECT_THAT(nowhere.err, HasSubstr("192.0.2.1"));
}

}  // namespace
}  // namespace layproof::testing

// How the server of a job stands up to a crew: 50 streams of events open, 200 requests a second for
// ten seconds at fixed times (so that a slow answer cannot slow the asking), a fact written twice a
// second by another opening of the file, and 100 clients that never finish their request. Then as
// many requests as it takes. Sends to 127.0.0.1 alone.
//
//   server_load            serves the invented mill hall itself
//   server_load PORT       asks a server that is there

#include <sys/resource.h>

#include <algorithm>
#include <atomic>
#include <chrono>
#include <cstdio>
#include <memory>
#include <mutex>
#include <string>
#include <thread>
#include <vector>

#include "acts/job/job_test_support.hpp"
#include "server/client.hpp"
#include "server/server.hpp"

namespace layproof::server {
namespace {

using Clock = std::chrono::steady_clock;
using testing::Client;

constexpr int kStreams = 50;
constexpr int kHalfRequests = 100;
constexpr int kAskers = 20;
constexpr int kPerSecond = 200;
constexpr std::chrono::seconds kTime{10};

double milliseconds(Clock::duration time) {
    return std::chrono::duration<double, std::milli>(time).count();
}

struct Question {
    const char* act;
    const char* body;
};
// A page that shows a station, types a sight and tries what is without another.
constexpr Question kQuestions[] = {
    {"sheet", "{}"},
    {"read", R"({"fields":{"direction":"123.45.06","slope_distance":"12-3 1/2"},"unit":"ft"})"},
    {"station", R"({"station":"S1"})"},
    {"read", R"({"fields":{"zenith":"90 02"},"unit":"ft"})"},
    {"lay", R"({"station":"S1"})"},
    {"sights", R"({"station":"S1"})"},
    {"watch", R"({"station":"S1"})"},
    {"station",
     R"({"station":"S1","set_aside":[{"station":"S1","target":"H3","reason":"to try"}]})"},
};

class Load {
public:
    explicit Load(std::uint16_t port) : port_(port) {}

    void steady() {
        std::vector<std::unique_ptr<Client>> streams, half;
        for (int i = 0; i < kStreams; ++i) {
            streams.push_back(std::make_unique<Client>(port_));
            streams.back()->send("GET /api/events HTTP/1.1\r\nHost: " + streams.back()->host() +
                                 "\r\n\r\n");
        }
        for (int i = 0; i < kHalfRequests; ++i) {
            half.push_back(std::make_unique<Client>(port_));
            half.back()->send("POST /api/sheet HTTP/1.1\r\nHo");
        }
        for (auto& stream : streams) stream->read_until("event: job\n");

        const auto begin = Clock::now();
        std::vector<std::thread> askers;
        for (int a = 0; a < kAskers; ++a) askers.emplace_back([&, a] { ask_at_times(begin, a); });
        for (std::thread& asker : askers) asker.join();
        std::sort(taken_ms_.begin(), taken_ms_.end());
        const auto at = [&](double share) {
            return taken_ms_[static_cast<std::size_t>(share *
                                                      static_cast<double>(taken_ms_.size() - 1))];
        };
        std::printf(
            "steady: %zu requests in %.1f s, %d failed; ms: median %.2f, p90 %.2f, "
            "p99 %.2f, most %.2f\n",
            taken_ms_.size(), milliseconds(Clock::now() - begin) / 1000.0, failed_.load(), at(0.5),
            at(0.9), at(0.99), at(1.0));
        std::size_t told = 0;
        for (auto& stream : streams)
            told += stream->read_until("no such text", 1).find("event: job") != std::string::npos;
        std::printf("streams: %zu of %d open and told\n", told, kStreams);
    }

    void flat_out() {
        std::atomic<int> count = 0;
        const auto end = Clock::now() + std::chrono::seconds(3);
        std::vector<std::thread> askers;
        for (int a = 0; a < 4; ++a)
            askers.emplace_back([&] {
                Client client(port_);
                while (Clock::now() < end)
                    count += client.post("/api/read", kQuestions[1].body).status == 200;
            });
        for (std::thread& asker : askers) asker.join();
        std::printf("flat out, 4 connections: %.0f requests a second\n", count / 3.0);
    }

private:
    void ask_at_times(Clock::time_point begin, int asker) {
        Client client(port_);
        const int count = kPerSecond * static_cast<int>(kTime.count());
        for (int i = asker; i < count; i += kAskers) {
            const auto due = begin + std::chrono::microseconds(1'000'000LL * i / kPerSecond);
            std::this_thread::sleep_until(due);
            const Question& question = kQuestions[static_cast<std::size_t>(i) % 8];
            const auto reply = client.post(std::string("/api/") + question.act, question.body);
            const double taken_ms = milliseconds(Clock::now() - due);
            if (reply.status != 200) ++failed_;
            const std::lock_guard lock(mutex_);
            taken_ms_.push_back(taken_ms);
        }
    }

    std::uint16_t port_;
    std::mutex mutex_;
    std::vector<double> taken_ms_;
    std::atomic<int> failed_ = 0;
};

/// The invented mill hall in a folder of its own.
struct Site {
    Site() {
        job::Job made = layproof::testing::expect_value(
            job::Job::create(path(), {"Invented mill hall", "A", {}}, clock, entropy));
        layproof::testing::expect_value(acts::take(made, layproof::testing::take_mill_hall()));
        acts::TakeRequest day;
        day.sights = layproof::testing::mill_hall("day-sights.csv");
        day.setups = layproof::testing::mill_hall("day-setups.csv");
        day.unit = measure::LengthUnit::foot;
        layproof::testing::expect_value(acts::take(made, day));
    }
    std::string path() const { return folder / "hall.job"; }

    job::Folder folder;
    job::SystemClock clock;
    job::SystemEntropy entropy;
};

double cpu_seconds() {
    rusage used{};
    getrusage(RUSAGE_SELF, &used);
    const auto seconds = [](const timeval& t) {
        return static_cast<double>(t.tv_sec) + 1e-6 * static_cast<double>(t.tv_usec);
    };
    return seconds(used.ru_utime) + seconds(used.ru_stime);
}

int run(int argc, char** argv) {
    if (argc > 1) {
        Load load(static_cast<std::uint16_t>(std::stoi(argv[1])));
        load.steady();
        load.flat_out();
        return 0;
    }
    Site site;
    const auto server =
        layproof::testing::expect_value(Server::start(site.path(), {}, site.clock, site.entropy));
    Load load(server->port());
    std::atomic<bool> is_ending = false;
    std::thread writer([&] {
        job::Job other = layproof::testing::expect_value(
            job::Job::open(site.path(), job::Mode::write, site.clock, site.entropy));
        for (int i = 0; !is_ending; ++i) {
            (void)other.add(job::point("extra " + std::to_string(i), 1525.0, 3050.0));
            std::this_thread::sleep_for(std::chrono::milliseconds(500));
        }
    });
    const double before = cpu_seconds();
    load.steady();
    std::printf("CPU time of server and askers together: %.1f s\n", cpu_seconds() - before);
    is_ending = true;
    writer.join();
    load.flat_out();
    server->stop();
    const job::Job after = layproof::testing::expect_value(
        job::Job::open(site.path(), job::Mode::read, site.clock, site.entropy));
    std::printf("job: %s\n",
                layproof::testing::expect_value(after.verify()).sound() ? "sound" : "damaged");
    return 0;
}

}  // namespace
}  // namespace layproof::server

int main(int argc, char** argv) {
    try {
        return layproof::server::run(argc, argv);
    } catch (const std::exception& error) {
        std::fprintf(stderr, "%s\n", error.what());
        return 1;
    }
}

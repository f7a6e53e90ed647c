// Half requests, slow clients, streams of events, and the end.

#include <gmock/gmock.h>

#include <fmt/format.h>

#include <chrono>
#include <memory>
#include <sstream>
#include <thread>

#include "server/server_support.hpp"

namespace layproof::server {
namespace {

using testing::Client;
using ::testing::HasSubstr;
using ::testing::Not;
using testing::Reply;

class connections : public testing::ServedJob {
protected:
    std::string events_request(const Client& one, const std::string& query = "") {
        return "GET /api/events" + query + " HTTP/1.1\r\nHost: " + one.host() + "\r\n\r\n";
    }
};

TEST_F(connections, half_requests_leave_the_server_and_the_job_as_they_were) {
    serve();
    const std::string whole =
        Client(server->port())
            .post_text("/api/decide", R"({"kind":"set-aside","subject":"S1:H3","reason":"r",)"
                                      R"("initials":"A"})");
    for (std::size_t length = 0; length < whole.size(); length += 7) {
        Client half(server->port());
        half.send(whole.substr(0, length));
    }
    const auto sheet = testing::Json::parse(post("sheet", "{}").body);
    EXPECT_TRUE(sheet["decisions"].empty());
    expect_sound();
}

// Nothing of this kind is waited for as long as a test may take.
constexpr std::chrono::hours kForever{24};

TEST_F(connections, idle_clients_keep_nobody_waiting) {
    ServerOptions options;
    options.waits.head = options.waits.idle = kForever;
    serve(options);
    std::vector<std::unique_ptr<Client>> idle;
    for (int i = 0; i < 200; ++i) {
        idle.push_back(std::make_unique<Client>(server->port()));
        if (i % 2 == 0) idle.back()->send("POST /api/sheet HT");
    }
    EXPECT_EQ(post("sheet", "{}").status, 200);
}

TEST_F(connections, slow_head_is_cut_off_after_its_time) {
    ServerOptions options;
    options.waits.head = std::chrono::milliseconds(50);
    options.waits.idle = kForever;
    serve(options);
    Client slow(server->port());
    slow.send("GET / HTTP/1.1\r\nHost");
    EXPECT_TRUE(slow.is_closed());
}

TEST_F(connections, stream_begins_with_the_job_and_tells_of_changes_by_others) {
    serve();
    Client stream(server->port());
    stream.send(events_request(stream));
    const std::string first = stream.read_until("event: job\n");
    EXPECT_THAT(first, HasSubstr("200 OK"));
    EXPECT_THAT(first, HasSubstr("text/event-stream"));
    EXPECT_THAT(first, HasSubstr("retry: 1000\n\n"));
    // As the command line would: another opening of the file.
    job::Job other = open("hall.job");
    const auto decided =
        acts::decide(other, {job::DecisionKind::mark_moved, "H3", "struck", "AB", 1'900'000});
    ASSERT_TRUE(decided);
    const auto state = testing::Json::parse(post("sheet", "{}").body)["job"];
    const std::string head = state["head"].get<std::string>();
    EXPECT_THAT(stream.read_until(head), HasSubstr(head));
}

TEST_F(connections, every_stream_is_told) {
    serve();
    std::vector<std::unique_ptr<Client>> streams;
    for (int i = 0; i < 50; ++i) {
        streams.push_back(std::make_unique<Client>(server->port()));
        streams.back()->send(events_request(*streams.back()));
    }
    for (auto& stream : streams) stream->read_until("event: job\n");
    ASSERT_EQ(post("decide", R"({"kind":"mark-moved","subject":"H3","reason":"struck",
        "initials":"AB"})")
                  .status,
              200);
    const auto state = testing::Json::parse(post("sheet", "{}").body)["job"];
    const std::string head = state["head"].get<std::string>();
    for (auto& stream : streams) EXPECT_THAT(stream->read_until(head), HasSubstr(head));
}

TEST_F(connections, stream_opened_in_the_middle_of_work_is_told_of_it_and_of_its_end) {
    // As many set-ups as a sheet places, each with more points than are forecast in a wink: placing
    // them all takes many times what it takes to open the second stream.
    constexpr int kSetups = 48;
    constexpr int kPoints = 20'000;
    acts::TakeRequest many = testing::take_mill_hall();
    const auto again = [](exchange::Document& document) {
        std::string head;
        std::vector<std::string> rows;
        std::istringstream lines(document.bytes);
        std::getline(lines, head);
        for (std::string line; std::getline(lines, line);)
            if (line.starts_with("S1,")) rows.push_back(line.substr(2));
        document.bytes = head + "\n";
        for (int i = 0; i < kSetups; ++i)
            for (const std::string& row : rows) document.bytes += fmt::format("T{}{}\n", i, row);
    };
    again(*many.setups);
    again(*many.sights);
    many.points->bytes = "point,east [ft],north [ft],height [ft]\n";
    for (int i = 0; i < kPoints; ++i)
        many.points->bytes += fmt::format("Q{},{},{},312\n", i, 5010 + i % 200, 10'010 + i / 200);
    job::Job job = create("many.job");
    testing::expect_value(acts::take(job, many));
    serve("many.job");

    Client first(server->port());
    first.send(events_request(first));
    first.read_until("event: job\n");
    const Client asker(server->port());
    asker.send(asker.post_text("/api/sheet", "{}"));
    EXPECT_THAT(first.read_until("event: work\n"), HasSubstr("event: work\n"));
    Client second(server->port());
    second.send(events_request(second));
    const std::string told = second.read_until("event: job\n");
    EXPECT_THAT(told, HasSubstr(R"("work":"sheet-1")"));
    EXPECT_THAT(told, HasSubstr("Placing T"));
    EXPECT_EQ(post("stop", R"({"work":"sheet-1"})").status, 200);
    EXPECT_THAT(second.read_until(R"("ended":true)"), HasSubstr(R"("ended":true)"));
    Client third(server->port());
    third.send(events_request(third));
    EXPECT_THAT(third.read_until("event: job\n"), Not(HasSubstr("event: work")));
}

TEST_F(connections, server_ends_with_streams_open) {
    ServerOptions options;
    options.waits.write = options.waits.heartbeat = kForever;
    serve(options);
    Client stream(server->port());
    stream.send(events_request(stream));
    stream.read_until("event: job\n");
    server->stop();
    server.reset();
    EXPECT_TRUE(stream.is_closed());
}

TEST_F(connections, address_that_is_taken_is_refused) {
    serve();
    ServerOptions again;
    again.port = server->port();
    const auto second = Server::start(folder / "hall.job", again, clock, entropy);
    ASSERT_FALSE(second);
    EXPECT_EQ(second.refusal().code, ErrorCode::cannot_listen);
    EXPECT_THAT(second.refusal().found, HasSubstr("in use"));
    ServerOptions nowhere;
    nowhere.address = "not an address";
    EXPECT_FALSE(Server::start(folder / "hall.job", nowhere, clock, entropy));
}

TEST_F(connections, inbox_tells_the_streams) {
    ServerOptions options;
    options.door.inbox = folder / "inbox";
    std::filesystem::create_directory(options.door.inbox);
    serve(options);
    Client stream(server->port());
    stream.send(events_request(stream));
    stream.read_until("event: job\n");
    job::write_bytes(folder / "inbox/more.csv",
                     "mark,east [ft],north [ft],height [ft]\nQ1,1,2,3\n");
    EXPECT_THAT(stream.read_until("Taken: 1 new."), HasSubstr("event: inbox"));
    EXPECT_THAT(post("sheet", "{}").body, HasSubstr("\"Q1\""));
}

}  // namespace
}  // namespace layproof::server

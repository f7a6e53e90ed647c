// Half requests, slow clients, streams of events, and the end.

#include <gmock/gmock.h>

#include <chrono>
#include <memory>
#include <thread>

#include "server/server_support.hpp"

namespace layproof::server {
namespace {

using testing::Client;
using ::testing::HasSubstr;
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

TEST_F(connections, idle_clients_keep_nobody_waiting) {
    serve();
    std::vector<std::unique_ptr<Client>> idle;
    for (int i = 0; i < 200; ++i) {
        idle.push_back(std::make_unique<Client>(server->port()));
        if (i % 2 == 0) idle.back()->send("POST /api/sheet HT");
    }
    const auto begin = std::chrono::steady_clock::now();
    EXPECT_EQ(post("sheet", "{}").status, 200);
    EXPECT_LT(std::chrono::steady_clock::now() - begin, std::chrono::seconds(5));
}

TEST_F(connections, slow_head_is_cut_off_after_its_time) {
    serve();
    Client slow(server->port());
    slow.send("GET / HTTP/1.1\r\nHost");
    EXPECT_TRUE(slow.is_closed(20'000));
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
    EXPECT_THAT(stream.read_until(head, 5000), HasSubstr(head));
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
    for (auto& stream : streams) EXPECT_THAT(stream->read_until(head, 5000), HasSubstr(head));
}

TEST_F(connections, server_ends_with_streams_open) {
    serve();
    Client stream(server->port());
    stream.send(events_request(stream));
    stream.read_until("event: job\n");
    const auto begin = std::chrono::steady_clock::now();
    server->stop();
    EXPECT_LT(std::chrono::steady_clock::now() - begin, std::chrono::seconds(5));
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
    EXPECT_THAT(stream.read_until("Taken: 1 new.", 10'000), HasSubstr("event: inbox"));
    EXPECT_THAT(post("sheet", "{}").body, HasSubstr("\"Q1\""));
}

}  // namespace
}  // namespace layproof::server

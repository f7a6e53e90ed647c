// What is refused, and that the server and the job outlive it.

#include <gmock/gmock.h>

#include <limits>

#include "door/shapes.hpp"
#include "server/server_support.hpp"

namespace layproof::server {
namespace {

using testing::Client;
using ::testing::HasSubstr;
using testing::Reply;

class refusals : public testing::ServedJob {
protected:
    Reply send(const std::string& text) {
        Client one(server->port());
        one.send(text);
        return one.read_reply();
    }
    std::string own_host() const { return "127.0.0.1:" + std::to_string(server->port()); }
    void expect_alive() { EXPECT_EQ(post("sheet", "{}").status, 200); }
};

TEST_F(refusals, foreign_host_is_refused) {
    serve();
    const std::string port = std::to_string(server->port());
    for (const std::string& host :
         {std::string("evil.example"), "evil.example:" + port, std::string("127.0.0.1"),
          std::string("127.0.0.1:1"), "localhost.evil.example:" + port, std::string(),
          "127.0.0.1:" + port + "@evil.example"}) {
        const Reply reply = send("POST /api/sheet HTTP/1.1\r\nHost: " + host +
                                 "\r\nContent-Type: application/json\r\n"
                                 "Content-Length: 2\r\n\r\n{}");
        EXPECT_EQ(reply.status, 403) << host;
        EXPECT_EQ(kind_of(reply), "foreign-request") << host;
    }
    EXPECT_EQ(send("GET / HTTP/1.1\r\n\r\n").status, 403);
    EXPECT_EQ(send("GET / HTTP/1.1\r\nHost: " + own_host() + "\r\nHost: " + own_host() + "\r\n\r\n")
                  .status,
              403);
    EXPECT_EQ(send("GET / HTTP/1.1\r\nHost: localhost:" + port + "\r\n\r\n").status, 200);
    expect_alive();
}

TEST_F(refusals, foreign_origin_is_refused) {
    serve();
    for (const std::string origin :
         {"http://evil.example", "null", "https://127.0.0.1", "http://127.0.0.1:1"}) {
        const Reply reply = client().post(
            "/api/decide", "{}", "Content-Type: application/json\r\nOrigin: " + origin + "\r\n");
        EXPECT_EQ(reply.status, 403) << origin;
        EXPECT_EQ(kind_of(reply), "foreign-request");
    }
    EXPECT_EQ(client().get("/api/events", "Origin: http://evil.example\r\n").status, 403);
    EXPECT_EQ(client()
                  .post("/api/sheet", "{}",
                        "Content-Type: application/json\r\nSec-Fetch-Site: cross-site\r\n")
                  .status,
              403);
    EXPECT_EQ(client()
                  .post("/api/sheet", "{}",
                        "Content-Type: application/json\r\nOrigin: http://" + own_host() + "\r\n")
                  .status,
              200);
}

TEST_F(refusals, method_and_media_type_are_held) {
    serve();
    EXPECT_EQ(client().get("/api/sheet").status, 405);
    EXPECT_EQ(client().post("/api/events", "{}").status, 405);
    EXPECT_EQ(client().post("/", "{}").status, 405);
    EXPECT_EQ(send("DELETE / HTTP/1.1\r\nHost: " + own_host() + "\r\n\r\n").status, 405);
    EXPECT_EQ(client().post("/api/sheet", "{}", "Content-Type: text/plain\r\n").status, 415);
    EXPECT_EQ(client().post("/api/sheet", "{}", "").status, 415);
    EXPECT_EQ(client()
                  .post("/api/sheet", "{}", "Content-Type: Application/JSON; charset=utf-8\r\n")
                  .status,
              200);
}

TEST_F(refusals, requests_that_do_not_fit_name_the_field) {
    serve();
    const auto field_of = [&](const std::string& act, const std::string& body) {
        const Reply reply = post(act, body);
        EXPECT_EQ(reply.status, 400) << act << body << reply.body;
        EXPECT_FALSE(acts::check_record("RefusalAnswer", reply.body)) << reply.body;
        const auto json = testing::Json::parse(reply.body);
        return json["refusal"]["field"].is_null() ? std::string()
                                                  : json["refusal"]["field"].get<std::string>();
    };
    EXPECT_EQ(field_of("station", R"({"stations":"S1"})"), "stations");
    EXPECT_EQ(field_of("station", R"({"set_aside":[{"station":"S1","target":7,"reason":""}]})"),
              "set_aside[0].target");
    EXPECT_EQ(field_of("sights", "{}"), "station");
    EXPECT_EQ(field_of("take", R"({"files":[{"digest":"x","role":"rubbish"}]})"), "files[0].role");
    EXPECT_EQ(field_of("watch", R"({"check_every_min":"60"})"), "check_every_min");
    EXPECT_EQ(field_of("vet", R"({"tolerance":6})"), "tolerance");
    EXPECT_EQ(field_of("vet", R"({"tolerance_plan_mm":"6"})"), "tolerance_plan_mm");
    for (const std::string body : {"", "{", "[]", "7", "\"x\"", "{} {}", "{\"as_of\":1e999}",
                                   "\xFF", "{\"as_of\":\"\xC0\"}", "nul"})
        field_of("sheet", body);
    expect_alive();
}

TEST_F(refusals, deep_json_is_refused_and_harmless) {
    serve();
    const std::string deep(500'000, '[');
    EXPECT_EQ(post("sheet", deep).status, 400);
    EXPECT_EQ(post("sheet", "{\"as_of\":" + deep).status, 400);
    expect_alive();
}

TEST_F(refusals, bodies_past_the_limit_are_refused) {
    serve();
    const std::string large(10U << 20U, 'x');
    EXPECT_EQ(post("sheet", large).status, 413);
    EXPECT_EQ(client().post("/api/files?name=x", large, "").status, 413);
    EXPECT_EQ(post("sheet", std::string((1U << 20U) + 1, ' ')).status, 413);

    Client chunked(server->port());
    chunked.send("POST /api/sheet HTTP/1.1\r\nHost: " + chunked.host() +
                 "\r\nContent-Type: application/json\r\nTransfer-Encoding: chunked\r\n\r\n");
    for (int i = 0; i < 40; ++i)
        if (!chunked.send("10000\r\n" + std::string(65536, ' ') + "\r\n")) break;
    EXPECT_EQ(chunked.read_reply().status, 413);
    EXPECT_EQ(send("POST /api/sheet HTTP/1.1\r\nHost: " + own_host() +
                   "\r\nContent-Type: application/json\r\n"
                   "Content-Length: 18446744073709551615\r\n\r\n")
                      .status /
                  100,
              4);
    expect_alive();
    expect_sound();
}

TEST_F(refusals, long_heads_and_addresses_are_refused) {
    serve();
    EXPECT_EQ(client().get("/" + std::string(5000, 'a')).status, 414);
    EXPECT_EQ(client().get("/", "X: " + std::string(40'000, 'a') + "\r\n").status, 431);
    expect_alive();
}

TEST_F(refusals, what_is_no_http_gets_an_answer) {
    serve();
    for (const std::string& text :
         {std::string("rubbish\r\n\r\n"), std::string("\x16\x03\x01\x02\x00\x01", 6),
          std::string("GET / HTTP/1.1\r\nHost\r\n\r\n"),
          std::string("GET /\0x HTTP/1.1\r\n\r\n", 20), std::string("GET / HTTP/9.9\r\n\r\n"),
          std::string("POST /api/sheet HTTP/1.1\r\nContent-Length: x\r\n\r\n")}) {
        EXPECT_EQ(send(text + "\r\n\r\n").status, 400) << text;
    }
    expect_alive();
}

TEST_F(refusals, unknown_addresses_are_not_found) {
    serve();
    EXPECT_EQ(post("rubbish", "{}").status, 404);
    EXPECT_EQ(post("", "{}").status, 404);
    EXPECT_EQ(post("sheet/", "{}").status, 404);
    EXPECT_EQ(post("pair", "{\"code\":\"123456\"}").status, 404) << "nobody pairs on this machine";
}

TEST_F(refusals, each_leaves_one_line_without_what_is_secret) {
    serve();
    client().get("/nothing?token=secret");
    client().get("/x\x1B[2J");
    ASSERT_EQ(log().size(), 2U);
    EXPECT_THAT(log()[0], HasSubstr("refused GET /nothing: 404"));
    EXPECT_EQ(log()[0].find("secret"), std::string::npos);
    EXPECT_EQ(log()[1].find('\x1B'), std::string::npos);
}

TEST_F(refusals, acts_that_refuse_answer_422) {
    serve();
    const Reply reply = post("sights", R"({"station":"S99"})");
    EXPECT_EQ(reply.status, 422);
    EXPECT_EQ(kind_of(reply), "target-unknown");
    EXPECT_EQ(kind_of(post("sheet", R"({"as_of":"yesterday"})")), "time-not-read");
    EXPECT_EQ(kind_of(post("preview", R"({"digest":"00"})")), "file-not-kept");
    EXPECT_EQ(kind_of(post("lay", R"({"rod_height_m":-3})")), "out-of-range");
    EXPECT_EQ(kind_of(post("watch", R"({"check_every_min":0})")), "out-of-range");
    EXPECT_EQ(kind_of(post("vet", R"({"tolerance_plan_mm":0})")), "out-of-range");
    EXPECT_EQ(kind_of(post("station", R"({"station":"nowhere"})")), "target-unknown");
    EXPECT_EQ(kind_of(post("station", R"({"points":["nowhere"]})")), "target-unknown");
    EXPECT_EQ(kind_of(post("decide", R"({"kind":"set-aside","subject":"S1:H3","reason":"",
        "initials":"A"})")),
              "value-missing");
    EXPECT_EQ(kind_of(post("take", R"({"files":[]})")), "value-missing");
}

}  // namespace
}  // namespace layproof::server

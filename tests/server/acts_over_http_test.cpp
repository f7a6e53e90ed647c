// The acts over HTTP: the same documents as without it, and everybody sees what one writes.

#include <gmock/gmock.h>

#include <thread>

#include "acts/vet/vet.hpp"
#include "door/shapes.hpp"
#include "server/server_support.hpp"

namespace layproof::server {
namespace {

using ::testing::HasSubstr;
using testing::Json;
using testing::Reply;

class acts_over_http : public testing::ServedJob {};

TEST_F(acts_over_http, station_is_the_document_of_the_act) {
    serve();
    const Reply reply = post("station", "{}");
    EXPECT_EQ(reply.status, 200);
    EXPECT_EQ(reply.headers.at("content-type"), "application/json");
    acts::StationRequest request;
    const job::Job job = open("hall.job", job::Mode::read);
    request.facts = testing::expect_value(acts::facts_of(job));
    EXPECT_EQ(reply.body, acts::to_json(testing::expect_value(acts::run_station(request))));
    EXPECT_TRUE(log().empty());
}

TEST_F(acts_over_http, vet_is_the_document_of_the_act) {
    serve();
    const Reply reply = post("vet", R"({"tolerance_plan_mm":5})");
    EXPECT_EQ(reply.status, 200);
    acts::VetRequest request;
    const job::Job job = open("hall.job", job::Mode::read);
    testing::expect_value(acts::fill_from_job(job, {}, request));
    request.tolerance_plan_m = 0.005;
    EXPECT_EQ(reply.body, acts::to_json(testing::expect_value(acts::run_vet(request))));
}

TEST_F(acts_over_http, every_reading_act_answers_in_its_shape) {
    serve();
    for (const acts::ActShape& act : acts::act_shapes()) {
        std::string request = "{}";
        if (act.act == "sights") request = R"({"station":"S1"})";
        if (act.act == "read") request = R"({"fields":{"zenith":"90-00-00","east":"x"}})";
        if (act.act == "plan") request = R"({"step_m":4})";
        if (act.act == "place") request = R"({"plan":{"step_m":4},"east":12.0,"north":8.0})";
        if (act.act == "stop") request = R"({"work":"none"})";
        if (request == "{}" && (act.act == "book" || act.act == "decide" || act.act == "preview" ||
                                act.act == "take" || act.act == "tools" || act.act == "keep"))
            continue;
        const Reply reply = post(act.act, request);
        EXPECT_EQ(reply.status, 200) << act.act << reply.body;
        const auto refusal = acts::check_record(act.answer, reply.body);
        EXPECT_FALSE(refusal) << act.act << ": " << refusal->to_text();
    }
}

TEST_F(acts_over_http, one_connection_carries_many_requests) {
    serve();
    testing::Client client(server->port());
    const std::string sheet = client.post("/api/sheet", "{}").body;
    for (int i = 0; i < 20; ++i) EXPECT_EQ(client.post("/api/sheet", "{}").body, sheet);
    EXPECT_EQ(client.get("/").status, 200);
}

TEST_F(acts_over_http, decision_is_seen_by_the_next_question) {
    serve();
    const std::string before = post("station", "{}").body;
    const Reply decided = post("decide", R"({"kind":"set-aside","subject":"S1:H3",
        "reason":"rod on a stone","initials":"AB"})");
    EXPECT_EQ(decided.status, 200) << decided.body;
    EXPECT_NE(post("station", "{}").body, before);
    EXPECT_THAT(post("sights", R"({"station":"S1"})").body, HasSubstr("rod on a stone"));
}

TEST_F(acts_over_http, names_of_all_scripts_go_through_unharmed) {
    serve();
    const std::string reason =
        "<script>alert(\"x\")</script> & 'quotes' \\ \u05E9\u05DC\u05D5\u05DD \u202E "
        "\U0001F3D7 \u0000";
    const Json request{{"kind", "set-aside"},
                       {"subject", "S1:H3"},
                       {"reason", reason.c_str()},
                       {"initials", "\u00C4\u00D6"}};
    ASSERT_EQ(post("decide", request.dump()).status, 200);
    const Json sheet = Json::parse(post("sheet", "{}").body);
    EXPECT_EQ(sheet["decisions"].back()["reason"], reason.c_str());
    EXPECT_EQ(sheet["decisions"].back()["initials"], "\u00C4\u00D6");
}

TEST_F(acts_over_http, file_is_sent_looked_at_and_taken) {
    serve();
    const std::string text = "mark,east,north,height\nQ1,5100,10100,310\n";
    Reply reply = client().post("/api/files?name=more%20marks.csv", text,
                                "Content-Type: application/octet-stream\r\n");
    ASSERT_EQ(reply.status, 200) << reply.body;
    const Json preview = Json::parse(reply.body);
    EXPECT_EQ(preview["name"], "more marks.csv");
    EXPECT_EQ(preview["role"], "marks");
    EXPECT_TRUE(preview["needs_unit"]);
    const Json digest = preview["digest"];

    Json request{{"files", {{{"digest", digest}, {"role", "marks"}}}}};
    reply = post("take", request.dump());
    EXPECT_EQ(reply.status, 422);
    EXPECT_EQ(kind_of(reply), "unit-missing");
    request["files"][0]["unit"] = "ft";
    reply = post("take", request.dump());
    EXPECT_EQ(reply.status, 200) << reply.body;
    EXPECT_FALSE(acts::check_record("TakeAnswer", reply.body));
    EXPECT_THAT(post("sheet", "{}").body, HasSubstr("\"Q1\""));
    expect_sound();
}

TEST_F(acts_over_http, many_clients_get_the_same_document) {
    serve();
    const std::string expected = post("lay", "{}").body;
    std::vector<std::thread> clients;
    std::vector<std::string> got(8);
    for (std::string& body : got)
        clients.emplace_back([&] {
            testing::Client client(server->port());
            for (int i = 0; i < 10; ++i) body = client.post("/api/lay", "{}").body;
        });
    for (std::thread& one : clients) one.join();
    for (const std::string& body : got) EXPECT_EQ(body, expected);
}

}  // namespace
}  // namespace layproof::server

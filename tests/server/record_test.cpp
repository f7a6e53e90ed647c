// The files of a record over HTTP: found by those who were told where, by nobody else.

#include <gmock/gmock.h>

#include "server/server_support.hpp"

namespace layproof::server {
namespace {

using testing::Client;
using ::testing::HasSubstr;
using testing::Json;
using testing::Reply;

class served_record : public testing::ServedJob {
protected:
    Json made() {
        const Reply reply = post("record", "{}");
        EXPECT_EQ(reply.status, 200) << reply.body;
        return Json::parse(reply.body);
    }
    static std::string path_of(const Json& record, std::string_view ending) {
        for (const Json& file : record["files"])
            if (file["name"].get<std::string>().ends_with(ending)) return file["path"];
        return {};
    }
};

TEST_F(served_record, files_are_given_whole_and_as_what_they_are) {
    serve();
    const Json record = made();
    ASSERT_GE(record["files"].size(), 3U);
    for (const Json& file : record["files"]) {
        const Reply got = client().get(file["path"].get<std::string>());
        EXPECT_EQ(got.status, 200);
        EXPECT_EQ(got.body.size(), file["bytes"].get<std::size_t>()) << file["name"];
        EXPECT_THAT(got.headers.at("content-type"), HasSubstr(file["mime"].get<std::string>()));
        EXPECT_EQ(got.headers.at("x-content-type-options"), "nosniff");
        EXPECT_EQ(got.headers.at("cache-control"), "no-store");
    }
    const Reply paper = client().get(path_of(record, ".pdf"));
    EXPECT_EQ(paper.body.substr(0, 5), "%PDF-");
    const Reply page = client().get(path_of(record, ".html"));
    EXPECT_THAT(page.headers.at("content-security-policy"), HasSubstr("default-src 'none'"));
}

TEST_F(served_record, no_other_ticket_and_no_other_name_is_found) {
    serve();
    const std::string path = path_of(made(), ".pdf");
    std::string guessed = path;
    guessed[8] = guessed[8] == '0' ? '1' : '0';
    for (const std::string& wrong :
         {guessed, path + "x", std::string("/record/"), std::string("/record//record.pdf"),
          path.substr(0, path.rfind('/')) + "/../../etc/passwd"})
        EXPECT_EQ(client().get(wrong).status, 404) << wrong;
    for (const std::string& line : log())
        EXPECT_EQ(line.find(path.substr(8, 32)), std::string::npos) << line;
}

TEST_F(served_record, older_ones_go_when_newer_are_made) {
    serve();
    const std::string first = path_of(made(), ".html");
    for (int i = 0; i < 3; ++i) made();
    EXPECT_EQ(client().get(first).status, 200);
    made();
    EXPECT_EQ(client().get(first).status, 404);
}

TEST_F(served_record, foreign_hosts_get_nothing) {
    serve();
    const std::string path = path_of(made(), ".pdf");
    Client other(server->port());
    other.send(Client::line("GET", path) + "Host: elsewhere.example\r\n\r\n");
    EXPECT_EQ(other.read_reply().status, 403);
}

}  // namespace
}  // namespace layproof::server

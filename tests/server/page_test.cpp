// The page that stands in the program.

#include "server/page.hpp"

#include <gmock/gmock.h>

#include "server/server_support.hpp"

namespace layproof::server {
namespace {

using ::testing::HasSubstr;
using testing::Reply;

class page : public testing::ServedJob {};

TEST_F(page, stands_at_the_root_under_a_strict_policy) {
    serve();
    const Reply reply = client().get("/");
    EXPECT_EQ(reply.status, 200);
    EXPECT_THAT(reply.body, HasSubstr("<!doctype html>"));
    EXPECT_EQ(reply.headers.at("content-type"), "text/html; charset=utf-8");
    EXPECT_EQ(reply.headers.at("cache-control"), "no-cache");
    EXPECT_THAT(reply.headers.at("content-security-policy"), HasSubstr("default-src 'none'"));
    EXPECT_THAT(reply.headers.at("content-security-policy"), HasSubstr("frame-ancestors 'none'"));
    EXPECT_EQ(reply.headers.at("x-content-type-options"), "nosniff");
    EXPECT_EQ(reply.headers.at("referrer-policy"), "no-referrer");
    EXPECT_EQ(reply.headers.at("cross-origin-resource-policy"), "same-origin");
}

TEST_F(page, known_tag_is_answered_without_the_page) {
    serve();
    const std::string tag = client().get("/").headers.at("etag");
    const Reply reply = client().get("/", "If-None-Match: " + tag + "\r\n");
    EXPECT_EQ(reply.status, 304);
    EXPECT_EQ(reply.body, "");
}

TEST_F(page, is_compressed_for_those_who_take_it) {
    serve();
    const PageFile* file = page_file("/");
    ASSERT_NE(file, nullptr);
    ASSERT_FALSE(file->gzipped.empty());
    const Reply small = client().get("/", "Accept-Encoding: br, gzip\r\n");
    EXPECT_EQ(small.headers.at("content-encoding"), "gzip");
    EXPECT_EQ(small.body, file->gzipped);
    EXPECT_EQ(client().get("/").body, file->bytes);
}

TEST_F(page, head_says_the_length_and_sends_nothing) {
    serve();
    testing::Client one(server->port());
    one.send("HEAD / HTTP/1.1\r\nHost: " + one.host() + "\r\n\r\n");
    const Reply reply = one.read_reply(false);
    EXPECT_EQ(reply.status, 200);
    EXPECT_EQ(reply.headers.at("content-length"), std::to_string(page_file("/")->bytes.size()));
    EXPECT_EQ(one.get("/").status, 200);
}

TEST_F(page, only_its_own_files_are_ever_found) {
    serve();
    for (const std::string path :
         {"/../hall.job", "/..%2f..%2fetc/passwd", "/%2e%2e/%2e%2e/etc/passwd", "//etc/passwd",
          "/./index.html", "/index.html%00.js", "/assets/", "/assets/../index.html", "/INDEX.HTML",
          "/index.html/", "\\..\\x", "http://127.0.0.1/", "*"}) {
        const Reply reply = client().get(path);
        EXPECT_TRUE(reply.status == 404 || reply.status == 400) << path << " " << reply.status;
        EXPECT_NE(kind_of(reply), "") << path;
    }
    EXPECT_EQ(client().get("/?anything=1").status, 200);
}

}  // namespace
}  // namespace layproof::server

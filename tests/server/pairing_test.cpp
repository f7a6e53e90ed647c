// Devices and their codes.

#include "server/pairing.hpp"

#include <gmock/gmock.h>

#include <set>

#include "server/server_support.hpp"

namespace layproof::server {
namespace {

using testing::Client;
using ::testing::HasSubstr;
using testing::Reply;

class pairing : public ::testing::Test {
protected:
    Pairing make() {
        return Pairing(entropy_, [this](std::string_view code) { codes.emplace_back(code); });
    }
    std::string wrong() const { return codes.back() == "000000" ? "000001" : "000000"; }

    std::vector<std::string> codes;
    Pairing::Clock::time_point now{};

private:
    job::SeededEntropy entropy_{7};
};

TEST_F(pairing, code_has_six_digits_and_works_once) {
    Pairing devices = make();
    ASSERT_EQ(codes.size(), 1U);
    const std::string code = codes[0];
    EXPECT_EQ(code.size(), 6U);
    EXPECT_EQ(code.find_first_not_of("0123456789"), std::string::npos);
    const auto token = devices.pair(code, now);
    ASSERT_TRUE(token);
    EXPECT_EQ(token->size(), 32U);
    EXPECT_TRUE(devices.is_paired(*token));
    ASSERT_EQ(codes.size(), 2U) << "a new code for the next device";
    EXPECT_NE(codes[1], code);
    EXPECT_FALSE(devices.pair(code, now));
}

TEST_F(pairing, five_wrong_tries_bring_a_new_code_and_a_wait) {
    Pairing devices = make();
    for (int i = 0; i < Pairing::kMostTries; ++i) {
        ASSERT_EQ(codes.size(), 1U);
        const auto refused = devices.pair(wrong(), now);
        ASSERT_FALSE(refused);
        EXPECT_EQ(refused.refusal().code, ErrorCode::pairing_code_wrong);
    }
    ASSERT_EQ(codes.size(), 2U);
    const auto early = devices.pair(codes[1], now);
    ASSERT_FALSE(early);
    EXPECT_EQ(early.refusal().code, ErrorCode::server_busy);
    EXPECT_TRUE(devices.pair(codes[1], now + Pairing::kFirstWait));
}

TEST_F(pairing, wait_doubles_with_every_new_code_and_has_an_end) {
    Pairing devices = make();
    auto wait = Pairing::kFirstWait;
    for (int round = 0; round < 10; ++round) {
        for (int i = 0; i < Pairing::kMostTries; ++i) ASSERT_FALSE(devices.pair(wrong(), now));
        EXPECT_EQ(devices.pair(wrong(), now + wait - std::chrono::seconds(1)).refusal().code,
                  ErrorCode::server_busy);
        now += wait;
        wait = std::min(wait * 2, Pairing::kLongestWait);
    }
    EXPECT_EQ(wait, Pairing::kLongestWait);
}

TEST_F(pairing, rubbish_is_no_token) {
    Pairing devices = make();
    const std::string token = *devices.pair(codes[0], now);
    EXPECT_FALSE(devices.is_paired(""));
    EXPECT_FALSE(devices.is_paired(token.substr(1)));
    EXPECT_FALSE(devices.is_paired(token + "0"));
    std::string other = token;
    other[5] = other[5] == 'a' ? 'b' : 'a';
    EXPECT_FALSE(devices.is_paired(other));
}

TEST_F(pairing, tokens_differ_and_the_oldest_goes) {
    Pairing devices = make();
    std::set<std::string> tokens;
    const std::string first = *devices.pair(codes.back(), now);
    tokens.insert(first);
    for (std::size_t i = 0; i < Pairing::kMostTokens; ++i)
        tokens.insert(*devices.pair(codes.back(), now));
    EXPECT_EQ(tokens.size(), Pairing::kMostTokens + 1);
    EXPECT_FALSE(devices.is_paired(first));
}

TEST(pairing_without_random_bits, nobody_is_paired) {
    class Dry final : public job::Entropy {
        bool fill(std::span<std::uint8_t>) override { return false; }
    } dry;
    Pairing pairing(dry, nullptr);
    EXPECT_FALSE(pairing.pair("", {}));
    EXPECT_FALSE(pairing.pair("000000", {}));
}

class paired_server : public testing::ServedJob {
protected:
    void SetUp() override {
        ServedJob::SetUp();
        ServerOptions options;
        options.must_pair = true;
        serve(options);
    }
};

TEST_F(paired_server, refuses_everything_but_the_page_until_paired) {
    EXPECT_EQ(client().get("/").status, 200);
    EXPECT_EQ(post("sheet", "{}").status, 401);
    EXPECT_EQ(kind_of(post("rubbish", "{}")), "not-paired");
    EXPECT_EQ(client().get("/api/events").status, 401);
    EXPECT_EQ(client().get("/api/events?token=00").status, 401);
    EXPECT_EQ(client().post("/api/files?name=x", "x", "").status, 401);

    EXPECT_EQ(post("pair", R"({"code":"x"})").status, 403);
    EXPECT_EQ(post("pair", R"({"code":7})").status, 400);
    const Reply paired = post("pair", "{\"code\":\"" + code() + "\"}");
    ASSERT_EQ(paired.status, 200) << paired.body;
    const std::string token = testing::Json::parse(paired.body)["token"];
    const std::string bearer =
        "Content-Type: application/json\r\nAuthorization: Bearer " + token + "\r\n";
    EXPECT_EQ(client().post("/api/sheet", "{}", bearer).status, 200);
    EXPECT_EQ(client().post("/api/sheet?token=" + token, "{}").status, 401)
        << "in the address it is for streams only";
    Client stream(server->port());
    stream.send("GET /api/events?token=" + token + " HTTP/1.1\r\nHost: " + stream.host() +
                "\r\n\r\n");
    EXPECT_THAT(stream.read_until("event: job\n"), HasSubstr("200 OK"));
    for (const std::string& line : log()) EXPECT_EQ(line.find(token), std::string::npos);
}

TEST_F(paired_server, wrong_codes_close_the_door_for_a_while) {
    const std::string wrong = code() == "000000" ? "000001" : "000000";
    for (int i = 0; i < Pairing::kMostTries; ++i)
        EXPECT_EQ(post("pair", "{\"code\":\"" + wrong + "\"}").status, 403);
    EXPECT_EQ(post("pair", "{\"code\":\"" + code() + "\"}").status, 429);
}

}  // namespace
}  // namespace layproof::server

#pragma once
// The invented mill hall, served.

#include <gtest/gtest.h>

#include <mutex>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "acts/job/job_test_support.hpp"
#include "server/client.hpp"
#include "server/server.hpp"

namespace layproof::server::testing {

using layproof::testing::expect_value;
using layproof::testing::take_mill_hall;
using Json = nlohmann::json;

class ServedJob : public job::JobTest {
protected:
    void SetUp() override {
        job::Job job = create("hall.job");
        expect_value(acts::take(job, take_mill_hall()));
    }

    void serve(ServerOptions options = {}) { serve("hall.job", std::move(options)); }
    void serve(const std::string& job, ServerOptions options = {}) {
        options.log = [this](std::string_view line) {
            const std::lock_guard lock(mutex_);
            log_.emplace_back(line);
        };
        options.show_code = [this](std::string_view code) {
            const std::lock_guard lock(mutex_);
            codes_.emplace_back(code);
        };
        server =
            expect_value(Server::start(folder / job, options, serving_clock_, serving_entropy_));
    }

    Client client() const { return Client(server->port()); }
    Reply post(const std::string& act, const std::string& body) {
        return client().post("/api/" + act, body);
    }
    /// The kind of a refusal.
    static std::string kind_of(const Reply& reply) {
        const Json json = Json::parse(reply.body, nullptr, false);
        return json.is_object() && json.contains("refusal") ? json["refusal"]["kind"] : Json("");
    }

    std::vector<std::string> log() {
        const std::lock_guard lock(mutex_);
        return log_;
    }
    std::string code() {
        const std::lock_guard lock(mutex_);
        return codes_.empty() ? "" : codes_.back();
    }

    void expect_sound() {
        if (server) server->stop();
        const job::Job job = open("hall.job", job::Mode::read);
        EXPECT_TRUE(expect_value(job.verify()).sound());
    }

    std::unique_ptr<Server> server;

private:
    std::mutex mutex_;
    std::vector<std::string> log_, codes_;
    job::SystemClock serving_clock_;
    job::SystemEntropy serving_entropy_;
};

}  // namespace layproof::server::testing

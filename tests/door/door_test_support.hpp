#pragma once
// An open door to the invented mill hall, whose answers are held to their shapes.

#include <gtest/gtest.h>

#include <memory>
#include <nlohmann/json.hpp>
#include <string>

#include "acts/job/job_test_support.hpp"
#include "door/door.hpp"
#include "door/shapes.hpp"

namespace layproof::testing {

class DoorTest : public job::JobTest {
protected:
    using Json = nlohmann::ordered_json;

    void SetUp() override {
        job::Job job = create("hall.job");
        expect_value(acts::take(job, take_mill_hall()));
        open_door({});
    }
    void open_door(const acts::DoorOptions& options) {
        there = expect_value(acts::Door::open(folder / "hall.job", options, clock, entropy,
                                              [](const acts::WorkNote&) {}));
    }
    /// The answer, or what stands under "refusal".
    Json ask(const std::string& act, const Json& request) {
        const acts::Asked asked = there->ask(act, request.dump());
        if (asked.refused) {
            const std::string text = acts::to_json(*asked.refused);
            EXPECT_FALSE(acts::check_record("RefusalAnswer", text)) << text;
            return Json::parse(text)["refusal"];
        }
        for (const acts::ActShape& shape : acts::act_shapes())
            if (shape.act == act) {
                const auto refusal = acts::check_record(shape.answer, *asked.json);
                EXPECT_FALSE(refusal) << refusal->to_text();
            }
        return Json::parse(*asked.json);
    }

    std::unique_ptr<acts::Door> there;
};

}  // namespace layproof::testing

// The declared shapes against what the acts really give, and against the page's types.

#include "door/shapes.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <fstream>
#include <nlohmann/json.hpp>
#include <set>
#include <sstream>

#include "acts/job/job_test_support.hpp"
#include "acts/lay/lay.hpp"
#include "acts/lay/lay_site.hpp"
#include "acts/shared/invented_site.hpp"
#include "acts/vet/vet.hpp"
#include "acts/watch/watch.hpp"

namespace layproof::acts {
namespace {

using Json = nlohmann::ordered_json;
using layproof::testing::expect_value;
using layproof::testing::InventedDay;
using layproof::testing::loose_mill_hall;
using layproof::testing::mill_hall;

void expect_fits(const std::string& record, const std::string& json) {
    const auto refusal = check_record(record, json);
    EXPECT_FALSE(refusal) << record << ": " << refusal->to_text();
}

TEST(shapes, types_of_the_page_are_what_the_shapes_say) {
    std::ifstream file(LAYPROOF_SOURCE_DIR "/web/src/generated/acts.ts");
    ASSERT_TRUE(file.is_open());
    std::ostringstream text;
    text << file.rdbuf();
    EXPECT_EQ(text.str(), typescript())
        << "make it anew: layproof types > web/src/generated/acts.ts";
}

TEST(shapes, every_record_that_is_named_is_declared_once) {
    std::set<std::string> names;
    for (const ShapeRecord& record : shape_records())
        EXPECT_TRUE(names.insert(record.name).second) << record.name;
    const std::function<void(const Shape&)> look = [&](const Shape& shape) {
        if (shape.kind == ShapeKind::record) {
            EXPECT_TRUE(names.contains(shape.record)) << shape.record;
        }
        for (const Shape& of : shape.of) look(of);
    };
    for (const ShapeRecord& record : shape_records())
        for (const ShapeField& field : record.fields) look(field.shape);
    for (const ActShape& act : act_shapes()) {
        EXPECT_TRUE(names.contains(act.request)) << act.request;
        EXPECT_TRUE(names.contains(act.answer)) << act.answer;
    }
}

StationRequest mill_day() {
    StationRequest out = loose_mill_hall();
    out.sights = mill_hall("day-sights.csv");
    out.setups = mill_hall("day-setups.csv");
    return out;
}

TEST(shapes, answers_about_the_demo_fit) {
    expect_fits("StationAnswer", to_json(expect_value(run_station(loose_mill_hall()))));
    LayRequest lay;
    lay.station = mill_day();
    lay.grid = mill_hall("grid.csv");
    expect_fits("LayAnswer", to_json(expect_value(run_lay(lay))));
    WatchRequest watch;
    watch.station = mill_day();
    expect_fits("WatchAnswer", to_json(expect_value(run_watch(watch))));
}

TEST(shapes, answers_about_less_than_everything_fit) {
    StationRequest plan_only = loose_mill_hall();
    plan_only.points.reset();
    plan_only.instrument.reset();
    expect_fits("StationAnswer", to_json(expect_value(run_station(plan_only))));
    InventedDay day;
    day.set_up();
    LayRequest lay;
    lay.station = day.request();
    expect_fits("LayAnswer", to_json(expect_value(run_lay(lay))));
    lay.station.points.reset();
    expect_fits("LayAnswer", to_json(expect_value(run_lay(lay))));
    WatchRequest watch;
    watch.station = day.request();
    expect_fits("WatchAnswer", to_json(expect_value(run_watch(watch))));
}

exchange::Document handed_over(const std::string& file) {
    return expect_value(exchange::read_document(std::string(LAYPROOF_SOURCE_DIR) +
                                                "/tests/cases/vet/good/" + file));
}

VetRequest control_handed_over() {
    VetRequest out;
    out.marks = {handed_over("marks.csv")};
    out.drawings = {handed_over("drawing.csv")};
    out.tapes = {handed_over("tapes.csv")};
    out.levels = {handed_over("levels.csv")};
    out.sights = handed_over("sights.csv");
    out.instrument = handed_over("instrument.toml");
    out.unit = measure::LengthUnit::metre;
    return out;
}

TEST(shapes, answers_about_control_fit) {
    VetRequest request = control_handed_over();
    expect_fits("VetAnswer", to_json(expect_value(run_vet(request))));
    request.match = true;
    expect_fits("VetAnswer", to_json(expect_value(run_vet(request))));
    VetRequest paper;
    paper.marks = request.marks;
    paper.unit = request.unit;
    expect_fits("VetAnswer", to_json(expect_value(run_vet(paper))));
}

/// Every way to change one place of a document, by dropping a member or adding one.
void each_change(const Json& whole, Json& at, const std::string& path,
                 const std::function<void(const std::string&)>& look) {
    if (at.is_array()) {
        if (!at.empty()) each_change(whole, at[0], path + "[0]", look);
        return;
    }
    if (!at.is_object()) return;
    const Json before = at;
    for (const auto& [name, value] : before.items()) {
        at.erase(name);
        look(path + " without " + name);
        at = before;
    }
    at["not in the shape"] = 1;
    look(path + " with one more");
    at = before;
    for (const auto& [name, value] : before.items())
        each_change(whole, at[name], path + "." + name, look);
}

TEST(shapes, member_more_or_less_is_found_anywhere) {
    Json document = Json::parse(to_json(expect_value(run_station(loose_mill_hall()))));
    int changes = 0;
    // Free names, and what may be absent: no shape holds them.
    const std::set<std::string> free{"estimate"};
    each_change(document, document, "", [&](const std::string& what) {
        const bool is_free = what.find(".estimate") != std::string::npos ||
                             what.find("without why") != std::string::npos ||
                             what.find("without to") != std::string::npos;
        if (is_free) return;
        ++changes;
        EXPECT_TRUE(check_record("StationAnswer", document.dump())) << what;
    });
    EXPECT_GT(changes, 80);
    expect_fits("StationAnswer", document.dump());
}

TEST(shapes, member_more_or_less_of_a_vetting_is_found) {
    Json document = Json::parse(to_json(expect_value(run_vet(control_handed_over()))));
    int changes = 0;
    each_change(document, document, "", [&](const std::string& what) {
        // Of an estimate each figure may be absent, but nothing else may be there.
        if (what.find(".estimate without") != std::string::npos) return;
        ++changes;
        EXPECT_TRUE(check_record("VetAnswer", document.dump())) << what;
    });
    EXPECT_GT(changes, 80);
    expect_fits("VetAnswer", document.dump());
}

TEST(shapes, kinds_are_held) {
    Json document = Json::parse(to_json(expect_value(run_station(loose_mill_hall()))));
    const auto refused = [&](const Json::json_pointer& at, const Json& value) {
        const Json before = document[at];
        document[at] = value;
        const auto refusal = check_record("StationAnswer", document.dump());
        document[at] = before;
        return refusal ? refusal->code : ErrorCode{};
    };
    const Json::json_pointer word("/stations/0/verdict/word");
    EXPECT_EQ(refused(word, "perhaps"), ErrorCode::request_type_wrong);
    EXPECT_EQ(refused(word, nullptr), ErrorCode::request_type_wrong);
    EXPECT_EQ(refused(Json::json_pointer("/stations/0/points_proven"), 1.5),
              ErrorCode::request_type_wrong);
    EXPECT_EQ(refused(Json::json_pointer("/stations"), Json::object()),
              ErrorCode::request_type_wrong);
    EXPECT_EQ(refused(Json::json_pointer("/confidence"), "0.95"), ErrorCode::request_type_wrong);
    EXPECT_EQ(refused(Json::json_pointer("/stations/0/next_sight"), nullptr), ErrorCode{});
}

TEST(shapes, request_is_refused_with_path_and_reason) {
    const auto refusal =
        check_request("station", R"({"set_aside":[{"station":"S1","tarket":"H1","reason":"r"}]})");
    ASSERT_TRUE(refusal);
    EXPECT_EQ(refusal->code, ErrorCode::request_field_unknown);
    EXPECT_EQ(refusal->place.file, "set_aside[0].tarket");
    EXPECT_EQ(refusal->expected, "perhaps target");
    EXPECT_FALSE(check_request("station", R"({"as_of":null,"points":null,"explain":true})"));
    EXPECT_EQ(check_request("nothing", "{}")->code, ErrorCode::act_unknown);
    EXPECT_EQ(check_request("sights", "{}")->code, ErrorCode::request_field_missing);
    EXPECT_EQ(check_request("sights", R"({"station":null})")->code, ErrorCode::request_type_wrong);
    EXPECT_EQ(check_request("sheet", "{")->code, ErrorCode::request_not_json);
    EXPECT_EQ(check_request("sheet", "[]")->code, ErrorCode::request_type_wrong);
}

TEST(shapes, refusals_stay_short_whatever_is_sent) {
    const std::string long_name(100'000, 'x');
    const auto name = check_request("sheet", "{\"" + long_name + "\":1}");
    ASSERT_TRUE(name);
    EXPECT_LT(name->to_text().size(), 400U);
    const auto value = check_request("sheet", "{\"as_of\":[" + std::string(50'000, '1') + "]}");
    ASSERT_TRUE(value);
    EXPECT_LT(value->to_text().size(), 400U);
}

}  // namespace
}  // namespace layproof::acts

// Field checks through the door: typed rows and files give what the command line gives, and what
// was found can be kept in the job.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "acts/vet/vet_tools.hpp"
#include "door/door_test_support.hpp"

namespace layproof::acts {
namespace {

using Json = nlohmann::ordered_json;
using layproof::testing::expect_value;
using layproof::testing::take_mill_hall;
using ::testing::HasSubstr;

class door_tools : public testing::DoorTest {};

Json typed_faces() {
    // Line of sight 20" off, index 0: face two reads 180° + 40" and 360° less.
    const auto row = [](const char* target, const char* direction, const char* zenith) {
        return Json{{"target", target}, {"direction", direction}, {"zenith", zenith}};
    };
    const Json rows = {row("1", "10-00-00", "90-00-00"),  row("1", "190-00-40", "270-00-00"),
                       row("2", "80-00-00", "89-30-00"),  row("2", "260-00-40", "270-30-00"),
                       row("3", "200-00-00", "91-00-00"), row("3", "20-00-40", "269-00-00")};
    return {{"tool", "instrument"}, {"tables", {{{"check", "faces"}, {"rows", rows}}}}};
}

TEST_F(door_tools, typed_rows_are_read_as_the_file_they_would_stand_in) {
    const Json typed = ask("tools", typed_faces());
    const std::string csv =
        "station,target,direction,zenith,slope_distance,target_height\n"
        "here,1,10-00-00,90-00-00,,0\nhere,1,190-00-40,270-00-00,,0\n"
        "here,2,80-00-00,89-30-00,,0\nhere,2,260-00-40,270-30-00,,0\n"
        "here,3,200-00-00,91-00-00,,0\nhere,3,20-00-40,269-00-00,,0\n";
    const Asked kept = there->keep_file("faces.csv", csv);
    const std::string digest = Json::parse(*kept.json)["digest"];
    const Json from_file = ask(
        "tools", {{"tool", "instrument"}, {"tables", {{{"check", "faces"}, {"digest", digest}}}}});
    EXPECT_EQ(typed, from_file);

    InstrumentRequest direct;
    direct.tool.unit = measure::LengthUnit::foot;
    direct.tool.stated =
        expect_value(open("hall.job", job::Mode::read).current<measure::Instrument>()).back().value;
    direct.faces = exchange::Document{"faces.csv", csv};
    EXPECT_EQ(typed, Json::parse(to_json(expect_value(run_vet_instrument(direct)))));

    ASSERT_EQ(typed["findings"][0]["finding"], "collimation");
    EXPECT_NEAR(std::abs(typed["findings"][0]["value"].get<double>()), 20.0, 0.01);
}

TEST_F(door_tools, radius_says_what_the_error_does_to_a_laid_point) {
    Json request = typed_faces();
    request["radius_m"] = 10.0;
    const double near_mm = ask("tools", request)["findings"][0]["at_radius_mm"];
    request["radius_m"] = 100.0;
    const double far_mm = ask("tools", request)["findings"][0]["at_radius_mm"];
    EXPECT_NEAR(far_mm, 10.0 * near_mm, 0.02);
    request["radius_m"] = 5000.0;
    EXPECT_EQ(ask("tools", request)["kind"], "out-of-range");
}

TEST_F(door_tools, rod_turned_by_quarters_finds_its_lean) {
    const auto row = [](const char* turn, const char* direction, const char* slope) {
        return Json{{"turn", turn},
                    {"direction", direction},
                    {"zenith", "90-00-00"},
                    {"slope_distance", slope},
                    {"target_height", "1.500"}};
    };
    // 5 mm to the right at turn 0, seen over 20 m: 51.6".
    Json request{{"tool", "rod"},
                 {"unit", "m"},
                 {"tables",
                  {{{"check", "turns"},
                    {"rows",
                     {row("0", "0-00-51.6", "20.000"), row("90", "0-00-00", "19.995"),
                      row("180", "359-59-08.4", "20.000"), row("270", "0-00-00", "20.005")}}}}}};
    const Json answer = ask("tools", request);
    EXPECT_EQ(answer["tool"], "rod");
    EXPECT_NEAR(answer["findings"][0]["at_radius_mm"].get<double>(), 5.0, 0.05);
}

TEST_F(door_tools, what_was_found_is_kept_with_its_time_and_shown_on_the_sheet) {
    EXPECT_TRUE(ask("sheet", Json::object())["checked"].empty());
    EXPECT_EQ(ask("keep", typed_faces())["kept"], 2);
    const Json sheet = ask("sheet", Json::object());
    ASSERT_EQ(sheet["checked"].size(), 2U);
    EXPECT_EQ(sheet["checked"][0]["finding"], "collimation");
    EXPECT_THAT(sheet["checked"][0]["says"].get<std::string>(), HasSubstr("arcsec, sd"));
    EXPECT_THAT(sheet["moments"].back()["says"].get<std::string>(),
                HasSubstr("hecked collimation"));
}

TEST_F(door_tools, checks_that_do_not_fit_are_refused_with_what_was_expected) {
    Json request = typed_faces();
    request["tool"] = "rod";
    EXPECT_EQ(ask("tools", request)["expected"], "a check of the rod");
    request = typed_faces();
    request["tables"].push_back(request["tables"][0]);
    EXPECT_EQ(ask("tools", request)["expected"], "each check once");
    EXPECT_EQ(ask("tools", {{"tool", "instrument"}, {"tables", {{{"check", "faces"}}}}})["kind"],
              "request-field-missing");
    EXPECT_EQ(ask("tools", {{"tool", "rod"}, {"tables", Json::array()}})["kind"], "value-missing");
    EXPECT_EQ(ask("tools", {{"tool", "instrument"}, {"tables", Json::array()}})["kind"],
              "value-missing");
    const Json gone =
        ask("tools", {{"tool", "instrument"},
                      {"tables", {{{"check", "faces"}, {"digest", std::string(64, 'a')}}}}});
    EXPECT_EQ(gone["kind"], "file-not-kept");
    request = typed_faces();
    request["tables"][0]["rows"][1]["direction"] = "19x";
    const Json wrong = ask("tools", request);
    EXPECT_EQ(wrong["line"], 3);
    EXPECT_THAT(wrong["found"].get<std::string>(), HasSubstr("19x"));
}

TEST_F(door_tools, a_quote_in_a_name_stays_in_its_cell) {
    Json request = typed_faces();
    for (Json& row : request["tables"][0]["rows"])
        if (row["target"] == "1") row["target"] = "the \"tall\" one, north";
    EXPECT_EQ(ask("tools", request), ask("tools", typed_faces()));
}

}  // namespace
}  // namespace layproof::acts

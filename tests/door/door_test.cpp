// The door of an open job: requests as JSON in, documents or refusals out.

#include "door/door.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <atomic>
#include <nlohmann/json.hpp>
#include <thread>

#include "acts/vet/vet.hpp"
#include "door/door_test_support.hpp"
#include "door/sheet.hpp"

namespace layproof::acts {
namespace {

using Json = nlohmann::ordered_json;
using layproof::testing::expect_value;
using layproof::testing::mill_hall;
using layproof::testing::take_mill_hall;
using ::testing::HasSubstr;

class door : public testing::DoorTest {};

TEST_F(door, sheet_holds_what_the_job_holds) {
    const Json sheet = ask("sheet", Json::object());
    EXPECT_EQ(sheet["job"]["title"], "Invented site");
    EXPECT_EQ(sheet["job"]["unit"], "ft");
    EXPECT_EQ(sheet["marks"].size(), 6U);
    EXPECT_EQ(sheet["marks"][0]["mark"], "H1");
    EXPECT_EQ(sheet["marks"][0]["east"], 5006.412);
    EXPECT_EQ(sheet["marks"][0]["from"], "marks.csv");
    EXPECT_EQ(sheet["points"].size(), 40U);
    ASSERT_EQ(sheet["stations"].size(), 2U);
    EXPECT_EQ(sheet["documents"].size(), 5U);
    const Json station = ask("station", {{"station", "S1"}})["stations"][0];
    int found = 0;
    for (const Json& one : sheet["stations"]) {
        if (one["station"] != "S1") continue;
        ++found;
        EXPECT_EQ(one["word"], station["verdict"]["word"]);
        EXPECT_EQ(one["pose"]["east"], station["pose"]["east"]);
        EXPECT_EQ(one["pose"]["orientation_deg"], station["pose"]["orientation_deg"]);
    }
    EXPECT_EQ(found, 1);
}

TEST_F(door, every_moment_can_be_gone_back_to) {
    ask("decide",
        {{"kind", "set-aside"}, {"subject", "S1:H3"}, {"reason", "r"}, {"initials", "A"}});
    ask("book", {{"unit", "ft"}, {"mark", {{"mark", "Q1"}, {"east", "5100"}, {"north", "10100"}}}});
    const Json now = ask("sheet", Json::object());
    int facts = 0;
    int decided = 0;  // a set-aside of both sights to H3 is one decision each
    for (const Json& moment : now["moments"]) {
        facts += moment["facts"].get<int>();
        if (moment["what"] == "decide") decided += moment["facts"].get<int>();
        const Json then = ask("sheet", {{"as_of", moment["time"]}});
        EXPECT_EQ(then["as_of"], moment["time"]);
        EXPECT_EQ(then["moments"], now["moments"]) << "one can go on to any other";
        EXPECT_EQ(then["decisions"].size(), static_cast<std::size_t>(decided));
    }
    EXPECT_EQ(decided, 2);
    EXPECT_EQ(facts, now["job"]["facts"].get<int>());
    EXPECT_EQ(now["moments"].back()["what"], "book");
    EXPECT_THAT(now["moments"].back()["says"].get<std::string>(), HasSubstr("mark Q1"));
    const Json before = ask("sheet", {{"as_of", "2020-01-01T00:00:00Z"}});
    EXPECT_TRUE(before["marks"].empty());
}

TEST_F(door, station_that_its_sights_do_not_place_leaves_the_others_theirs) {
    ask("book", {{"unit", "ft"},
                 {"sight",
                  {{"station", "S9"},
                   {"target", "H1"},
                   {"direction", "10-00-00"},
                   {"target_height", "5"}}}});
    const Json sheet = ask("sheet", Json::object());
    EXPECT_EQ(sheet["stations"].size(), 3U);
    for (const Json& one : sheet["stations"]) {
        EXPECT_EQ(one["pose"].is_null(), one["station"] == "S9");
        EXPECT_EQ(one["word"].is_null(), one["station"] == "S9");
    }
}

TEST_F(door, vet_is_the_document_of_the_command_line) {
    const auto of_act = [&](const job::AsOf& as_of, double tolerance_plan_m) {
        VetRequest request;
        const job::Job job = open("hall.job", job::Mode::read);
        expect_value(fill_from_job(job, as_of, request));
        request.tolerance_plan_m = tolerance_plan_m;
        return to_json(expect_value(run_vet(request)));
    };
    const std::string plain = *there->ask("vet", "{}").json;
    EXPECT_EQ(plain, of_act({}, kDefaultTolerancePlan_m));
    EXPECT_EQ(*there->ask("vet", R"({"tolerance_plan_mm":3})").json, of_act({}, 0.003));
    EXPECT_NE(plain, of_act({}, 0.003));
    EXPECT_EQ(ask("vet", Json::object())["marks"].size(), 6U);
}

TEST_F(door, vet_follows_the_job_and_can_go_back) {
    const std::string before = *there->ask("vet", "{}").json;
    const Json moment = ask("sheet", Json::object())["moments"].back()["time"];
    std::string newer = mill_hall("marks.csv").bytes;
    newer.replace(newer.find("5243.870"), 8, "5243.970");
    const Json kept = Json::parse(*there->keep_file("newer.csv", newer).json);
    ask("take", {{"files", {{{"digest", kept["digest"]}, {"role", "marks"}, {"revision", "C"}}}}});
    const Json after = ask("vet", Json::object());
    ASSERT_EQ(after["lists"].size(), 2U);
    EXPECT_EQ(after["lists"][0]["revision"], "C") << "the newest comes first";
    EXPECT_EQ(after["differences"].size(), 6U);
    EXPECT_EQ(ask("vet", {{"as_of", moment}}), Json::parse(before));
}

TEST_F(door, vet_speaks_the_unit_that_the_door_was_opened_with) {
    const std::string plain = *there->ask("vet", "{}").json;
    DoorOptions options;
    options.show = measure::LengthStyle{measure::LengthUnit::foot, true, 16};
    open_door(options);
    VetRequest request;
    const job::Job job = open("hall.job", job::Mode::read);
    expect_value(fill_from_job(job, {}, request));
    request.show = options.show;
    const std::string shown = *there->ask("vet", "{}").json;
    EXPECT_EQ(shown, to_json(expect_value(run_vet(request))));
    EXPECT_NE(shown, plain);
}

TEST_F(door, vet_of_what_makes_no_sense_is_refused) {
    EXPECT_EQ(ask("vet", {{"tolerance_plan_mm", 0}})["kind"], "out-of-range");
    EXPECT_EQ(ask("vet", {{"tolerance_height_mm", 1001}})["kind"], "out-of-range");
    EXPECT_EQ(ask("vet", {{"as_of", "yesterday"}})["kind"], "time-not-read");
    EXPECT_EQ(ask("vet", {{"tolerance", 3}})["kind"], "request-field-unknown");
    EXPECT_EQ(ask("vet", {{"tolerance_plan_mm", "3"}})["kind"], "request-type-wrong");
    EXPECT_EQ(ask("vet", {{"as_of", "2020-01-01T00:00:00Z"}})["kind"], "no-marks");
}

TEST_F(door, what_if_decides_nothing) {
    const Json plain = ask("station", {{"station", "S1"}});
    const Json tried = ask(
        "station", {{"station", "S1"},
                    {"set_aside", {{{"station", "S1"}, {"target", "H3"}, {"reason", "to try"}}}}});
    EXPECT_NE(plain["stations"][0]["pose"], tried["stations"][0]["pose"]);
    EXPECT_EQ(ask("station", {{"station", "S1"}}), plain);
    EXPECT_TRUE(ask("sheet", Json::object())["decisions"].empty());
}

TEST_F(door, sights_show_who_set_them_aside_and_why) {
    const Json decided = ask("decide", {{"kind", "set-aside"},
                                        {"subject", "S1:H3#2"},
                                        {"reason", "rod leaned"},
                                        {"initials", "AB"}});
    ASSERT_TRUE(decided.contains("decided")) << decided;
    int aside = 0;
    const Json sights = ask("sights", {{"station", "S1"}})["sights"];
    for (const Json& sight : sights) {
        if (sight["set_aside"].is_null()) continue;
        ++aside;
        EXPECT_EQ(sight["target"], "H3");
        EXPECT_EQ(sight["which"], 2);
        EXPECT_EQ(sight["set_aside"]["reason"], "rod leaned");
        EXPECT_EQ(sight["set_aside"]["initials"], "AB");
    }
    EXPECT_EQ(aside, 1);
}

TEST_F(door, booked_sight_is_the_one_a_file_would_bring) {
    const Json before = ask("sights", {{"station", "S1"}})["sights"];
    const Json booked = ask("book", {{"unit", "ft"},
                                     {"sight",
                                      {{"station", "S1"},
                                       {"target", "H2"},
                                       {"direction", "351.57.07.4"},
                                       {"zenith", "90 02 24.3"},
                                       {"slope_distance", "150.487"},
                                       {"target_height", "5"},
                                       {"face", "1"},
                                       {"purpose", "check"},
                                       {"time", "2031-05-14T12:00:00-05:00"},
                                       {"note", "by <hand>"}}}});
    EXPECT_EQ(booked["says"], "Sight S1 to H2 booked.");
    const Json after = ask("sights", {{"station", "S1"}})["sights"];
    ASSERT_EQ(after.size(), before.size() + 1);
    const Json& own = after.back();
    EXPECT_EQ(own["fact"], booked["fact"]);
    EXPECT_EQ(own["note"], "by <hand>");
    EXPECT_EQ(own["purpose"], "check");
    int same = 0;
    for (const Json& sight : before) {
        if (sight["target"] != "H2" || sight["which"] != 1) continue;
        // The same reading stands in the file.
        ++same;
        EXPECT_EQ(own["direction_deg"], sight["direction_deg"]);
        EXPECT_EQ(own["zenith_deg"], sight["zenith_deg"]);
        EXPECT_EQ(own["slope_distance_m"], sight["slope_distance_m"]);
    }
    EXPECT_EQ(same, 1);
}

TEST_F(door, booking_is_refused_with_the_field) {
    const auto field = [&](const char* what, const Json& typed) {
        const Json refusal = ask("book", {{"unit", "ft"}, {what, typed}});
        return refusal.contains("field") && refusal["field"].is_string()
                   ? refusal["field"].get<std::string>()
                   : refusal.dump();
    };
    const Json sight{
        {"station", "S1"}, {"target", "H1"}, {"direction", "1-2-3"}, {"target_height", "5"}};
    const auto with = [&](const char* name, const char* text) {
        Json out = sight;
        out[name] = text;
        return out;
    };
    EXPECT_EQ(field("sight", with("zenith", "0")), "zenith");
    EXPECT_EQ(field("sight", with("slope_distance", "abc")), "slope_distance");
    EXPECT_EQ(field("sight", with("station", "")), "station");
    EXPECT_EQ(field("sight", with("purpose", "perhaps")), "purpose");
    EXPECT_EQ(field("sight", with("face", "3")), "face");
    EXPECT_EQ(field("sight", with("time", "noon")), "time");
    EXPECT_EQ(field("sight", with("target_height", "")), "target_height");
    EXPECT_EQ(field("sight", with("direction", "123.4506")), "direction");
    EXPECT_EQ(field("sight", with("direction", "")), "direction") << "it observes nothing";
    EXPECT_EQ(field("setup", {{"station", "S2"}, {"kind", "floating"}}), "kind");
    EXPECT_EQ(field("setup", {{"station", "S2"}, {"kind", "occupied"}}), "mark");
    EXPECT_EQ(field("mark", {{"mark", "Q"}, {"east", "x"}, {"north", "1"}}), "east");
    EXPECT_EQ(field("mark", {{"mark", "Q"}, {"east", "1"}, {"north", ""}}), "north");
    EXPECT_EQ(field("point", {{"point", "P"}, {"east", "1"}, {"north", "1e99"}}), "north");
    EXPECT_EQ(ask("book", {{"unit", "ft"}})["kind"], "request-field-missing");
    EXPECT_EQ(ask("book", {{"unit", "ft"},
                           {"sight", sight},
                           {"mark", {{"mark", "Q"}, {"east", "1"}, {"north", "2"}}}})["kind"],
              "request-field-missing");
    EXPECT_EQ(ask("sheet", Json::object())["job"]["facts"], 82) << "nothing was booked";
}

TEST_F(door, several_files_are_taken_together_or_not_at_all) {
    const auto sent = [&](const char* name, const std::string& text) {
        const Asked kept = there->keep_file(name, text);
        EXPECT_FALSE(check_record("PreviewAnswer", *kept.json));
        return Json::parse(*kept.json)["digest"];
    };
    const std::string marks = "mark,east [ft],north [ft],height [ft]\nQ1,1,2,3\n";
    const Json good{{"digest", sent("a.csv", marks)}, {"role", "marks"}};
    const Json second{{"digest", sent("b.csv", "point,east [m],north [m]\nP900,1,2\n")},
                      {"role", "points"}};
    const Json third{{"digest", sent("c.csv", "point,east [m],north [m]\nP901,1,2\n")},
                     {"role", "points"},
                     {"revision", "B"}};
    const Json bad{{"digest", sent("d.csv", "mark,east [ft],north [ft],height [ft]\nQ2,x,2,3\n")},
                   {"role", "marks"}};
    const int facts = ask("sheet", Json::object())["job"]["facts"];
    EXPECT_EQ(ask("take", {{"files", {good, second, bad}}})["kind"], "not-a-number");
    EXPECT_EQ(ask("sheet", Json::object())["job"]["facts"], facts);
    const Json taken = ask("take", {{"files", {good, second, third}}});
    EXPECT_EQ(taken["documents"].size(), 3U);
    EXPECT_GT(ask("sheet", Json::object())["job"]["facts"], facts);
}

TEST_F(door, foreign_columns_are_taken_by_choice) {
    const Asked kept = there->keep_file(
        "collector.csv", "No \"x\",Easting,Northing,Elev,Code\nQ7,5100.5,10100.25,311,CP\n");
    const Json first = Json::parse(*kept.json);
    EXPECT_TRUE(first["role"].is_null());
    EXPECT_EQ(first["columns"].size(), 5U);
    EXPECT_EQ(first["rows_total"], 1);
    const Json map{{"mark", first["columns"][0]},
                   {"east", "Easting"},
                   {"north", "Northing"},
                   {"height", "Elev"}};
    const Json preview = ask(
        "preview", {{"digest", first["digest"]}, {"role", "marks"}, {"map", map}, {"unit", "ft"}});
    EXPECT_TRUE(preview["refusal"].is_null()) << preview["refusal"];
    EXPECT_TRUE(preview["needs_unit"]);
    EXPECT_EQ(preview["fields"][0]["column"], first["columns"][0]);
    const Json taken =
        ask("take",
            {{"files",
              {{{"digest", first["digest"]}, {"role", "marks"}, {"map", map}, {"unit", "ft"}}}}});
    EXPECT_EQ(taken["documents"][0]["rows_new"], 1);
    EXPECT_EQ(ask("sheet", Json::object())["marks"].back()["east"], 5100.5);
}

TEST_F(door, grid_lines_are_drawn_as_they_were_taken) {
    const Asked kept = there->keep_file("grid.csv", mill_hall("grid.csv").bytes);
    const Json preview = Json::parse(*kept.json);
    EXPECT_EQ(preview["role"], "grid");
    ask("take", {{"files", {{{"digest", preview["digest"]}, {"role", "grid"}, {"unit", "ft"}}}}});
    const Json grid = ask("sheet", Json::object())["grid"];
    ASSERT_FALSE(grid.empty());
    EXPECT_EQ(grid[0]["kind"], "straight");
    EXPECT_EQ(grid[0]["path"].size(), 2U);
}

TEST_F(door, role_is_told_from_the_header) {
    const auto role = [&](const char* file) {
        return Json::parse(*there->keep_file(file, mill_hall(file).bytes).json)["role"];
    };
    EXPECT_EQ(role("marks.csv"), "marks");
    EXPECT_EQ(role("sights.csv"), "sights");
    EXPECT_EQ(role("setups.csv"), "setups");
    EXPECT_EQ(role("points.csv"), "points");
    EXPECT_EQ(role("grid.csv"), "grid");
    EXPECT_EQ(role("instrument.toml"), "instrument");
    for (const std::string& bytes : {std::string(), std::string("\xFF\xFE", 2), std::string("x"),
                                     std::string("\0\0", 2), std::string("a,b\n\"open")}) {
        const Asked kept = there->keep_file("rubbish.csv", bytes);
        ASSERT_TRUE(kept.json);
        EXPECT_FALSE(check_record("PreviewAnswer", *kept.json)) << *kept.json;
        EXPECT_FALSE(Json::parse(*kept.json)["refusal"].is_null());
    }
}

TEST_F(door, reading_falls_back_to_the_unit_of_the_job) {
    const Json read = ask("read", {{"fields", {{"slope_distance", "10"}, {"zenith", ""}}}});
    EXPECT_NEAR(read["fields"]["slope_distance"]["value"].get<double>(), 3.048, 1e-12);
    EXPECT_FALSE(read["fields"]["zenith"]["ok"]);
    EXPECT_EQ(read["fields"]["zenith"]["says"], "");
    EXPECT_TRUE(read["fields"]["zenith"]["value"].is_null());
}

TEST_F(door, what_another_program_adds_is_seen) {
    const std::int64_t before = expect_value(there->state()).facts;
    const auto generation = expect_value(there->state()).generation;
    EXPECT_EQ(expect_value(there->state()).generation, generation);
    job::Job other = open("hall.job");
    ASSERT_TRUE(other.add(job::mark("Q5", 1, 2, 3)));
    EXPECT_EQ(expect_value(there->state()).facts, before + 1);
    EXPECT_GT(expect_value(there->state()).generation, generation);
    EXPECT_EQ(ask("sheet", Json::object())["marks"].back()["mark"], "Q5");
}

TEST_F(door, questions_of_many_threads_get_one_answer_each) {
    const std::string expected = *there->ask("lay", "{}").json;
    std::vector<std::thread> threads;
    std::atomic<int> good = 0;
    for (int t = 0; t < 4; ++t)
        threads.emplace_back([&, t] {
            for (int i = 0; i < 20; ++i) {
                if (t == 0)
                    there->ask("decide", R"({"kind":"mark-moved","subject":"H6","reason":"r",
                        "initials":"A"})");
                const Asked asked = there->ask(t % 2 == 0 ? "sheet" : "lay", "{}");
                good += asked.json != nullptr;
            }
        });
    for (std::thread& thread : threads) thread.join();
    EXPECT_EQ(good, 80);
}

TEST_F(door, job_of_no_marks_has_a_sheet_all_the_same) {
    create("empty.job");
    there =
        expect_value(Door::open(folder / "empty.job", {}, clock, entropy, [](const WorkNote&) {}));
    const Json sheet = ask("sheet", Json::object());
    EXPECT_TRUE(sheet["marks"].empty());
    EXPECT_TRUE(sheet["job"]["unit"].is_null());
    EXPECT_EQ(ask("station", Json::object())["kind"], "no-marks");
}

TEST_F(door, opening_what_is_no_job_is_refused) {
    job::write_bytes(folder / "x.job", "rubbish");
    EXPECT_FALSE(Door::open(folder / "x.job", {}, clock, entropy, nullptr));
    EXPECT_FALSE(Door::open(folder / "nothing.job", {}, clock, entropy, nullptr));
}

}  // namespace
}  // namespace layproof::acts

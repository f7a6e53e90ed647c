// The JSON of `station`: other programs read it, so its names, types and sums are held here.

#include <gtest/gtest.h>

#include <cmath>
#include <nlohmann/json.hpp>
#include <set>
#include <string>
#include <vector>

#include "cli/case.hpp"
#include "cli/program.hpp"

namespace layproof::testing {
namespace {

using Json = nlohmann::json;

Json run_case(const std::string& name) {
    const Case c = read_case("station/" + name);
    const WorkFolder work("json-" + name);
    lay_out(c, work.path());
    const Ran ran = run_layproof(c.args, {work.path(), false, ""});
    Json json = Json::parse(ran.out, nullptr, false);
    EXPECT_FALSE(json.is_discarded()) << ran.out << ran.err;
    return json;
}

void expect_numbers(const Json& object, const std::vector<std::string>& names) {
    ASSERT_TRUE(object.is_object()) << object;
    for (const std::string& name : names) {
        EXPECT_TRUE(object.contains(name) && object[name].is_number()) << name << " in " << object;
    }
}

void expect_texts(const Json& object, const std::vector<std::string>& names) {
    ASSERT_TRUE(object.is_object()) << object;
    for (const std::string& name : names) {
        ASSERT_TRUE(object.contains(name) && object[name].is_string()) << name << " in " << object;
        EXPECT_NE(object[name], "") << name << " in " << object;
    }
}

void expect_probability(const Json& value) {
    ASSERT_TRUE(value.is_number()) << value;
    EXPECT_GE(value.get<double>(), 0.0);
    EXPECT_LE(value.get<double>(), 1.0);
}

bool is_verdict_word(const Json& word) {
    return word == "proven" || word == "in doubt" || word == "fails";
}

void expect_causes(const Json& causes) {
    static const std::set<std::string> known{
        "nothing-wrong",        "mark-moved",           "mark-height-changed",
        "rod-not-plumb",        "rod-height-wrong",     "rod-height-wrong-on-all",
        "prism-constant-wrong", "distance-scale-wrong", "names-swapped",
        "wrong-name",           "tripod-disturbed",     "out-of-level",
        "vertical-index-wrong", "gross-direction",      "gross-zenith",
        "gross-distance"};
    ASSERT_TRUE(causes.is_array());
    double sum = 0.0;
    double last = 1.0;
    bool has_nothing_wrong = false;
    for (const Json& cause : causes) {
        expect_probability(cause["probability"]);
        const double probability = cause["probability"];
        EXPECT_LE(probability, last + 1e-12) << "not sorted: " << cause;
        last = probability;
        sum += probability;
        EXPECT_TRUE(cause["subjects"].is_array()) << cause;
        std::string words = cause["cause"];
        for (std::size_t from = 0; from <= words.size();) {
            const std::size_t bar = std::min(words.find('|', from), words.size());
            const std::string word = words.substr(from, bar - from);
            EXPECT_TRUE(known.count(word) > 0) << "unknown cause: " << word;
            if (word == "nothing-wrong") has_nothing_wrong = true;
            from = bar + 1;
        }
    }
    // Each probability may be rounded by itself.
    EXPECT_NEAR(sum, 1.0, 1e-3 * static_cast<double>(causes.size()));
    EXPECT_TRUE(has_nothing_wrong);
}

void expect_station(const Json& station) {
    expect_texts(station, {"station", "kind"});
    expect_texts(station["verdict"], {"word", "because", "next"});
    EXPECT_TRUE(is_verdict_word(station["verdict"]["word"])) << station["verdict"];
    expect_probability(station["verdict"]["probability"]);

    const Json& pose = station["pose"];
    expect_numbers(pose, {"east", "north", "height", "orientation_deg"});
    const Json& covariance = pose["covariance"];
    ASSERT_EQ(covariance.size(), 4U);
    for (std::size_t i = 0; i < 4; ++i) {
        ASSERT_EQ(covariance[i].size(), 4U);
        EXPECT_GT(covariance[i][i].get<double>(), 0.0);
        for (std::size_t j = 0; j < 4; ++j) {
            const double a = covariance[i][j];
            const double b = covariance[j][i];
            EXPECT_NEAR(a, b, 1e-9 * (std::abs(a) + std::abs(b)));
        }
    }

    const Json& test = station["global_test"];
    expect_numbers(test, {"statistic", "dof", "lower", "upper", "variance_factor"});
    EXPECT_TRUE(test["passes"].is_boolean());

    for (const Json& sight : station["sights"]) {
        expect_texts(sight, {"target"});
        EXPECT_TRUE(sight["used"].is_boolean());
        expect_numbers(sight["residual"], {"direction_arcsec", "zenith_arcsec", "distance_mm"});
        expect_numbers(sight["standardised"], {"direction", "zenith", "distance"});
        expect_numbers(sight["redundancy"], {"direction", "zenith", "distance"});
        EXPECT_TRUE(sight.contains("detectable_mm"));
    }
    for (const Json& mark : station["marks"]) {
        expect_texts(mark, {"mark"});
        expect_numbers(mark, {"off_east_mm", "off_north_mm", "off_height_mm"});
    }
    expect_causes(station["causes"]);
    for (const Json& point : station["points"]) {
        expect_texts(point, {"point", "word"});
        expect_numbers(point, {"sd_plan_mm", "sd_height_mm"});
        expect_probability(point["probability"]);
        EXPECT_TRUE(is_verdict_word(point["word"])) << point;
    }
}

TEST(station_json, good_site_has_every_name_with_its_type) {
    const Json json = run_case("good-json");
    ASSERT_TRUE(json.is_object());
    EXPECT_EQ(json["act"], "station");
    EXPECT_EQ(json["unit"], "m");
    expect_texts(json, {"version"});
    ASSERT_EQ(json["stations"].size(), 1U);
    const Json& station = json["stations"][0];
    expect_station(station);
    EXPECT_EQ(station["station"], "S1");
    EXPECT_EQ(station["kind"], "free");
    EXPECT_EQ(station["sights"].size(), 5U);
    EXPECT_EQ(station["marks"].size(), 5U);
    EXPECT_EQ(station["points"].size(), 4U);
}

// The site was made from a station at (512.340, 248.170, 31.480) with errors of 0.7 mm and 2": five
// marks at 50 m leave the pose within 5 mm (more than 5 standard deviations).
TEST(station_json, good_site_gives_the_station_it_was_made_from) {
    const Json json = run_case("good-json");
    const Json& pose = json["stations"][0]["pose"];
    EXPECT_NEAR(pose["east"].get<double>(), 512.340, 0.005);
    EXPECT_NEAR(pose["north"].get<double>(), 248.170, 0.005);
    EXPECT_NEAR(pose["height"].get<double>(), 31.480, 0.005);
    EXPECT_NEAR(pose["orientation_deg"].get<double>(), 217.3214, 0.01);
}

TEST(station_json, two_marks_and_a_moved_mark_keep_the_same_form) {
    for (const char* name : {"two-marks-json", "mark-moved-json"}) {
        SCOPED_TRACE(name);
        const Json json = run_case(name);
        ASSERT_EQ(json["stations"].size(), 1U);
        expect_station(json["stations"][0]);
        EXPECT_NE(json["stations"][0]["verdict"]["word"], "proven");
    }
}

TEST(station_json, same_input_gives_the_same_bytes) {
    EXPECT_EQ(run_case("mark-moved-json").dump(), run_case("mark-moved-json").dump());
}

// What cannot be delivered must not look like success.
TEST(station_output, full_device_is_a_failed_output) {
    const Case c = read_case("station/good-json");
    const WorkFolder work("full-device");
    lay_out(c, work.path());
    EXPECT_EQ(run_layproof(c.args, {work.path(), false, "/dev/full"}).exit_status, 4);
}

}  // namespace
}  // namespace layproof::testing

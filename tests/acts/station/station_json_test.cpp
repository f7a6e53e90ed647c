// The JSON of station is a contract: names, nesting and units are held here.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "acts/shared/invented_site.hpp"
#include "acts/shared/version.hpp"
#include "acts/station/station.hpp"

namespace layproof::acts {
namespace {

using ::testing::IsSupersetOf;
using Json = nlohmann::json;
using testing::four_points;
using testing::good_instrument;
using testing::InventedSite;

std::vector<std::string> keys(const Json& object) {
    std::vector<std::string> out;
    for (const auto& item : object.items()) out.push_back(item.key());
    return out;
}

Json json_of(const StationRequest& request) {
    const auto answer = run_station(request);
    EXPECT_TRUE(answer.ok()) << (answer.ok() ? "" : answer.refusal().to_text());
    return answer.ok() ? Json::parse(to_json(*answer)) : Json();
}

StationRequest good_request(const InventedSite& site = {}) {
    Random random(11);
    auto request = site.request(&random);
    request.instrument = good_instrument();
    request.points = four_points();
    return request;
}

TEST(station_json, names_and_nesting_are_those_of_the_contract) {
    const Json j = json_of(good_request());
    EXPECT_THAT(keys(j), IsSupersetOf({"act", "version", "unit", "stations"}));
    EXPECT_EQ(j["act"], "station");
    EXPECT_EQ(j["version"], std::string(version()));
    EXPECT_EQ(j["unit"], "m");
    const Json& s = j["stations"].at(0);
    EXPECT_THAT(keys(s), IsSupersetOf({"station", "kind", "verdict", "pose", "global_test",
                                       "sights", "marks", "causes", "next_sight", "points"}));
    EXPECT_EQ(s["station"], "S1");
    EXPECT_EQ(s["kind"], "free");
    EXPECT_THAT(keys(s["verdict"]), IsSupersetOf({"word", "probability", "because", "next"}));
    EXPECT_EQ(s["verdict"]["word"], "proven");
    EXPECT_THAT(keys(s["pose"]),
                IsSupersetOf({"east", "north", "height", "orientation_deg", "covariance"}));
    ASSERT_EQ(s["pose"]["covariance"].size(), 4U);
    for (const Json& row : s["pose"]["covariance"]) EXPECT_EQ(row.size(), 4U);
    EXPECT_THAT(keys(s["global_test"]),
                IsSupersetOf({"statistic", "dof", "lower", "upper", "variance_factor", "passes"}));
    const Json& sight = s["sights"].at(0);
    EXPECT_THAT(keys(sight), IsSupersetOf({"target", "used", "residual", "standardised",
                                           "redundancy", "detectable_mm"}));
    EXPECT_THAT(keys(sight["residual"]),
                IsSupersetOf({"direction_arcsec", "zenith_arcsec", "distance_mm"}));
    for (const char* figures : {"standardised", "redundancy"})
        EXPECT_THAT(keys(sight[figures]), IsSupersetOf({"direction", "zenith", "distance"}));
    EXPECT_THAT(keys(s["marks"].at(0)),
                IsSupersetOf({"mark", "off_east_mm", "off_north_mm", "off_height_mm"}));
    EXPECT_THAT(keys(s["causes"].at(0)),
                IsSupersetOf({"cause", "subjects", "probability", "estimate", "next"}));
    EXPECT_THAT(keys(s["points"].at(0)),
                IsSupersetOf({"point", "sd_plan_mm", "sd_height_mm", "probability", "word"}));
}

TEST(station_json, causes_sum_to_one_and_hold_nothing_wrong) {
    const Json j = json_of(good_request());
    const Json& causes = j["stations"][0]["causes"];
    double sum = 0.0;
    bool nothing = false;
    for (const Json& cause : causes) {
        sum += cause["probability"].get<double>();
        nothing = nothing || cause["cause"] == "nothing-wrong";
    }
    EXPECT_NEAR(sum, 1.0, 1e-5);
    EXPECT_TRUE(nothing);
}

TEST(station_json, figures_agree_with_the_answer) {
    const auto answer = run_station(good_request());
    ASSERT_TRUE(answer.ok());
    const StationReport& report = answer->stations[0];
    const Json s = Json::parse(to_json(*answer))["stations"][0];
    EXPECT_NEAR(s["pose"]["east"].get<double>(), report.pose.position_m.x(), 5.1e-7);
    EXPECT_NEAR(s["pose"]["covariance"][0][0].get<double>(), report.pose.covariance(0, 0),
                1e-7 * report.pose.covariance(0, 0));
    EXPECT_NEAR(s["pose"]["covariance"][3][3].get<double>(), report.pose.covariance(3, 3),
                1e-7 * report.pose.covariance(3, 3));
    EXPECT_NEAR(s["sights"][0]["residual"]["direction_arcsec"].get<double>(),
                *report.sights[0].figures.residual.direction / measure::kRadPerArcsec, 1e-6);
    EXPECT_NEAR(s["marks"][1]["off_east_mm"].get<double>(), 1e3 * *report.marks[1].off_east_m,
                1e-6);
    EXPECT_NEAR(s["points"][2]["sd_plan_mm"].get<double>(),
                1e3 * report.points[2].forecast.sd_plan_m, 1e-6);
}

TEST(station_json, feet_files_give_coordinates_in_feet_and_covariance_in_metres) {
    InventedSite feet;
    feet.unit_m = 0.3048;
    feet.bracket = "[ft]";
    auto request = feet.request();
    request.instrument = good_instrument();
    const Json j = json_of(request);
    EXPECT_EQ(j["unit"], "ft");
    const Json& pose = j["stations"][0]["pose"];
    EXPECT_NEAR(pose["east"].get<double>(), feet.east_m / 0.3048, 2e-5);
    const Json metric = json_of([&] {
        auto same = InventedSite{}.request();
        same.instrument = good_instrument();
        return same;
    }());
    EXPECT_NEAR(pose["covariance"][0][0].get<double>(),
                metric["stations"][0]["pose"]["covariance"][0][0].get<double>(), 1e-12);
}

TEST(station_json, what_is_not_known_is_null) {
    const InventedSite site;
    auto request = good_request(site);
    request.marks.bytes = site.marks_csv(false);
    const Json s = json_of(request)["stations"][0];
    EXPECT_TRUE(s["pose"]["height"].is_null());
    EXPECT_TRUE(s["marks"][0]["off_height_mm"].is_null());
    EXPECT_TRUE(s["points"][0]["sd_height_mm"].is_null());
    EXPECT_TRUE(s["sights"][0]["residual"]["zenith_arcsec"].is_null());
}

TEST(station_json, sight_set_aside_says_why) {
    auto request = good_request();
    request.set_aside = {{"S1", "A2", 0, "rod fell"}};
    const Json sight = json_of(request)["stations"][0]["sights"][1];
    EXPECT_EQ(sight["used"], false);
    EXPECT_EQ(sight["why"], "set aside: rod fell");
    EXPECT_TRUE(sight["standardised"]["direction"].is_null());
    EXPECT_FALSE(sight["residual"]["direction_arcsec"].is_null());
}

TEST(station_json, numbers_carry_no_noise_digits) {
    const auto answer = run_station(good_request());
    ASSERT_TRUE(answer.ok());
    const std::string text = to_json(*answer);
    // Ten or more digits in a row after a point would be noise.
    EXPECT_FALSE(::testing::internal::RE::PartialMatch(
        text, ::testing::internal::RE("\\.[0-9]*[1-9][0-9]*(0000000|9999999)[0-9]+")));
    EXPECT_EQ(text.back(), '\n');
}

TEST(station_json, names_with_quotes_and_letters_of_any_script_survive) {
    InventedSite site;
    site.marks[0].name = "Пункт 1";
    auto request = site.request();
    const Json s = json_of(request)["stations"][0];
    EXPECT_EQ(s["sights"][0]["target"], "Пункт 1");
}

}  // namespace
}  // namespace layproof::acts

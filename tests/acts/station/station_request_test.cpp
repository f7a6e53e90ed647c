// What is made of the files and of what was chosen.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "acts/shared/invented_site.hpp"
#include "acts/station/station.hpp"

namespace layproof::acts {
namespace {

using ::testing::Contains;
using ::testing::ElementsAre;
using testing::four_points;
using testing::good_instrument;
using ::testing::HasSubstr;
using testing::InventedSite;

std::vector<std::string> names(const StationAnswer& answer) {
    std::vector<std::string> out;
    for (const StationReport& report : answer.stations) out.push_back(report.station);
    return out;
}

std::vector<std::string> targets(const StationReport& report) {
    std::vector<std::string> out;
    for (const SightReport& sight : report.sights) out.push_back(sight.target);
    return out;
}

StationAnswer run(const StationRequest& request) {
    auto answer = run_station(request);
    EXPECT_TRUE(answer.ok()) << (answer.ok() ? "" : answer.refusal().to_text());
    return answer.ok() ? std::move(answer).value() : StationAnswer{};
}

std::optional<ErrorCode> code_of(const StationRequest& request) {
    const auto answer = run_station(request);
    if (answer.ok()) return std::nullopt;
    return answer.refusal().code;
}

TEST(station_request, stations_come_in_the_order_of_the_sights_file) {
    const InventedSite site;
    auto request = site.request();
    std::string text = InventedSite::header("[m]");
    for (const char* station : {"Z9", "B2"})
        for (const auto& mark : site.marks) text += site.sight(station, mark);
    text += site.sight("Z9", site.marks[0]);
    request.sights.bytes = text;
    const auto answer = run(request);
    EXPECT_THAT(names(answer), ElementsAre("Z9", "B2"));
    EXPECT_EQ(answer.stations[0].sights.size(), 6U);
    EXPECT_EQ(answer.stations[1].sights.size(), 5U);
}

TEST(station_request, exact_sights_give_back_the_place_they_were_made_from) {
    const InventedSite site;
    const auto answer = run(site.request());
    const station::Pose& pose = answer.stations.at(0).pose;
    // Readings are written to 1 µm and 1e-8 degree.
    EXPECT_NEAR(pose.position_m.x(), site.east_m, 2e-6);
    EXPECT_NEAR(pose.position_m.y(), site.north_m, 2e-6);
    EXPECT_NEAR(pose.position_m.z(), site.height_m, 2e-6);
    EXPECT_NEAR(pose.orientation_rad / measure::kRadPerDeg, site.orientation_deg, 1e-7);
}

TEST(station_request, sights_with_times_are_put_in_their_order) {
    const InventedSite site;
    auto request = site.request();
    std::string text = InventedSite::header("[m]", ",time");
    const char* times[] = {"10:05", "10:01", "10:03", "10:02", "10:04"};
    for (std::size_t i = 0; i < 5; ++i)
        text += site.sight("S1", site.marks[i], nullptr,
                           fmt::format(",2026-03-04T{}:00-05:00", times[i]));
    request.sights.bytes = text;
    EXPECT_THAT(targets(run(request).stations.at(0)), ElementsAre("A2", "A4", "A3", "A5", "A1"));
}

TEST(station_request, one_missing_time_keeps_the_order_of_the_file) {
    const InventedSite site;
    auto request = site.request();
    std::string text = InventedSite::header("[m]", ",time");
    for (std::size_t i = 0; i < 5; ++i)
        text += site.sight("S1", site.marks[i], nullptr,
                           i == 2 ? "," : fmt::format(",2026-03-04T10:0{}:00-05:00", 5 - i));
    request.sights.bytes = text;
    EXPECT_THAT(targets(run(request).stations.at(0)), ElementsAre("A1", "A2", "A3", "A4", "A5"));
}

TEST(station_request, setups_row_puts_the_instrument_over_its_mark) {
    InventedSite site;
    const testing::InventedMark under = site.marks[4];
    site.marks.pop_back();
    site.east_m = under.east_m;
    site.north_m = under.north_m;
    site.height_m = under.height_m + 1.600;
    auto request = site.request();
    request.marks.bytes +=
        fmt::format("A5,{},{},{}\n", under.east_m, under.north_m, under.height_m);
    request.setups = exchange::Document{
        "setups.csv", "station,kind,mark,instrument_height [m]\nS1,occupied,A5,1.600\n"};
    const auto answer = run(request);
    const StationReport& report = answer.stations.at(0);
    EXPECT_EQ(report.kind, station::SetupKind::occupied);
    EXPECT_NEAR(report.pose.position_m.x(), under.east_m, 1e-5);
    EXPECT_NEAR(report.pose.position_m.z(), site.height_m, 1e-5);
    EXPECT_EQ(std::count_if(report.marks.begin(), report.marks.end(),
                            [](const MarkReport& m) { return m.is_under && m.name == "A5"; }),
              1);
}

TEST(station_request, setup_without_sights_is_said) {
    auto request = InventedSite{}.request();
    request.setups =
        exchange::Document{"setups.csv", "station,kind,mark,instrument_height\nS7,free,,\n"};
    EXPECT_THAT(run(request).notices, Contains(HasSubstr("Set-up S7 has no sight")));
}

TEST(station_request, missing_instrument_is_said) {
    auto request = InventedSite{}.request();
    EXPECT_THAT(run(request).notices, Contains(HasSubstr("No instrument file")));
    request.instrument = good_instrument();
    for (const std::string& notice : run(request).notices)
        EXPECT_THAT(notice, ::testing::Not(HasSubstr("No instrument file")));
}

TEST(station_request, missing_tolerance_is_a_quarter_inch_and_said) {
    auto request = InventedSite{}.request();
    request.points = four_points(",,");
    const auto answer = run(request);
    const StationReport& report = answer.stations.at(0);
    for (const PointReport& point : report.points) {
        EXPECT_DOUBLE_EQ(point.target.tolerance_plan_m, 0.00635);
        EXPECT_FALSE(point.target.tolerance_height_m.has_value());
    }
    EXPECT_THAT(report.notices, Contains(HasSubstr("1/4 in (6.35 mm) in plan taken")));
}

TEST(station_request, no_points_judges_a_circle_of_the_mean_distance) {
    const InventedSite site;
    const auto answer = run(site.request());
    const StationReport& report = answer.stations.at(0);
    double mean = 0.0;
    for (const auto& m : site.marks)
        mean += std::hypot(m.east_m - site.east_m, m.north_m - site.north_m) / 5.0;
    ASSERT_EQ(report.points.size(), 16U);
    EXPECT_NEAR(*report.circle_radius_m, mean, 1e-5);
    EXPECT_EQ(report.points[0].target.name, "circle 0°");
    EXPECT_EQ(report.points[11].target.name, "circle 247.5°");
    // 90° is east.
    EXPECT_NEAR(report.points[4].target.east_m - site.east_m, mean, 1e-5);
    EXPECT_DOUBLE_EQ(*report.points[0].target.tolerance_height_m, 0.0127);
    EXPECT_THAT(report.notices, Contains(HasSubstr("No points given")));
}

TEST(station_request, radius_given_is_the_circle) {
    auto request = InventedSite{}.request();
    request.radius_m = 12.5;
    EXPECT_DOUBLE_EQ(*run(request).stations.at(0).circle_radius_m, 12.5);
}

TEST(station_request, rod_for_laying_is_that_of_the_lay_sights) {
    InventedSite site;
    auto request = site.request();
    EXPECT_DOUBLE_EQ(run(request).stations.at(0).rod_height_m, 1.5);
    std::string text = InventedSite::header("[m]", ",purpose");
    for (const auto& mark : site.marks) text += site.sight("S1", mark, nullptr, ",control");
    for (const double rod : {0.2, 0.3, 0.9}) {
        site.rod_m = rod;
        text += site.sight("S1", {"P1", 519.0, 255.0, 30.0}, nullptr, ",lay");
    }
    request.sights.bytes = text;
    EXPECT_DOUBLE_EQ(run(request).stations.at(0).rod_height_m, 0.3);
}

TEST(station_request, set_aside_keeps_the_sight_and_its_reason) {
    auto request = InventedSite{}.request();
    request.set_aside = {{"S1", "A3", 0, "kicked by a digger"}};
    const auto answer = run(request);
    const StationReport& report = answer.stations.at(0);
    ASSERT_EQ(report.sights.size(), 5U);
    EXPECT_FALSE(report.sights[2].used);
    EXPECT_EQ(report.sights[2].why, "set aside: kicked by a digger");
    EXPECT_EQ(report.mark_count, 4);
    EXPECT_THAT(report.if_kept_in, HasSubstr("With A3 kept in"));
    EXPECT_TRUE(report.marks[2].off_east_m.has_value()) << "what it would show is still said";
}

TEST(station_request, set_aside_of_one_pointing_leaves_the_others) {
    const InventedSite site;
    auto request = site.request();
    request.sights.bytes += site.sight("S1", site.marks[2]);
    request.set_aside = {{"S1", "A3", 2, "bumped the rod"}};
    const auto answer = run(request);
    const auto& sights = answer.stations.at(0).sights;
    ASSERT_EQ(sights.size(), 6U);
    EXPECT_TRUE(sights[2].used);
    EXPECT_FALSE(sights[5].used);
}

TEST(station_request, set_aside_of_what_is_not_there_is_refused) {
    auto request = InventedSite{}.request();
    for (const SetAside& aside : {SetAside{"S1", "A9", 0, "r"}, SetAside{"S2", "A1", 0, "r"},
                                  SetAside{"S1", "A1", 2, "r"}}) {
        request.set_aside = {aside};
        const auto answer = run_station(request);
        ASSERT_FALSE(answer.ok());
        EXPECT_EQ(answer.refusal().code, ErrorCode::target_unknown);
    }
}

TEST(station_request, figures_that_make_no_sense_are_refused) {
    const double nan = std::nan("");
    for (const double v : {0.5, 1.0, 2.0, nan}) {
        auto request = InventedSite{}.request();
        request.confidence = v;
        EXPECT_EQ(code_of(request), ErrorCode::out_of_range) << v;
    }
    for (const double v : {0.0, 0.89, 1.11, nan}) {
        auto request = InventedSite{}.request();
        request.scale_factor = v;
        EXPECT_EQ(code_of(request), ErrorCode::out_of_range) << v;
    }
    for (const double v : {0.0, -1.0, 1e9, nan}) {
        auto request = InventedSite{}.request();
        request.radius_m = v;
        EXPECT_EQ(code_of(request), ErrorCode::out_of_range) << v;
    }
}

TEST(station_request, refusal_of_one_station_carries_its_place) {
    const InventedSite site;
    auto request = site.request();
    request.sights.bytes += site.sight("S2", {"A9", 500.0, 200.0, 30.0});
    const auto answer = run_station(request);
    ASSERT_FALSE(answer.ok());
    EXPECT_EQ(answer.refusal().code, ErrorCode::target_unknown);
    EXPECT_EQ(answer.refusal().place.file, "sights.csv");
    EXPECT_EQ(answer.refusal().place.line, 7);
}

TEST(station_request, column_map_reads_a_foreign_marks_file) {
    const InventedSite site;
    auto request = site.request();
    std::string text = "Nr;X;Y;Z\n";
    for (const auto& m : site.marks)
        text += fmt::format("{};{};{};{}\n", m.name, m.north_m, m.east_m, m.height_m);
    request.marks = {"foreign.txt", text};
    request.marks_map =
        exchange::Document{"map.toml",
                           "table = \"marks\"\nseparator = \";\"\nunit = \"m\"\n[columns]\n"
                           "mark = \"Nr\"\neast = \"Y\"\nnorth = \"X\"\nheight = \"Z\"\n"};
    const auto answer = run(request);
    EXPECT_NEAR(answer.stations.at(0).pose.position_m.x(), site.east_m, 2e-6);
}

TEST(station_request, unit_of_the_job_is_that_of_the_marks) {
    auto request = InventedSite{}.request();
    request.unit = measure::LengthUnit::foot;
    EXPECT_EQ(run(request).unit, measure::LengthUnit::metre) << "the file says metres";
    InventedSite feet;
    feet.unit_m = measure::kMetresPerUsFoot;
    feet.bracket = "[us-ft]";
    const auto answer = run(feet.request());
    EXPECT_EQ(answer.unit, measure::LengthUnit::us_foot);
    EXPECT_NEAR(answer.stations.at(0).pose.position_m.x(), feet.east_m, 2e-6);
}

}  // namespace
}  // namespace layproof::acts

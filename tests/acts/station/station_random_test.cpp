// Whatever a crew brings: an answer without NaN, or a refusal; never anything else.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "acts/shared/invented_site.hpp"
#include "acts/station/station.hpp"

namespace layproof::acts {
namespace {

using ::testing::ContainsRegex;
using testing::InventedMark;
using testing::InventedSite;
using ::testing::Not;

struct Count {
    int answered = 0;
    int refused = 0;
};

std::string row_with_gaps(Random& random, const std::string& row) {
    // station,target,direction,zenith,slope_distance,target_height
    std::vector<std::string> cells;
    std::string cell;
    for (const char c : row) {
        if (c == ',' || c == '\n') {
            cells.push_back(cell);
            cell.clear();
        } else {
            cell += c;
        }
    }
    for (std::size_t i = 2; i < 5; ++i)
        if (random.below(4) == 0) cells[i].clear();
    std::string out;
    for (std::size_t i = 0; i < cells.size(); ++i) out += (i > 0 ? "," : "") + cells[i];
    return out + "\n";
}

StationRequest draw(Random& random) {
    InventedSite site;
    const double size = std::pow(10.0, random.uniform(0.0, 3.0));
    const double shift = random.below(3) == 0 ? 600000.0 : 0.0;
    site.east_m = shift + random.uniform(-1.0, 1.0) * size;
    site.north_m = shift + random.uniform(-1.0, 1.0) * size;
    site.orientation_deg = random.uniform(0.0, 360.0);
    site.rod_m = random.uniform(0.0, 3.0);
    site.marks.clear();
    const bool in_line = random.below(5) == 0;
    const int count = 1 + random.below(8);
    for (int i = 0; i < count; ++i) {
        const double e = shift + random.uniform(-1.0, 1.0) * size;
        const double n =
            in_line ? site.north_m + 0.3 * size : shift + random.uniform(-1.0, 1.0) * size;
        site.marks.push_back({fmt::format("M{}", i), e, n, random.uniform(-0.3, 0.3) * size});
    }
    auto request = site.request();
    std::string sights = InventedSite::header("[m]");
    const bool gaps = random.below(2) == 0;
    const bool wrong = random.below(3) == 0;
    for (const InventedMark& mark : site.marks) {
        InventedMark seen = mark;
        if (wrong && random.below(3) == 0) seen.east_m += random.normal() * 0.1 * size;
        const std::string row = site.sight("S1", seen, &random);
        sights += gaps ? row_with_gaps(random, row) : row;
    }
    request.sights.bytes = sights;
    if (random.below(3) == 0) request.marks.bytes = site.marks_csv(false);
    if (random.below(2) == 0) {
        std::string points =
            "point,east [m],north [m],height [m],tolerance_plan [m],tolerance_height [m]\n";
        for (int i = 0; i < 6; ++i) {
            const bool here = random.below(6) == 0;  // under the instrument itself
            points +=
                fmt::format("P{},{:.4f},{:.4f},{},{},{}\n", i,
                            here ? site.east_m : shift + random.uniform(-1.0, 1.0) * size,
                            here ? site.north_m : shift + random.uniform(-1.0, 1.0) * size,
                            random.below(2) == 0 ? "" : "1.25", random.below(3) == 0 ? "" : "0.004",
                            random.below(2) == 0 ? "" : "0.010");
        }
        request.points = exchange::Document{"points.csv", points};
    }
    if (random.below(4) == 0) {
        request.setups = exchange::Document{
            "setups.csv", "station,kind,mark,instrument_height [m]\nS1,occupied,M0,1.5\n"};
    }
    request.explain = random.below(2) == 0;
    if (random.below(3) == 0)
        request.show = measure::LengthStyle{measure::LengthUnit::foot, true, 16};
    return request;
}

void try_one(std::uint64_t seed, Count& count) {
    SCOPED_TRACE(seed);
    Random random(seed);
    const StationRequest request = draw(random);
    const auto answer = run_station(request);
    if (!answer.ok()) {
        ++count.refused;
        EXPECT_FALSE(answer.refusal().found.empty());
        EXPECT_FALSE(answer.refusal().expected.empty());
        return;
    }
    ++count.answered;
    const std::string json = to_json(*answer);
    const std::string text = to_text(*answer);
    ASSERT_TRUE(nlohmann::json::accept(json)) << json;
    const auto no_number = ContainsRegex("(^|[^A-Za-z])-?(nan|inf)([^A-Za-z]|$)");
    EXPECT_THAT(text, Not(no_number));
    EXPECT_THAT(json, Not(no_number));
    EXPECT_THAT(text, Not(::testing::HasSubstr("unknown")));
    const StationReport& report = answer->stations.at(0);
    EXPECT_FALSE(report.verdict.because.empty());
    EXPECT_FALSE(report.verdict.next.empty());
    EXPECT_GE(report.verdict.probability, 0.0);
    EXPECT_LE(report.verdict.probability, 1.0);
    EXPECT_TRUE(report.pose.covariance.allFinite());
    const bool all_proven = report.proven == static_cast<int>(report.points.size());
    EXPECT_EQ(report.verdict.word == station::Word::proven, all_proven);
    for (const std::string& plan : to_svg(*answer)) EXPECT_THAT(plan, Not(no_number));
}

TEST(station_random, answer_or_refusal_never_nan) {
    Count count;
    for (std::uint64_t seed = 1; seed <= 300; ++seed) try_one(seed, count);
    // Both ways must really have been taken.
    EXPECT_GT(count.answered, 100);
    EXPECT_GT(count.refused, 20);
}

TEST(station_random, many_slow) {
    Count count;
    for (std::uint64_t seed = 1001; seed <= 6000; ++seed) try_one(seed, count);
    EXPECT_GT(count.answered, 1500);
}

}  // namespace
}  // namespace layproof::acts

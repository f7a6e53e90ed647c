// Lists laid on the first, what their scale may be, a building's grid carried to the site; what a
// job keeps of its control; stopping.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "acts/job/job_test_support.hpp"
#include "acts/shared/null_fields.hpp"
#include "acts/vet/vet.hpp"
#include "exchange/frames/site_frame.hpp"
#include "exchange/import/import.hpp"
#include "exchange/text/file.hpp"
#include "measure/angle.hpp"

namespace layproof::acts {
namespace {

using testing::expect_value;
using ::testing::HasSubstr;
using ::testing::Not;

/// Of written coordinates in millimetres: a tenth of one.
constexpr double kWritten_m = 0.0001;

struct Place2 {
    const char* name;
    double east_m, north_m;
};
// Invented.
constexpr Place2 kSite[] = {{"A1", 4100.250, 8200.125},
                            {"A2", 4196.750, 8204.500},
                            {"A3", 4188.375, 8281.625},
                            {"A4", 4108.625, 8277.250}};

template <class Change>
exchange::Document list_of(const std::string& name, Change change) {
    std::string out = "mark,east,north,height\n";
    for (const Place2& p : kSite) {
        const Eigen::Vector2d at = change(Eigen::Vector2d(p.east_m, p.north_m));
        char line[128];
        std::snprintf(line, sizeof line, "%s,%.4f,%.4f,\n", p.name, at.x(), at.y());
        out += line;
    }
    return {name, out};
}

VetRequest two_lists(const exchange::Document& drawing) {
    VetRequest out;
    out.marks = {list_of("sheet.csv", [](const Eigen::Vector2d& p) { return p; })};
    out.drawings = {drawing};
    out.unit = measure::LengthUnit::metre;
    return out;
}

/// The building's coordinates: its origin at (4100, 8200), its north turned by 12° in the site.
Eigen::Vector2d in_building(const Eigen::Vector2d& site) {
    const double turn = 12.0 * measure::kRadPerDeg;
    const Eigen::Vector2d r = site - Eigen::Vector2d(4100.0, 8200.0);
    return {r.x() * std::cos(turn) - r.y() * std::sin(turn),
            r.x() * std::sin(turn) + r.y() * std::cos(turn)};
}

TEST(vet_fits, a_building_is_found_on_its_site_with_its_origin_and_north) {
    VetRequest request = two_lists(list_of("building.csv", in_building));
    request.grid = exchange::Document{
        "axes.csv", "line,east_1,north_1,east_2,north_2\n1,0,0,0,50\nA,0,0,80,0\n"};
    const VetAnswer answer = expect_value(run_vet(request));
    ASSERT_EQ(answer.fits.size(), 1U);
    const VetFit& fit = answer.fits.front();
    EXPECT_EQ(fit.list, "building.csv");
    EXPECT_EQ(fit.marks.size(), 4U);
    EXPECT_FALSE(fit.is_alike);
    EXPECT_FALSE(fit.is_mirrored);
    EXPECT_NEAR(fit.held.rotation_rad, 12.0 * measure::kRadPerDeg, 2e-6);
    EXPECT_NEAR(fit.held.origin_m.x(), 4100.0, kWritten_m);
    EXPECT_NEAR(fit.held.origin_m.y(), 8200.0, kWritten_m);
    ASSERT_FALSE(fit.scales.empty());
    EXPECT_EQ(fit.scales.front().kind, "none");
    EXPECT_THAT(fit.says, HasSubstr("turned"));
    // The grid: line 1 runs to the building's north.
    ASSERT_EQ(answer.grid_lines.size(), 2U);
    const frame::GridLine& one = answer.grid_lines.front();
    const Eigen::Vector2d along = one.end_m - one.start_m;
    EXPECT_NEAR(along.norm(), 50.0, 1e-9);
    EXPECT_NEAR(std::atan2(along.x(), along.y()), 12.0 * measure::kRadPerDeg, 2e-6);
    EXPECT_NEAR(one.start_m.x(), 4100.0, kWritten_m);
    EXPECT_THAT(grid_csv(answer), HasSubstr("line,east_1 [m]"));
    const auto json = nlohmann::json::parse(to_json(answer));
    EXPECT_EQ(json["fits"].size(), 1U);
    EXPECT_NEAR(json["fits"][0]["turn_deg"].get<double>(), 12.0, 2e-4);
    EXPECT_EQ(json["grid"].size(), 2U);
    EXPECT_THAT(testing::null_fields(json),
                ::testing::UnorderedElementsAre(
                    "differences.height_mm", "explanations.list", "explanations.members.list",
                    "fits.height_shift_mm", "fits.scales.frame", "lists.revision",
                    "marks.detectable_height_mm", "marks.detectable_mm", "marks.height",
                    "marks.off.height_mm", "marks.probability_height", "marks.sd_height_mm",
                    "traps.detectable_mm", "traps.detectable_ppm", "traps.weakest"));
}

TEST(vet_fits, the_same_list_again_is_alike_and_not_told_of) {
    const VetAnswer answer = expect_value(
        run_vet(two_lists(list_of("copy.csv", [](const Eigen::Vector2d& p) { return p; }))));
    ASSERT_EQ(answer.fits.size(), 1U);
    EXPECT_TRUE(answer.fits.front().is_alike);
    EXPECT_THAT(to_text(answer), Not(HasSubstr("Lists on the first")));
}

TEST(vet_fits, a_mirror_image_is_said_and_fitted_turned_round) {
    const VetAnswer answer = expect_value(run_vet(two_lists(list_of(
        "mirror.csv", [](const Eigen::Vector2d& p) { return Eigen::Vector2d(-p.x(), p.y()); }))));
    ASSERT_EQ(answer.fits.size(), 1U);
    EXPECT_TRUE(answer.fits.front().is_mirrored);
    EXPECT_LT(answer.fits.front().held.s0_m, kWritten_m);
    EXPECT_THAT(to_text(answer), HasSubstr("mirror image"));
}

TEST(vet_fits, metres_read_as_feet_are_what_explains_the_scale) {
    const VetAnswer answer = expect_value(run_vet(two_lists(list_of(
        "feet.csv", [](const Eigen::Vector2d& p) { return Eigen::Vector2d(p / 0.3048); }))));
    ASSERT_EQ(answer.fits.size(), 1U);
    const VetFit& fit = answer.fits.front();
    EXPECT_NEAR(fit.free.free_scale, 0.3048, 1e-6);
    ASSERT_FALSE(fit.scales.empty());
    EXPECT_EQ(fit.scales.front().kind, "unit");
    EXPECT_THAT(fit.says, HasSubstr("was read as"));
}

TEST(vet_fits, the_sites_own_projection_explains_grid_for_ground) {
    // The sheet is on the grid of a zone, the drawing on the ground: a combined factor apart.
    const auto zone = expect_value(
        exchange::SiteFrame::open({"EPSG:25832", Eigen::Vector2d(604100.0, 5428200.0), 400.0}));
    const double combined = zone.factors()->combined();
    const auto grid = [](const Eigen::Vector2d& p) {
        return Eigen::Vector2d(p + Eigen::Vector2d(600000.0, 5420000.0));
    };
    VetRequest request;
    // A site of 1 km, so that copies to 0.1 mm tell a tenth of a ppm.
    const auto wide = [](const Eigen::Vector2d& p) {
        return Eigen::Vector2d(Eigen::Vector2d(4100.0, 8200.0) +
                               10.0 * (p - Eigen::Vector2d(4100.0, 8200.0)));
    };
    request.marks = {list_of("sheet.csv", [&](const Eigen::Vector2d& p) { return grid(wide(p)); })};
    request.drawings = {list_of("ground.csv", [&](const Eigen::Vector2d& p) {
        const Eigen::Vector2d origin(604100.0, 5428200.0);
        return Eigen::Vector2d(origin + (grid(wide(p)) - origin) / combined);
    })};
    request.unit = measure::LengthUnit::metre;
    request.site.crs = "EPSG:25832";
    request.site.height_m = 400.0;
    const VetAnswer answer = expect_value(run_vet(request));
    ASSERT_EQ(answer.fits.size(), 1U);
    ASSERT_FALSE(answer.fits.front().scales.empty());
    const VetScale& scale = answer.fits.front().scales.front();
    EXPECT_EQ(scale.kind, "factor") << scale.says;
    EXPECT_EQ(scale.frame, "ETRS89 / UTM zone 32N");
    EXPECT_THAT(scale.says, HasSubstr("sheet.csv is on the grid, ground.csv on the ground"));
    EXPECT_GT(scale.probability, 0.5);
    // The marks go out on the map and come back to where they stand.
    const auto read_site = expect_value(exchange::SiteFrame::open({"EPSG:25832", {}, 0.0}));
    exchange::ReadOptions back;
    back.site = &read_site;
    const auto points =
        expect_value(exchange::read_any_marks({"marks.geojson", answer.geojson}, back));
    ASSERT_EQ(points.rows.size(), 4U);
    EXPECT_NEAR(*points.rows[1].east_m, *answer.figures.marks[1].east_m, 0.0002);
    EXPECT_NEAR(*points.rows[1].north_m, *answer.figures.marks[1].north_m, 0.0002);
    // Told only where the site is, the systems of the place are looked through.
    request.site.crs.clear();
    request.site.place =
        exchange::Geographic{10.42 * measure::kRadPerDeg, 49.0 * measure::kRadPerDeg};
    const VetAnswer by_place = expect_value(run_vet(request));
    bool found = false;
    for (const VetScale& s : by_place.fits.front().scales) found = found || s.kind == "factor";
    EXPECT_TRUE(found);
    request.site.crs.clear();
    request.site.ground_origin_m = Eigen::Vector2d(1.0, 2.0);
    EXPECT_EQ(run_vet(request).refusal().code, ErrorCode::value_missing);
}

TEST(vet_fits, a_grid_without_a_list_to_carry_it_is_refused) {
    VetRequest request = two_lists(list_of("building.csv", in_building));
    request.drawings.clear();
    request.grid =
        exchange::Document{"axes.csv", "line,east_1,north_1,east_2,north_2\n1,0,0,0,5\n"};
    EXPECT_EQ(run_vet(request).refusal().code, ErrorCode::value_missing);
}

class vet_job_evidence : public job::JobTest {};

TEST_F(vet_job_evidence, tapes_levels_drawings_and_tolerances_are_kept_and_used) {
    auto job = create("site.layproof");
    const auto good = [](const std::string& file) {
        return expect_value(exchange::read_document(std::string(LAYPROOF_SOURCE_DIR) +
                                                    "/tests/cases/vet/good/" + file));
    };
    TakeRequest request;
    request.marks = good("marks.csv");
    request.sights = good("sights.csv");
    request.instrument = good("instrument.toml");
    request.tapes = good("tapes.csv");
    request.levels = good("levels.csv");
    request.drawing = good("drawing.csv");
    request.unit = measure::LengthUnit::metre;
    request.tolerance_plan_m = 0.009;
    request.tolerance_height_m = 0.015;
    const TakeAnswer taken = expect_value(take(job, request));
    EXPECT_EQ(taken.documents.size(), 6U);
    const TakeAnswer again = expect_value(take(job, request));
    for (const TakenDocument& document : again.documents) EXPECT_EQ(document.rows_new, 0);
    EXPECT_EQ(expect_value(job.all<job::Tolerance>()).size(), 2U);

    VetRequest from_job;
    expect_value(fill_from_job(job, {}, from_job));
    VetRequest from_files;
    from_files.marks = {*request.marks};
    from_files.drawings = {*request.drawing};
    from_files.tapes = {*request.tapes};
    from_files.levels = {*request.levels};
    from_files.sights = request.sights;
    from_files.instrument = request.instrument;
    from_files.unit = request.unit;
    from_files.tolerance_plan_m = 0.009;
    from_files.tolerance_height_m = 0.015;
    auto by_job = nlohmann::json::parse(to_json(expect_value(run_vet(from_job))));
    auto by_files = nlohmann::json::parse(to_json(expect_value(run_vet(from_files))));
    EXPECT_FALSE(by_job["measured"].empty());
    EXPECT_EQ(by_job["tolerance_plan_mm"], 9.0);
    EXPECT_EQ(by_job["tolerance_height_mm"], 15.0);
    for (auto* json : {&by_job, &by_files}) (*json).erase("notices");
    EXPECT_EQ(by_job, by_files);

    // A drawing's places are evidence, never what is laid from.
    EXPECT_EQ(expect_value(facts_of(job)).marks.size(), 6U);
    // A tape set aside by its id is left out.
    const auto tapes = expect_value(job.all<network::Tape>());
    ASSERT_FALSE(tapes.empty());
    DecideRequest aside;
    aside.kind = job::DecisionKind::set_aside;
    aside.subject = tapes.front().id.to_text();
    aside.reason = "the hook slipped";
    aside.initials = "AB";
    expect_value(decide(job, aside));
    VetRequest without;
    expect_value(fill_from_job(job, {}, without));
    EXPECT_EQ(without.job_tapes.size(), tapes.size() - 1);
    const std::string shown = to_text(expect_value(view_of(job)));
    EXPECT_THAT(shown, HasSubstr("tapes"));
    EXPECT_TRUE(expect_value(job.verify()).sound());
}

TEST_F(vet_job_evidence, the_sites_coordinate_system_is_kept_and_reads_the_next_geojson) {
    auto job = create("site.layproof");
    const exchange::Document geo{
        "k.geojson",
        R"({"type":"FeatureCollection","features":[{"type":"Feature","geometry":{"type":"Point","coordinates":[10.500000001,49.000000001,210.5]},"properties":{"name":"K1"}}]})"};
    TakeRequest request;
    request.marks = geo;
    EXPECT_EQ(take(job, request).refusal().code, ErrorCode::value_missing);
    request.site.crs = "EPSG:25832";
    expect_value(take(job, request));
    EXPECT_EQ(expect_value(site_of(job)).crs, "EPSG:25832");
    TakeRequest next;
    next.points = geo;
    expect_value(take(job, next));
    EXPECT_EQ(expect_value(job.current<frame::DesignPoint>()).size(), 1U);
}

class StopAt final : public Progress {
public:
    explicit StopAt(int looks) : looks_(looks) {}
    void report(double fraction, std::string_view) override { fractions.push_back(fraction); }
    bool stop_requested() override { return looks_-- == 0; }
    std::vector<double> fractions;

private:
    int looks_;
};

TEST(vet_progress, it_is_told_and_can_be_stopped_and_gives_the_same_answer) {
    const auto request = two_lists(list_of("building.csv", in_building));
    const std::string alone = to_json(expect_value(run_vet(request)));
    VetRequest told = request;
    StopAt never(-1);
    told.progress = &never;
    EXPECT_EQ(to_json(expect_value(run_vet(told))), alone);
    ASSERT_GT(never.fractions.size(), 5U);
    EXPECT_TRUE(std::is_sorted(never.fractions.begin(), never.fractions.end()));
    EXPECT_LE(never.fractions.back(), 1.0);
    for (const int looks : {0, 3}) {  // each of its parts looks once at least
        StopAt stop(looks);
        told.progress = &stop;
        EXPECT_EQ(run_vet(told).refusal().code, ErrorCode::stopped) << looks;
    }
}

// With sights the whole job is weighed first, then the marks.
TEST(vet_progress, goes_forward_and_can_be_stopped_where_there_are_sights) {
    VetRequest request;
    request.marks.push_back(testing::mill_hall("marks.csv"));
    request.sights = testing::mill_hall("day-sights.csv");
    request.setups = testing::mill_hall("day-setups.csv");
    request.unit = measure::LengthUnit::foot;
    StopAt never(-1);
    request.progress = &never;
    expect_value(run_vet(request));
    ASSERT_GT(never.fractions.size(), 2U);
    EXPECT_TRUE(std::is_sorted(never.fractions.begin(), never.fractions.end()));
    for (int looks = 0; looks < 6; ++looks) {
        StopAt stop(looks);
        request.progress = &stop;
        const auto answer = run_vet(request);
        ASSERT_FALSE(answer) << looks;
        EXPECT_EQ(answer.refusal().code, ErrorCode::stopped) << looks;
    }
}

}  // namespace
}  // namespace layproof::acts

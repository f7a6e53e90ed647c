// What the act vet makes of files and of a job.

#include "acts/vet/vet.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "acts/job/job_test_support.hpp"
#include "acts/shared/null_fields.hpp"
#include "acts/vet/vet_tools.hpp"
#include "exchange/text/file.hpp"

namespace layproof::acts {
namespace {

using testing::expect_value;
using ::testing::HasSubstr;

exchange::Document good(const std::string& file) {
    return expect_value(exchange::read_document(std::string(LAYPROOF_SOURCE_DIR) +
                                                "/tests/cases/vet/good/" + file));
}

class vet_job : public job::JobTest {};

VetRequest all() {
    VetRequest out;
    out.marks = {good("marks.csv")};
    out.drawings = {good("drawing.csv")};
    out.tapes = {good("tapes.csv")};
    out.levels = {good("levels.csv")};
    out.sights = good("sights.csv");
    out.instrument = good("instrument.toml");
    out.unit = measure::LengthUnit::metre;
    return out;
}

std::string refused(const VetRequest& request) {
    const auto answer = run_vet(request);
    return answer ? std::string("taken") : answer.refusal().to_text();
}

TEST(vet_request, json_holds_what_the_page_promises_and_sums_to_one) {
    const VetAnswer answer = expect_value(run_vet(all()));
    const auto json = nlohmann::json::parse(to_json(answer));
    EXPECT_EQ(json["act"], "vet");
    EXPECT_EQ(json["verdict"]["word"], "proven");
    EXPECT_EQ(json["marks"].size(), 6U);
    EXPECT_EQ(json["lists"].size(), 2U);
    double sum = json["explanations_others"].get<double>();
    bool none = false;
    for (const auto& e : json["explanations"]) {
        sum += e["probability"].get<double>();
        none = none || e["cause"] == "nothing-wrong";
        EXPECT_TRUE(e["members"].is_array());
    }
    EXPECT_TRUE(none);
    EXPECT_NEAR(sum, 1.0, 1e-4);
    EXPECT_EQ(json["traps"].size(), static_cast<std::size_t>(vet::kTrapCount));
    ASSERT_FALSE(json["measured"].empty());
    for (const auto& m : json["measured"]) {
        EXPECT_GE(m["redundancy"].get<double>(), 0.0);
        EXPECT_LT(std::abs(m["standardised"].get<double>()), 4.0);
    }
    EXPECT_THAT(
        testing::null_fields(json),
        ::testing::UnorderedElementsAre(
            "explanations.list", "explanations.members.list", "fits.scales.frame",
            "job_causes.from", "job_causes.to", "lists.revision", "measured.misfit_arcsec",
            "measured.misfit_mm", "traps.detectable_mm", "traps.detectable_ppm", "traps.weakest"));
}

TEST_F(vet_job, job_gives_every_sheet_taken_newest_first) {
    auto job = create("site.layproof");
    TakeRequest first;
    first.marks = good("marks.csv");
    first.sights = good("sights.csv");
    first.instrument = good("instrument.toml");
    first.unit = measure::LengthUnit::metre;
    first.revision = "A";
    expect_value(take(job, first));
    TakeRequest second;
    second.marks = good("marks.csv");
    second.marks->name = "newer.csv";
    // A3 and A4 were set anew.
    for (const auto& [from, to] :
         {std::pair<std::string, std::string>{"481.260", "481.320"}, {"549.915", "549.875"}})
        second.marks->bytes.replace(second.marks->bytes.find(from), from.size(), to);
    second.unit = measure::LengthUnit::metre;
    second.revision = "B";
    expect_value(take(job, second));
    VetRequest request;
    expect_value(fill_from_job(job, {}, request));
    const VetAnswer answer = expect_value(run_vet(request));
    ASSERT_EQ(answer.lists.size(), 2U);
    EXPECT_THAT(answer.lists[0].name, HasSubstr("revision B"));
    ASSERT_FALSE(answer.explanations.empty());
    // The sights saw the ground of revision A.
    EXPECT_EQ(answer.explanations.front().cause, "other-revision");
    EXPECT_EQ(answer.explanations.front().subjects, (std::vector<std::string>{"A3", "A4"}));
    EXPECT_THAT(answer.explanations.front().says, HasSubstr("revision B"));
    EXPECT_EQ(answer.verdict.word, station::Word::fails);
}

TEST_F(vet_job, newer_sheet_of_other_marks_adds_to_the_older_one) {
    auto job = create("site.layproof");
    TakeRequest first;
    first.marks = good("marks.csv");
    first.sights = good("sights.csv");
    first.instrument = good("instrument.toml");
    first.unit = measure::LengthUnit::metre;
    expect_value(take(job, first));
    VetRequest before;
    expect_value(fill_from_job(job, {}, before));
    const std::size_t marks = expect_value(run_vet(before)).marks.size();
    TakeRequest second;
    second.marks = exchange::Document{"extra.csv", "mark,east,north,height\nB9,4000,8000,100\n"};
    second.unit = measure::LengthUnit::metre;
    expect_value(take(job, second));
    VetRequest request;
    expect_value(fill_from_job(job, {}, request));
    const VetAnswer answer = expect_value(run_vet(request));
    ASSERT_EQ(answer.lists.size(), 1U);
    EXPECT_EQ(answer.lists[0].name, "marks.csv with extra.csv");
    EXPECT_EQ(answer.marks.size(), marks + 1);
    EXPECT_EQ(answer.explanations.front().cause, "nothing-wrong");
}

TEST(vet_request, figures_that_make_no_sense_and_missing_sheets_are_refused) {
    VetRequest request = all();
    request.scale_factor = 2.0;
    EXPECT_THAT(refused(request), HasSubstr("out-of-range"));
    request = all();
    request.tolerance_plan_m = 0.0;
    EXPECT_THAT(refused(request), HasSubstr("out-of-range"));
    request = all();
    request.confidence = 1.0;
    EXPECT_THAT(refused(request), HasSubstr("out-of-range"));
    EXPECT_THAT(refused({}), HasSubstr("no-marks"));
    request = all();
    request.tapes[0].bytes = "from,to,distance\nA1,A1,3\n";
    EXPECT_THAT(refused(request), HasSubstr("another mark than"));
    request.tapes[0].bytes = "from,to,distance,sd\nA1,A2,3,0\n";
    EXPECT_THAT(refused(request), HasSubstr("above 0"));
}

TEST(vet_request, text_is_one_screen_and_speaks_the_unit_asked_for) {
    VetRequest request = all();
    request.show = measure::LengthStyle{measure::LengthUnit::foot, true, 16};
    const std::string text = to_text(expect_value(run_vet(request)));
    EXPECT_LE(std::count(text.begin(), text.end(), '\n'), 40);
    EXPECT_THAT(text, HasSubstr("Control: PROVEN"));
    EXPECT_THAT(text, HasSubstr("1/4 in"));
    EXPECT_THAT(to_svg(expect_value(run_vet(request))), HasSubstr("<svg"));
}

TEST_F(vet_job, what_was_found_is_kept_in_the_job_with_its_time) {
    auto job = create("site.layproof");
    InstrumentRequest request;
    request.faces = good("faces.csv");
    request.line = good("line.csv");
    request.tool.instrument = good("instrument.toml");
    request.tool.unit = measure::LengthUnit::metre;
    const ToolAnswer answer = expect_value(run_vet_instrument(request));
    EXPECT_EQ(expect_value(keep(job, answer, 1'800'000'000'000)), 4);
    bool found = false;
    for (const auto& kept : expect_value(job.current<job::Setting>()))
        if (kept.value.name == "checked collimation") {
            found = true;
            EXPECT_THAT(kept.value.value, HasSubstr("arcsec, sd "));
            EXPECT_THAT(kept.value.value, HasSubstr("2027-01-15"));
        }
    EXPECT_TRUE(found);
}

TEST(vet_tools_request, planted_errors_of_the_invented_files_are_found) {
    // The files were made with c = 4", t = 3", i = 2", δ = +0.3 mm and a lean of 0.36 mm per metre.
    InstrumentRequest request;
    request.faces = good("faces.csv");
    request.line = good("line.csv");
    request.tool.instrument = good("instrument.toml");
    request.tool.unit = measure::LengthUnit::metre;
    const ToolAnswer answer = expect_value(run_vet_instrument(request));
    const auto find = [&](const std::string& what) {
        for (const Finding& f : answer.findings)
            if (f.what == what) return f;
        ADD_FAILURE() << what;
        return Finding{};
    };
    const double as = measure::kRadPerArcsec;
    EXPECT_NEAR(find("collimation").value, 4.0 * as, 4.0 * find("collimation").sd);
    EXPECT_NEAR(find("trunnion-axis").value, 3.0 * as, 4.0 * find("trunnion-axis").sd);
    EXPECT_NEAR(find("vertical-index").value, 2.0 * as, 4.0 * find("vertical-index").sd);
    EXPECT_NEAR(find("prism-constant").value, 0.0003, 4.0 * find("prism-constant").sd);
    RodRequest rod;
    rod.turns = good("turns.csv");
    rod.tool = request.tool;
    const ToolAnswer lean = expect_value(run_vet_rod(rod));
    EXPECT_NEAR(lean.findings[1].value, 0.00036, 4.0 * lean.findings[1].sd);
}

}  // namespace
}  // namespace layproof::acts

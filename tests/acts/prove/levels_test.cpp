// Levels as read: from files and from a job, through prove, vet, the record and the door.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <fmt/format.h>
#include <algorithm>
#include <cmath>
#include <map>

#include "acts/job/job_test_support.hpp"
#include "acts/lay/lay_site.hpp"
#include "acts/prove/prove.hpp"
#include "acts/record/record.hpp"
#include "acts/record/record_check.hpp"
#include "acts/vet/vet.hpp"
#include "base/random.hpp"
#include "door/door_test_support.hpp"

namespace layproof::acts {
namespace {

using testing::expect_value;
using ::testing::HasSubstr;
using testing::loose_mill_hall;
using testing::mill_hall;
using ::testing::Not;
using testing::take_mill_hall;

constexpr const char* kRises = "from,to,rise [ft],sd [mm]\nH1,H2,0.262,2\nH2,H3,0.258,2\n";
constexpr const char* kTapes = "from,to,distance [ft]\nH1,H6,89.455\n";
constexpr double kFoot_m = 0.3048;

ProveRequest mill_request() {
    ProveRequest out;
    out.station = loose_mill_hall();
    return out;
}

const JobCause* misread_in(const ProveAnswer& answer) {
    for (const JobCause& cause : answer.causes)
        if (cause.cause == "level-wrong") return &cause;
    return nullptr;
}

/// Heights of the sheet, in feet, with what the demo's marks are off by left out.
std::map<std::string, double> sheet_heights() {
    return {{"H1", 311.842}, {"H2", 312.105}, {"H3", 312.366},
            {"H4", 312.020}, {"H5", 311.577}, {"H6", 311.930}};
}

/// Round all marks and home, two set-ups of the level from mark to mark; readings in `unit_m`,
/// 1 mm of error each. The foresight of row `wrong` is booked too large.
std::string level_loop(double unit_m, const std::string& unit, int wrong, double by_m,
                       std::uint64_t seed) {
    Random random(seed);
    const auto heights = sheet_heights();
    std::string out = fmt::format(
        "run,point,backsight [{0}],foresight [{0}],backsight_distance [m],foresight_distance "
        "[m]\n",
        unit);
    const std::vector<std::string> names{"H1", "",   "H2", "",   "H3", "",  "H4",
                                         "",   "H5", "",   "H6", "",   "H1"};
    std::string before = "H1";
    std::optional<double> axis_m;
    double last_m = heights.at("H1") * kFoot_m;
    for (std::size_t k = 0; k < names.size(); ++k) {
        std::string fore, fore_distance, back, back_distance;
        double here_m =
            names[k].empty() ? last_m + random.uniform(-0.2, 0.2) : heights.at(names[k]) * kFoot_m;
        if (axis_m) {
            double reading = *axis_m - here_m + 0.001 * random.normal();
            if (static_cast<int>(k) == wrong) reading += by_m;
            fore = fmt::format("{:.4f}", reading / unit_m);
            fore_distance = "15";
        }
        if (k + 1 < names.size()) {
            axis_m = here_m + 1.4;
            back = fmt::format("{:.4f}", (1.4 + 0.001 * random.normal()) / unit_m);
            back_distance = "15";
        }
        last_m = here_m;
        out +=
            fmt::format("R1,{},{},{},{},{}\n", names[k], back, fore, back_distance, fore_distance);
    }
    return out;
}

TEST(prove_levels, run_is_reduced_its_loop_closes_and_its_marks_are_tied) {
    ProveRequest request = mill_request();
    request.levels.push_back({"r.csv", level_loop(kFoot_m, "ft", -1, 0.0, 1)});
    const ProveAnswer answer = expect_value(run_prove(request));
    ASSERT_EQ(answer.runs.size(), 1U);
    EXPECT_EQ(answer.runs[0].turns, 12);
    EXPECT_NEAR(*answer.runs[0].length_m, 360.0, 1e-9);
    EXPECT_EQ(answer.runs[0].points.size(), 7U);
    ASSERT_EQ(answer.lines.size(), 6U);
    for (const ProveLine& line : answer.lines) {
        EXPECT_TRUE(line.used);
        EXPECT_EQ(line.by, "run R1");
    }
    // One loop; six marks of known height: five ties.
    ASSERT_EQ(answer.loops.size(), 6U);
    EXPECT_EQ(std::count_if(answer.loops.begin(), answer.loops.end(),
                            [](const ProveLoop& loop) { return loop.is_tie; }),
              5);
    for (const ProveLoop& loop : answer.loops) EXPECT_TRUE(loop.fits) << loop.says;
    EXPECT_EQ(misread_in(answer), nullptr);
    const std::string text = to_text(answer);
    EXPECT_THAT(text, HasSubstr("Closures of levels"));
    EXPECT_THAT(text, HasSubstr("R1"));
    EXPECT_FALSE(check_record("ProveAnswer", to_json(answer)));
    const std::string csv = prove_levels_csv(answer);
    EXPECT_EQ(std::count(csv.begin(), csv.end(), '\n'), 8);
}

struct Misread {
    double amount_m;
    double unit_m;
    const char* unit;
    const char* near;
};

TEST(prove_levels, planted_misread_rod_is_found_named_and_sized) {
    const Misread cases[] = {{0.1 * kFoot_m, kFoot_m, "ft", "0.1 ft"},
                             {1.0 * kFoot_m, kFoot_m, "ft", "1 ft"},
                             {-0.1 * kFoot_m, kFoot_m, "ft", "0.1 ft"},
                             {0.100, 1.0, "m", "100 mm"},
                             {1.000, 1.0, "m", "1 m"}};
    for (const Misread& planted : cases)
        for (std::uint64_t seed = 0; seed < 3; ++seed) {
            ProveRequest request = mill_request();
            if (planted.unit[0] == 'm') request.station.show = measure::LengthStyle{};
            // Row 5 is the turn between H3 and H4's: the leg from H3 to H4.
            request.levels.push_back(
                {"r.csv", level_loop(planted.unit_m, planted.unit, 5, planted.amount_m, seed)});
            const ProveAnswer answer = expect_value(run_prove(request));
            const JobCause* cause = misread_in(answer);
            ASSERT_NE(cause, nullptr) << planted.near << " seed " << seed << to_text(answer);
            EXPECT_GT(cause->probability, 0.95) << cause->says;
            EXPECT_EQ(cause->subjects, (std::vector<std::string>{"H3", "H4"}));
            EXPECT_THAT(cause->says, HasSubstr("run R1"));
            EXPECT_THAT(cause->says, HasSubstr(std::string("near ") + planted.near));
            // A foresight too large makes the rise too small.
            EXPECT_THAT(cause->says, HasSubstr(planted.amount_m > 0.0 ? "too low" : "too high"));
            const ProveLoop& first = answer.loops.front();
            EXPECT_FALSE(first.fits) << first.says;
            int off = 0;
            for (const ProveLoop& loop : answer.loops) off += loop.fits ? 0 : 1;
            EXPECT_EQ(off, 2) << "the loop, and the tie over that leg";
            // It pulls what stands beside it, as any reading does, until it is put right.
            for (const ProveMark& mark : answer.marks)
                if (mark.adjusted_height_m) {
                    EXPECT_NEAR(*mark.adjusted_height_m, *mark.height_m,
                                0.006 + 0.1 * std::abs(planted.amount_m))
                        << mark.name;
                }
        }
}

TEST(prove_levels, misread_tape_is_found_named_and_sized) {
    ProveRequest request = mill_request();
    // H1 to H6 is 89.452 ft on the sheet; a foot dropped.
    request.tapes.push_back({"t.csv", "from,to,distance [ft]\nH1,H6,88.455\nH2,H3,185.73\n"});
    const ProveAnswer answer = expect_value(run_prove(request));
    const auto cause = std::find_if(answer.causes.begin(), answer.causes.end(),
                                    [](const JobCause& one) { return one.cause == "tape-wrong"; });
    ASSERT_NE(cause, answer.causes.end()) << to_text(answer);
    EXPECT_GT(cause->probability, 0.95);
    EXPECT_EQ(cause->subjects, (std::vector<std::string>{"H1", "H6"}));
    EXPECT_THAT(cause->says, HasSubstr("too short, near 1 ft"));
}

TEST(prove_levels, the_same_run_over_another_origin_of_the_rod_gives_the_same_answer) {
    ProveRequest request = mill_request();
    std::string shifted =
        "run,point,backsight [m],foresight [m]\nR,H1,1.500,\nR,,1.300,1.420\nR,H2,,1.300\n";
    request.levels.push_back({"r.csv", shifted});
    const ProveAnswer plain = expect_value(run_prove(request));
    request.levels.front().bytes =
        "run,point,backsight [m],foresight [m]\nR,H1,0.500,\nR,,2.300,0.420\nR,H2,,2.300\n";
    const ProveAnswer other = expect_value(run_prove(request));
    ASSERT_EQ(plain.lines.size(), 1U);
    EXPECT_NEAR(plain.lines[0].value_m, other.lines[0].value_m, 1e-12);
    EXPECT_NEAR(plain.lines[0].residual_m, other.lines[0].residual_m, 1e-9);
}

TEST(prove_levels, bad_files_are_refused_with_their_place) {
    for (const char* bytes : {"run,point,backsight [ft],foresight\nR1,H1,x,\nR1,H2,,1\n",
                              "run,point,backsight [ft],foresight\nR1,H1,1,\n",
                              "from,to,rise [ft]\nH1,H1,1\n", "a,b\n1,2\n", ""}) {
        ProveRequest request = mill_request();
        request.levels.push_back({"r.csv", bytes});
        const auto answer = run_prove(request);
        ASSERT_FALSE(answer) << bytes;
        EXPECT_EQ(answer.refusal().place.file, "r.csv");
    }
}

TEST(vet_levels, run_is_evidence_for_the_heights_of_the_control) {
    VetRequest request;
    request.marks.push_back(mill_hall("marks.csv"));
    const auto plain = expect_value(run_vet(request));
    request.levels.push_back({"r.csv", level_loop(kFoot_m, "ft", -1, 0.0, 4)});
    const auto levelled = expect_value(run_vet(request));
    ASSERT_EQ(levelled.figures.marks.size(), 6U);
    for (std::size_t m = 0; m < 6; ++m)
        EXPECT_GT(levelled.figures.marks[m].measured_height,
                  plain.figures.marks[m].measured_height);
}

class job_levels : public job::JobTest {
protected:
    job::Job mill(const std::vector<std::pair<const char*, std::string>>& files) {
        job::Job job = create("mill.job");
        expect_value(take(job, take_mill_hall()));
        for (const auto& [role, bytes] : files) {
            TakeFile file;
            file.role = role;
            file.document = {std::string(role) + "-" + std::to_string(bytes.size()) + ".csv",
                             bytes};
            expect_value(take(job, std::vector<TakeFile>{file}));
        }
        return job;
    }
    static ProveAnswer proven(const job::Job& job) {
        ProveRequest request;
        request.station.facts = expect_value(facts_of(job));
        return expect_value(run_prove(request));
    }
};

TEST_F(job_levels, prove_from_the_job_is_prove_from_the_files) {
    const std::string runs = level_loop(kFoot_m, "ft", 5, 0.1 * kFoot_m, 2);
    const job::Job job = mill({{"tapes", kTapes}, {"levels", kRises}, {"levels", runs}});
    ProveAnswer from_job = proven(job);
    ProveRequest request = mill_request();
    request.tapes.push_back({"/somewhere/tapes-43.csv", kTapes});
    request.levels.push_back(
        {fmt::format("/somewhere/levels-{}.csv", std::string(kRises).size()), kRises});
    request.levels.push_back({"/somewhere/runs.csv", runs});
    ProveAnswer from_files = expect_value(run_prove(request));
    EXPECT_EQ(from_job.lines.size(), 9U);
    EXPECT_NE(misread_in(from_job), nullptr);
    // Of the files alone, and the name of the job.
    from_job.notices.clear();
    from_files.notices.clear();
    from_job.job = from_files.job = "";
    EXPECT_EQ(to_json(from_job), to_json(from_files));
    EXPECT_EQ(to_text(from_job), to_text(from_files));
}

TEST_F(job_levels, record_holds_them_and_computes_again_to_the_byte) {
    const job::Job job = mill({{"tapes", kTapes},
                               {"levels", kRises},
                               {"levels", level_loop(kFoot_m, "ft", 5, 0.1 * kFoot_m, 2)}});
    const RecordFacts facts = expect_value(record_facts_of(job, {}));
    EXPECT_EQ(facts.facts.tapes.size(), 1U);
    EXPECT_EQ(facts.facts.levels.size(), 2U);
    EXPECT_EQ(facts.facts.level_runs.size(), 1U);
    const std::string json = to_facts_json(facts);
    EXPECT_EQ(to_facts_json(expect_value(read_facts_json(json))), json);
    const RecordAnswer answer = expect_value(run_record(facts));
    ASSERT_TRUE(answer.whole) << answer.whole_refused;
    EXPECT_EQ(answer.whole->lines.size(), 9U);
    const auto files = expect_value(record_files(answer));
    for (const char* name : {"tapes.csv", "levels.csv", "level-runs.csv", "record-levels.csv"})
        EXPECT_TRUE(std::any_of(files.begin(), files.end(), [&](const RecordFile& one) {
            return one.name == name;
        })) << name;
    for (const RecordFile& one : files) {
        if (one.name != "record.html" && one.name != "record.pdf") continue;
        const RecordCheck check = expect_value(check_record({one.name, one.bytes}));
        EXPECT_TRUE(check.agrees) << to_text(check);
        EXPECT_EQ(check.pages, PagesCheck::same);
        if (one.name == "record.html") {
            EXPECT_THAT(one.bytes, HasSubstr("Closures of levels"));
        }
    }
}

TEST_F(job_levels, record_without_them_has_neither_fields_nor_lists) {
    const job::Job job = mill({});
    const RecordFacts facts = expect_value(record_facts_of(job, {}));
    EXPECT_THAT(to_facts_json(facts), Not(HasSubstr("level_runs")));
    const auto files = record_lists(expect_value(run_record(facts)));
    EXPECT_EQ(files.size(), 11U);
}

TEST_F(job_levels, control_of_the_record_is_vetted_with_them) {
    const job::Job job = mill({{"levels", level_loop(kFoot_m, "ft", -1, 0.0, 4)}});
    const RecordAnswer answer = expect_value(run_record(expect_value(record_facts_of(job, {}))));
    VetRequest request;
    expect_value(fill_from_job(job, {}, request));
    const VetAnswer vetted = expect_value(run_vet(request));
    ASSERT_TRUE(answer.control);
    for (std::size_t m = 0; m < 6; ++m)
        EXPECT_EQ(answer.control->figures.marks[m].measured_height,
                  vetted.figures.marks[m].measured_height);
}

TEST_F(job_levels, book_that_grew_brings_its_earlier_run_once) {
    const std::string first = "run,point,backsight [ft],foresight\nR1,H1,4.5,\nR1,H2,,4.2\n";
    const std::string grown = first + "R2,H2,4.1,\nR2,H1,,4.4\n";
    const job::Job job = mill({{"levels", first}, {"levels", grown}});
    const JobFacts facts = expect_value(facts_of(job));
    ASSERT_EQ(facts.level_runs.size(), 2U);
    EXPECT_EQ(facts.level_runs[0].name, "R1");
    EXPECT_EQ(facts.level_runs[1].name, "R2");
}

TEST_F(job_levels, runs_of_one_name_in_two_files_are_two) {
    const std::string monday = "run,point,backsight [ft],foresight\nR1,H1,4.5,\nR1,H2,,4.2\n";
    const std::string tuesday = "run,point,backsight [ft],foresight\nR1,H2,4.51,\nR1,H3,,4.22\n";
    const job::Job job = mill({{"levels", monday}, {"levels", tuesday}});
    const ProveAnswer answer = proven(job);
    ASSERT_EQ(answer.runs.size(), 2U);
    EXPECT_EQ(answer.runs[0].run, "R1");
    EXPECT_EQ(answer.runs[1].run, "R1 (2)");
}

TEST_F(job_levels, what_is_set_aside_takes_no_part_and_is_said) {
    job::Job job =
        mill({{"levels", kRises},
              {"levels", "run,point,backsight [ft],foresight\nR1,H1,4.5,\nR1,H2,,4.2\n"}});
    const auto aside = [&](const std::string& fact) {
        DecideRequest request;
        request.kind = job::DecisionKind::set_aside;
        request.subject = fact;
        request.reason = "rod was bent";
        request.initials = "AB";
        expect_value(decide(job, request));
    };
    aside(expect_value(job.all<network::LevelReading>()).front().id.to_text());
    aside(expect_value(job.all<network::LevelRise>()).front().id.to_text());
    const ProveAnswer answer = proven(job);
    EXPECT_TRUE(answer.runs.empty());
    EXPECT_EQ(answer.lines.size(), 1U);
    const std::string text = to_text(answer);
    EXPECT_THAT(text, HasSubstr("Run R1"));
    EXPECT_THAT(text, HasSubstr("left out"));
}

class door_levels : public testing::DoorTest {};

TEST_F(door_levels, page_takes_runs_told_by_their_columns_and_proves_with_them) {
    const std::string bytes = level_loop(kFoot_m, "ft", 5, 0.1 * kFoot_m, 2);
    const auto kept = there->keep_file("book.csv", bytes);
    ASSERT_FALSE(kept.refused);
    const Json preview = Json::parse(*kept.json);
    EXPECT_EQ(preview["role"], "levels");
    EXPECT_TRUE(preview["refusal"].is_null()) << preview["refusal"];
    ask("take", {{"files", {{{"digest", preview["digest"]}, {"role", "levels"}}}}});
    const Json answer = ask("prove", Json::object());
    EXPECT_EQ(answer["lines"].size(), 6U);
    EXPECT_EQ(answer["runs"].size(), 1U);
    EXPECT_EQ(answer["loops"].size(), 6U);
    EXPECT_FALSE(answer["loops"][0]["fits"]);
    bool named = false;
    for (const Json& cause : answer["causes"]) named = named || cause["cause"] == "level-wrong";
    EXPECT_TRUE(named);
    EXPECT_FALSE(ask("vet", Json::object()).contains("code"));
}

}  // namespace
}  // namespace layproof::acts

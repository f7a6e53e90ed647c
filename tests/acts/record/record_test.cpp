// The record of a job: what it says, that it is the same every time, and that a changed one is
// found out.

#include "acts/record/record.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>

#include "acts/job/job_test_support.hpp"
#include "acts/record/record_check.hpp"
#include "acts/shared/large_site.hpp"
#include "paper/html.hpp"
#include "paper/pdf.hpp"
#include "paper/pdf_tools.hpp"

namespace layproof::acts {
namespace {

using testing::expect_value;
using ::testing::HasSubstr;
using testing::mill_hall;
using ::testing::Not;
using testing::take_mill_hall;

class record_of_job : public job::JobTest {
protected:
    /// Two mornings, and the day on which the tripod was moved.
    job::Job mill() {
        job::Job job = create("mill.job");
        expect_value(take(job, take_mill_hall()));
        TakeRequest day;
        day.sights = mill_hall("day-sights.csv");
        day.setups = mill_hall("day-setups.csv");
        day.unit = measure::LengthUnit::foot;
        expect_value(take(job, day));
        return job;
    }
    static RecordAnswer record(const job::Job& job, const RecordOptions& options = {}) {
        return expect_value(run_record(expect_value(record_facts_of(job, options))));
    }
    static const RecordFile& file(const std::vector<RecordFile>& files, const std::string& name) {
        return *std::find_if(files.begin(), files.end(),
                             [&](const RecordFile& one) { return one.name == name; });
    }
};

TEST_F(record_of_job, points_laid_after_a_move_are_not_proven) {
    const job::Job job = mill();
    const RecordAnswer answer = record(job);
    EXPECT_EQ(answer.word, station::Word::fails);
    EXPECT_EQ(answer.proven + answer.in_doubt + answer.fails, 40);
    EXPECT_EQ(answer.proven, 28);
    EXPECT_TRUE(answer.not_laid.empty());
    int by_move = 0;
    for (const RecordPoint& p : answer.points) by_move += p.by_move ? 1 : 0;
    EXPECT_EQ(by_move, 12);
    ASSERT_TRUE(answer.control.has_value());
    EXPECT_EQ(answer.control->figures.marks.size(), 6U);
    EXPECT_THAT(answer.to_do.front(), HasSubstr("Do not build on"));
}

TEST_F(record_of_job, point_is_never_better_than_any_of_its_three_verdicts) {
    const job::Job job = mill();
    const RecordAnswer answer = record(job);
    ASSERT_TRUE(answer.whole.has_value()) << answer.whole_refused;
    const auto badness = [](station::Word word) {
        return word == station::Word::proven ? 0 : word == station::Word::in_doubt ? 1 : 2;
    };
    ASSERT_EQ(answer.points.size(), 40U);
    ASSERT_EQ(answer.whole->laid.size(), answer.points.size());
    for (const RecordPoint& p : answer.points) {
        const lay::PointReport& laid = answer.lay.laid[p.laid].figures;
        EXPECT_GE(badness(p.word), badness(laid.verdict.word)) << laid.point;
        for (const ProvePoint& whole : answer.whole->laid)
            if (answer.whole->points[whole.point].design.name == laid.point) {
                EXPECT_GE(badness(p.word), badness(whole.verdict.word)) << laid.point;
            }
        for (const auto& day : answer.days)
            for (std::size_t i = 0; day && i < day->report.points.size(); ++i)
                if (day->has_checks && day->day.points[i].target.name == laid.point) {
                    EXPECT_GE(badness(p.word), badness(day->report.points[i].word)) << laid.point;
                }
    }
}

/// The days of the stations are those of the laying there, and computed anew here.
TEST_F(record_of_job, whole_job_is_what_prove_says_alone) {
    const job::Job job = mill();
    const RecordAnswer answer = record(job);
    ASSERT_TRUE(answer.whole.has_value()) << answer.whole_refused;
    ProveRequest request;
    request.station.facts = answer.facts.facts;
    request.station.marks.name = request.station.sights.name = answer.facts.facts.name;
    request.station.unit = answer.facts.facts.unit;
    EXPECT_EQ(to_json(*answer.whole), to_json(expect_value(run_prove(request))));
    int watched = 0;
    for (const ProveSetup& setup : answer.whole->setups) watched += setup.holds ? 1 : 0;
    EXPECT_GT(watched, 0);
}

TEST_F(record_of_job, point_in_doubt_is_never_told_to_be_left_alone) {
    const RecordAnswer answer = expect_value(run_record(testing::large_record_facts(10, 600)));
    int open = 0;
    for (const RecordPoint& p : answer.points) {
        const lay::PointReport& laid = answer.lay.laid[p.laid].figures;
        EXPECT_EQ(p.word, laid.verdict.word) << laid.point;
        EXPECT_EQ(p.probability, laid.verdict.probability) << laid.point;
        if (p.word == station::Word::proven) continue;
        EXPECT_NE(p.next, "Nothing to do.") << laid.point;
        ++open;
    }
    EXPECT_GT(open, 0);
}

TEST_F(record_of_job, same_job_gives_same_bytes) {
    const job::Job job = mill();
    const auto first = expect_value(record_files(record(job)));
    const auto second = expect_value(record_files(record(job)));
    ASSERT_EQ(first.size(), second.size());
    for (std::size_t i = 0; i < first.size(); ++i)
        EXPECT_EQ(first[i].bytes, second[i].bytes) << first[i].name;
}

TEST_F(record_of_job, text_holds_every_point_mark_and_set_up) {
    const job::Job job = mill();
    const auto files = expect_value(record_files(record(job)));
    const std::string text = paper::text_of(file(files, "record.pdf").bytes);
    EXPECT_EQ(paper::fault_in_pdf(file(files, "record.pdf").bytes), "");
    for (const char row : {'A', 'B', 'C', 'D', 'E'})
        for (int i = 1; i <= 8; ++i)
            EXPECT_THAT(text, HasSubstr(std::string(1, row) + std::to_string(i))) << row << i;
    for (const char* word : {"Set-up D2", "Set-up S1", "H6", "fails", "How to check it",
                             "not a survey", "The whole job in one adjustment"})
        EXPECT_THAT(text, HasSubstr(word));
    EXPECT_THAT(text, Not(HasSubstr("nan")));
    EXPECT_THAT(file(files, "record.html").bytes, Not(HasSubstr("nan ")));
}

TEST_F(record_of_job, feet_are_printed_on_letter_paper) {
    const job::Job job = mill();
    const RecordAnswer answer = record(job);
    EXPECT_TRUE(paper_of(answer).is_letter);
    EXPECT_FALSE(paper_of(expect_value(run_record(testing::large_record_facts(2, 6)))).is_letter);
}

TEST_F(record_of_job, facts_read_back_give_the_same_facts) {
    const job::Job job = mill();
    const RecordFacts facts = expect_value(record_facts_of(job, {}));
    const std::string json = to_facts_json(facts);
    const RecordFacts again = expect_value(read_facts_json(json));
    EXPECT_EQ(to_facts_json(again), json);
    ASSERT_EQ(again.facts.sights.size(), facts.facts.sights.size());
    for (std::size_t i = 0; i < facts.facts.sights.size(); ++i) {
        EXPECT_EQ(again.facts.sights[i].direction_rad, facts.facts.sights[i].direction_rad);
        EXPECT_EQ(again.facts.sights[i].slope_distance_m, facts.facts.sights[i].slope_distance_m);
    }
}

TEST_F(record_of_job, facts_that_are_none_are_refused) {
    const job::Job job = mill();
    const std::string json = to_facts_json(expect_value(record_facts_of(job, {})));
    const auto code = [](const std::string& text) {
        const auto read = read_facts_json(text);
        return read.ok() ? ErrorCode{} : read.refusal().code;
    };
    EXPECT_EQ(code(""), ErrorCode::request_not_json);
    EXPECT_EQ(code("{}"), ErrorCode::request_not_json);
    EXPECT_EQ(code("[1]"), ErrorCode::request_not_json);
    EXPECT_EQ(code(json.substr(0, json.size() / 2)), ErrorCode::request_not_json);
    const auto with = [&](const std::string& from, const std::string& to) {
        std::string text = json;
        const std::size_t at = text.find(from);
        EXPECT_NE(at, std::string::npos) << from;
        return text.replace(at, from.size(), to);
    };
    EXPECT_EQ(code(with("\"format\": 1", "\"format\": 2")), ErrorCode::out_of_range);
    EXPECT_EQ(code(with("\"confidence\": 0.95", "\"confidence\": 2.0")), ErrorCode::out_of_range);
    EXPECT_EQ(code(with("\"confidence\": 0.95", "\"confidence\": \"x\"")),
              ErrorCode::request_type_wrong);
    EXPECT_EQ(code(with("\"purpose\": 0", "\"purpose\": 9")), ErrorCode::out_of_range);
    EXPECT_EQ(code(with("\"chains\"", "\"strains\"")), ErrorCode::request_field_missing);
}

TEST_F(record_of_job, pdf_and_page_agree_with_their_own_facts) {
    const job::Job job = mill();
    const auto files = expect_value(record_files(record(job)));
    for (const char* name : {"record.pdf", "record.html"}) {
        const RecordCheck check = expect_value(check_record({name, file(files, name).bytes}));
        EXPECT_TRUE(check.agrees) << to_text(check);
        EXPECT_EQ(check.pages, PagesCheck::same) << check.pages_say;
        EXPECT_EQ(check.lists.size(), files.size() - 2);
        EXPECT_THAT(to_text(check), HasSubstr("AGREES"));
        EXPECT_THAT(to_json(check), HasSubstr("\"agrees\": true"));
    }
}

/// The page with something in it replaced; base64 lists are left alone.
std::string tampered(std::string page, const std::string& from, const std::string& to) {
    const std::size_t at = page.find(from);
    EXPECT_NE(at, std::string::npos) << from;
    return at == std::string::npos ? page : page.replace(at, from.size(), to);
}

TEST_F(record_of_job, changed_page_is_found_out) {
    const job::Job job = mill();
    const auto files = expect_value(record_files(record(job)));
    const std::string page =
        tampered(file(files, "record.html").bytes, ">fails</td>", ">proven</td>");
    const RecordCheck check = expect_value(check_record({"record.html", page}));
    EXPECT_FALSE(check.agrees);
    EXPECT_EQ(check.pages, PagesCheck::differ);
    EXPECT_THAT(to_text(check), HasSubstr("DOES NOT AGREE"));
}

TEST_F(record_of_job, changed_list_in_a_record_is_found_out_with_its_line) {
    const job::Job job = mill();
    const RecordAnswer answer = record(job);
    paper::Paper paper = paper_of(answer);
    for (const RecordFile& one : record_lists(answer)) {
        std::string bytes = one.bytes;
        if (one.name == "record-points.csv") bytes = tampered(bytes, "fails", "proven");
        paper.attachments.push_back({one.name, one.mime, one.description, bytes, false});
    }
    const RecordCheck check =
        expect_value(check_record({"record.pdf", expect_value(paper::write_pdf(paper))}));
    EXPECT_FALSE(check.agrees);
    EXPECT_EQ(check.pages, PagesCheck::differ);
    int wrong = 0;
    for (const RecordCheckLine& line : check.lists) {
        if (line.agrees) continue;
        ++wrong;
        EXPECT_EQ(line.name, "record-points.csv");
        EXPECT_THAT(line.says, HasSubstr("line "));
    }
    EXPECT_EQ(wrong, 1);
}

TEST_F(record_of_job, changed_fact_changes_everything_that_hangs_on_it) {
    const job::Job job = mill();
    const RecordAnswer answer = record(job);
    RecordFacts other = answer.facts;
    other.facts.sights[30].slope_distance_m = *other.facts.sights[30].slope_distance_m + 0.02;
    paper::Paper paper = paper_of(answer);
    for (const RecordFile& one : record_lists(answer))
        paper.attachments.push_back(
            {one.name, one.mime, one.description,
             one.name == "record-facts.json" ? to_facts_json(other) : one.bytes, false});
    const RecordCheck check = expect_value(check_record({"record.html", paper::write_html(paper)}));
    EXPECT_FALSE(check.agrees);
    EXPECT_EQ(check.pages, PagesCheck::differ);
}

TEST_F(record_of_job, file_without_facts_is_refused) {
    paper::Paper paper;
    EXPECT_EQ(check_record({"a.html", paper::write_html(paper)}).refusal().code,
              ErrorCode::value_missing);
    EXPECT_EQ(check_record({"a.pdf", "no pdf"}).refusal().code, ErrorCode::format_unknown);
}

TEST_F(record_of_job, empty_job_has_a_record_too) {
    const job::Job job = create("empty.job");
    const RecordAnswer answer = record(job);
    EXPECT_EQ(answer.word, station::Word::in_doubt);
    EXPECT_TRUE(answer.facts.refused.has_value());
    const auto files = expect_value(record_files(answer));
    const std::string text = paper::text_of(file(files, "record.pdf").bytes);
    EXPECT_THAT(text, HasSubstr("Nothing can be computed"));
    EXPECT_TRUE(expect_value(check_record({"r", file(files, "record.pdf").bytes})).agrees);
}

TEST_F(record_of_job, set_up_that_cannot_be_placed_is_left_out_and_said) {
    RecordFacts facts = testing::large_record_facts(3, 9);
    // One sight to one mark places nothing.
    measure::Sight lonely = facts.facts.sights.front();
    lonely.station = "lonely";
    facts.facts.sights.push_back(lonely);
    const RecordAnswer answer = expect_value(run_record(facts));
    ASSERT_EQ(answer.left_out.size(), 1U);
    EXPECT_EQ(answer.left_out[0].station, "lonely");
    EXPECT_EQ(answer.points.size(), 9U);
    EXPECT_NE(answer.word, station::Word::proven);
    const auto files = expect_value(record_files(answer));
    EXPECT_THAT(paper::text_of(file(files, "record.pdf").bytes), HasSubstr("lonely"));
    EXPECT_TRUE(expect_value(check_record({"r", file(files, "record.html").bytes})).agrees);
}

TEST_F(record_of_job, decisions_stand_with_reason_and_initials) {
    job::Job job = mill();
    expect_value(decide(job, {job::DecisionKind::mark_moved, "H4", "kicked by the excavator", "RM",
                              1'936'900'000'000}));
    const auto files = expect_value(record_files(record(job)));
    const std::string text = paper::text_of(file(files, "record.pdf").bytes);
    EXPECT_THAT(text, HasSubstr("kicked by the excavator"));
    EXPECT_THAT(text, HasSubstr("mark-moved"));
    EXPECT_THAT(file(files, "record-decisions.csv").bytes, HasSubstr("RM"));
}

TEST_F(record_of_job, names_of_any_script_and_length_pass_through) {
    RecordFacts facts = testing::large_record_facts(2, 8);
    const std::vector<std::string> names{
        "柱 第一根", "ось Б", "עמוד", "a,b\"c", "<b>&", std::string(300, 'w'), "😀", "é\xCC\x81"};
    for (std::size_t i = 0; i < names.size(); ++i) {
        for (measure::Sight& sight : facts.facts.sights)
            if (sight.target == facts.facts.points[i].name) sight.target = names[i];
        facts.facts.points[i].name = names[i];
    }
    facts.title = "Пример 例 דוגמה";
    const auto files = expect_value(record_files(expect_value(run_record(facts))));
    const std::string& pdf = file(files, "record.pdf").bytes;
    EXPECT_EQ(paper::fault_in_pdf(pdf), "");
    const std::string text = paper::tool_on("pdftotext", pdf, "-");
    for (const char* name : {"柱 第一根", "ось Б", "<b>&"}) EXPECT_THAT(text, HasSubstr(name));
    EXPECT_TRUE(expect_value(check_record({"r", pdf})).agrees);
    EXPECT_TRUE(expect_value(check_record({"r", file(files, "record.html").bytes})).agrees);
}

}  // namespace
}  // namespace layproof::acts

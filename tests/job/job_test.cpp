#include "job/job.hpp"

#include <limits>

#include "job_support.hpp"

namespace layproof::job {
namespace {

class JobFile : public JobTest {};

TEST_F(JobFile, created_file_has_title_one_writer_and_verifies) {
    Job job = create("a.job");
    const auto summary = job.summary();
    ASSERT_TRUE(summary);
    EXPECT_EQ(summary->title, "Invented site");
    EXPECT_EQ(summary->job, job.id());
    EXPECT_EQ(summary->schema, 3);
    ASSERT_EQ(summary->writers.size(), 1U);
    EXPECT_EQ(summary->writers[0].name, "crew a.job");
    EXPECT_EQ(summary->writers[0].facts, 1);
    EXPECT_TRUE(job.verify()->sound());
    EXPECT_FALSE(std::filesystem::exists(folder / "a.job-journal"));
}

TEST_F(JobFile, existing_file_is_never_replaced) {
    write_bytes(folder / "a.job", "something of somebody");
    auto made = Job::create(folder / "a.job", {"x", "y", {}}, clock, entropy);
    ASSERT_FALSE(made);
    EXPECT_EQ(made.refusal().code, ErrorCode::job_exists);
    EXPECT_EQ(file_bytes(folder / "a.job"), "something of somebody");
}

TEST_F(JobFile, closing_leaves_one_file) {
    {
        Job job = create("a.job");
        fill(job);
    }
    { EXPECT_TRUE(open("a.job", Mode::read).summary()); }
    std::vector<std::string> names;
    for (const auto& entry : std::filesystem::directory_iterator(folder.path())) {
        names.push_back(entry.path().filename().string());
    }
    EXPECT_EQ(names, std::vector<std::string>{"a.job"});
}

TEST_F(JobFile, every_part_of_a_sight_comes_back) {
    measure::Sight in;
    in.station = "S\n1 é";
    in.target = "";
    in.direction_rad = 0.1 + 0.2;
    in.zenith_rad = std::numeric_limits<double>::denorm_min();
    in.slope_distance_m = 609'600.123456789;
    in.horizontal_distance_m = -1e-300;
    in.target_height_m = 2.0;
    in.face = measure::Face::two;
    in.purpose = measure::Purpose::lay;
    in.prism_constant_m = -0.034;
    in.temperature_k = 293.15;
    in.pressure_hpa = 1013.25;
    in.time_s = 1.9e9;
    in.time_text = "2030-03-17T12:46:40-05:00";
    in.note = "rod \"on\" bipod";
    in.place = {"sights.csv", 12, 3};
    Job job = create("a.job");
    ASSERT_TRUE(job.add(in));
    const auto all = job.all<measure::Sight>();
    ASSERT_TRUE(all);
    ASSERT_EQ(all->size(), 1U);
    const measure::Sight& out = (*all)[0].value;
    EXPECT_EQ(out.station, in.station);
    EXPECT_EQ(out.target, in.target);
    EXPECT_EQ(out.direction_rad, in.direction_rad);
    EXPECT_EQ(out.zenith_rad, in.zenith_rad);
    EXPECT_EQ(out.slope_distance_m, in.slope_distance_m);
    EXPECT_EQ(out.horizontal_distance_m, in.horizontal_distance_m);
    EXPECT_EQ(out.target_height_m, in.target_height_m);
    EXPECT_EQ(out.face, in.face);
    EXPECT_EQ(out.purpose, in.purpose);
    EXPECT_EQ(out.prism_constant_m, in.prism_constant_m);
    EXPECT_EQ(out.temperature_k, in.temperature_k);
    EXPECT_EQ(out.pressure_hpa, in.pressure_hpa);
    EXPECT_EQ(out.time_s, in.time_s);
    EXPECT_EQ(out.time_text, in.time_text);
    EXPECT_EQ(out.note, in.note);
    EXPECT_EQ(out.place, in.place);
    EXPECT_TRUE(job.verify()->sound());
}

TEST_F(JobFile, other_kinds_come_back_with_absent_parts_absent) {
    Job job = create("a.job");
    fill(job);
    const auto marks = job.current<frame::Mark>();
    ASSERT_TRUE(marks);
    ASSERT_EQ(marks->size(), 2U);
    EXPECT_EQ((*marks)[0].value.name, "H1");
    EXPECT_EQ((*marks)[0].source.revision, "A");
    EXPECT_EQ((*marks)[0].source.document, (*job.all<Document>())[0].value.digest);
    EXPECT_EQ((*marks)[1].value.north_m, 0.0);
    EXPECT_EQ((*marks)[1].recorded_ms, (*marks)[1].id.time_ms());

    const auto setups = job.current<station::Setup>();
    EXPECT_EQ((*setups)[0].value.kind, station::SetupKind::free);
    EXPECT_EQ((*setups)[0].value.instrument_height_m, std::nullopt);

    const auto tolerance = (*job.current<Tolerance>())[0].value;
    EXPECT_TRUE(tolerance.from_memory);
    EXPECT_EQ(tolerance.plus_m, 0.0064);

    const auto instrument = (*job.current<measure::Instrument>())[0].value;
    EXPECT_EQ(instrument.wavelength_um, 0.85);
    EXPECT_EQ(instrument.reference_pressure_hpa, std::nullopt);
    EXPECT_FALSE(instrument.stated);
    EXPECT_EQ(instrument.angle_sd_rad, measure::Instrument{}.angle_sd_rad);

    EXPECT_EQ((*job.current<ColumnMap>())[0].value.toml, "mark = \"No\"\n");
    const auto decided = (*job.current<Decision>())[0].value;
    EXPECT_EQ(decided.kind, DecisionKind::set_aside);
    EXPECT_EQ(decided.subject.fact, (*job.all<measure::Sight>())[0].id);
    EXPECT_EQ(decided.initials, "AB");
    EXPECT_EQ(decided.time_text, "2030-03-17T17:46:40Z");
    EXPECT_EQ((*job.current<frame::DesignPoint>())[0].value.element, "anchor rod");
}

TEST_F(JobFile, document_is_kept_whole_and_once) {
    Job job = create("a.job");
    std::string bytes(300'000, '\0');
    for (std::size_t i = 0; i < bytes.size(); ++i) bytes[i] = static_cast<char>(i * i % 251);
    const auto first = job.add_document("scan.bin", "drawing", "", bytes_of(bytes));
    const auto again = job.add_document("scan.bin", "drawing", "", bytes_of(bytes));
    const auto renamed = job.add_document("copy.bin", "drawing", "", bytes_of(bytes));
    const auto empty = job.add_document("empty.csv", "marks", "", {});
    ASSERT_TRUE(first && again && renamed && empty);
    EXPECT_FALSE(first->already_there);
    EXPECT_TRUE(again->already_there);
    EXPECT_EQ(again->id, first->id);
    EXPECT_FALSE(renamed->already_there);
    EXPECT_EQ(job.all<Document>()->size(), 3U);
    const auto kept = job.document_bytes(first->digest);
    ASSERT_TRUE(kept);
    EXPECT_EQ(std::string(kept->begin(), kept->end()), bytes);
    EXPECT_TRUE(job.document_bytes(empty->digest)->empty());
    EXPECT_EQ(job.document_bytes(Digest{}).refusal().code, ErrorCode::fact_unknown);
    EXPECT_TRUE(job.verify()->sound());
}

TEST_F(JobFile, same_document_read_again_adds_nothing_and_hand_booked_sights_stay_two) {
    Job job = create("a.job");
    const auto sheet = job.add_document("m.csv", "marks", "", bytes_of("m"));
    const std::vector<frame::Mark> marks{mark("H1", 1, 2, 3), mark("H2", 4, 5, 6)};
    const Source from{sheet->digest, ""};
    ASSERT_TRUE(job.add_all<frame::Mark>(marks, from));
    const auto again = job.add_all<frame::Mark>(marks, from);
    ASSERT_TRUE(again);
    EXPECT_TRUE((*again)[0].already_there && (*again)[1].already_there);
    EXPECT_EQ(job.all<frame::Mark>()->size(), 2U);
    ASSERT_TRUE(job.add(sight("S1", "H1", 1.0)));
    ASSERT_TRUE(job.add(sight("S1", "H1", 1.0)));
    EXPECT_EQ(job.sights_of("S1")->size(), 2U);
    EXPECT_TRUE(job.verify()->sound());
}

TEST_F(JobFile, later_revision_counts_whenever_it_was_recorded) {
    Job job = create("a.job");
    ASSERT_TRUE(job.add(mark("H1", 2, 0, 0), {std::nullopt, "B"}));
    ASSERT_TRUE(job.add(mark("H1", 1, 0, 0), {std::nullopt, "A"}));
    ASSERT_TRUE(job.add(mark("H1", 3, 0, 0)));
    const auto current = job.current<frame::Mark>();
    ASSERT_EQ(current->size(), 1U);
    EXPECT_EQ((*current)[0].value.east_m, 2.0);
    EXPECT_EQ(job.all<frame::Mark>()->size(), 3U);
    EXPECT_TRUE(job.conflicts()->empty());
}

TEST_F(JobFile, same_revision_twice_is_a_conflict_that_an_accept_decision_settles) {
    Job job = create("a.job");
    const auto first = job.add(mark("H1", 1.000, 0, 0), {std::nullopt, "A"});
    const auto second = job.add(mark("H1", 1.005, 0, 0), {std::nullopt, "a"});
    EXPECT_EQ((*job.current<frame::Mark>())[0].id, second->id);
    auto conflicts = job.conflicts();
    ASSERT_TRUE(conflicts);
    ASSERT_EQ(conflicts->size(), 1U);
    EXPECT_EQ((*conflicts)[0].kind, ConflictKind::mark_coordinates);
    EXPECT_EQ((*conflicts)[0].name, "H1");
    EXPECT_EQ((*conflicts)[0].facts, (std::vector<FactId>{first->id, second->id}));
    EXPECT_EQ((*conflicts)[0].used, second->id);
    EXPECT_FALSE((*conflicts)[0].settled);

    ASSERT_TRUE(job.add(decision(DecisionKind::accept, SubjectKind::mark, "H1", first->id)));
    EXPECT_EQ((*job.current<frame::Mark>())[0].id, first->id);
    conflicts = job.conflicts();
    EXPECT_TRUE((*conflicts)[0].settled);
    EXPECT_EQ((*conflicts)[0].used, first->id);

    ASSERT_TRUE(job.add(decision(DecisionKind::accept, SubjectKind::mark, "H1", second->id)));
    EXPECT_EQ((*job.current<frame::Mark>())[0].id, second->id);
}

TEST_F(JobFile, same_place_in_feet_and_metres_is_no_conflict_and_a_lost_height_is) {
    Job job = create("a.job");
    ASSERT_TRUE(job.add(point("P1", 609'600.0, 1.0)));
    ASSERT_TRUE(job.add(point("P1", 609'600.0 + 9e-7, 1.0)));
    EXPECT_TRUE(job.conflicts()->empty());
    frame::DesignPoint flat = point("P1", 609'600.0, 1.0);
    flat.height_m.reset();
    ASSERT_TRUE(job.add(flat));
    ASSERT_EQ(job.conflicts()->size(), 1U);
    EXPECT_EQ((*job.conflicts())[0].kind, ConflictKind::point_coordinates);
}

TEST_F(JobFile, revisions_without_an_order_are_shown_and_the_last_recorded_counts) {
    Job job = create("a.job");
    ASSERT_TRUE(job.add(point("P1", 1, 1), {std::nullopt, "P2"}));
    ASSERT_TRUE(job.add(point("P1", 2, 1), {std::nullopt, "C1"}));
    EXPECT_EQ((*job.current<frame::DesignPoint>())[0].value.east_m, 2.0);
    const auto conflicts = job.conflicts();
    ASSERT_EQ(conflicts->size(), 1U);
    EXPECT_EQ((*conflicts)[0].kind, ConflictKind::revision_order);
}

TEST_F(JobFile, as_of_shows_what_was_recorded_by_then) {
    Job job = create("a.job");
    ASSERT_TRUE(job.add(mark("H1", 1, 0, 0)));
    const auto shot = job.add(sight("S1", "H1", 1.0));
    const std::int64_t before = clock.time_ms;
    // Measured long ago, booked now: it counts from now on.
    measure::Sight late = sight("S1", "H1", 2.0);
    late.time_s = 1.0e9;
    ASSERT_TRUE(job.add(late));
    ASSERT_TRUE(job.add(mark("H1", 9, 0, 0)));
    ASSERT_TRUE(job.add(decision(DecisionKind::set_aside, SubjectKind::sight, "", shot->id)));
    const std::int64_t aside = clock.time_ms;
    ASSERT_TRUE(job.add(decision(DecisionKind::put_back, SubjectKind::sight, "", shot->id)));

    EXPECT_EQ((*job.current<frame::Mark>(before))[0].value.east_m, 1.0);
    EXPECT_EQ((*job.current<frame::Mark>())[0].value.east_m, 9.0);
    EXPECT_EQ(job.sights_of("S1", before)->size(), 1U);
    EXPECT_EQ(job.sights_of("S1")->size(), 2U);
    EXPECT_TRUE(job.set_aside(before)->empty());
    EXPECT_EQ(*job.set_aside(aside), std::vector<FactId>{shot->id});
    EXPECT_TRUE(job.set_aside()->empty());
    EXPECT_EQ((*job.stations(before))[0].sights, 1);
    EXPECT_EQ(job.log(before)->size(), 3U);
    EXPECT_TRUE(job.conflicts(before)->empty());
    EXPECT_EQ(job.conflicts()->size(), 1U);
    EXPECT_TRUE(job.current<frame::Mark>(0)->empty());
    EXPECT_EQ(job.summary(0)->title, "");
}

TEST_F(JobFile, stations_are_listed_with_and_without_set_up) {
    Job job = create("a.job");
    ASSERT_TRUE(job.add(setup("S2")));
    ASSERT_TRUE(job.add(sight("S1", "H1", 1.0)));
    ASSERT_TRUE(job.add(sight("S1", "H2", 1.0)));
    const auto stations = job.stations();
    ASSERT_EQ(stations->size(), 2U);
    EXPECT_EQ((*stations)[0].name, "S1");
    EXPECT_EQ((*stations)[0].sights, 2);
    EXPECT_FALSE((*stations)[0].has_setup);
    EXPECT_EQ((*stations)[1].name, "S2");
    EXPECT_TRUE((*stations)[1].has_setup);
    EXPECT_EQ((*stations)[1].sights, 0);
    EXPECT_LT((*stations)[1].first_recorded_ms, (*stations)[0].first_recorded_ms);
}

TEST_F(JobFile, log_names_each_fact_and_keeps_the_last) {
    Job job = create("a.job");
    fill(job);
    const auto log = job.log();
    ASSERT_TRUE(log) << log.refusal().to_text();
    ASSERT_EQ(log->size(), 16U);
    EXPECT_EQ((*log)[0].what, "title = Invented site");
    EXPECT_EQ((*log)[2].what, "H1");
    EXPECT_EQ((*log)[5].what, "S1 to H1");
    EXPECT_EQ((*log)[8].what, "anchor rod plan");
    EXPECT_EQ((*log)[11].what, "H1 to H2");
    EXPECT_EQ((*log)[13].what, "R1 H1");
    EXPECT_EQ((*log)[15].what, "set-aside S1 to H1: seen on site");
    EXPECT_EQ((*log)[15].position, 16);
    const auto last = job.log({}, 1);
    ASSERT_EQ(last->size(), 1U);
    EXPECT_EQ((*last)[0].id, (*log)[15].id);
}

TEST_F(JobFile, what_cannot_be_a_fact_is_refused_and_the_change_goes_on) {
    Job job = create("a.job");
    auto writing = job.begin();
    ASSERT_TRUE(writing);
    const auto code = [](const auto& result) {
        return result.ok() ? ErrorCode{} : result.refusal().code;
    };
    EXPECT_EQ(code(writing->add(mark("", 1, 2, 3))), ErrorCode::value_missing);
    EXPECT_EQ(code(writing->add(mark("H1", std::nan(""), 2, 3))), ErrorCode::not_finite);
    EXPECT_EQ(code(writing->add(mark("H1", 1, std::numeric_limits<double>::infinity(), 3))),
              ErrorCode::not_finite);
    EXPECT_EQ(code(writing->add(mark("H1", 1, 2, 3), {Digest{}, ""})), ErrorCode::fact_unknown);
    EXPECT_EQ(code(writing->add(sight("", "H1", 1))), ErrorCode::value_missing);
    EXPECT_EQ(code(writing->add_document("", "", "", {})), ErrorCode::value_missing);
    Decision without = decision(DecisionKind::mark_moved, SubjectKind::mark, "H1");
    without.reason.clear();
    EXPECT_EQ(code(writing->add(without)), ErrorCode::value_missing);
    without = decision(DecisionKind::mark_moved, SubjectKind::mark, "H1");
    without.initials.clear();
    EXPECT_EQ(code(writing->add(without)), ErrorCode::value_missing);
    EXPECT_EQ(code(writing->add(decision(DecisionKind::mark_moved, SubjectKind::point, "P1"))),
              ErrorCode::value_missing);
    EXPECT_EQ(code(writing->add(decision(DecisionKind::set_aside, SubjectKind::sight, "x"))),
              ErrorCode::value_missing);
    EXPECT_EQ(code(writing->add(decision(DecisionKind::accept, SubjectKind::sight, ""))),
              ErrorCode::value_missing);
    EXPECT_EQ(
        code(writing->add(decision(DecisionKind::set_aside, SubjectKind::sight, "x", FactId{}))),
        ErrorCode::fact_unknown);
    ASSERT_TRUE(writing->add(mark("H1", 1, 2, 3)));
    ASSERT_TRUE(writing->commit());
    EXPECT_FALSE(writing->commit());
    EXPECT_FALSE(writing->add(mark("H2", 1, 2, 3)));
    EXPECT_EQ(job.log()->size(), 2U);
    EXPECT_TRUE(job.verify()->sound());
}

TEST_F(JobFile, change_left_without_commit_never_was) {
    Job job = create("a.job");
    {
        auto writing = job.begin();
        ASSERT_TRUE(writing->add_document("m.csv", "marks", "", bytes_of("m")));
        ASSERT_TRUE(writing->add(mark("H1", 1, 2, 3)));
    }
    EXPECT_EQ(job.log()->size(), 1U);
    EXPECT_TRUE(job.all<Document>()->empty());
    ASSERT_TRUE(job.add(mark("H2", 1, 2, 3)));
    EXPECT_TRUE(job.verify()->sound());
}

TEST_F(JobFile, empty_change_leaves_nothing_behind) {
    { create("a.job"); }
    ASSERT_TRUE(open("a.job").begin()->commit());
    std::filesystem::copy(folder / "a.job", folder / "b.job");
    Job copy = open("b.job");
    ASSERT_TRUE(copy.begin()->commit());
    EXPECT_EQ(copy.summary()->writers.size(), 1U);
    EXPECT_TRUE(copy.verify()->sound());
}

TEST_F(JobFile, chain_goes_on_over_opening_again_and_a_copy_begins_its_own) {
    { create("a.job"); }
    { ASSERT_TRUE(open("a.job").add(mark("H1", 1, 2, 3))); }
    EXPECT_EQ(open("a.job", Mode::read).summary()->writers.size(), 1U);
    std::filesystem::copy(folder / "a.job", folder / "b.job");
    Job copy = open("b.job");
    ASSERT_TRUE(copy.add(mark("H2", 1, 2, 3)));
    const auto summary = copy.summary();
    ASSERT_EQ(summary->writers.size(), 2U);
    EXPECT_EQ(summary->writers[1].after, summary->writers[0].id);
    EXPECT_EQ(summary->writers[0].facts, 2);
    EXPECT_EQ(summary->writers[1].facts, 1);
    EXPECT_TRUE(copy.verify()->sound());
}

TEST_F(JobFile, copy_for_another_crew_is_whole_and_never_replaces) {
    Job job = create("a.job");
    fill(job);
    ASSERT_TRUE(job.copy_to(folder / "b.job"));
    EXPECT_EQ(facts_in("b.job"), facts_in("a.job"));
    EXPECT_TRUE(open("b.job").verify()->sound());
    EXPECT_EQ(job.copy_to(folder / "b.job").refusal().code, ErrorCode::job_exists);
}

TEST_F(JobFile, clock_that_goes_back_a_lot_still_verifies) {
    Job job = create("a.job");
    clock.time_ms -= 400LL * 86'400'000;
    ASSERT_TRUE(job.add(mark("H1", 1, 2, 3)));
    ASSERT_TRUE(job.add(mark("H2", 1, 2, 3)));
    EXPECT_EQ(job.all<frame::Mark>()->size(), 2U);
    EXPECT_TRUE(job.verify()->sound());
}

}  // namespace
}  // namespace layproof::job

#include "job_support.hpp"

namespace layproof::job {
namespace {

class Merging : public JobTest {
protected:
    /// Two crews' files of one job: b is a copy of a, then both go on.
    void two_crews() {
        Job a = create("a.job");
        const auto sheet = a.add_document("marks.csv", "marks", "", bytes_of("both have it"));
        common = {sheet->digest, "A"};
        ASSERT_TRUE(a.add(mark("H1", 1, 2, 3), common));
        ASSERT_TRUE(a.copy_to(folder / "b.job"));
        ASSERT_TRUE(a.add(mark("H2", 4, 5, 6)));
        Job b = open("b.job");
        ASSERT_TRUE(b.add(mark("H3", 7, 8, 9)));
        ASSERT_TRUE(b.add_document("b.csv", "sights", "", bytes_of("only b")));
    }
    void copy(const std::string& from, const std::string& to) {
        std::filesystem::copy_file(folder / from, folder / to,
                                   std::filesystem::copy_options::overwrite_existing);
    }
    MergeReport merge(const std::string& into, const std::string& from) {
        Job job = open(into);
        auto report = job.merge_from(folder / from);
        if (!report) throw std::runtime_error(report.refusal().to_text());
        const auto verified = job.verify();
        EXPECT_TRUE(verified->sound()) << findings_text(*verified);
        return *report;
    }
    /// Three crews, random facts, random merges: in the end the same facts everywhere.
    void random_merges(int rounds, std::uint64_t seed) {
        Random random(seed);
        for (int round = 0; round < rounds; ++round) {
            const std::string tag = std::to_string(round);
            std::vector<std::string> names;
            std::optional<JobId> job_id;
            for (int crew = 0; crew < 3; ++crew) {
                names.push_back("crew" + tag + std::to_string(crew) + ".job");
                job_id = create(names.back(), job_id).id();
            }
            std::set<std::string> all;
            for (int step = 0; step < 12; ++step) {
                const auto into = static_cast<std::size_t>(random.below(3));
                const auto from = static_cast<std::size_t>(random.below(3));
                if (step % 3 == 2) {
                    ASSERT_TRUE(open(names[into]).merge_from(folder / names[from]));
                } else {
                    Job job = open(names[into]);
                    const auto sheet = job.add_document("m.csv", "marks", "", bytes_of("m"));
                    ASSERT_TRUE(
                        job.add(mark("H" + std::to_string(random.below(4)), random.below(2), 0, 0),
                                random.below(2) == 0 ? Source{} : Source{sheet->digest, "A"}));
                }
            }
            for (const auto& name : names) {
                const auto facts = facts_in(name);
                all.insert(facts.begin(), facts.end());
            }
            for (int turn = 0; turn < 2; ++turn) {
                for (const auto& into : names) {
                    for (const auto& from : names) {
                        ASSERT_TRUE(open(into).merge_from(folder / from));
                    }
                }
            }
            for (const auto& name : names) {
                EXPECT_EQ(facts_in(name), all);
                EXPECT_TRUE(open(name).verify()->sound());
            }
        }
    }

    Source common;
};

TEST_F(Merging, union_holds_all_facts_of_both_and_both_chains_verify) {
    two_crews();
    const auto before_b = facts_in("b.job");
    const std::string b_bytes = file_bytes(folder / "b.job");
    std::set<std::string> all = facts_in("a.job");
    all.insert(before_b.begin(), before_b.end());
    const MergeReport report = merge("a.job", "b.job");
    EXPECT_EQ(report.facts_new, 2);
    EXPECT_EQ(report.facts_known, 3);
    EXPECT_EQ(report.facts_same, 0);
    EXPECT_EQ(report.writers_new, 1);
    EXPECT_TRUE(report.conflicts.empty());
    EXPECT_EQ(facts_in("a.job"), all);
    EXPECT_EQ(file_bytes(folder / "b.job"), b_bytes);
    Job job = open("a.job", Mode::read);
    EXPECT_EQ(job.current<frame::Mark>()->size(), 3U);
    EXPECT_EQ(job.summary()->heads.size(), 2U);
    const auto documents = job.all<Document>();
    for (const auto& document : *documents) {
        EXPECT_EQ(static_cast<std::int64_t>(job.document_bytes(document.value.digest)->size()),
                  document.value.size_bytes);
    }
}

TEST_F(Merging, merging_again_changes_nothing) {
    two_crews();
    merge("a.job", "b.job");
    const auto facts = facts_in("a.job");
    const MergeReport again = merge("a.job", "b.job");
    EXPECT_EQ(again.facts_new, 0);
    EXPECT_EQ(again.facts_known, 5);
    EXPECT_EQ(facts_in("a.job"), facts);
    const MergeReport self = merge("a.job", "a.job");
    EXPECT_EQ(self.facts_new, 0);
    EXPECT_EQ(self.facts_known, 6);
    EXPECT_EQ(facts_in("a.job"), facts);
}

TEST_F(Merging, order_of_merging_does_not_matter) {
    two_crews();
    copy("a.job", "a2.job");
    copy("b.job", "b2.job");
    merge("a.job", "b.job");
    merge("b2.job", "a2.job");
    EXPECT_EQ(facts_in("a.job"), facts_in("b2.job"));
    Job left = open("a.job", Mode::read);
    Job right = open("b2.job", Mode::read);
    const auto l = *left.current<frame::Mark>();
    const auto r = *right.current<frame::Mark>();
    ASSERT_EQ(l.size(), r.size());
    for (std::size_t i = 0; i < l.size(); ++i) EXPECT_EQ(l[i].id, r[i].id);
}

TEST_F(Merging, both_go_on_writing_after_a_merge_and_merge_again) {
    two_crews();
    merge("a.job", "b.job");
    merge("b.job", "a.job");
    ASSERT_TRUE(open("a.job").add(mark("H5", 1, 1, 1)));
    ASSERT_TRUE(open("b.job").add(mark("H6", 1, 1, 1)));
    merge("a.job", "b.job");
    merge("b.job", "a.job");
    EXPECT_EQ(facts_in("a.job"), facts_in("b.job"));
    EXPECT_EQ(open("a.job").summary()->writers.size(), 2U);
    EXPECT_TRUE(open("a.job").conflicts()->empty());
}

TEST_F(Merging, same_document_read_by_both_crews_is_shown_once) {
    Job a = create("a.job");
    create("b.job", a.id());
    std::vector<FactId> sights;
    for (const char* name : {"a.job", "b.job"}) {
        Job job = open(name);
        const auto sheet = job.add_document("marks.csv", "marks", "", bytes_of("sheet"));
        const Source from{sheet->digest, ""};
        ASSERT_TRUE(job.add(mark("H1", 1, 2, 3), from));
        measure::Sight shot = sight("S1", "H1", 1.0);
        shot.place.line = 2;
        sights.push_back(job.add(shot, from)->id);
    }
    const MergeReport report = merge("a.job", "b.job");
    EXPECT_EQ(report.facts_new, 4);
    EXPECT_EQ(report.facts_same, 3);
    Job job = open("a.job");
    EXPECT_EQ(job.all<frame::Mark>()->size(), 1U);
    EXPECT_EQ(job.all<Document>()->size(), 1U);
    ASSERT_EQ(job.sights_of("S1")->size(), 1U);
    EXPECT_EQ((*job.sights_of("S1"))[0].id, sights[0]);
    EXPECT_EQ((*job.stations())[0].sights, 1);
    // Setting it aside by the other crew's id sets it aside.
    ASSERT_TRUE(job.add(decision(DecisionKind::set_aside, SubjectKind::sight, "", sights[1])));
    EXPECT_EQ(*job.set_aside(), sights);
    const auto summary = job.summary();
    for (const KindCount& kind : summary->kinds) {
        if (kind.kind == "mark") {
            EXPECT_EQ(kind.facts, 2);
            EXPECT_EQ(kind.different, 1);
        }
    }
}

TEST_F(Merging, conflicts_between_crews_are_listed_and_nothing_is_lost) {
    Job a = create("a.job");
    {
        Job b = create("b.job", a.id());
        ASSERT_TRUE(b.add(mark("H1", 1.01, 2, 3), {std::nullopt, "A"}));
        ASSERT_TRUE(b.add(point("P1", 5.02, 6)));
        station::Setup other = setup("S1");
        other.kind = station::SetupKind::occupied;
        other.mark = "H1";
        ASSERT_TRUE(b.add(other));
        ASSERT_TRUE(b.add(sight("S9", "H1", 1.0)));
        ASSERT_TRUE(b.add(setup("S2")));
    }
    ASSERT_TRUE(a.add(mark("H1", 1, 2, 3), {std::nullopt, "A"}));
    ASSERT_TRUE(a.add(point("P1", 5, 6)));
    ASSERT_TRUE(a.add(setup("S1")));
    ASSERT_TRUE(a.add(sight("S9", "H1", 2.0)));
    ASSERT_TRUE(a.add(setup("S2")));
    const auto report = a.merge_from(folder / "b.job");
    ASSERT_TRUE(report);
    std::vector<std::string> seen;
    for (const Conflict& conflict : report->conflicts) {
        seen.push_back(std::string(to_word(conflict.kind)) + " " + conflict.name);
        EXPECT_EQ(conflict.facts.size(), 2U);
    }
    EXPECT_EQ(seen, (std::vector<std::string>{"mark-coordinates H1", "point-coordinates P1",
                                              "setup-name S1", "station-name S9"}));
    EXPECT_EQ(a.all<frame::Mark>()->size(), 2U);
    EXPECT_EQ(a.all<station::Setup>()->size(), 4U);
}

TEST_F(Merging, file_moved_to_another_disk_is_the_same_crew) {
    {
        Job a = create("a.job");
        ASSERT_TRUE(a.add(sight("S1", "H1", 1.0)));
        ASSERT_TRUE(a.copy_to(folder / "moved.job"));
    }
    Job moved = open("moved.job");
    ASSERT_TRUE(moved.add(sight("S1", "H1", 1.1)));
    EXPECT_EQ(moved.summary()->writers.size(), 2U);
    EXPECT_TRUE(moved.conflicts()->empty());
    // The old file is written to after all: now they are two crews.
    ASSERT_TRUE(open("a.job").add(sight("S1", "H1", 1.2)));
    const auto report = moved.merge_from(folder / "a.job");
    ASSERT_EQ(report->conflicts.size(), 1U);
    EXPECT_EQ(report->conflicts[0].kind, ConflictKind::station_name);
}

// A copy put back in place keeps the file's identity, so that both write under one writer.
TEST_F(Merging, file_and_its_restored_copy_both_written_keep_both_branches) {
    { create("a.job"); }
    const std::string backup = file_bytes(folder / "a.job");
    ASSERT_TRUE(open("a.job").add(mark("H1", 1, 2, 3)));
    copy("a.job", "later.job");
    write_bytes(folder / "a.job", backup);
    ASSERT_TRUE(open("a.job").add(mark("H2", 1, 2, 3)));
    ASSERT_TRUE(open("a.job").add(mark("H3", 1, 2, 3)));
    copy("a.job", "other.job");
    const MergeReport report = merge("a.job", "later.job");
    EXPECT_EQ(report.facts_new, 1);
    EXPECT_EQ(report.writers_new, 0);
    ASSERT_EQ(report.conflicts.size(), 1U);
    EXPECT_EQ(report.conflicts[0].kind, ConflictKind::chain_branched);
    merge("later.job", "other.job");
    EXPECT_EQ(facts_in("later.job"), facts_in("a.job"));
    ASSERT_TRUE(open("a.job").add(mark("H4", 1, 2, 3)));
    EXPECT_EQ(open("a.job").current<frame::Mark>()->size(), 4U);
    EXPECT_TRUE(open("a.job").verify()->sound());
}

TEST_F(Merging, older_backup_takes_up_what_was_written_since_and_goes_on) {
    { create("a.job"); }
    const std::string backup = file_bytes(folder / "a.job");
    ASSERT_TRUE(open("a.job").add(mark("H1", 1, 2, 3)));
    copy("a.job", "later.job");
    write_bytes(folder / "a.job", backup);
    EXPECT_EQ(merge("a.job", "later.job").facts_new, 1);
    ASSERT_TRUE(open("a.job").add(mark("H2", 1, 2, 3)));
    Job job = open("a.job");
    EXPECT_TRUE(job.verify()->sound());
    EXPECT_TRUE(job.conflicts()->empty());
    EXPECT_EQ(job.summary()->writers.size(), 2U);
}

TEST_F(Merging, another_job_is_refused_unless_asked_for) {
    Job a = create("a.job");
    { ASSERT_TRUE(create("b.job").add(mark("H1", 1, 2, 3))); }
    const auto refused = a.merge_from(folder / "b.job");
    ASSERT_FALSE(refused);
    EXPECT_EQ(refused.refusal().code, ErrorCode::other_job);
    EXPECT_EQ(a.log()->size(), 1U);
    ASSERT_TRUE(a.merge_from(folder / "b.job", {.other_job = true}));
    EXPECT_EQ(a.log()->size(), 3U);
    EXPECT_TRUE(a.verify()->sound());
}

TEST_F(Merging, file_that_does_not_verify_is_refused_either_way) {
    two_crews();
    {
        RawDb raw(folder / "b.job");
        raw.guards_off();
        ASSERT_EQ(raw.run("UPDATE mark SET east_m = 7.001 WHERE name = 'H3'"), SQLITE_OK);
    }
    const auto facts = facts_in("a.job");
    EXPECT_EQ(open("a.job").merge_from(folder / "b.job").refusal().code, ErrorCode::job_changed);
    EXPECT_EQ(facts_in("a.job"), facts);
    EXPECT_EQ(open("b.job").merge_from(folder / "a.job").refusal().code, ErrorCode::job_changed);
}

TEST_F(Merging, random_merges_among_three_crews_end_in_one_set) {
    random_merges(1, 7);
}

TEST_F(Merging, slow_many_random_merges_among_three_crews_end_in_one_set) {
    random_merges(25, 8);
}

}  // namespace
}  // namespace layproof::job

#include "vet/vet.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <numeric>

#include "measure/length.hpp"
#include "support/reference.hpp"
#include "vet_jobs.hpp"

namespace layproof::vet {
namespace {

using station::Word;
using testing::draw_vet_job;
using testing::VetJob;

double total(const Vetting& v) {
    double sum = v.others;
    for (const Explanation& e : v.explanations) sum += e.probability;
    return sum;
}

const Member& first(const Vetting& v) {
    return v.explanations.front().members.front();
}

const MarkVerdict& mark(const Vetting& v, const std::string& name) {
    for (const MarkVerdict& m : v.marks)
        if (m.name == name) return m;
    ADD_FAILURE() << name;
    return v.marks.front();
}

const TrapView& view(const Vetting& v, Trap trap) {
    return v.traps[static_cast<std::size_t>(trap)];
}

network::MarkList square_list(const std::string& name) {
    network::MarkList list;
    list.name = name;
    const double places[5][3] = {{600100.0, 200050.0, 10.0},
                                 {600141.0, 200053.0, 10.5},
                                 {600138.0, 200091.0, 11.0},
                                 {600097.0, 200095.0, 10.2},
                                 {600118.0, 200070.0, 10.1}};
    for (int i = 0; i < 5; ++i) {
        frame::Mark m;
        m.name = std::string(1, static_cast<char>('A' + i));
        m.east_m = places[i][0];
        m.north_m = places[i][1];
        m.height_m = places[i][2];
        list.entries.push_back(m);
    }
    return list;
}

/// Every length between the marks, as the list has it.
void tape_all(network::Evidence& e) {
    const auto& marks = e.lists.front().entries;
    for (std::size_t i = 0; i < marks.size(); ++i)
        for (std::size_t k = i + 1; k < marks.size(); ++k) {
            network::Tape tape;
            tape.from = marks[i].name;
            tape.to = marks[k].name;
            tape.distance_m = std::hypot(*marks[i].east_m - *marks[k].east_m,
                                         *marks[i].north_m - *marks[k].north_m);
            e.tapes.push_back(tape);
        }
}

TEST(vet, probabilities_sum_to_one_whatever_is_planted) {
    int k = 0;
    for (const Trap trap : testing::planted_traps()) {
        const Vetting v = vet(draw_vet_job(static_cast<std::uint64_t>(40 + k++), trap).evidence);
        EXPECT_NEAR(total(v), 1.0, 1e-9) << to_word(trap);
        bool none = false;
        for (const Explanation& e : v.explanations)
            none = none || e.members.front().trap == Trap::nothing_wrong;
        EXPECT_TRUE(none);
        for (const MarkVerdict& m : v.marks) {
            EXPECT_GE(m.probability, 0.0);
            EXPECT_LE(m.probability, 1.0);
        }
    }
}

TEST(vet, tapes_that_fit_prove_every_mark_in_plan) {
    network::Evidence e;
    e.lists = {square_list("sheet")};
    tape_all(e);
    const Vetting v = vet(e);
    EXPECT_EQ(v.word, Word::proven);
    ASSERT_FALSE(v.marks.empty());
    for (const MarkVerdict& m : v.marks) {
        EXPECT_EQ(m.word, Word::proven) << m.name;
        EXPECT_TRUE(m.detectable_m);
    }
    EXPECT_EQ(first(v).trap, Trap::nothing_wrong);
    EXPECT_NEAR(v.global_test.statistic, 0.0, 1e-6);
}

TEST(vet, paper_alone_proves_no_mark) {
    network::Evidence e;
    e.lists = {square_list("sheet"), square_list("drawing")};
    const Vetting v = vet(e);
    EXPECT_EQ(v.word, Word::in_doubt);
    ASSERT_FALSE(v.marks.empty());
    for (const MarkVerdict& m : v.marks) {
        EXPECT_EQ(m.word, Word::in_doubt);
        EXPECT_FALSE(m.detectable_m);
    }
    EXPECT_EQ(view(v, Trap::mark_off).sighting, Sighting::unseen);
    EXPECT_EQ(view(v, Trap::turned).sighting, Sighting::seen);
    EXPECT_EQ(view(v, Trap::axes_exchanged).sighting, Sighting::seen);
    EXPECT_TRUE(view(v, Trap::axes_exchanged).hides_on_all);
}

TEST(vet, tapes_alone_cannot_tell_a_mirror_and_the_prior_stays) {
    network::Evidence e;
    e.lists = {square_list("sheet")};
    tape_all(e);
    const Vetting v = vet(e);
    const TrapView& axes = view(v, Trap::axes_exchanged);
    EXPECT_EQ(axes.sighting, Sighting::unseen);
    EXPECT_EQ(view(v, Trap::turned).sighting, Sighting::unseen);
    EXPECT_EQ(view(v, Trap::foot_kind).sighting, Sighting::unseen);
    EXPECT_EQ(view(v, Trap::wrong_unit).sighting, Sighting::seen);
    // Against "nothing wrong" its odds are those of the table.
    EXPECT_NEAR(axes.probability / view(v, Trap::nothing_wrong).probability,
                axes.prior / view(v, Trap::nothing_wrong).prior, 1e-6);
}

TEST(vet, mark_kicked_is_named_and_fails_while_the_rest_stands) {
    network::Evidence e;
    e.lists = {square_list("sheet"), square_list("drawing")};
    e.lists[0].entries[2].east_m = *e.lists[0].entries[2].east_m + 0.040;
    tape_all(e);  // the ground has C 40 mm east of both lists
    e.lists[0] = square_list("sheet");
    const Vetting v = vet(e);
    EXPECT_EQ(first(v).trap, Trap::mark_off);
    EXPECT_EQ(first(v).subjects, std::vector<std::string>{"C"});
    // The prior draws the estimate a little towards none.
    EXPECT_NEAR(*first(v).amount.east_m, 0.040, 0.002);
    EXPECT_EQ(mark(v, "C").word, Word::fails);
    EXPECT_EQ(mark(v, "A").word, Word::proven);
    EXPECT_EQ(v.word, Word::fails);
}

TEST(vet, foot_kinds_of_two_lists_are_told_by_the_shift_of_large_coordinates) {
    // 2 ppm of 600 km is 1.2 m; source of both feet in measure/length.hpp.
    network::Evidence e;
    e.lists = {square_list("sheet"), square_list("drawing")};
    for (frame::Mark& m : e.lists[1].entries) {
        m.east_m = *m.east_m * (measure::kMetresPerUsFoot / measure::kMetresPerFoot);
        m.north_m = *m.north_m * (measure::kMetresPerUsFoot / measure::kMetresPerFoot);
    }
    const Vetting v = vet(e);
    EXPECT_EQ(first(v).trap, Trap::foot_kind);
    EXPECT_NEAR(v.differences.front().east_m, 600100.0 * 2e-6, 1e-4);
    EXPECT_EQ(v.word, Word::fails);
}

TEST(vet, two_traps_of_one_whole_list_are_named_together) {
    for (const bool mirrored : {false, true}) {
        network::Evidence e;
        e.lists = {square_list("sheet"), square_list("drawing")};
        tape_all(e);
        // The drawing in feet, read as metres, and its axes exchanged or its east turned round.
        for (frame::Mark& m : e.lists[1].entries) {
            const double east = *m.east_m / measure::kMetresPerFoot;
            const double north = *m.north_m / measure::kMetresPerFoot;
            m.east_m = mirrored ? -east : north;
            m.north_m = mirrored ? north : east;
        }
        const Vetting v = vet(e);
        ASSERT_TRUE(v.explanations.front().is_pair);
        ASSERT_EQ(v.explanations.front().members.size(), 2U);
        EXPECT_EQ(first(v).trap, mirrored ? Trap::mirrored : Trap::axes_exchanged);
        const Member& second = v.explanations.front().members[1];
        EXPECT_EQ(second.trap, Trap::wrong_unit);
        EXPECT_EQ(second.list, "drawing");
        ASSERT_TRUE(second.amount.ratio);
        EXPECT_NEAR(*second.amount.ratio, 1.0 / measure::kMetresPerFoot, 1e-12);
        // The rest is the same with a mark off on top: five tapes a mark do not rule it out.
        EXPECT_GT(v.explanations.front().probability, 0.8);
        EXPECT_NEAR(total(v), 1.0, 1e-9);
        EXPECT_EQ(v.word, Word::fails);
        // Read as it was meant the drawing agrees: the marks are judged with it.
        for (const MarkVerdict& m : v.marks) EXPECT_NE(m.word, Word::fails) << m.name;
    }
}

TEST(vet, doubled_names_are_an_answer_with_both_places_weighed) {
    network::Evidence e;
    e.lists = {square_list("sheet")};
    tape_all(e);
    frame::Mark twin = e.lists[0].entries[1];
    twin.east_m = *twin.east_m + 0.3;
    e.lists[0].entries.insert(e.lists[0].entries.begin(), twin);
    const Vetting v = vet(e);
    EXPECT_EQ(v.doubled_names, std::vector<std::string>{"B"});
    EXPECT_EQ(first(v).trap, Trap::duplicate_name);
    EXPECT_EQ(first(v).subjects.front(), "B (number 2)");  // the one the tapes fit
    EXPECT_NE(v.word, Word::proven);
}

TEST(vet, two_epochs_of_a_published_network_name_the_moved_mark) {
    // Nine marks at two epochs, K9 moved by 0.25 m (tests/reference/PROVENANCE.md).
    const testing::Reference reference("control-check-two-epochs");
    network::Evidence e;
    e.lists.resize(2);
    e.lists[0].name = "first epoch";
    e.lists[1].name = "second epoch";
    for (const auto& node : *reference.input()["marks"]["rows"].as_array()) {
        const auto& row = *node.as_array();
        for (std::size_t l = 0; l < 2; ++l) {
            frame::Mark m;
            m.name = row[0].value<std::string>().value_or("");
            m.east_m = row[1 + 3 * l].value<double>();
            m.north_m = row[2 + 3 * l].value<double>();
            m.height_m = row[3 + 3 * l].value<double>();
            e.lists[l].entries.push_back(m);
        }
    }
    ASSERT_EQ(e.lists[0].entries.size(), 9U);
    const Vetting v = vet(e);
    EXPECT_EQ(first(v).trap, Trap::entry_wrong);
    EXPECT_EQ(first(v).subjects, std::vector<std::string>{"K9"});
    EXPECT_NEAR(std::abs(*first(v).amount.east_m), 0.2516, 0.002);
}

TEST(vet, order_of_tapes_marks_and_unit_of_place_change_nothing) {
    const VetJob job = draw_vet_job(77, Trap::mark_off);
    const Vetting a = vet(job.evidence);
    network::Evidence other = job.evidence;
    std::reverse(other.tapes.begin(), other.tapes.end());
    for (network::MarkList& list : other.lists)
        for (frame::Mark& m : list.entries) {
            m.east_m = *m.east_m + 1000.0;
            m.north_m = *m.north_m - 500.0;
        }
    const Vetting b = vet(other);
    ASSERT_EQ(a.marks.size(), b.marks.size());
    // Foot kinds feel the shift (2 ppm of 1 km); at 1e-4 that is not seen.
    for (std::size_t i = 0; i < a.marks.size(); ++i)
        EXPECT_NEAR(a.marks[i].probability, b.marks[i].probability, 1e-4);
}

TEST(vet, empty_and_hopeless_evidence_gives_answers_without_nan) {
    EXPECT_TRUE(vet({}).marks.empty());
    network::Evidence e;
    e.lists = {square_list("sheet")};
    e.lists[0].entries.resize(1);
    e.tapes.push_back({"A", "Q", 10.0, 0.003, false, {}});
    const Vetting v = vet(e);
    ASSERT_EQ(v.marks.size(), 1U);
    EXPECT_TRUE(std::isfinite(v.marks[0].probability));
    EXPECT_FALSE(v.notices.empty());
    EXPECT_NEAR(total(v), 1.0, 1e-9);
    e.lists[0].entries[0].east_m.reset();
    e.lists[0].entries[0].north_m.reset();
    const Vetting height = vet(e);
    ASSERT_EQ(height.marks.size(), 1U);
    EXPECT_FALSE(height.marks[0].probability_plan);
    EXPECT_EQ(height.marks[0].word, Word::in_doubt);
}

}  // namespace
}  // namespace layproof::vet

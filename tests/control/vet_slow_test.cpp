// Traps planted in invented jobs. The same study over 1,000 jobs and over 1,000 healthy ones:
// docs/studies/vet.md; LAYPROOF_VET_JOBS=1000 with this program repeats it.

#include <gtest/gtest.h>

#include <cstdlib>
#include <map>

#include "vet_study.hpp"

namespace layproof::testing {
namespace {

using control::Trap;

int jobs_wanted(int otherwise) {
    const char* text = std::getenv("LAYPROOF_VET_JOBS");
    return text == nullptr ? otherwise : std::atoi(text);
}

TEST(vet_slow, planted_traps_are_named_where_they_show_and_healthy_jobs_left_alone) {
    const int jobs = jobs_wanted(240);
    const auto& traps = planted_traps();
    struct Row {
        int shown = 0, named = 0, shared = 0, held = 0, faint = 0;
    };
    std::map<std::string, Row> rows;
    int shown = 0, named = 0, shared = 0, held = 0;
    for (int i = 0; i < jobs; ++i) {
        const Vetted v = vet_one(static_cast<std::uint64_t>(100000 + i),
                                 traps[static_cast<std::size_t>(i) % traps.size()]);
        if (v.job.truth == Trap::nothing_wrong) continue;
        Row& row = rows[std::string(to_word(v.job.truth))];
        if (v.showing == Showing::detectable) {
            ++row.shown;
            row.named += v.is_named ? 1 : 0;
        } else if (v.showing == Showing::shared) {
            ++row.shared;
            row.held += v.is_named ? 1 : 0;
        } else {
            ++row.faint;
        }
    }
    for (const auto& [word, row] : rows) {
        shown += row.shown;
        named += row.named;
        shared += row.shared;
        held += row.held;
        std::printf("%-20s shows %3d named %3d | shared %3d held %3d | faint %3d\n", word.c_str(),
                    row.shown, row.named, row.shared, row.held, row.faint);
    }
    ASSERT_GT(shown, jobs / 3);
    EXPECT_GE(named, 0.98 * shown);
    EXPECT_GE(held, 0.90 * shared);
}

TEST(vet_slow, healthy_jobs_are_not_accused) {
    const int jobs = jobs_wanted(300);
    int accused = 0, fails = 0, proven = 0, marks = 0;
    for (int i = 0; i < jobs; ++i) {
        const auto v = control::vet(
            draw_vet_job(static_cast<std::uint64_t>(500000 + i), Trap::nothing_wrong).evidence);
        accused += v.explanations.front().members.front().trap != Trap::nothing_wrong ? 1 : 0;
        fails += v.word == station::Word::fails ? 1 : 0;
        for (const auto& m : v.marks) {
            ++marks;
            proven += m.word == station::Word::proven ? 1 : 0;
        }
    }
    std::printf("healthy %d: accused %d, fail %d, marks proven %d of %d\n", jobs, accused, fails,
                proven, marks);
    // The target is 1 in 100; four standard errors of a rate of 0.01 on top for few jobs.
    EXPECT_LE(accused, jobs * (0.01 + 4.0 * std::sqrt(0.01 * 0.99 / jobs)));
    EXPECT_EQ(fails, 0);
}

}  // namespace
}  // namespace layproof::testing

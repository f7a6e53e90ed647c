// Traps planted in invented jobs. The same study over 1,000 jobs and over 1,000 healthy ones:
// docs/studies/vet.md; LAYPROOF_VET_JOBS=1000 with this program repeats it.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <map>

#include "vet_study.hpp"

namespace layproof::testing {
namespace {

using vet::Trap;

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
        const auto v = vet::vet(
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

/// Predicted probability against what was so, in bins; jobs are the independent units.
struct Calibration {
    static constexpr double kEdges[] = {0.0, 0.05, 0.5, 0.8, 0.95, 0.99, 1.0001};
    double predicted[6] = {}, so[6] = {};
    int count[6] = {};
    double sum = 0.0, squares = 0.0;
    int jobs = 0;

    double job_sum = 0.0;
    void add(double probability, bool is_so) {
        int bin = 0;
        while (bin < 5 && probability >= kEdges[bin + 1]) ++bin;
        predicted[bin] += probability;
        so[bin] += is_so ? 1.0 : 0.0;
        ++count[bin];
        job_sum += probability - (is_so ? 1.0 : 0.0);
    }
    void end_job() {
        sum += job_sum;
        squares += job_sum * job_sum;
        job_sum = 0.0;
        ++jobs;
    }
    double mean() const { return sum / jobs; }
    double mean_sd() const { return std::sqrt((squares / jobs - mean() * mean()) / jobs); }
    void print(const char* what) const {
        for (int b = 0; b < 6; ++b)
            if (count[b] > 0)
                std::printf("%s %.2f to %.2f: %5d, predicted %.3f, so %.3f\n", what, kEdges[b],
                            std::min(kEdges[b + 1], 1.0), count[b], predicted[b] / count[b],
                            so[b] / count[b]);
    }
};

TEST(vet_slow, probabilities_of_jobs_drawn_from_the_table_are_calibrated) {
    const int jobs = jobs_wanted(300);
    Random random(31);
    Calibration first, within;
    const vet::VetOptions options;
    for (int i = 0; i < jobs; ++i) {
        const VetJob job = draw_vet_job(static_cast<std::uint64_t>(900000 + i), draw_trap(random));
        const auto v = vet::vet(job.evidence, options);
        // One of the planted traps and nothing else was drawn: the probabilities given that.
        double total = 0.0, best = 0.0;
        bool named = false;
        for (const vet::Explanation& e : v.explanations) {
            if (e.is_pair) continue;
            double here = 0.0;
            bool holds = false;
            for (const vet::Member& m : e.members) {
                const auto& can = planted_traps();
                if (std::find(can.begin(), can.end(), m.trap) == can.end()) continue;
                here += m.probability;
                holds = holds || holds_truth(m.trap, m.subjects, job);
            }
            total += here;
            if (here > best) {
                best = here;
                named = holds;
            }
        }
        if (total > 0.0) first.add(best / total, named);
        first.end_job();
        const bool heights = std::any_of(v.marks.begin(), v.marks.end(),
                                         [](const auto& m) { return m.measured_height > 0; });
        for (const auto& m : v.marks) {
            const auto at = static_cast<std::size_t>(std::stoi(m.name.substr(1)) - 1);
            const Eigen::Vector3d& off = job.off_m[at];
            within.add(m.probability,
                       off.head<2>().norm() <= options.tolerance_plan_m &&
                           (!heights || std::abs(off.z()) <= options.tolerance_height_m));
        }
        within.end_job();
    }
    first.print("first entry");
    within.print("marks within");
    EXPECT_LE(std::abs(first.mean()), 4.0 * first.mean_sd());
    // Marks also count pairs and wrong measurements, which were not drawn: never too sure of
    // themselves, somewhat too careful here.
    EXPECT_LE(within.mean(), 4.0 * within.mean_sd());
}

}  // namespace
}  // namespace layproof::testing

// Two things wrong at once, drawn from the table: the search from a few first members against the
// search from all of them.

#include <gtest/gtest.h>

#include <cmath>
#include <cstdio>

#include "cause/planted.hpp"

namespace layproof::cause::testing {
namespace {

/// One cause of the table at a random subject, its amount drawn.
Plant draw_plant(Random& random, const CauseTable& table, const Site& site) {
    constexpr Cause kAmong[] = {Cause::mark_moved,           Cause::mark_height_changed,
                                Cause::rod_not_plumb,        Cause::rod_height_wrong,
                                Cause::prism_constant_wrong, Cause::tripod_disturbed};
    double total = 0.0;
    for (const Cause c : kAmong) total += table.of(c).frequency;
    double u = random.uniform() * total;
    Plant out;
    for (const Cause c : kAmong) {
        out.cause = c;
        u -= table.of(c).frequency;
        if (u < 0.0) break;
    }
    const int marks = static_cast<int>(site.marks.size());
    out.mark = random.below(marks);
    out.sight = 1 + random.below(marks * site.rounds - 1);
    const auto& sizes = table.of(out.cause).sizes;
    const CauseSize size =
        sizes[static_cast<std::size_t>(random.below(static_cast<int>(sizes.size())))];
    out.amount << size.length_m * random.normal(), size.length_m * random.normal(),
        size.angle_rad * random.normal();
    return out;
}

TEST(Pairs, few_first_members_find_what_all_of_them_find) {
    const CauseTable table = shipped_table();
    Random random(77);
    DiagnoseOptions all;
    all.pair_seeds = 100000;
    int runs = 0;
    int same = 0;
    double worst = 0.0;
    double mass = 0.0;
    double all_mass = 0.0;
    for (int run = 0; run < 150; ++run) {
        Site site = run % 2 == 0 ? around() : one_sided();
        site.rounds = 1 + run % 4 / 2;
        const auto input =
            book(site, {draw_plant(random, table, site), draw_plant(random, table, site)}, &random);
        const Answer few = answer(input, table);
        const Diagnosis full = diagnose(few.setup, few.solution, table, {}, all);
        expect_sound(full);
        EXPECT_NEAR(full.pairs_left_out, 0.0, 1e-9);
        const auto pairs = [](const Diagnosis& d) {
            double out = 0.0;
            for (const Entry& entry : d.entries) out += entry.is_pair ? entry.probability : 0.0;
            return out;
        };
        ++runs;
        const Entry& a = few.diagnosis.entries.front();
        const Entry& b = full.entries.front();
        bool alike = a.is_pair == b.is_pair && a.members.size() == b.members.size();
        for (std::size_t i = 0; alike && i < a.members.size(); ++i)
            alike = a.members[i].cause == b.members[i].cause &&
                    a.members[i].subjects == b.members[i].subjects;
        same += alike ? 1 : 0;
        worst = std::max(worst, std::abs(a.probability - b.probability));
        mass += pairs(few.diagnosis);
        all_mass += pairs(full);
    }
    std::printf("same top entry %d of %d, probabilities differ by at most %.4f, pairs found %.3f\n",
                same, runs, worst, mass / all_mass);
    EXPECT_GE(same, runs * 98 / 100);
    EXPECT_GT(mass / all_mass, 0.97);
}

}  // namespace
}  // namespace layproof::cause::testing

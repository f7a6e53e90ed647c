#include "network/level_loops.hpp"

#include <gtest/gtest.h>

#include <Eigen/Dense>
#include <cmath>
#include <map>
#include <set>

#include "base/random.hpp"
#include "support/reference.hpp"

namespace layproof::network {
namespace {

std::vector<LevelLink> published_links(const std::string& id, double unit_m, double length_unit_m) {
    const testing::Reference reference(id);
    const auto& observations = *reference.input()["observations"].as_table();
    const bool has_length = length_unit_m > 0.0;
    std::vector<LevelLink> out;
    for (const auto& node : *observations["rows"].as_array()) {
        const auto& row = *node.as_array();
        LevelLink link;
        link.from = *row[0].value<std::string>();
        link.to = *row[1].value<std::string>();
        link.rise_m = *row[2].value<double>() * unit_m;
        const double last = *row[3].value<double>();
        if (has_length) link.length_m = last * length_unit_m;
        link.sd_m = has_length ? 0.0007 * std::sqrt(*link.length_m / 1000.0) : last;
        out.push_back(std::move(link));
    }
    return out;
}

// Closures of the published nets, by hand from their printed differences.
TEST(level_loops, closures_of_a_published_net_of_six_differences) {
    const auto links = published_links("level-net-weighted", 1.0, 0.0);
    const auto loops = level_loops(links);
    // 6 − 4 + 1, the printed redundancy.
    ASSERT_EQ(loops.size(), 3U);
    std::map<std::set<std::string>, double> closures;
    for (const LevelClosure& loop : loops)
        closures[{loop.points.begin(), loop.points.end()}] = std::abs(loop.closure_m);
    // Of the four triangles the three with the smallest sums of printed variances.
    ASSERT_EQ(closures.size(), 3U);
    EXPECT_NEAR((closures[{"2", "3", "4"}]), std::abs(5.3600 - 8.5230 + 3.1670), 1e-9);
    EXPECT_NEAR((closures[{"1", "2", "4"}]), std::abs(10.5090 - 3.1670 - 7.3480), 1e-9);
    EXPECT_NEAR((closures[{"1", "3", "4"}]), std::abs(15.8810 - 8.5230 - 7.3480), 1e-9);
    EXPECT_EQ(closures.size(), 3U);
}

TEST(level_loops, closures_of_a_published_net_with_blunders_show_them) {
    auto links = published_links("level-net-two-blunders", 0.001, 0.0);
    for (LevelLink& link : links) link.sd_m = 0.001 / std::sqrt(link.sd_m);  // weights in mm⁻²
    const auto loops = level_loops(links);
    ASSERT_EQ(loops.size(), links.size() - 5 + 1);
    int off = 0;
    for (const LevelClosure& loop : loops) {
        bool holds = false;
        for (const auto& member : loop.members)
            holds = holds || member.link == 0 || member.link == 6;
        if (!holds) {
            EXPECT_LT(std::abs(loop.closure_m), 4.0 * loop.sd_m);
        }
        if (std::abs(loop.closure_m) > 0.08) {
            EXPECT_TRUE(holds);
            ++off;
        }
    }
    EXPECT_GE(off, 2);
}

TEST(level_loops, closures_of_a_published_net_weighted_by_length) {
    const auto loops = level_loops(published_links("level-net-data-snooping", 1.0, 1000.0));
    ASSERT_EQ(loops.size(), 3U);
    std::map<std::set<std::string>, const LevelClosure*> found;
    for (const LevelClosure& loop : loops) found[{loop.points.begin(), loop.points.end()}] = &loop;
    // The triangles of 4.1 and 4.3 km, and one of the two of 4.4 km.
    const auto closure = [&](const std::set<std::string>& points) {
        const auto at = found.find(points);
        return at == found.end() ? std::nan("") : std::abs(at->second->closure_m);
    };
    EXPECT_NEAR(closure({"1", "3", "4"}), std::abs(-1.274 - 1.614 + 2.890), 1e-9);
    EXPECT_NEAR(closure({"2", "3", "4"}), std::abs(-0.530 - 1.614 + 2.141), 1e-9);
    const bool by_two = found.contains({"1", "2", "4"});
    EXPECT_NEAR(by_two ? closure({"1", "2", "4"}) : closure({"1", "2", "3"}),
                by_two ? std::abs(-0.749 - 2.141 + 2.890) : std::abs(-0.749 - 0.530 + 1.274), 1e-9);
    for (const LevelClosure& loop : loops)
        EXPECT_LT(std::abs(loop.closure_m), allowed_closure(loop).amount_m);
}

TEST(level_ties, published_datum_of_two_heights_is_tied_by_the_levels_between) {
    const auto links = published_links("level-net-correlated-datum", 1.0, 1.0);
    frame::Mark two, three;
    two.name = "2";
    two.height_m = 107.7541;
    three.name = "3";
    three.height_m = 103.4535;
    const auto ties = level_ties(links, {two, three});
    ASSERT_EQ(ties.size(), 1U);
    EXPECT_EQ(ties[0].points, (std::vector<std::string>{"2", "8", "7", "3"}));
    EXPECT_NEAR(ties[0].closure_m, 5.1280 + 2.8240 - 12.2540 - (103.4535 - 107.7541), 1e-9);
    EXPECT_NEAR(*ties[0].length_m, 2000.0, 1e-9);
    const auto loops = level_loops(links);
    ASSERT_EQ(loops.size(), 1U);
    EXPECT_NEAR(loops[0].closure_m, 2.1830 + 10.0710 - 12.2540, 1e-9);
}

TEST(level_loops, closure_of_a_published_run_between_two_bench_marks) {
    const double foot = 0.3048;
    const auto links = published_links("level-net-two-benchmarks", foot, 1609.344);
    frame::Mark x, y;
    x.name = "X";
    x.height_m = 100.00 * foot;
    y.name = "Y";
    y.height_m = 107.50 * foot;
    x.sd_height_m = y.sd_height_m = 0.0;
    const auto ties = level_ties(links, {x, y});
    ASSERT_EQ(ties.size(), 1U);
    // The shorter way, Y-C-X (5 miles): −1.25 − 6.13 against −7.50.
    EXPECT_EQ(ties[0].points, (std::vector<std::string>{"X", "C", "Y"}));
    EXPECT_NEAR(ties[0].closure_m / foot, 6.13 + 1.25 - 7.50, 1e-9);
    EXPECT_NEAR(*ties[0].length_m / 1609.344, 5.0, 1e-9);
    // 7 links, 5 points.
    EXPECT_EQ(level_loops(links).size(), 3U);
}

std::vector<LevelLink> random_net(std::uint64_t seed, int points, int links, double noise) {
    Random random(seed);
    std::vector<double> height;
    for (int p = 0; p < points; ++p) height.push_back(20.0 * random.uniform());
    std::vector<LevelLink> out;
    for (int k = 0; k < links; ++k) {
        const auto a = static_cast<std::size_t>(random.uniform() * points);
        const auto b = static_cast<std::size_t>(random.uniform() * points);
        LevelLink link;
        link.from = "M" + std::to_string(a);
        link.to = "M" + std::to_string(b);
        link.sd_m = 0.001 * (0.5 + random.uniform());
        link.rise_m = height[b] - height[a] + noise * link.sd_m * random.normal();
        out.push_back(std::move(link));
    }
    return out;
}

/// Rank and number of loops; each is closed; together they span all.
TEST(level_loops, are_as_many_as_there_are_and_independent) {
    for (std::uint64_t seed = 0; seed < 60; ++seed) {
        const auto links =
            random_net(seed, 3 + static_cast<int>(seed % 9), 2 + static_cast<int>(seed % 25), 1.0);
        const auto loops = level_loops(links);
        std::map<std::string, int> number;
        for (const LevelLink& link : links)
            for (const std::string& name : {link.from, link.to})
                number.emplace(name, static_cast<int>(number.size()));
        Eigen::MatrixXd incidence =
            Eigen::MatrixXd::Zero(static_cast<int>(number.size()), static_cast<int>(links.size()));
        for (std::size_t k = 0; k < links.size(); ++k) {
            incidence(number[links[k].to], static_cast<int>(k)) += 1.0;
            incidence(number[links[k].from], static_cast<int>(k)) -= 1.0;
        }
        const auto rank = incidence.colPivHouseholderQr().rank();
        ASSERT_EQ(static_cast<Eigen::Index>(loops.size()),
                  static_cast<Eigen::Index>(links.size()) - rank)
            << "seed " << seed;
        if (loops.empty()) continue;
        Eigen::MatrixXd of_links =
            Eigen::MatrixXd::Zero(static_cast<int>(links.size()), static_cast<int>(loops.size()));
        for (std::size_t l = 0; l < loops.size(); ++l)
            for (const auto& member : loops[l].members)
                of_links(static_cast<int>(member.link), static_cast<int>(l)) +=
                    member.is_forward ? 1.0 : -1.0;
        EXPECT_LT((incidence * of_links).cwiseAbs().maxCoeff(), 1e-12);
        EXPECT_EQ(of_links.colPivHouseholderQr().rank(), static_cast<Eigen::Index>(loops.size()));
    }
}

TEST(level_loops, without_errors_all_close_and_closures_sum) {
    for (std::uint64_t seed = 0; seed < 30; ++seed) {
        for (const LevelClosure& loop : level_loops(random_net(seed, 8, 20, 0.0)))
            EXPECT_NEAR(loop.closure_m, 0.0, 1e-12);
        // A planted error is in exactly those loops that its link is in.
        auto links = random_net(seed, 8, 20, 0.0);
        links[3].rise_m += 0.25;
        for (const LevelClosure& loop : level_loops(links)) {
            double expected = 0.0;
            for (const auto& member : loop.members)
                if (member.link == 3) expected += member.is_forward ? 0.25 : -0.25;
            EXPECT_NEAR(loop.closure_m, expected, 1e-12);
        }
    }
}

/// No independent set is shorter: against all loops of small nets, found by trying all choices.
TEST(level_loops, are_the_shortest_there_are) {
    for (std::uint64_t seed = 0; seed < 40; ++seed) {
        const auto links = random_net(700 + seed, 5, 9, 1.0);
        const auto loops = level_loops(links);
        double found = 0.0;
        for (const LevelClosure& loop : loops) found += loop.sd_m * loop.sd_m;
        // Every set of links in which each point is touched an even number of times, lightest
        // first, as long as it is not a sum of those before: that is a lightest basis.
        std::vector<std::pair<double, unsigned>> even;
        for (unsigned bits = 1; bits < (1U << links.size()); ++bits) {
            std::map<std::string, int> touched;
            double weight = 0.0;
            for (std::size_t k = 0; k < links.size(); ++k) {
                if ((bits >> k & 1U) == 0) continue;
                ++touched[links[k].from];
                ++touched[links[k].to];
                weight += links[k].sd_m * links[k].sd_m;
            }
            bool closed = true;
            for (const auto& [name, times] : touched) closed = closed && times % 2 == 0;
            if (closed) even.emplace_back(weight, bits);
        }
        std::sort(even.begin(), even.end());
        std::vector<unsigned> held;
        double lightest = 0.0;
        for (const auto& [weight, bits] : even) {
            unsigned rest = bits;
            for (const unsigned row : held) rest = std::min(rest, rest ^ row);
            if (rest == 0) continue;
            held.push_back(rest);
            std::sort(held.rbegin(), held.rend());
            lightest += weight;
        }
        ASSERT_EQ(held.size(), loops.size()) << seed;
        EXPECT_NEAR(found, lightest, 1e-12) << seed;
    }
}

TEST(level_loops, there_and_back_and_a_run_on_itself_are_loops) {
    std::vector<LevelLink> links{{"A", "B", 1.002, 0.001, 400.0, 6, -1},
                                 {"B", "A", -1.000, 0.001, 420.0, 7, -1},
                                 {"C", "C", 0.003, 0.002, {}, 4, -1}};
    const auto loops = level_loops(links);
    ASSERT_EQ(loops.size(), 2U);
    EXPECT_NEAR(loops[0].closure_m, 0.003, 1e-12);
    EXPECT_EQ(loops[0].points, std::vector<std::string>{"C"});
    EXPECT_EQ(allowed_closure(loops[0]).amount_m, 0.010);
    EXPECT_NEAR(loops[1].closure_m, 0.002, 1e-12);
    EXPECT_NEAR(*loops[1].length_m, 820.0, 1e-12);
    EXPECT_EQ(*loops[1].turns, 13);
    EXPECT_NEAR(allowed_closure(loops[1]).amount_m, 0.012 * std::sqrt(0.82), 1e-12);
    links = {{"A", "B", 1.0, 0.003, {}, {}, -1}, {"B", "A", -1.01, 0.004, {}, 2, -1}};
    const auto plain = level_loops(links);
    EXPECT_NEAR(allowed_closure(plain.at(0)).amount_m, 0.015, 1e-12);
}

TEST(level_loops, what_a_run_closes_by_itself_is_taken_first) {
    // Run 0 goes round A, B, C, D and home; run 1 crosses from B to D and is 0.03 wrong.
    std::vector<LevelLink> links{{"A", "B", 1.0, 0.001, 100.0, 1, 0},
                                 {"B", "C", 1.0, 0.001, 100.0, 1, 0},
                                 {"C", "D", -1.0, 0.001, 100.0, 1, 0},
                                 {"D", "A", -1.001, 0.001, 100.0, 1, 0},
                                 {"B", "D", 0.03, 0.001, 100.0, 1, 1}};
    const auto loops = level_loops(links);
    ASSERT_EQ(loops.size(), 2U);
    EXPECT_EQ(loops[0].members.size(), 4U);
    EXPECT_NEAR(loops[0].closure_m, -0.001, 1e-12);
    EXPECT_EQ(loops[1].members.size(), 3U);
    EXPECT_GT(std::abs(loops[1].closure_m), 0.028);
    EXPECT_EQ(allowed_closure(loops[1]).amount_m, 0.012 * std::sqrt(0.3));
    // The rule by length is no use on short ways: never below 5 mm.
    links.resize(1);
    links.push_back({"B", "A", -1.0, 0.001, 20.0, 1, 0});
    links[0].length_m = 20.0;
    EXPECT_EQ(allowed_closure(level_loops(links).at(0)).amount_m, 0.005);
}

TEST(level_loops, large_nets_fall_back_on_one_tree_and_stay_independent) {
    const auto links = random_net(3, 60, 700, 1.0);
    const auto loops = level_loops(links);
    std::set<std::string> names;
    for (const LevelLink& link : links) names.insert({link.from, link.to});
    EXPECT_EQ(loops.size(), links.size() - names.size() + 1);
}

TEST(level_ties, marks_of_each_part_are_tied_and_unknown_heights_left_out) {
    std::vector<LevelLink> links{{"A", "P", 0.5, 0.001, {}, 1, -1},
                                 {"P", "B", 0.5, 0.001, {}, 1, -1},
                                 {"B", "C", 1.0, 0.001, {}, 1, -1},
                                 {"D", "E", 2.0, 0.001, {}, 1, -1}};
    std::vector<frame::Mark> marks;
    for (const auto& [name, height] :
         {std::pair{"A", 10.0}, {"B", 11.003}, {"C", 12.0}, {"D", 5.0}}) {
        frame::Mark mark;
        mark.name = name;
        mark.height_m = height;
        mark.sd_height_m = 0.002;
        marks.push_back(mark);
    }
    frame::Mark plan_only;
    plan_only.name = "P";
    plan_only.east_m = plan_only.north_m = 0.0;
    marks.push_back(plan_only);
    const auto ties = level_ties(links, marks);
    ASSERT_EQ(ties.size(), 2U);
    EXPECT_EQ(ties[0].points, (std::vector<std::string>{"B", "C"}));
    EXPECT_NEAR(ties[0].closure_m, 0.003, 1e-12);
    EXPECT_NEAR(ties[0].sd_m, std::sqrt(1e-6 + 8e-6), 1e-12);
    EXPECT_EQ(ties[1].points, (std::vector<std::string>{"A", "P", "B"}));
    EXPECT_NEAR(ties[1].closure_m, -0.003, 1e-12);
    EXPECT_TRUE(level_ties({}, marks).empty());
    EXPECT_TRUE(level_loops({}).empty());
}

}  // namespace
}  // namespace layproof::network

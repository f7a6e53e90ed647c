// Published networks as jobs: levels, tapes and sights given to adjust_network, the printed digits
// and a second solver beside it. Sources: tests/reference. More of them: site_network_test.cpp.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "adjust/tests.hpp"
#include "network/second_solver.hpp"
#include "network/site_network.hpp"
#include "support/reference.hpp"

namespace layproof::network {
namespace {

struct PublishedCells {
    const toml::array& cells;
    std::string text(std::size_t i) const { return cells[i].value<std::string>().value_or(""); }
    double number(std::size_t i) const { return cells[i].value<double>().value_or(0.0); }
};

std::vector<PublishedCells> published_rows(const testing::Reference& reference,
                                           const std::string& path) {
    std::vector<PublishedCells> out;
    const auto* list = reference.table().at_path("input." + path).as_array();
    if (list == nullptr) {
        ADD_FAILURE() << "no input." << path;
        return out;
    }
    for (const auto& row : *list) out.push_back({*row.as_array()});
    return out;
}

frame::Mark height_mark(const std::string& name, double height_m, double sd_m = 0.0) {
    frame::Mark out;
    out.name = name;
    out.height_m = height_m;
    out.sd_height_m = sd_m;
    return out;
}

frame::Mark held_plan_mark(const std::string& name, double east_m, double north_m) {
    frame::Mark out;
    out.name = name;
    out.east_m = east_m;
    out.north_m = north_m;
    out.sd_east_m = out.sd_north_m = 0.0;
    return out;
}

const NetworkPoint& named_point(const SiteNetwork& network, const std::string& name) {
    const int p = network.point_named(name);
    EXPECT_GE(p, 0) << name;
    return network.points[static_cast<std::size_t>(std::max(p, 0))];
}
double height_of(const SiteNetwork& network, const std::string& name) {
    return named_point(network, name).place_m.z();
}
double height_sd_of(const SiteNetwork& network, const std::string& name) {
    return std::sqrt(named_point(network, name).covariance(2, 2));
}

/// Solves and compares with the second solver.
SiteNetwork adjusted(const NetworkInput& input) {
    auto found = adjust_network(input);
    EXPECT_TRUE(found);
    if (!found) return {};
    EXPECT_TRUE(found->loose.empty());
    testing::SecondSolution(input, *found).expect_agrees();
    return std::move(found).value();
}

// A level net has no unit: its feet are given as metres.
TEST(published_network, level_net_between_two_bench_marks) {
    const testing::Reference reference("level-net-two-benchmarks");
    for (const bool weighted : {false, true}) {
        NetworkInput input;
        input.marks.push_back(height_mark("X", reference.number("bench_marks.X_ft")));
        input.marks.push_back(height_mark("Y", reference.number("bench_marks.Y_ft")));
        // Weights 12 / length in the book.
        for (const PublishedCells& row : published_rows(reference, "observations.rows"))
            input.levels.push_back({row.text(0),
                                    row.text(1),
                                    row.number(2),
                                    weighted ? std::sqrt(row.number(3) / 12.0) : 1.0,
                                    {}});
        const SiteNetwork found = adjusted(input);
        EXPECT_EQ(found.global_test.dof, 4);
        const std::string head = weighted ? "weighted." : "unweighted.";
        const double s0 = std::sqrt(found.global_test.variance_factor);
        reference.check(head + "s0", s0);
        for (const std::string name : {"A", "B", "C"}) {
            reference.check(head + name, height_of(found, name));
            reference.check(head + "sd_" + name, s0 * height_sd_of(found, name));
        }
        for (const NetworkLine& line : found.levels) {
            const LevelRise& level = input.levels[static_cast<std::size_t>(line.input)];
            reference.check(head + "v_" + level.from + level.to, line.residual_m);
        }
    }
}

// A sheet has one standard deviation per figure and no covariance between marks: the datum's is
// left out here. Its two heights are so much better than the levels of this example that the
// printed digits are the same; with the covariance: level_net.correlated_datum (adjust, both
// paths).
TEST(published_network, level_net_on_a_weighted_datum) {
    const testing::Reference reference("level-net-correlated-datum");
    NetworkInput input;
    const auto datum = published_rows(reference, "datum.rows");
    ASSERT_EQ(datum.size(), 2U);
    for (std::size_t i = 0; i < 2; ++i) {
        const auto variance = reference.table().at_path(
            "input.datum.covariance_m2[" + std::to_string(i) + "][" + std::to_string(i) + "]");
        input.marks.push_back(height_mark(datum[i].text(0), datum[i].number(1),
                                          std::sqrt(variance.value<double>().value_or(0.0))));
    }
    for (const PublishedCells& row : published_rows(reference, "observations.rows"))
        input.levels.push_back(
            {row.text(0), row.text(1), row.number(2), std::sqrt(row.number(3) / 1000.0), {}});
    const SiteNetwork found = adjusted(input);
    reference.check("dof", found.global_test.dof);
    const double s0 = std::sqrt(found.global_test.variance_factor);
    EXPECT_NEAR(s0, reference.expected("s0").value, 1e-6);
    for (const std::string name : {"2", "3", "6", "7", "8"}) {
        reference.check("H" + name, height_of(found, name));
        reference.check("sd_H" + name, 1000.0 * s0 * height_sd_of(found, name));
    }
    for (const NetworkLine& line : found.levels) {
        const LevelRise& level = input.levels[static_cast<std::size_t>(line.input)];
        reference.check("v_" + level.from + level.to, 1000.0 * line.residual_m);
    }
}

constexpr double kOneMillimetre = 1e-3;

/// In metres; observation i has the error errors_mm[i] taken out and its weight times weights[i].
NetworkInput blunder_levels(const testing::Reference& reference,
                            const std::map<int, double>& errors_mm = {},
                            const std::map<int, double>& weights = {}) {
    NetworkInput input;
    input.marks.push_back(height_mark("9", kOneMillimetre * reference.number("datum.height_mm")));
    int number = 0;
    for (const PublishedCells& row : published_rows(reference, "observations.rows")) {
        ++number;
        const double error = errors_mm.contains(number) ? errors_mm.at(number) : 0.0;
        const double weight = weights.contains(number) ? weights.at(number) : 1.0;
        input.levels.push_back({row.text(0),
                                row.text(1),
                                kOneMillimetre * (row.number(2) - error),
                                kOneMillimetre / std::sqrt(weight * row.number(3)),
                                {}});
    }
    return input;
}

/// The level with the largest standardised residual; −1 when the test of the whole passes.
int worst_level(const SiteNetwork& network) {
    if (network.global_test.passes) return -1;
    const auto worst =
        std::max_element(network.levels.begin(), network.levels.end(),
                         [](const NetworkLine& a, const NetworkLine& b) {
                             return std::abs(a.standardised) < std::abs(b.standardised);
                         });
    return worst->input;
}

TEST(published_network, both_blunders_of_a_level_net_are_named_and_sized) {
    const testing::Reference reference("level-net-two-blunders");
    const NetworkInput all = blunder_levels(reference);
    const SiteNetwork first = adjusted(all);
    reference.check("least_squares.vPv", first.global_test.statistic);
    for (const std::string name : {"6", "8", "10", "11"})
        reference.check("least_squares.H" + name, height_of(first, name) / kOneMillimetre);
    for (std::size_t i = 0; i < first.levels.size(); ++i) {
        const std::string number = std::to_string(i + 1);
        reference.check("least_squares.w_obs" + number, first.levels[i].standardised);
        reference.check("least_squares.redundancy_obs" + number, first.levels[i].redundancy);
    }

    // The worst leaves until the whole passes.
    NetworkInput left = all;
    std::vector<std::pair<std::string, std::string>> named;
    SiteNetwork network = first;
    for (int worst = worst_level(network); worst >= 0 && named.size() < 5;
         worst = worst_level(network)) {
        const auto at = left.levels.begin() + worst;
        named.emplace_back(at->from, at->to);
        left.levels.erase(at);
        network = adjusted(left);
    }
    // The source: observation 1 (6 to 8) +100 mm, observation 7 (9 to 10) −100 mm.
    using Pair = std::pair<std::string, std::string>;
    EXPECT_EQ(named, (std::vector<Pair>{{"9", "10"}, {"6", "8"}}));
    for (const auto& [number, error_mm] : {std::pair{0, 100.0}, std::pair{6, -100.0}}) {
        const LevelRise& level = all.levels[static_cast<std::size_t>(number)];
        const double found =
            level.rise_m - (height_of(network, level.to) - height_of(network, level.from));
        const int from = network.point_named(level.from);
        const int to = network.point_named(level.to);
        const double between =
            height_sd_of(network, level.from) * height_sd_of(network, level.from) +
            height_sd_of(network, level.to) * height_sd_of(network, level.to) -
            2.0 * network.covariance_between(from, to)(2, 2);
        EXPECT_NEAR(found, kOneMillimetre * error_mm,
                    3.0 * std::sqrt(between + level.sd_m * level.sd_m));
    }

    const SiteNetwork clean = adjusted(blunder_levels(reference, {{1, 100.0}, {7, -100.0}}));
    EXPECT_TRUE(clean.global_test.passes);
    for (const std::string name : {"6", "8", "10", "11"})
        reference.check("clean.H" + name, height_of(clean, name) / kOneMillimetre);
}

// The source's robust estimator: weights 1 up to 3.5·σ√r, beyond it falling with 1/|v|, r of the
// least-squares solution; here as weights of the levels, adjusted again until nothing changes.
TEST(published_network, robust_solution_of_the_level_net_with_two_blunders) {
    const testing::Reference reference("level-net-two-blunders");
    const NetworkInput all = blunder_levels(reference);
    const SiteNetwork plain = adjusted(all);
    std::map<int, double> weights;
    SiteNetwork network = plain;
    for (int round = 0; round < 200; ++round) {
        for (std::size_t i = 0; i < all.levels.size(); ++i) {
            constexpr double kHeld = 3.5;
            const double limit = kHeld * all.levels[i].sd_m * std::sqrt(plain.levels[i].redundancy);
            const double v = std::abs(network.levels[i].residual_m);
            weights[static_cast<int>(i) + 1] = v <= limit ? 1.0 : limit / v;
        }
        const auto next = adjust_network(blunder_levels(reference, {}, weights));
        ASSERT_TRUE(next);
        network = *next;
    }
    for (const std::string name : {"6", "8", "10", "11"})
        reference.check("robust.H" + name, height_of(network, name) / kOneMillimetre);
    reference.check("robust.weight_obs1", weights.at(1));
    reference.check("robust.weight_obs7", weights.at(7));
    EXPECT_EQ(std::count_if(weights.begin(), weights.end(),
                            [](const auto& one) { return one.second < 1.0; }),
              2);
}

measure::Instrument sharp_instrument(double angle_sd_rad, double distance_sd_m) {
    measure::Instrument out;
    out.angle_sd_rad = angle_sd_rad;
    out.distance_sd_m = distance_sd_m;
    out.distance_ppm = 0.0;
    out.bubble_rad = out.centring_m = out.height_tape_m = out.instrument_centring_m = 0.0;
    out.stated = true;
    return out;
}

station::StationInput setup_over(const std::string& name, const std::string& mark,
                                 const measure::Instrument& instrument) {
    station::StationInput out;
    out.setup.station = name;
    out.setup.kind = station::SetupKind::occupied;
    out.setup.mark = mark;
    out.instrument = instrument;
    return out;
}

measure::Sight direction_to(const std::string& setup, const std::string& target,
                            double direction_rad) {
    measure::Sight out;
    out.station = setup;
    out.target = target;
    out.direction_rad = measure::wrap_0_2pi(direction_rad);
    return out;
}

/// An angle with σ is a set-up of its own with two directions of σ/√2; distances are tapes.
class BlunderJob {
public:
    BlunderJob() {
        std::map<std::string, Eigen::Vector2d> start;
        for (const PublishedCells& row : published_rows(reference, "points.rows")) {
            start[row.text(0)] << row.number(1), row.number(2);
            if (row.text(3) == "control")
                input.marks.push_back(held_plan_mark(row.text(0), row.number(1), row.number(2)));
        }
        const double sigma =
            reference.number("angles.sigma_s") * measure::kRadPerArcsec / std::sqrt(2.0);
        for (const PublishedCells& row : published_rows(reference, "angles.rows")) {
            const std::string name = "angle " + std::to_string(static_cast<int>(row.number(0)));
            std::string from = row.text(1);
            std::string to = row.text(3);
            const auto azimuth = [&](const std::string& target) {
                const Eigen::Vector2d d = start[target] - start[row.text(2)];
                return std::atan2(d.x(), d.y());
            };
            // The smaller of the two angles is meant.
            if (measure::wrap_pi(azimuth(to) - azimuth(from)) < 0.0) std::swap(from, to);
            const double angle = (row.number(4) + row.number(5) / 60.0 + row.number(6) / 3600.0) *
                                 measure::kRadPerDeg;
            station::StationInput one = setup_over(name, row.text(2), sharp_instrument(sigma, 0.0));
            one.sights = {direction_to(name, from, 0.0), direction_to(name, to, angle)};
            input.setups.push_back(std::move(one));
        }
        for (const PublishedCells& row : published_rows(reference, "distances.rows")) {
            input.tapes.push_back({row.text(1),
                                   row.text(2),
                                   row.number(3),
                                   reference.number("distances.sigma_m"),
                                   false,
                                   {}});
            tape_ids.push_back(static_cast<int>(row.number(0)));
        }
    }

    struct Figures {
        double w = 0.0, redundancy = 0.0;
    };
    /// By the number of the observation.
    std::map<int, Figures> figures(const SiteNetwork& network) const {
        std::map<int, Figures> out;
        for (const NetworkSight& sight : network.sights) {
            const std::string& name =
                input.setups[static_cast<std::size_t>(sight.setup)].setup.station;
            Figures& one = out[std::stoi(name.substr(6))];
            one.redundancy += *sight.redundancy.direction;
            one.w = *sight.standardised.direction;  // of the second: the angle's
        }
        for (const NetworkLine& line : network.tapes)
            out[tape_ids[static_cast<std::size_t>(line.input)]] = {line.standardised,
                                                                   line.redundancy};
        return out;
    }

    void leave_out(int id) {
        std::erase_if(input.setups, [&](const station::StationInput& one) {
            return one.setup.station == "angle " + std::to_string(id);
        });
        const auto found = std::find(tape_ids.begin(), tape_ids.end(), id);
        if (found == tape_ids.end()) return;
        input.tapes.erase(input.tapes.begin() + (found - tape_ids.begin()));
        tape_ids.erase(found);
    }

    testing::Reference reference{"network-angles-distances-blunders"};
    NetworkInput input;
    std::vector<int> tape_ids;
};

// No results were printed; compared with the collection's own computation of the published data.
TEST(published_network, both_blunders_of_an_angle_and_distance_network_are_named) {
    BlunderJob job;
    const int expected[] = {9, 14, 12};
    for (int step = 1; step <= 3; ++step) {
        const SiteNetwork found = adjusted(job.input);
        const std::string head = "step_" + std::to_string(step) + ".";
        // Set-ups stand over their points within 1e-6 m, not exactly: 1e-9 of a sight here.
        job.reference.check(head + "vPv", found.global_test.statistic);
        for (const std::string name : {"P1", "P2"}) {
            job.reference.check(head + name + ".E", named_point(found, name).place_m.x());
            job.reference.check(head + name + ".N", named_point(found, name).place_m.y());
        }
        const auto figures = job.figures(found);
        const auto worst =
            std::max_element(figures.begin(), figures.end(), [](const auto& a, const auto& b) {
                return std::abs(a.second.w) < std::abs(b.second.w);
            });
        EXPECT_EQ(worst->first, expected[step - 1]);
        job.reference.check(head + "largest_w", worst->second.w);
        EXPECT_EQ(adjust::global_test(found.global_test.statistic, found.global_test.dof).passes,
                  step == 3);
        if (step == 1)
            for (const auto& [id, one] : figures) {
                job.reference.check("step_1.redundancy_" + std::to_string(id), one.redundancy);
                job.reference.check("step_1.w_" + std::to_string(id), one.w);
            }
        if (step < 3) {
            job.leave_out(worst->first);
            continue;
        }
        for (const std::string name : {"P1", "P2"}) {
            const Eigen::Matrix3d q = named_point(found, name).covariance;
            job.reference.check("final." + name + ".sd_E", std::sqrt(q(0, 0)));
            job.reference.check("final." + name + ".sd_N", std::sqrt(q(1, 1)));
        }
    }
}

// The compass rule is not a rule of thumb beside least squares but one choice of weights: errors of
// latitude and departure of one size, their variance in proportion to the length of the course
// (from memory). So a course of length L has the standard deviation k√L along and across, and each
// azimuth comes from a far mark due north, whose direction is as good as the course's. Compared are
// balanced courses and places with the printed digits, and with the rule itself to the second order
// of the corrections. Any other weights would give other figures.
TEST(published_network, balanced_traverse_is_least_squares_with_the_weights_of_the_compass_rule) {
    const testing::Reference reference("traverse-bowditch");
    constexpr double kFoot_m = 0.3048;
    constexpr double kPerRoot = 0.01;  // k: cancels out of the places
    constexpr double kFar_m = 1e6;
    const auto rows = published_rows(reference, "courses.rows");
    Eigen::Vector2d place(kFoot_m * reference.number("courses.start_E"),
                          kFoot_m * reference.number("courses.start_N"));
    NetworkInput input;
    input.marks.push_back(held_plan_mark("A", place.x(), place.y()));
    const Eigen::Vector2d far = place + Eigen::Vector2d(0.0, kFar_m);
    input.marks.push_back(held_plan_mark("far", far.x(), far.y()));
    double perimeter_m = 0.0;
    for (std::size_t i = 0; i < rows.size(); ++i) {
        const std::string from = rows[i].text(0);
        const std::string to = rows[(i + 1) % rows.size()].text(0);
        const double length = kFoot_m * rows[i].number(3);
        const double azimuth = (rows[i].number(1) + rows[i].number(2) / 60.0) * measure::kRadPerDeg;
        perimeter_m += length;
        station::StationInput one =
            setup_over("at " + from, from,
                       sharp_instrument(kPerRoot / std::sqrt(length) / std::sqrt(2.0),
                                        kPerRoot * std::sqrt(length)));
        // From the place before balancing: a closure of 0.3 m turns it by 3e-7.
        one.sights.push_back(direction_to("at " + from, "far",
                                          std::atan2(far.x() - place.x(), far.y() - place.y())));
        one.sights.push_back(direction_to("at " + from, to, azimuth));
        one.sights.back().horizontal_distance_m = length;
        input.setups.push_back(std::move(one));
        place += length * Eigen::Vector2d(std::sin(azimuth), std::cos(azimuth));
    }
    const SiteNetwork found = adjusted(input);
    EXPECT_EQ(found.global_test.dof, 2);
    reference.check("perimeter", perimeter_m / kFoot_m);
    // All the misclosure is in the statistic: closure² = vᵀQ⁻¹v · k² · perimeter.
    const double closure =
        kPerRoot * std::sqrt(found.global_test.statistic * perimeter_m) / kFoot_m;
    reference.check("closure", closure);
    EXPECT_NEAR(closure, reference.expected("closure").computed, 2e-4);
    constexpr double kSecondOrder_ft = 5e-4;
    const auto check = [&](const std::string& what, double actual_ft) {
        reference.check(what, actual_ft);
        EXPECT_NEAR(actual_ft, reference.expected(what).computed, kSecondOrder_ft) << what;
    };
    for (std::size_t i = 0; i < rows.size(); ++i) {
        const std::string from = rows[i].text(0);
        const Eigen::Vector3d begin = named_point(found, from).place_m / kFoot_m;
        const Eigen::Vector3d end =
            named_point(found, rows[(i + 1) % rows.size()].text(0)).place_m / kFoot_m;
        check(from + ".balanced_latitude", end.y() - begin.y());
        check(from + ".balanced_departure", end.x() - begin.x());
        check(from + ".corr_latitude",
              end.y() - begin.y() - reference.expected(from + ".latitude").computed);
        check(from + ".corr_departure",
              end.x() - begin.x() - reference.expected(from + ".departure").computed);
        check(from + ".end_N", end.y());
        check(from + ".end_E", end.x());
    }
}

}  // namespace
}  // namespace layproof::network

#pragma once
// Invented networks of any size, the same on every machine: a plane site, a building with slanted
// sights between its floors, and a job of many set-ups with floors over each other.

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <memory>
#include <numbers>
#include <utility>
#include <vector>

#include "adjust/sparse_problem.hpp"
#include "base/random.hpp"

namespace layproof::bench {

using adjust::Blockwise;
using adjust::ParameterId;
using adjust::SparseProblem;

struct PlaneSight {  // distance alone
    static constexpr int kRows = 1;
    static constexpr std::array<int, 2> kSizes{2, 2};
    double distance_m = 0.0;
    void evaluate(const double* const* x, double* v, double* j) const {
        const double de = x[1][0] - x[0][0];
        const double dn = x[1][1] - x[0][1];
        const double d = std::sqrt(de * de + dn * dn);
        v[0] = d - distance_m;
        if (j == nullptr) return;
        j[2] = de / d;
        j[3] = dn / d;
        j[0] = -j[2];
        j[1] = -j[3];
    }
};

inline double wrap(double angle_rad) {
    return angle_rad -
           2.0 * std::numbers::pi * std::nearbyint(angle_rad / (2.0 * std::numbers::pi));
}

struct PlaneTurn {  // one direction of a set
    static constexpr int kRows = 1;
    static constexpr std::array<int, 3> kSizes{2, 1, 2};
    double direction_rad = 0.0;
    void evaluate(const double* const* x, double* v, double* j) const {
        const double de = x[2][0] - x[0][0];
        const double dn = x[2][1] - x[0][1];
        v[0] = wrap(std::atan2(de, dn) - x[1][0] - direction_rad);
        if (j == nullptr) return;
        const double square = de * de + dn * dn;
        j[3] = dn / square;
        j[4] = -de / square;
        j[0] = -j[3];
        j[1] = -j[4];
        j[2] = -1.0;
    }
};

struct PolarSight {  // direction, zenith, slope distance
    static constexpr int kRows = 3;
    static constexpr std::array<int, 3> kSizes{3, 1, 3};
    double direction_rad = 0.0;
    double zenith_rad = 0.0;
    double distance_m = 0.0;
    void evaluate(const double* const* x, double* v, double* j) const {
        const double e = x[2][0] - x[0][0];
        const double n = x[2][1] - x[0][1];
        const double h = x[2][2] - x[0][2];
        const double plane_square = e * e + n * n;
        const double plane = std::sqrt(plane_square);
        const double square = plane_square + h * h;
        const double distance = std::sqrt(square);
        v[0] = wrap(std::atan2(e, n) - x[1][0] - direction_rad);
        v[1] = std::atan2(plane, h) - zenith_rad;
        v[2] = distance - distance_m;
        if (j == nullptr) return;
        const double g[9] = {n / plane_square,
                             -e / plane_square,
                             0.0,
                             e * h / (plane * square),
                             n * h / (plane * square),
                             -plane / square,
                             e / distance,
                             n / distance,
                             h / distance};
        for (int r = 0; r < 3; ++r) {
            for (int k = 0; k < 3; ++k) {
                j[r * 7 + k] = -g[r * 3 + k];
                j[r * 7 + 4 + k] = g[r * 3 + k];
            }
            j[r * 7 + 3] = r == 0 ? -1.0 : 0.0;
        }
    }
};

struct Network {
    SparseProblem problem;
    std::vector<ParameterId> points;  ///< not the set-ups' orientations
    std::vector<double> start;
    std::int64_t observations = 0;  ///< numbers
    std::int64_t sights = 0;        ///< blocks
};

struct Batches {
    std::vector<PlaneSight> distances;
    std::vector<ParameterId> distance_ids;
    std::vector<PlaneTurn> turns;
    std::vector<ParameterId> turn_ids;
    std::vector<PolarSight> polar;
    std::vector<ParameterId> polar_ids;

    void add_to(Network& net) {
        const std::vector<double> distance_sds(distances.size(), 2e-3);
        const std::vector<double> turn_sds(turns.size(), 2e-5);
        std::vector<double> polar_sds;
        for (std::size_t i = 0; i < polar.size(); ++i)
            polar_sds.insert(polar_sds.end(), {2e-5, 2e-5, 2e-3});
        net.sights = static_cast<std::int64_t>(distances.size() + turns.size() + polar.size());
        net.observations = net.sights + 2 * static_cast<std::int64_t>(polar.size());
        const auto add = [&]<class Block>(std::vector<Block>& blocks,
                                          const std::vector<ParameterId>& ids,
                                          const std::vector<double>& sds) {
            if (blocks.empty()) return;
            net.problem.add_batch_with_sds(Blockwise<Block>::shape(),
                                           std::make_unique<Blockwise<Block>>(std::move(blocks)),
                                           ids, sds);
        };
        add(distances, distance_ids, distance_sds);
        add(turns, turn_ids, turn_sds);
        add(polar, polar_ids, polar_sds);
        net.start = net.problem.values();
    }
};

inline constexpr double kStartNoise_m = 0.03;

/// side × side points, 30 m apart, each fifth a set-up with a direction and a distance to its
/// twelve nearest; some distances more: five observations per point. Four corners are held.
inline Network plane_network(int side) {
    Random random(20);
    Network net;
    Batches batches;
    std::vector<std::array<double, 2>> truth;
    for (int i = 0; i < side; ++i) {
        for (int k = 0; k < side; ++k) {
            truth.push_back({30.0 * k + 6.0 * random.normal(), 30.0 * i + 6.0 * random.normal()});
            const bool corner = (i == 0 || i == side - 1) && (k == 0 || k == side - 1);
            const double noise = corner ? 0.0 : kStartNoise_m;
            const std::array<double, 2> start{truth.back()[0] + noise * random.normal(),
                                              truth.back()[1] + noise * random.normal()};
            net.points.push_back(net.problem.add_parameter(start));
            if (corner) net.problem.hold(net.points.back());
        }
    }
    const auto at = [side](int i, int k) { return static_cast<std::size_t>(i * side + k); };
    const auto measure = [&](std::size_t a, std::size_t b) {
        const double d = std::hypot(truth[b][0] - truth[a][0], truth[b][1] - truth[a][1]);
        batches.distances.push_back({d + 2e-3 * random.normal()});
        batches.distance_ids.insert(batches.distance_ids.end(), {net.points[a], net.points[b]});
    };
    const int near[12][2] = {{0, 1},  {1, 0},   {0, -1}, {-1, 0}, {1, 1},  {1, -1},
                             {-1, 1}, {-1, -1}, {0, 2},  {2, 0},  {0, -2}, {-2, 0}};
    for (int i = 0; i < side; ++i) {
        for (int k = 0; k < side; ++k) {
            if ((i + 2 * k) % 5 != 0) continue;
            const double turn = random.uniform(-3.0, 3.0);
            const ParameterId orientation =
                net.problem.add_parameter(std::array{turn + 1e-3 * random.normal()});
            for (const auto& step : near) {
                const int ti = i + step[0];
                const int tk = k + step[1];
                if (ti < 0 || tk < 0 || ti >= side || tk >= side) continue;
                const std::size_t a = at(i, k);
                const std::size_t b = at(ti, tk);
                const double azimuth =
                    std::atan2(truth[b][0] - truth[a][0], truth[b][1] - truth[a][1]);
                batches.turns.push_back({wrap(azimuth - turn + 2e-5 * random.normal())});
                batches.turn_ids.insert(batches.turn_ids.end(),
                                        {net.points[a], orientation, net.points[b]});
                measure(a, b);
            }
        }
    }
    const auto wanted = static_cast<std::size_t>(5 * side * side);
    for (int i = 0; batches.turns.size() + batches.distances.size() < wanted; ++i) {
        const int row = i / (side - 1) % side;
        const int column = i % (side - 1);
        measure(at(row, column), at(row, column + 1));
    }
    batches.add_to(net);
    return net;
}

/// Floors of side × side points, 6 m apart and 4 m high, each fifth point a set-up with eleven
/// polar sights: seven on its floor, two slanted to the floor above and two to the one below. Four
/// corners of the lowest floor are held. Along the walls every other point is a set-up.
inline Network building_network(int floors, int side) {
    Random random(21);
    Network net;
    Batches batches;
    std::vector<std::array<double, 3>> truth;
    for (int f = 0; f < floors; ++f) {
        for (int i = 0; i < side; ++i) {
            for (int k = 0; k < side; ++k) {
                truth.push_back({6.0 * k + random.normal(), 6.0 * i + random.normal(),
                                 4.0 * f + 0.3 * random.normal()});
                const bool corner =
                    f == 0 && (i == 0 || i == side - 1) && (k == 0 || k == side - 1);
                const double noise = corner ? 0.0 : kStartNoise_m;
                std::array<double, 3> start = truth.back();
                for (double& x : start) x += noise * random.normal();
                net.points.push_back(net.problem.add_parameter(start));
                if (corner) net.problem.hold(net.points.back());
            }
        }
    }
    const auto inside = [side](int i) { return i >= 0 && i < side; };
    const int near[12][2] = {{0, 1},  {1, 0},   {0, -1}, {-1, 0}, {1, 1},  {1, -1},
                             {-1, 1}, {-1, -1}, {0, 2},  {2, 0},  {0, -2}, {-2, 0}};
    for (int f = 0; f < floors; ++f) {
        for (int i = 0; i < side; ++i) {
            for (int k = 0; k < side; ++k) {
                // Along the walls every other point is a set-up too: some would be seen by none.
                const bool wall = i == 0 || k == 0 || i == side - 1 || k == side - 1;
                if ((i + 2 * k + f) % 5 != 0 && !(wall && (i + k) % 2 == 0)) continue;
                const double turn = random.uniform(-3.0, 3.0);
                const ParameterId orientation =
                    net.problem.add_parameter(std::array{turn + 1e-3 * random.normal()});
                const auto a = static_cast<std::size_t>((f * side + i) * side + k);
                const auto sight = [&](int tf, int ti, int tk) {
                    const auto b = static_cast<std::size_t>((tf * side + ti) * side + tk);
                    const double e = truth[b][0] - truth[a][0];
                    const double n = truth[b][1] - truth[a][1];
                    const double h = truth[b][2] - truth[a][2];
                    const double plane = std::hypot(e, n);
                    batches.polar.push_back({wrap(std::atan2(e, n) - turn + 2e-5 * random.normal()),
                                             std::atan2(plane, h) + 2e-5 * random.normal(),
                                             std::hypot(plane, h) + 2e-3 * random.normal()});
                    batches.polar_ids.insert(batches.polar_ids.end(),
                                             {net.points[a], orientation, net.points[b]});
                };
                // The four nearest, so that nearly every point is seen, and three of the others.
                int flat = 0;
                const int first = static_cast<int>(8.0 * random.uniform());
                for (int s = 0; s < 12 && flat < 7; ++s) {
                    const auto& step = near[s < 4 ? s : 4 + (first + s) % 8];
                    if (!inside(i + step[0]) || !inside(k + step[1])) continue;
                    sight(f, i + step[0], k + step[1]);
                    ++flat;
                }
                for (const int up : {1, -1}) {
                    if (f + up < 0 || f + up >= floors) continue;
                    for (int s = 0, done = 0; s < 40 && done < 2; ++s) {
                        const int ti = i + static_cast<int>(7.0 * random.uniform()) - 3;
                        const int tk = k + static_cast<int>(7.0 * random.uniform()) - 3;
                        if (!inside(ti) || !inside(tk) || (ti == i && tk == k)) continue;
                        sight(f + up, ti, tk);
                        ++done;
                    }
                }
            }
        }
    }
    batches.add_to(net);
    return net;
}

/// A job as it grows: set-ups of 500 polar sights each, floors over each other (about √(set-ups/5)
/// of them), each point seen ten times: nine in ten sights go to points of the own floor near the
/// set-up, the rest to the floors above and below. Eight points of the lowest floor are weighted (2
/// mm).
inline Network site_network(int setups, int sights_each = 500) {
    Random random(22);
    Network net;
    Batches batches;
    const int floors = std::max(1, static_cast<int>(std::lround(std::sqrt(setups / 5.0))));
    const int setups_floor = (setups + floors - 1) / floors;
    const int points_floor = std::max(60, setups_floor * sights_each / 10);
    // Points on a grid 3 m apart; a set-up sees those of a square window about it.
    const int side = static_cast<int>(std::ceil(std::sqrt(points_floor)));
    std::vector<std::array<double, 3>> truth;
    for (int f = 0; f < floors; ++f) {
        for (int p = 0; p < side * side; ++p) {
            truth.push_back({3.0 * (p % side) + 0.5 * random.normal(),
                             3.0 * (p / side) + 0.5 * random.normal(),
                             4.0 * f + 0.8 * random.normal()});
            std::array<double, 3> start = truth.back();
            for (double& x : start) x += kStartNoise_m * random.normal();
            net.points.push_back(net.problem.add_parameter(start));
        }
    }
    const int reach =
        std::max(3, static_cast<int>(std::ceil(0.5 * (std::sqrt(1.5 * sights_each) - 1.0))));
    struct SetUp {
        std::array<double, 3> place{};
        double turn = 0.0;
        ParameterId station;
        ParameterId orientation;
    };
    const auto sight = [&](const SetUp& from, std::size_t b) {
        const double e = truth[b][0] - from.place[0];
        const double n = truth[b][1] - from.place[1];
        const double h = truth[b][2] - from.place[2];
        const double plane = std::hypot(e, n);
        batches.polar.push_back({wrap(std::atan2(e, n) - from.turn + 2e-5 * random.normal()),
                                 std::atan2(plane, h) + 2e-5 * random.normal(),
                                 std::hypot(plane, h) + 2e-3 * random.normal()});
        batches.polar_ids.insert(batches.polar_ids.end(),
                                 {from.station, from.orientation, net.points[b]});
    };
    std::vector<char> seen(truth.size(), 0);
    int made = 0;
    for (int f = 0; f < floors; ++f) {
        std::vector<SetUp> own;
        for (int s = 0; s < setups_floor && made < setups; ++s, ++made) {
            // Spread evenly, row after row.
            const double root = std::ceil(std::sqrt(setups_floor));
            const double ci = (std::floor(s / root) + 0.5) / std::ceil(setups_floor / root) * side;
            const double ck = (std::fmod(s, root) + 0.5) / root * side;
            SetUp from;
            from.place = {3.0 * ck + 1.1, 3.0 * ci + 1.3, 4.0 * f + 1.6};
            std::array<double, 3> start = from.place;
            for (double& x : start) x += kStartNoise_m * random.normal();
            from.station = net.problem.add_parameter(start);
            net.points.push_back(from.station);
            from.turn = random.uniform(-3.0, 3.0);
            from.orientation =
                net.problem.add_parameter(std::array{from.turn + 1e-3 * random.normal()});
            for (int k = 0; k < sights_each; ++k) {
                int tf = f;
                if (k % 10 == 9 && floors > 1) {
                    tf = k % 20 == 9 ? f + 1 : f - 1;
                    if (tf < 0) tf = 1;
                    if (tf >= floors) tf = floors - 2;
                }
                const auto pick = [&](double centre) {
                    const int x =
                        static_cast<int>(centre + (2.0 * random.uniform() - 1.0) * (reach + 1));
                    return std::clamp(x, 0, side - 1);
                };
                const auto b =
                    static_cast<std::size_t>(tf * side * side + pick(ci) * side + pick(ck));
                seen[b] = 1;
                sight(from, b);
            }
            own.push_back(from);
        }
        // What chance has left out is seen from the nearest set-up.
        for (int p = 0; p < side * side && !own.empty(); ++p) {
            const auto b = static_cast<std::size_t>(f * side * side + p);
            if (seen[b]) continue;
            const auto away = [&](const SetUp& setup) {
                return std::hypot(setup.place[0] - truth[b][0], setup.place[1] - truth[b][1]);
            };
            sight(*std::min_element(
                      own.begin(), own.end(),
                      [&](const SetUp& x, const SetUp& y) { return away(x) < away(y); }),
                  b);
            seen[b] = 1;
        }
    }
    const Eigen::Matrix3d q = 4e-6 * Eigen::Matrix3d::Identity();
    for (int c = 0; c < 8; ++c) {
        const auto p = static_cast<std::size_t>(c * (side * side - 1) / 7);
        net.problem.observe_directly({static_cast<int>(p)}, truth[p], q);
    }
    batches.add_to(net);
    return net;
}

}  // namespace layproof::bench

#pragma once
// Jobs with marks that moved, and the best that anybody could name who knew how such jobs are made:
// every set of up to three marks with every gap and every size, by dense algebra on the observation
// equations. Shares with the product only the derivatives of a sight.

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <map>
#include <vector>

#include "network/movement.hpp"
#include "network/site_jobs.hpp"
#include "network/site_network_columns_internal.hpp"

namespace layproof::testing {

/// Sizes of the moves planted: standard deviation per axis over the smallest move of that mark in
/// that gap that a test with α 0.001 finds with 80 %.
inline constexpr double kPlantedSizes[] = {0.5, 2.0, 10.0};
inline constexpr double kBaardaNoncentrality = 17.0746;

struct MovementJob {
    network::SiteNetwork network;
    std::vector<int> moved;  ///< points of the network, ascending: the truth
    std::vector<int> best;   ///< named by the exact enumeration
    double best_probability = 0.0;
};

/// Suspect: mark, first set-up after the move (0: before all).
struct ExactSuspect {
    int point = 0;
    Eigen::MatrixXd column;  ///< whitened rows × 2
    double detectable_m = 0.0;
};

class ExactMovement {
public:
    explicit ExactMovement(const network::SiteNetwork& network) {
        network::internal::NetworkColumns c;
        if (!network::internal::linearise_network(network, c)) return;
        Eigen::Index rows = 0;
        std::vector<Eigen::Index> first;
        for (const auto& block : c.blocks) {
            first.push_back(rows);
            rows += block.misfit.size();
        }
        Eigen::MatrixXd a = Eigen::MatrixXd::Zero(rows, c.core_size);
        Eigen::VectorXd y(rows);
        for (std::size_t b = 0; b < c.blocks.size(); ++b) {
            const auto& block = c.blocks[b];
            y.segment(first[b], block.misfit.size()) = block.misfit;
            for (std::size_t k = 0; k < block.blocks.size(); ++k) {
                const int at = c.core_at[static_cast<std::size_t>(block.blocks[k].index)];
                const int next = k + 1 < block.blocks.size()
                                     ? block.first[k + 1]
                                     : static_cast<int>(block.jacobian.cols());
                a.block(first[b], at, block.misfit.size(), next - block.first[k]) =
                    block.jacobian.middleCols(block.first[k], next - block.first[k]);
            }
        }
        const Eigen::LLT<Eigen::MatrixXd> normal(a.transpose() * a);
        const auto reduced = [&](const Eigen::MatrixXd& b) -> Eigen::MatrixXd {
            return b - a * normal.solve(a.transpose() * b);
        };
        for (std::size_t p = 0; p < network.points.size(); ++p) {
            if (network.points[p].mark < 0) continue;
            std::vector<std::size_t> sights;
            for (std::size_t i = 0; i < network.sights.size(); ++i)
                if (network.sights[i].point == static_cast<int>(p)) sights.push_back(i);
            for (std::size_t k = 0; k < sights.size(); ++k) {
                ExactSuspect s;
                s.point = static_cast<int>(p);
                s.column = Eigen::MatrixXd::Zero(rows, 2);
                for (std::size_t i = k; i < sights.size(); ++i) {
                    const auto b = static_cast<std::size_t>(c.block_of_sight[sights[i]]);
                    s.column.middleRows(first[b], c.blocks[b].misfit.size()) =
                        c.blocks[b].jacobian.middleCols(c.blocks[b].first[1], 2);
                }
                const Eigen::MatrixXd m = reduced(s.column);
                const Eigen::Matrix2d g = s.column.transpose() * m;
                s.detectable_m = std::sqrt(kBaardaNoncentrality / (0.5 * g.trace()));
                setups.push_back(network.sights[sights[k]].setup);
                suspects.push_back(std::move(s));
            }
        }
        const auto n = static_cast<Eigen::Index>(suspects.size());
        Eigen::MatrixXd all(rows, 2 * n);
        for (Eigen::Index h = 0; h < n; ++h)
            all.middleCols(2 * h, 2) = suspects[static_cast<std::size_t>(h)].column;
        const Eigen::MatrixXd m = reduced(all);
        gram = all.transpose() * m;
        misfit = m.transpose() * y;
    }

    /// The likeliest set of marks, k = 1, 2, 3 being equally frequent, then marks, gaps, sizes.
    std::pair<std::vector<int>, double> best() const {
        std::map<std::vector<int>, double> weight;
        const int n = static_cast<int>(suspects.size());
        std::map<int, int> gaps;
        for (const ExactSuspect& s : suspects) ++gaps[s.point];
        const auto marks = static_cast<double>(gaps.size());
        const double sets[4] = {0.0, marks, marks * (marks - 1.0) / 2.0,
                                marks * (marks - 1.0) * (marks - 2.0) / 6.0};
        double most = -1e300;
        std::vector<std::pair<std::vector<int>, double>> found;
        const auto weigh = [&](std::vector<int> members) {
            double log = evidence(members) - std::log(3.0 * sets[members.size()]);
            std::vector<int> points;
            for (const int h : members) {
                const int p = suspects[static_cast<std::size_t>(h)].point;
                log -= std::log(static_cast<double>(gaps.at(p)));
                points.push_back(p);
            }
            std::sort(points.begin(), points.end());
            most = std::max(most, log);
            found.emplace_back(std::move(points), log);
        };
        const auto same = [&](int a, int b) {
            return suspects[static_cast<std::size_t>(a)].point ==
                   suspects[static_cast<std::size_t>(b)].point;
        };
        for (int a = 0; a < n; ++a) {
            weigh({a});
            for (int b = a + 1; b < n; ++b) {
                if (same(a, b)) continue;
                weigh({a, b});
                for (int c = b + 1; c < n; ++c)
                    if (!same(a, c) && !same(b, c)) weigh({a, b, c});
            }
        }
        double total = 0.0;
        for (const auto& [points, log] : found) {
            weight[points] += std::exp(log - most);
            total += std::exp(log - most);
        }
        std::pair<std::vector<int>, double> out;
        for (const auto& [points, w] : weight)
            if (w / total > out.second) out = {points, w / total};
        return out;
    }

    double evidence(const std::vector<int>& members) const {
        const int k = static_cast<int>(members.size());
        using Small = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, 0, 6, 6>;
        using Column = Eigen::Matrix<double, Eigen::Dynamic, 1, 0, 6, 1>;
        Small g(2 * k, 2 * k);
        Column h(2 * k);
        for (int i = 0; i < k; ++i) {
            h.segment<2>(2 * i) = misfit.segment<2>(2 * members[static_cast<std::size_t>(i)]);
            for (int j = 0; j < k; ++j)
                g.block<2, 2>(2 * i, 2 * j) =
                    gram.block<2, 2>(2 * members[static_cast<std::size_t>(i)],
                                     2 * members[static_cast<std::size_t>(j)]);
        }
        double sum = 0.0, most = -1e300;
        int combinations = 1;
        for (int i = 0; i < k; ++i) combinations *= 3;
        for (int code = 0; code < combinations; ++code) {
            Column sd(2 * k);
            int rest = code;
            for (int i = 0; i < k; ++i, rest /= 3)
                sd.segment<2>(2 * i).setConstant(
                    kPlantedSizes[rest % 3] *
                    suspects[static_cast<std::size_t>(members[static_cast<std::size_t>(i)])]
                        .detectable_m);
            Small m = sd.asDiagonal() * g * sd.asDiagonal();
            m.diagonal().array() += 1.0;
            const Eigen::LLT<Small> llt(m);
            const Column z = llt.matrixL().solve(sd.cwiseProduct(h).eval());
            double log = 0.5 * z.squaredNorm();
            for (int i = 0; i < 2 * k; ++i) log -= std::log(llt.matrixLLT()(i, i));
            if (log > most) {
                sum = sum * std::exp(most - log) + 1.0;
                most = log;
            } else {
                sum += std::exp(log - most);
            }
        }
        return most + std::log(sum / combinations);
    }

    std::vector<ExactSuspect> suspects;
    std::vector<int> setups;  ///< first set-up after each suspect's move
    Eigen::MatrixXd gram;
    Eigen::VectorXd misfit;
};

/// Six set-ups on two days, eight sights each; one to three of 6 to 20 marks moved.
inline MovementJob draw_movement_job(std::uint64_t seed) {
    Random random(seed * 7919 + 17);
    SiteJobOptions options;
    options.marks = 6 + random.below(15);
    options.setups = 6;
    options.sights_each = 8;
    // The same job without its moves tells what is detectable in it.
    auto still = network::adjust_network(draw_site_job(seed, options).input);
    const ExactMovement about(still.value());
    const int moved = 1 + random.below(3);
    MovementJob out;
    std::vector<int> marks;
    for (std::size_t p = 0; p < still->points.size(); ++p)
        if (still->points[p].mark >= 0 && still->points[p].sights > 0)
            marks.push_back(static_cast<int>(p));
    std::vector<std::string> names;
    for (int m = 0; m < moved; ++m) {
        const int pick = random.below(static_cast<int>(marks.size()));
        const int point = marks[static_cast<std::size_t>(pick)];
        marks.erase(marks.begin() + pick);
        std::vector<std::size_t> gaps;
        for (std::size_t h = 0; h < about.suspects.size(); ++h)
            if (about.suspects[h].point == point) gaps.push_back(h);
        const std::size_t gap =
            gaps[static_cast<std::size_t>(random.below(static_cast<int>(gaps.size())))];
        const double sd = kPlantedSizes[random.below(3)] * about.suspects[gap].detectable_m;
        options.moves.push_back({still->points[static_cast<std::size_t>(point)].mark,
                                 gap == gaps.front() ? 0 : about.setups[gap],
                                 Eigen::Vector3d(sd * random.normal(), sd * random.normal(), 0.0)});
        names.push_back(still->points[static_cast<std::size_t>(point)].name);
    }
    auto network = network::adjust_network(draw_site_job(seed, options).input);
    out.network = std::move(network).value();
    for (const std::string& name : names) out.moved.push_back(out.network.point_named(name));
    std::sort(out.moved.begin(), out.moved.end());
    std::tie(out.best, out.best_probability) = ExactMovement(out.network).best();
    return out;
}

/// The same kind of job with moves drawn as the causes table has them: each mark off its sheet or
/// moved later with the odds that the product takes, at most three.
inline MovementJob draw_table_job(std::uint64_t seed, const cause::CauseTable& table) {
    Random random(seed * 104729 + 3);
    SiteJobOptions options;
    options.setups = 6;
    options.sights_each = 8;
    options.marks = 6 + random.below(15);
    const auto& moved = table.of(cause::Cause::mark_moved);
    const double odds = moved.frequency / table.of(cause::Cause::nothing_wrong).frequency /
                        std::min(options.marks, options.sights_each);
    const SiteJob plain = draw_site_job(seed, options);
    for (;;) {
        options.moves.clear();
        for (int m = 0; m < options.marks; ++m) {
            std::vector<int> setups;
            for (int s = 0; s < options.setups; ++s)
                for (const int sighted : plain.sighted[static_cast<std::size_t>(s)])
                    if (sighted == m) setups.push_back(s);
            if (setups.empty()) continue;
            const double ways = setups.size() > 1 ? 2.0 : 1.0;
            const double u = random.uniform() * (1.0 + ways * odds);
            if (u >= ways * odds) continue;
            const bool before = u < odds;
            const int setup = before ? 0
                                     : setups[1 + static_cast<std::size_t>(random.below(
                                                      static_cast<int>(setups.size()) - 1))];
            const double sd = moved
                                  .sizes[static_cast<std::size_t>(
                                      random.below(static_cast<int>(moved.sizes.size())))]
                                  .length_m;
            options.moves.push_back(
                {m, setup, Eigen::Vector3d(sd * random.normal(), sd * random.normal(), 0.0)});
        }
        if (options.moves.size() <= 3) break;
    }
    MovementJob out;
    out.network = std::move(network::adjust_network(draw_site_job(seed, options).input)).value();
    for (const PlantedMove& move : options.moves)
        out.moved.push_back(out.network.point_named("H" + std::to_string(move.mark + 1)));
    std::sort(out.moved.begin(), out.moved.end());
    return out;
}

/// The likeliest set, the empty one among them.
inline std::pair<std::vector<int>, double> likeliest_set(const network::SiteNetwork& network,
                                                         const cause::CauseTable& table) {
    network::NetworkDiagnoseOptions options;
    options.only_movement = true;
    const auto sets = network::moved_sets(network::diagnose_network(network, table, options));
    return {sets.front().points, sets.front().probability};
}

/// The likeliest set that is not empty, with its probability among those.
inline std::pair<std::vector<int>, double> named_by_product(const network::SiteNetwork& network,
                                                            const cause::CauseTable& table) {
    network::NetworkDiagnoseOptions options;
    options.only_movement = true;
    const auto diagnosis = network::diagnose_network(network, table, options);
    double nothing = 0.0;
    const auto sets = network::moved_sets(diagnosis);
    for (const auto& set : sets)
        if (set.points.empty()) nothing = set.probability;
    for (const auto& set : sets)
        if (!set.points.empty())
            return {set.points, set.probability / std::max(1.0 - nothing, 1e-12)};
    return {};
}

}  // namespace layproof::testing

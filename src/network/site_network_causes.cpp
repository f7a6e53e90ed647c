#include "network/site_network_causes.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <numeric>
#include <set>
#include <utility>

#include "infer/mixture.hpp"
#include "network/site_network_columns_internal.hpp"

namespace layproof::network {
namespace {

using cause::Cause;
using Eigen::MatrixXd;
using Eigen::Vector3d;
using Eigen::VectorXd;
using infer::Candidate;
using infer::ChangeSet;
using internal::NetworkColumns;
using internal::SuspectRows;
using internal::WhiteBlock;

std::size_t index_at(int i) {
    return static_cast<std::size_t>(i);
}

/// Explanations below this do not move a point's probability in the figures shown.
constexpr double kBelievedFrom = 2e-4;

class NetworkDiagnosing {
public:
    NetworkDiagnosing(const SiteNetwork& network, const cause::CauseTable& table,
                      const NetworkDiagnoseOptions& options)
        : network_(network),
          table_(table),
          options_(options),
          columns_(std::make_shared<NetworkColumns>()) {}

    NetworkDiagnosis run() {
        if (!network_.is_solved || !internal::linearise_network(network_, *columns_))
            return std::move(out_);
        order_sights();
        suspect_marks();
        if (!options_.only_movement) {
            suspect_lines();
            suspect_sights();
            suspect_setups();
        }
        weigh();
        out_.is_usable = true;
        out_.columns = columns_;
        return std::move(out_);
    }

private:
    // --- who is suspected ---

    void order_sights() {
        sights_of_point_.resize(network_.points.size());
        sights_of_setup_.resize(network_.setups.size());
        bool all_timed = true;
        for (std::size_t i = 0; i < network_.sights.size(); ++i) {
            const NetworkSight& sight = network_.sights[i];
            if (columns_->block_of_sight[i] < 0) continue;
            all_timed = all_timed && sight.time_s.has_value();
            sights_of_point_[index_at(sight.point)].push_back(static_cast<int>(i));
            sights_of_setup_[index_at(sight.setup)].push_back(static_cast<int>(i));
        }
        if (!all_timed) return;
        for (auto* lists : {&sights_of_point_, &sights_of_setup_})
            for (std::vector<int>& list : *lists)
                std::stable_sort(list.begin(), list.end(), [&](int a, int b) {
                    return *network_.sights[index_at(a)].time_s <
                           *network_.sights[index_at(b)].time_s;
                });
    }

    const WhiteBlock& block_of(int sight) const {
        return columns_->blocks[index_at(columns_->block_of_sight[index_at(sight)])];
    }

    /// Whitened derivatives of a sight by its k-th parameter block; nothing when it has none.
    MatrixXd by_block(int sight, std::size_t k) const {
        const WhiteBlock& block = block_of(sight);
        if (k >= block.blocks.size()) return MatrixXd(block.jacobian.rows(), 0);
        const int size = k == 0 ? 3 : k == 1 ? 2 : 1;
        return block.jacobian.middleCols(block.first[k], size);
    }
    MatrixXd by_plan(int sight) const { return by_block(sight, 1); }
    MatrixXd by_height(int sight) const { return by_block(sight, 3); }
    /// Of the reading itself: 0 direction, 1 zenith, 2 distance.
    MatrixXd by_reading(int sight, int part, double amount = 1.0) const {
        const measure::ReducedSight& r = network_.sights[index_at(sight)].reduced;
        const std::array<bool, 3> present{r.has_direction, r.has_zenith, r.has_distance};
        const WhiteBlock& block = block_of(sight);
        if (!present[index_at(part)]) return MatrixXd(block.jacobian.rows(), 0);
        int row = 0;
        for (int i = 0; i < part; ++i) row += present[index_at(i)] ? 1 : 0;
        return amount * block.whitener.col(row);
    }

    void add(NetworkSuspect who, std::vector<SuspectRows> rows, double odds, int group,
             int columns) {
        if (rows.empty() || columns == 0 || !(odds > 0.0)) return;
        Candidate one;
        one.columns = columns;
        one.log_odds = std::log(odds);
        one.group = group;
        for (const cause::CauseSize& size : table_.of(who.cause).sizes) {
            VectorXd sd(columns);
            switch (cause::size_kind(who.cause)) {
                case cause::SizeKind::angle:
                    sd.setConstant(size.angle_rad);
                    break;
                case cause::SizeKind::ratio:
                    sd.setConstant(size.ratio);
                    break;
                case cause::SizeKind::length_and_angle:
                    sd.setConstant(size.length_m);
                    sd[2] = size.angle_rad;
                    break;
                case cause::SizeKind::length:
                case cause::SizeKind::none:
                    sd.setConstant(size.length_m);
                    break;
            }
            if (sd.minCoeff() > 0.0) one.sizes.push_back(std::move(sd));
        }
        if (one.sizes.empty()) return;
        if (who.cause == Cause::mark_moved || who.cause == Cause::mark_height_changed)
            doubt_table(one, who.cause == Cause::mark_moved ? 0 : 1);
        columns_->rows.push_back(std::move(rows));
        columns_->suspects.push_back(std::move(one));
        out_.suspects.push_back(who);
    }

    /// A site moves its marks as often as the table says only on average, and now and then by less.
    void doubt_table(Candidate& one, std::size_t kind) {
        one.kind = static_cast<int>(kind);
        move_odds_[kind][one.group] += std::exp(one.log_odds);
        const auto given = static_cast<double>(one.sizes.size());
        one.log_shares.assign(one.sizes.size(), std::log((1.0 - kSmallerShare) / given));
        const auto least =
            std::min_element(one.sizes.begin(), one.sizes.end(),
                             [](const VectorXd& a, const VectorXd& b) { return a[0] < b[0]; });
        one.sizes.push_back(*least / kSmallerBy);
        one.log_shares.push_back(std::log(kSmallerShare));
    }

    infer::SearchOptions search_options() const {
        infer::SearchOptions out = options_.search;
        for (const auto& odds_of_kind : move_odds_) {
            std::vector<double> odds;
            for (const auto& [group, o] : odds_of_kind) odds.push_back(o);
            out.rate_weights.push_back(
                infer::rate_weights(odds, kRateShape, std::max(out.most_at_once, 1)));
        }
        return out;
    }

    double odds_of(Cause cause, double subjects) const {
        const double nothing = std::max(table_.of(Cause::nothing_wrong).frequency, 1e-6);
        return table_.of(cause).frequency / nothing / std::max(subjects, 1.0);
    }

    /// Marks sighted per set-up, on average: what the chance per set-up is shared among.
    double marks_per_setup() const {
        std::set<std::pair<int, int>> pairs;
        std::set<int> setups;
        for (const NetworkSight& sight : network_.sights)
            if (sight.used && network_.points[index_at(sight.point)].mark >= 0) {
                pairs.insert({sight.setup, sight.point});
                setups.insert(sight.setup);
            }
        return setups.empty()
                   ? 1.0
                   : static_cast<double>(pairs.size()) / static_cast<double>(setups.size());
    }

    void suspect_marks() {
        const double shared = marks_per_setup();
        for (std::size_t p = 0; p < network_.points.size(); ++p) {
            const int plan_group = next_group_++;
            const int height_group = next_group_++;
            for (const bool height : {false, true}) {
                const Cause cause = height ? Cause::mark_height_changed : Cause::mark_moved;
                const int group = height ? height_group : plan_group;
                const double odds = odds_of(cause, shared);
                const int given =
                    height ? columns_->block_of_given_height[p] : columns_->block_of_given_plan[p];
                const int columns = height ? 1 : 2;
                if (given >= 0) {
                    NetworkSuspect who{cause, static_cast<int>(p)};
                    const auto& sights = sights_of_point_[p];
                    who.before_sight = sights.empty() ? -1 : sights.front();
                    // The mark as sighted is elsewhere than the one that the sheet is about.
                    const WhiteBlock& block = columns_->blocks[index_at(given)];
                    add(who, {{given, -block.whitener}}, odds, group, columns);
                }
                suspect_gaps(static_cast<int>(p), cause, odds, group);
            }
        }
    }

    void suspect_gaps(int point, Cause cause, double odds, int group) {
        const auto& sights = sights_of_point_[index_at(point)];
        const bool height = cause == Cause::mark_height_changed;
        std::vector<std::size_t> gaps;
        for (std::size_t k = 1; k < sights.size(); ++k) {
            const bool speaks = (height ? by_height(sights[k]) : by_plan(sights[k])).cols() > 0;
            if (speaks) gaps.push_back(k);
        }
        for (const std::size_t k : gaps) {
            NetworkSuspect who{cause, point};
            who.after_sight = sights[k - 1];
            who.before_sight = sights[k];
            std::vector<SuspectRows> rows;
            for (std::size_t i = k; i < sights.size(); ++i) {
                MatrixXd by = height ? by_height(sights[i]) : by_plan(sights[i]);
                if (by.cols() > 0)
                    rows.push_back({columns_->block_of_sight[index_at(sights[i])], std::move(by)});
            }
            add(who, std::move(rows), odds / static_cast<double>(gaps.size()), group,
                height ? 1 : 2);
        }
    }

    /// A sight that nothing else speaks about can be wrong without being seen.
    bool is_checked(int sight) const {
        return columns_->leaf_block[index_at(network_.sights[index_at(sight)].point)] < 0;
    }

    void suspect_sights() {
        for (std::size_t s = 0; s < sights_of_setup_.size(); ++s) {
            std::vector<int> checked;
            for (const int i : sights_of_setup_[s])
                if (is_checked(i)) checked.push_back(i);
            const auto shared = static_cast<double>(checked.size());
            for (const int i : checked) {
                const int plan_group = next_group_++;
                const int height_group = next_group_++;
                const int block = columns_->block_of_sight[index_at(i)];
                const auto suspect = [&](Cause cause, MatrixXd by, int group) {
                    NetworkSuspect who{cause, network_.sights[index_at(i)].point,
                                       static_cast<int>(s), i};
                    const auto columns = static_cast<int>(by.cols());
                    if (columns > 0)
                        add(who, {{block, std::move(by)}}, odds_of(cause, shared), group, columns);
                };
                suspect(Cause::rod_not_plumb, by_plan(i), plan_group);
                suspect(Cause::rod_height_wrong, by_height(i), height_group);
                suspect(Cause::gross_direction, by_reading(i, 0), plan_group);
                suspect(Cause::gross_zenith, by_reading(i, 1), height_group);
                suspect(Cause::gross_distance, by_reading(i, 2), plan_group);
            }
        }
    }

    void suspect_lines() {
        for (std::size_t i = 0; i < network_.levels.size(); ++i) {
            NetworkSuspect who{Cause::rod_height_wrong};
            who.level = static_cast<int>(i);
            suspect_line(network_.levels[i], columns_->block_of_level[i], who);
        }
        for (std::size_t i = 0; i < network_.tapes.size(); ++i) {
            NetworkSuspect who{Cause::gross_distance};
            who.tape = static_cast<int>(i);
            suspect_line(network_.tapes[i], columns_->block_of_tape[i], who);
        }
    }

    /// One that nothing else checks has no redundancy.
    void suspect_line(const NetworkLine& line, int block, const NetworkSuspect& who) {
        constexpr double kLeastRedundancy = 1e-3;
        if (block < 0 || line.redundancy < kLeastRedundancy) return;
        Candidate one;
        one.columns = 1;
        one.log_odds = std::log(kMisreadOdds);
        one.group = next_group_++;
        for (const double size : kMisreadSizes_m) one.sizes.push_back(VectorXd::Constant(1, size));
        columns_->rows.push_back({{block, columns_->blocks[index_at(block)].whitener}});
        columns_->suspects.push_back(std::move(one));
        out_.suspects.push_back(who);
    }

    void suspect_setups() {
        for (std::size_t s = 0; s < sights_of_setup_.size(); ++s) {
            const auto& sights = sights_of_setup_[s];
            std::vector<SuspectRows> rod, prism, scale, index;
            for (const int i : sights) {
                const int block = columns_->block_of_sight[index_at(i)];
                if (MatrixXd by = by_height(i); by.cols() > 0)
                    rod.push_back({block, std::move(by)});
                if (MatrixXd by = by_reading(i, 2); by.cols() > 0)
                    prism.push_back({block, std::move(by)});
                // In both faces the index is out of the mean.
                const double face = network_.sights[index_at(i)].reduced.face_balance;
                if (MatrixXd by = by_reading(i, 1, face); by.cols() > 0 && face != 0.0)
                    index.push_back({block, std::move(by)});
                if (MatrixXd by = by_reading(i, 2, network_.sights[index_at(i)].reduced.distance_m);
                    by.cols() > 0)
                    scale.push_back({block, std::move(by)});
            }
            const auto suspect = [&](Cause cause, std::vector<SuspectRows>&& rows) {
                NetworkSuspect who{cause};
                who.setup = static_cast<int>(s);
                add(who, std::move(rows), odds_of(cause, 1.0), next_group_++, 1);
            };
            suspect(Cause::rod_height_wrong_on_all, std::move(rod));
            suspect(Cause::prism_constant_wrong, std::move(prism));
            suspect(Cause::distance_scale_wrong, std::move(scale));
            suspect(Cause::vertical_index_wrong, std::move(index));
            suspect_tripod(static_cast<int>(s));
        }
    }

    void suspect_tripod(int setup) {
        const auto& sights = sights_of_setup_[index_at(setup)];
        std::vector<std::size_t> checked;
        for (std::size_t k = 0; k < sights.size(); ++k)
            if (is_checked(sights[k])) checked.push_back(k);
        if (checked.size() < 2) return;
        const int group = next_group_++;
        for (std::size_t c = 1; c < checked.size(); ++c) {
            NetworkSuspect who{Cause::tripod_disturbed};
            who.setup = setup;
            who.after_sight = sights[checked[c - 1]];
            who.before_sight = sights[checked[c]];
            std::vector<SuspectRows> rows;
            // What was laid between the two may have been before or after: taken as before.
            for (std::size_t k = checked[c]; k < sights.size(); ++k)
                rows.push_back(
                    {columns_->block_of_sight[index_at(sights[k])], by_block(sights[k], 0)});
            add(who, std::move(rows), odds_of(who.cause, static_cast<double>(checked.size() - 1)),
                group, 3);
        }
    }

    // --- weighing ---

    /// JᵀB of one suspect on the core, sparse: core position and row.
    struct CoreRows {
        std::vector<int> position;
        MatrixXd rows;  ///< position × columns
    };

    CoreRows core_rows(const std::vector<SuspectRows>& rows, int columns) const {
        std::map<int, Eigen::RowVectorXd> sum;
        for (const SuspectRows& one : rows) {
            const WhiteBlock& block = columns_->blocks[index_at(one.block)];
            const MatrixXd product = block.jacobian.transpose() * one.rows;
            for (std::size_t b = 0; b < block.blocks.size(); ++b) {
                const int core = columns_->core_at[index_at(block.blocks[b].index)];
                if (core < 0) continue;
                const int next = b + 1 < block.blocks.size()
                                     ? block.first[b + 1]
                                     : static_cast<int>(block.jacobian.cols());
                for (int k = block.first[b]; k < next; ++k) {
                    auto [found, is_new] = sum.try_emplace(core + k - block.first[b],
                                                           Eigen::RowVectorXd::Zero(columns));
                    found->second += product.row(k);
                }
            }
        }
        CoreRows out;
        out.rows.resize(static_cast<Eigen::Index>(sum.size()), columns);
        Eigen::Index row = 0;
        for (const auto& [position, values] : sum) {
            out.position.push_back(position);
            out.rows.row(row++) = values;
        }
        return out;
    }

    /// The rows of a suspect that touch leaf points are taken out: there the point takes it all.
    void drop_leaf_rows(std::vector<SuspectRows>& rows) const {
        std::erase_if(rows,
                      [&](const SuspectRows& one) { return is_leaf_[index_at(one.block)] != 0; });
    }

    void weigh() {
        is_leaf_.assign(columns_->blocks.size(), 0);
        for (const int block : columns_->leaf_block)
            if (block >= 0) is_leaf_[index_at(block)] = 1;
        const std::size_t n = columns_->suspects.size();
        std::vector<std::vector<SuspectRows>> seen = columns_->rows;
        std::vector<CoreRows> cores(n);
        std::vector<double> alone(n, -1e300), evidence(n, -1e300);
        const infer::SearchOptions search = search_options();
        for (std::size_t h = 0; h < n; ++h) {
            drop_leaf_rows(seen[h]);
            const int columns = columns_->suspects[h].columns;
            cores[h] = core_rows(seen[h], columns);
            MatrixXd gram = MatrixXd::Zero(columns, columns);
            VectorXd misfit = VectorXd::Zero(columns);
            for (const SuspectRows& one : seen[h]) {
                gram += one.rows.transpose() * one.rows;
                misfit += one.rows.transpose() * columns_->blocks[index_at(one.block)].misfit;
            }
            gram -= core_product(cores[h], cores[h]);
            gram = (0.5 * (gram + gram.transpose())).eval();
            Candidate single = columns_->suspects[h];
            single.first_column = 0;
            evidence[h] = infer::set_evidence(gram, misfit, {single}, {0});
            alone[h] = evidence[h] + single.log_odds;
            if (single.kind >= 0) alone[h] += search.rate_weights[index_at(single.kind)][1];
        }
        pick(alone, evidence);
        std::vector<Candidate> picked;
        int columns = 0;
        for (const int h : columns_->picked) {
            Candidate one = columns_->suspects[index_at(h)];
            one.first_column = columns;
            columns_->picked_first.push_back(columns);
            columns += one.columns;
            picked.push_back(std::move(one));
        }
        MatrixXd by_core = MatrixXd::Zero(columns_->core_size, columns);
        MatrixXd gram = MatrixXd::Zero(columns, columns);
        VectorXd misfit = VectorXd::Zero(columns);
        std::map<int, std::vector<std::pair<int, const SuspectRows*>>> of_block;
        for (std::size_t k = 0; k < columns_->picked.size(); ++k) {
            const auto h = index_at(columns_->picked[k]);
            for (std::size_t r = 0; r < cores[h].position.size(); ++r)
                by_core.row(cores[h].position[r])
                    .segment(picked[k].first_column, picked[k].columns) =
                    cores[h].rows.row(static_cast<Eigen::Index>(r));
            for (const SuspectRows& one : seen[h]) {
                misfit.segment(picked[k].first_column, picked[k].columns) +=
                    one.rows.transpose() * columns_->blocks[index_at(one.block)].misfit;
                of_block[one.block].push_back({picked[k].first_column, &one});
            }
        }
        for (const auto& [block, list] : of_block)
            for (const auto& [first, a] : list)
                for (const auto& [second, b] : list)
                    gram.block(first, second, a->rows.cols(), b->rows.cols()) +=
                        a->rows.transpose() * b->rows;
        columns_->step = columns_->core_covariance * by_core;
        gram -= by_core.transpose() * columns_->step;
        gram = (0.5 * (gram + gram.transpose())).eval();
        const infer::SearchResult found = infer::search_sets(gram, misfit, picked, search);
        out_.more_at_once = found.more_at_once;
        report(found.sets, gram, misfit, picked, alone);
    }

    MatrixXd core_product(const CoreRows& a, const CoreRows& b) const {
        MatrixXd q(static_cast<Eigen::Index>(a.position.size()),
                   static_cast<Eigen::Index>(b.position.size()));
        for (std::size_t i = 0; i < a.position.size(); ++i)
            for (std::size_t j = 0; j < b.position.size(); ++j)
                q(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j)) =
                    columns_->core_covariance(a.position[i], b.position[j]);
        return a.rows.transpose() * q * b.rows;
    }

    void pick(const std::vector<double>& alone, const std::vector<double>& evidence) {
        const std::size_t n = alone.size();
        const auto most = static_cast<std::size_t>(std::max(options_.most_in_sets, 1));
        std::vector<int> order(n);
        std::iota(order.begin(), order.end(), 0);
        std::set<int> chosen;
        if (n <= most) {
            chosen.insert(order.begin(), order.end());
        } else {
            const auto take = [&](const std::vector<double>& by, std::size_t count) {
                std::stable_sort(order.begin(), order.end(),
                                 [&](int a, int b) { return by[index_at(a)] > by[index_at(b)]; });
                for (std::size_t i = 0; i < n && count > 0; ++i)
                    if (chosen.insert(order[i]).second) --count;
            };
            take(alone, most - most / 3);
            take(evidence, most / 3);
        }
        columns_->picked.assign(chosen.begin(), chosen.end());
    }

    void report(const std::vector<ChangeSet>& sets, const MatrixXd& gram, const VectorXd& misfit,
                const std::vector<Candidate>& picked, const std::vector<double>& alone) {
        out_.probability.assign(out_.suspects.size(), 0.0);
        // Those weighed alone join the sum against nothing wrong.
        double log_nothing = 0.0;
        for (const ChangeSet& set : sets)
            if (set.members.empty()) log_nothing = std::log(std::max(set.probability, 1e-300));
        const std::set<int> in_sets(columns_->picked.begin(), columns_->picked.end());
        double rest = 0.0;
        for (std::size_t h = 0; h < alone.size(); ++h)
            if (!in_sets.contains(static_cast<int>(h))) rest += std::exp(alone[h] + log_nothing);
        const double total = 1.0 + rest;
        for (std::size_t h = 0; h < alone.size(); ++h)
            if (!in_sets.contains(static_cast<int>(h)))
                out_.probability[h] = std::exp(alone[h] + log_nothing) / total;
        for (const ChangeSet& set : sets) {
            NetworkExplanation one;
            one.probability = set.probability / total;
            one.log_evidence = set.log_evidence;
            for (const int m : set.members) {
                one.members.push_back(columns_->picked[index_at(m)]);
                out_.probability[index_at(columns_->picked[index_at(m)])] += one.probability;
            }
            if (set.members.empty()) out_.nothing_wrong = one.probability;
            if (one.probability >= kBelievedFrom && !set.members.empty()) {
                infer::SetAmounts amounts = infer::set_amounts(gram, misfit, picked, set.members);
                one.amount = std::move(amounts.mean);
                one.amount_covariance = std::move(amounts.covariance);
            }
            out_.explanations.push_back(std::move(one));
        }
        columns_->explanations = out_.explanations;
    }

    const SiteNetwork& network_;
    const cause::CauseTable& table_;
    const NetworkDiagnoseOptions& options_;
    std::shared_ptr<NetworkColumns> columns_;
    std::vector<std::vector<int>> sights_of_point_, sights_of_setup_;
    std::vector<char> is_leaf_;
    int next_group_ = 0;
    std::array<std::map<int, double>, 2> move_odds_;  ///< plan, height; per group
    NetworkDiagnosis out_;
};

/// Where one set of amounts puts a point: 3 × columns of the set.
class PlaceByAmounts {
public:
    PlaceByAmounts(const NetworkDiagnosis& diagnosis, int point)
        : diagnosis_(diagnosis), columns_(*diagnosis.columns), point_(index_at(point)) {
        if (columns_.leaf_block[point_] >= 0) part_leaf();
    }

    MatrixXd of(const NetworkExplanation& explanation) {
        MatrixXd out = MatrixXd::Zero(3, explanation.amount.size());
        Eigen::Index first = 0;
        for (const int member : explanation.members) {
            const int columns = columns_.suspects[index_at(member)].columns;
            auto [known, is_new] = by_member_.try_emplace(member);
            if (is_new) known->second = one(member, columns);
            out.middleCols(first, columns) = known->second;
            first += columns;
        }
        return out;
    }

private:
    MatrixXd step_of(int member, int core, int size) const {
        const auto found = std::lower_bound(columns_.picked.begin(), columns_.picked.end(), member);
        const auto k = static_cast<std::size_t>(found - columns_.picked.begin());
        return columns_.step.block(core, columns_.picked_first[k], size,
                                   columns_.suspects[index_at(member)].columns);
    }

    /// A point of one sight: what of the sight is its own, and what it shares with the core.
    void part_leaf() {
        const WhiteBlock& block = columns_.blocks[index_at(columns_.leaf_block[point_])];
        std::vector<int> own;
        for (std::size_t b = 0; b < block.blocks.size(); ++b) {
            const int next = b + 1 < block.blocks.size() ? block.first[b + 1]
                                                         : static_cast<int>(block.jacobian.cols());
            const int core = columns_.core_at[index_at(block.blocks[b].index)];
            if (core >= 0)
                shared_.push_back({core, block.first[b], next - block.first[b]});
            else
                for (int k = block.first[b]; k < next; ++k) own.push_back(k);
        }
        MatrixXd by_own(block.jacobian.rows(), static_cast<Eigen::Index>(own.size()));
        for (std::size_t k = 0; k < own.size(); ++k)
            by_own.col(static_cast<Eigen::Index>(k)) = block.jacobian.col(own[k]);
        own_.compute(by_own);
    }

    /// δ = −Q JᵀB ∇; a point of one sight follows its set-up, and takes what the suspect does to
    /// that sight.
    MatrixXd one(int member, int columns) const {
        MatrixXd out = MatrixXd::Zero(3, columns);
        if (columns_.leaf_block[point_] < 0) {
            if (columns_.plan_core[point_] >= 0)
                out.topRows(2) = -step_of(member, columns_.plan_core[point_], 2);
            if (columns_.height_core[point_] >= 0)
                out.bottomRows(1) = -step_of(member, columns_.height_core[point_], 1);
            // A mark that moved among its sightings: where it is now.
            const NetworkSuspect& who = diagnosis_.suspects[index_at(member)];
            if (who.point == static_cast<int>(point_) && who.after_sight >= 0) {
                if (who.cause == Cause::mark_moved) out.topRows(2) += MatrixXd::Identity(2, 2);
                if (who.cause == Cause::mark_height_changed) out(2, 0) += 1.0;
            }
            return out;
        }
        const WhiteBlock& block = columns_.blocks[index_at(columns_.leaf_block[point_])];
        MatrixXd right = MatrixXd::Zero(block.jacobian.rows(), columns);
        for (const SuspectRows& rows : columns_.rows[index_at(member)])
            if (rows.block == columns_.leaf_block[point_]) right -= rows.rows;
        for (const Shared& part : shared_)
            right += block.jacobian.middleCols(part.first, part.size) *
                     step_of(member, part.core, part.size);
        const MatrixXd solved = own_.solve(right);
        if (solved.rows() >= 2) out.topRows(2) = solved.topRows(2);
        if (solved.rows() == 3) out.row(2) = solved.row(2);
        return out;
    }

    struct Shared {
        int core, first, size;  ///< position in the core; columns of the sight
    };

    const NetworkDiagnosis& diagnosis_;
    const NetworkColumns& columns_;
    std::size_t point_;
    std::vector<Shared> shared_;
    Eigen::ColPivHouseholderQR<MatrixXd> own_;
    std::map<int, MatrixXd> by_member_;
};

}  // namespace

int NetworkDiagnosis::columns_of(int suspect) const {
    return columns->suspects[index_at(suspect)].columns;
}

int NetworkDiagnosis::amount_offset(const NetworkExplanation& explanation, int member) const {
    int offset = 0;
    for (const int m : explanation.members) {
        if (m == member) return offset;
        offset += columns_of(m);
    }
    return -1;
}

std::vector<PlaceBelief> NetworkDiagnosis::beliefs(int point) const {
    std::vector<PlaceBelief> out;
    if (!is_usable) return {PlaceBelief{}};
    PlaceByAmounts place(*this, point);
    double unchanged = 0.0;
    double told = 0.0;
    for (const NetworkExplanation& explanation : explanations) {
        told += explanation.probability;
        if (explanation.members.empty() || explanation.amount.size() == 0) {
            unchanged += explanation.probability;
            continue;
        }
        const MatrixXd by = place.of(explanation);
        // Below a micrometre it is the same place.
        constexpr double kNothing_m = 1e-6;
        const Vector3d shift = by * explanation.amount;
        const Eigen::Matrix3d added = by * explanation.amount_covariance * by.transpose();
        if (shift.norm() < kNothing_m && added.diagonal().maxCoeff() < kNothing_m * kNothing_m) {
            unchanged += explanation.probability;
            continue;
        }
        out.push_back({explanation.probability, shift, added});
    }
    unchanged += std::max(1.0 - told, 0.0);
    out.push_back({unchanged, Vector3d::Zero(), Eigen::Matrix3d::Zero()});
    infer::normalise(out);
    return out;
}

NetworkDiagnosis diagnose_network(const SiteNetwork& network, const cause::CauseTable& table,
                                  const NetworkDiagnoseOptions& options) {
    return NetworkDiagnosing(network, table, options).run();
}

}  // namespace layproof::network

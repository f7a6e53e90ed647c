// Who is suspected, and what each would do to the sights.

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <optional>
#include <set>
#include <utility>

#include "base/index.hpp"
#include "network/site_network_columns_internal.hpp"

namespace layproof::network::internal {
namespace {

using cause::Cause;
using Eigen::MatrixXd;
using Eigen::VectorXd;
using infer::Candidate;

constexpr double kHour_s = 3600.0;
/// Constants booked for one prism differ by less.
constexpr double kSamePrism_m = 1e-4;
/// East, north, turn, height.
constexpr int kTripodColumns = 4;

class NetworkSuspecting {
public:
    NetworkSuspecting(const SiteNetwork& network, const cause::CauseTable& table,
                      NetworkColumns& columns)
        : network_(network), table_(table), columns_(columns) {
        columns_.maybe.resize(columns.blocks.size());
        columns_.open.resize(columns.blocks.size());
        columns_.unseen_bump_odds.assign(network.setups.size(), 0.0);
        for (const cause::CauseSize& size : table.of(Cause::tripod_disturbed).sizes) {
            VectorXd sd = VectorXd::Constant(kTripodColumns, size.length_m);
            sd[2] = size.angle_rad;
            columns_.bump_sizes.push_back(std::move(sd));
        }
    }

    NetworkSuspects run(bool only_movement) {
        order_sights();
        list_readings(only_movement);
        suspect_marks();
        if (!only_movement) {
            suspect_lines();
            suspect_sights();
            suspect_setups();
            suspect_tools();
        }
        return std::move(out_);
    }

private:
    void order_sights() {
        sights_of_point_.resize(network_.points.size());
        sights_of_setup_.resize(network_.setups.size());
        for (std::size_t i = 0; i < network_.sights.size(); ++i) {
            const NetworkSight& sight = network_.sights[i];
            if (columns_.block_of_sight[i] < 0) continue;
            sights_of_point_[at(sight.point)].push_back(static_cast<int>(i));
            sights_of_setup_[at(sight.setup)].push_back(static_cast<int>(i));
        }
        for (auto* lists : {&sights_of_point_, &sights_of_setup_})
            for (std::vector<int>& list : *lists) sort_by_time(list);
        for (const std::vector<int>& sights : sights_of_setup_)
            is_timed_.push_back(is_timed(sights) ? 1 : 0);
        columns_.first_block.assign(network_.points.size(), -1);
        for (std::size_t p = 0; p < network_.points.size(); ++p)
            if (!sights_of_point_[p].empty())
                columns_.first_block[p] = columns_.block_of_sight[at(sights_of_point_[p].front())];
        for (std::size_t s = 0; s < sights_of_setup_.size(); ++s)
            if (!sights_of_setup_[s].empty()) setups_.push_back(static_cast<int>(s));
        const auto first = [&](int s) { return sights_of_setup_[at(s)].front(); };
        if (std::all_of(setups_.begin(), setups_.end(),
                        [&](int s) { return is_timed_[at(s)] != 0; }))
            std::stable_sort(setups_.begin(), setups_.end(),
                             [&](int a, int b) { return time_of(first(a)) < time_of(first(b)); });
    }

    bool is_timed(const std::vector<int>& sights) const {
        return std::all_of(sights.begin(), sights.end(),
                           [&](int i) { return network_.sights[at(i)].time_s.has_value(); });
    }
    double time_of(int sight) const { return *network_.sights[at(sight)].time_s; }
    void sort_by_time(std::vector<int>& sights) const {
        if (!is_timed(sights)) return;
        std::stable_sort(sights.begin(), sights.end(),
                         [&](int a, int b) { return time_of(a) < time_of(b); });
    }

    /// What a change that lasts in a set-up, or a reading that is wrong once, does: one list each
    /// of all sights, those of a set-up in a row.
    enum ByReading { direction, zenith, distance, rod, scale, index, tripod, kByReadings };

    RowsOf by_kind(int kind, int sight) const {
        const measure::ReducedSight& reduced = network_.sights[at(sight)].reduced;
        switch (kind) {
            case direction:
                return by_reading(sight, 0);
            case zenith:
                return by_reading(sight, 1);
            case distance:
                return by_reading(sight, 2);
            case rod:
                return by_height(sight);
            case scale:
                return by_reading(sight, 2, reduced.distance_m);
            case index:
                // In both faces the index is out of the mean.
                if (reduced.face_balance == 0.0) return RowsOf(0, 0);
                return by_reading(sight, 1, reduced.face_balance);
            default:
                return by_tripod(sight);
        }
    }

    void list_readings(bool only_movement) {
        for (auto& of_sight : row_of_sight_) of_sight.assign(network_.sights.size(), 0);
        for (auto& of_setup : rows_of_setup_) of_setup.resize(network_.setups.size());
        if (only_movement) return;
        for (int kind = 0; kind < kByReadings; ++kind) {
            lists_by_reading_[at(kind)] = new_list();
            RowList& list = columns_.lists.back();
            for (const int s : setups_) {
                RowRun& run = rows_of_setup_[at(kind)][at(s)];
                run.list = lists_by_reading_[at(kind)];
                run.first = static_cast<int>(list.rows.size());
                for (const int i : sights_of_setup_[at(s)]) {
                    row_of_sight_[at(kind)][at(i)] = static_cast<int>(list.rows.size());
                    RowsOf by = by_kind(kind, i);
                    if (by.cols() > 0) list.add(columns_.block_of_sight[at(i)], std::move(by));
                }
                run.last = static_cast<int>(list.rows.size());
            }
        }
    }

    int new_list() {
        columns_.lists.emplace_back();
        return static_cast<int>(columns_.lists.size()) - 1;
    }

    /// What a reading does once: of one row, or of none where the sight lacks it.
    RowRun one_reading(ByReading kind, int sight) const {
        const int row = row_of_sight_[at(kind)][at(sight)];
        RowRun out{lists_by_reading_[at(kind)], row, row};
        const auto& rows = columns_.lists[at(out.list)].rows;
        if (at(row) < rows.size() && rows[at(row)].block == columns_.block_of_sight[at(sight)])
            ++out.last;
        return out;
    }

    const WhiteBlock& block_of(int sight) const {
        return columns_.blocks[at(columns_.block_of_sight[at(sight)])];
    }

    /// Whitened derivatives of a sight by its k-th parameter block; nothing when it has none.
    RowsOf by_block(int sight, std::size_t k) const {
        const WhiteBlock& block = block_of(sight);
        if (k >= block.blocks.size()) return RowsOf(block.jacobian.rows(), 0);
        const int size = k == 0 ? 3 : k == 1 ? 2 : 1;
        return block.jacobian.middleCols(block.first[k], size);
    }
    RowsOf by_plan(int sight) const { return by_block(sight, 1); }
    RowsOf by_height(int sight) const { return by_block(sight, 3); }
    /// Of the reading itself: 0 direction, 1 zenith, 2 distance.
    RowsOf by_reading(int sight, int part, double amount = 1.0) const {
        const measure::ReducedSight& r = network_.sights[at(sight)].reduced;
        const std::array<bool, 3> present{r.has_direction, r.has_zenith, r.has_distance};
        const WhiteBlock& block = block_of(sight);
        if (!present[at(part)]) return RowsOf(block.jacobian.rows(), 0);
        int row = 0;
        for (int i = 0; i < part; ++i) row += present[at(i)] ? 1 : 0;
        return amount * block.whitener.col(row);
    }

    /// False: it touches nothing.
    bool add(NetworkSuspect who, const RowRun& run, double odds, int group) {
        if (run.first >= run.last || !(odds > 0.0)) return false;
        const auto columns =
            static_cast<int>(columns_.lists[at(run.list)].rows[at(run.first)].rows.cols());
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
        if (one.sizes.empty()) return false;
        if (who.cause == Cause::mark_moved || who.cause == Cause::mark_height_changed)
            doubt_table(one, who.cause == Cause::mark_moved ? 0 : 1);
        add(std::move(who), run, std::move(one));
        return true;
    }

    void add(NetworkSuspect who, const RowRun& run, Candidate one) {
        columns_.runs.push_back(run);
        columns_.suspects.push_back(std::move(one));
        out_.who.push_back(std::move(who));
    }

    /// The one row that a list of its own holds last.
    RowRun last_row(int list) const {
        const auto rows = static_cast<int>(columns_.lists[at(list)].rows.size());
        return {list, rows - 1, rows};
    }

    /// A site moves its marks as often as the table says only on average, and now and then by less.
    void doubt_table(Candidate& one, std::size_t kind) {
        one.kind = static_cast<int>(kind);
        out_.move_odds[kind][one.group] += std::exp(one.log_odds);
        const auto given = static_cast<double>(one.sizes.size());
        one.log_shares.assign(one.sizes.size(), std::log((1.0 - kSmallerShare) / given));
        const auto least =
            std::min_element(one.sizes.begin(), one.sizes.end(),
                             [](const VectorXd& a, const VectorXd& b) { return a[0] < b[0]; });
        one.sizes.push_back(*least / kSmallerBy);
        one.log_shares.push_back(std::log(kSmallerShare));
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
            if (sight.used && network_.points[at(sight.point)].mark >= 0) {
                pairs.insert({sight.setup, sight.point});
                setups.insert(sight.setup);
            }
        return setups.empty()
                   ? 1.0
                   : static_cast<double>(pairs.size()) / static_cast<double>(setups.size());
    }

    void suspect_marks() {
        const double shared = marks_per_setup();
        const int sheet = new_list();
        for (std::size_t p = 0; p < network_.points.size(); ++p) {
            const int plan_group = next_group_++;
            const int height_group = next_group_++;
            for (const bool height : {false, true}) {
                const Cause cause = height ? Cause::mark_height_changed : Cause::mark_moved;
                const int group = height ? height_group : plan_group;
                const double odds = odds_of(cause, shared);
                const int given =
                    height ? columns_.block_of_given_height[p] : columns_.block_of_given_plan[p];
                if (given >= 0) {
                    NetworkSuspect who{cause, static_cast<int>(p)};
                    const auto& sights = sights_of_point_[p];
                    who.before_sight = sights.empty() ? -1 : sights.front();
                    // The mark as sighted is elsewhere than the one that the sheet is about.
                    columns_.lists[at(sheet)].add(given, -columns_.blocks[at(given)].whitener);
                    add(who, last_row(sheet), odds, group);
                }
                suspect_gaps(static_cast<int>(p), cause, odds, group);
            }
        }
    }

    void suspect_gaps(int point, Cause cause, double odds, int group) {
        const auto& sights = sights_of_point_[at(point)];
        const bool height = cause == Cause::mark_height_changed;
        if (sights.size() < 2) return;
        const int list = new_list();
        std::vector<std::pair<std::size_t, int>> gaps;  // before which sight, and its row
        for (std::size_t k = 0; k < sights.size(); ++k) {
            RowsOf by = height ? by_height(sights[k]) : by_plan(sights[k]);
            if (by.cols() == 0) continue;
            RowList& rows = columns_.lists[at(list)];
            if (k > 0) gaps.emplace_back(k, static_cast<int>(rows.rows.size()));
            rows.add(columns_.block_of_sight[at(sights[k])], std::move(by));
        }
        const auto last = static_cast<int>(columns_.lists[at(list)].rows.size());
        for (const auto& [k, row] : gaps) {
            NetworkSuspect who{cause, point};
            who.after_sight = sights[k - 1];
            who.before_sight = sights[k];
            add(who, {list, row, last}, odds / static_cast<double>(gaps.size()), group);
        }
    }

    /// A sight that nothing else speaks about can be wrong without being seen.
    bool is_checked(int sight) const {
        return columns_.leaf_block[at(network_.sights[at(sight)].point)] < 0;
    }

    void suspect_sights() {
        const int leans = new_list();
        for (std::size_t s = 0; s < sights_of_setup_.size(); ++s) {
            std::vector<int> checked;
            for (const int i : sights_of_setup_[s])
                if (is_checked(i)) checked.push_back(i);
            const auto shared = static_cast<double>(checked.size());
            for (const int i : checked) {
                const int plan_group = next_group_++;
                const int height_group = next_group_++;
                const auto suspect = [&](Cause cause, const RowRun& run, int group) {
                    NetworkSuspect who{cause, network_.sights[at(i)].point, static_cast<int>(s), i};
                    add(who, run, odds_of(cause, shared), group);
                };
                columns_.lists[at(leans)].add(columns_.block_of_sight[at(i)], by_plan(i));
                suspect(Cause::rod_not_plumb, last_row(leans), plan_group);
                suspect(Cause::rod_height_wrong, one_reading(rod, i), height_group);
                suspect(Cause::gross_direction, one_reading(direction, i), plan_group);
                suspect(Cause::gross_zenith, one_reading(zenith, i), height_group);
                suspect(Cause::gross_distance, one_reading(distance, i), plan_group);
            }
        }
    }

    void suspect_lines() {
        lines_ = new_list();
        for (std::size_t i = 0; i < network_.levels.size(); ++i) {
            NetworkSuspect who{Cause::rod_height_wrong};
            who.level = static_cast<int>(i);
            suspect_line(network_.levels[i], columns_.block_of_level[i], who);
        }
        for (std::size_t i = 0; i < network_.tapes.size(); ++i) {
            NetworkSuspect who{Cause::gross_distance};
            who.tape = static_cast<int>(i);
            suspect_line(network_.tapes[i], columns_.block_of_tape[i], who);
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
        columns_.lists[at(lines_)].add(block, columns_.blocks[at(block)].whitener);
        add(who, last_row(lines_), std::move(one));
    }

    /// What a tool does to all sights of a set-up.
    static constexpr std::array<ByReading, 4> kTools{rod, distance, scale, index};

    static Cause cause_of(ByReading tool) {
        switch (tool) {
            case rod:
                return Cause::rod_height_wrong_on_all;
            case distance:
                return Cause::prism_constant_wrong;
            case scale:
                return Cause::distance_scale_wrong;
            default:
                return Cause::vertical_index_wrong;
        }
    }

    void suspect_setups() {
        for (const int s : setups_) {
            for (const ByReading tool : kTools) {
                NetworkSuspect who{cause_of(tool)};
                who.setup = s;
                add(who, rows_of_setup_[at(tool)][at(s)], odds_of(who.cause, 1.0), next_group_++);
            }
            suspect_rod_from(s);
            suspect_tripod(s);
        }
    }

    /// A tool goes from set-up to set-up: wrong at several that follow each other.
    void suspect_tools() {
        if (setups_.size() < 2) return;
        for (const ByReading tool : {rod, scale, index})
            suspect_tool(tool, setups_, rows_of_setup_[at(tool)]);
        std::map<long, std::vector<int>> prisms;
        for (const int s : setups_) {
            std::set<long> here;
            for (const int i : sights_of_setup_[at(s)])
                here.insert(std::lround(network_.sights[at(i)].prism_constant_m / kSamePrism_m));
            for (const long key : here) prisms[key].push_back(s);
        }
        for (const auto& [key, setups] : prisms)
            if (setups.size() >= 2)
                suspect_tool(distance, setups,
                             rows_of_prism(setups, static_cast<double>(key) * kSamePrism_m));
    }

    /// Per set-up, in a list of its own.
    std::vector<RowRun> rows_of_prism(const std::vector<int>& setups, double prism_constant_m) {
        std::vector<RowRun> out(network_.setups.size());
        const int list = new_list();
        RowList& rows = columns_.lists.back();
        for (const int s : setups) {
            out[at(s)] = {list, static_cast<int>(rows.rows.size()), 0};
            for (const int i : sights_of_setup_[at(s)]) {
                if (std::abs(network_.sights[at(i)].prism_constant_m - prism_constant_m) >
                    kSamePrism_m)
                    continue;
                RowsOf by = by_reading(i, 2);
                if (by.cols() > 0) rows.add(columns_.block_of_sight[at(i)], std::move(by));
            }
            out[at(s)].last = static_cast<int>(rows.rows.size());
        }
        return out;
    }

    /// First and last of set-ups that follow each other, of two at least. Where there are many,
    /// only whole days and all.
    std::vector<std::pair<std::size_t, std::size_t>> runs_of(const std::vector<int>& setups) const {
        constexpr std::size_t kEveryRunUpTo = 12;
        const std::size_t n = setups.size();
        std::vector<std::size_t> ends{0};
        for (std::size_t k = 1; k < n; ++k)
            if (n <= kEveryRunUpTo || starts_day(setups[k - 1], setups[k])) ends.push_back(k);
        ends.push_back(n);
        std::vector<std::pair<std::size_t, std::size_t>> out;
        if (ends.size() > kEveryRunUpTo + 1) ends = {0, n};
        for (std::size_t a = 0; a + 1 < ends.size(); ++a)
            for (std::size_t b = a + 1; b < ends.size(); ++b)
                if (ends[b] - ends[a] >= 2) out.push_back({ends[a], ends[b] - 1});
        return out;
    }

    bool starts_day(int before, int setup) const {
        constexpr double kNight_s = 5.0 * 3600.0;
        if (is_timed_[at(before)] == 0 || is_timed_[at(setup)] == 0) return false;
        return time_of(sights_of_setup_[at(setup)].front()) -
                   time_of(sights_of_setup_[at(before)].back()) >
               kNight_s;
    }

    void suspect_tool(ByReading tool, const std::vector<int>& setups,
                      const std::vector<RowRun>& of_setup) {
        const auto runs = runs_of(setups);
        for (const auto& [first, last] : runs) {
            NetworkSuspect who{cause_of(tool)};
            for (std::size_t k = first; k <= last; ++k) who.setups.push_back(setups[k]);
            RowRun run = of_setup[at(setups[first])];
            run.last = of_setup[at(setups[last])].last;
            // All of them are as likely as all the others together.
            const bool is_whole = last - first + 1 == setups.size();
            const double shared = is_whole ? 1.0 : static_cast<double>(runs.size() - 1);
            add(std::move(who), run, odds_of(cause_of(tool), shared), next_group_++);
        }
    }

    std::vector<std::size_t> checked_of(int setup) const {
        const auto& sights = sights_of_setup_[at(setup)];
        std::vector<std::size_t> out;
        for (std::size_t k = 0; k < sights.size(); ++k)
            if (is_checked(sights[k])) out.push_back(k);
        return out;
    }

    /// The rod height booked is wrong from one sight of a set-up on.
    void suspect_rod_from(int setup) {
        const auto& sights = sights_of_setup_[at(setup)];
        const std::vector<std::size_t> checked = checked_of(setup);
        for (std::size_t c = 1; c < checked.size(); ++c) {
            NetworkSuspect who{Cause::rod_height_wrong_on_all};
            who.setup = setup;
            who.after_sight = sights[checked[c - 1]];
            who.before_sight = sights[checked[c]];
            suspect_from(who, rod, checked[c - 1], checked[c], next_group_++,
                         odds_of(who.cause, static_cast<double>(checked.size() - 1)));
        }
    }

    /// Shift and turn of the instrument, and its height where the sight tells of heights.
    RowsOf by_tripod(int sight) const {
        const RowsOf pose = by_block(sight, 0);
        const RowsOf axes = by_block(sight, 2);
        RowsOf out = RowsOf::Zero(pose.rows(), kTripodColumns);
        out.leftCols<3>() = pose;
        if (axes.cols() > 0) out.col(3) = axes;
        return out;
    }

    void suspect_tripod(int setup) {
        const auto& sights = sights_of_setup_[at(setup)];
        const std::vector<std::size_t> checked = checked_of(setup);
        if (checked.empty()) return;
        const bool timed = is_timed_[at(setup)] != 0;
        // Up to the last control sight the set-up is being made; then it stands.
        std::size_t finished = 0;
        for (std::size_t k = 0; k < sights.size(); ++k)
            if (network_.sights[at(sights[k])].purpose == measure::Purpose::control) finished = k;
        const auto gaps = static_cast<double>(
            std::count_if(checked.begin() + 1, checked.end(),
                          [&](std::size_t k) { return !timed || k <= finished; }));
        const auto by_hour = [&](std::size_t from, std::size_t to) {
            const double hours = (time_of(sights[to]) - time_of(sights[from])) / kHour_s;
            return kBumpPerHour * hours + kBumpPerGap * static_cast<double>(to - from);
        };
        for (std::size_t c = 1; c < checked.size(); ++c) {
            NetworkSuspect who{Cause::tripod_disturbed};
            who.setup = setup;
            who.after_sight = sights[checked[c - 1]];
            who.before_sight = sights[checked[c]];
            const double odds = timed && checked[c] > finished ? by_hour(checked[c - 1], checked[c])
                                                               : odds_of(who.cause, gaps);
            suspect_from(who, tripod, checked[c - 1], checked[c], next_group_++, odds);
        }
        for (std::size_t k = checked.back() + 1; k < sights.size(); ++k) {
            const double odds = timed ? by_hour(checked.back(), k)
                                      : kBumpPerGap * static_cast<double>(k - checked.back());
            columns_.open[at(columns_.block_of_sight[at(sights[k])])] = {odds,
                                                                         by_tripod(sights[k])};
            columns_.unseen_bump_odds[at(setup)] = odds;
        }
    }

    /// A change of a set-up between two checked sights, number `after` and `before` of it: with
    /// certainty in all sights from `before` on, with a share in what lies between.
    void suspect_from(const NetworkSuspect& who, ByReading kind, std::size_t after,
                      std::size_t before, int group, double odds) {
        const auto& sights = sights_of_setup_[at(who.setup)];
        RowRun run = rows_of_setup_[at(kind)][at(who.setup)];
        run.first = row_of_sight_[at(kind)][at(sights[before])];
        const auto number = static_cast<int>(out_.who.size());
        if (!add(who, run, odds, group)) return;
        const bool timed =
            is_timed_[at(who.setup)] != 0 && time_of(sights[before]) > time_of(sights[after]);
        for (std::size_t k = after + 1; k < before; ++k) {
            RowsOf one = by_kind(kind, sights[k]);
            if (one.cols() == 0) continue;
            double share = static_cast<double>(k - after) / static_cast<double>(before - after);
            if (timed)
                share = (time_of(sights[k]) - time_of(sights[after])) /
                        (time_of(sights[before]) - time_of(sights[after]));
            columns_.maybe[at(columns_.block_of_sight[at(sights[k])])].push_back(
                {number, std::clamp(share, 0.0, 1.0), std::move(one)});
        }
    }

    const SiteNetwork& network_;
    const cause::CauseTable& table_;
    NetworkColumns& columns_;
    std::vector<std::vector<int>> sights_of_point_, sights_of_setup_;
    std::vector<char> is_timed_;  ///< per set-up: all its sights have times
    std::vector<int> setups_;     ///< with sights, in the order of time
    int next_group_ = 0;
    int lines_ = -1;  ///< the list of levels and tapes
    // Per kind of reading: its list, per set-up its rows there, per sight the first row from it on.
    std::array<int, kByReadings> lists_by_reading_{};
    std::array<std::vector<RowRun>, kByReadings> rows_of_setup_;
    std::array<std::vector<int>, kByReadings> row_of_sight_;
    NetworkSuspects out_;
};

}  // namespace

NetworkSuspects suspect_network(const SiteNetwork& network, const cause::CauseTable& table,
                                bool only_movement, NetworkColumns& columns) {
    return NetworkSuspecting(network, table, columns).run(only_movement);
}

}  // namespace layproof::network::internal

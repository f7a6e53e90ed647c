#include "vet/vet.hpp"

#include <fmt/format.h>

#include <Eigen/Eigenvalues>
#include <Eigen/LU>
#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include "frame/conformity.hpp"
#include "infer/grouping.hpp"
#include "vet/explain_internal.hpp"
#include "vet/views_internal.hpp"

namespace layproof::vet {
namespace {

using Eigen::MatrixXd;
using Eigen::Vector2d;
using Eigen::VectorXd;
using internal::AmountKind;
using internal::ColumnFit;
using internal::Explained;
using internal::Gathered;
using internal::Pattern;
using internal::Read;
using internal::Solved;
using internal::Weighed;

/// A mark that a shift of this size would leave unnoticed is not held (the largest size of
/// mark-off).
constexpr double kHeld_m = 0.060;
/// λ0 for α 0.001 and power 0.80, one dimension (Baarda 1968).
constexpr double kBaarda = 17.074616;
/// Explanations less probable than this do not matter to the verdicts: they are dropped and the
/// probabilities of the others made to sum to one again.
constexpr double kNegligible = 1e-6;

class Reporting {
public:
    Reporting(const network::Evidence& evidence, const VetOptions& options)
        : options_(options), all_(internal::gather(evidence)) {}

    Vetting run() {
        out_.notices = all_.notices;
        structure();
        if (all_.marks.empty()) return std::move(out_);
        internal::keep_plain_poses(all_);
        explained_ = internal::explain(all_, options_.workers);
        if (explained_.stopped) return stopped();
        if (explained_.plain < 0) {
            out_.notices.emplace_back("The evidence could not be put together.");
            return std::move(out_);
        }
        members();
        group();
        marks();
        verdict();
        auto views = internal::views_of(all_, explained_, options_.workers);
        if (!views) return stopped();
        out_.traps = std::move(*views);
        for (TrapView& view : out_.traps)
            for (const Member& member : member_of_)
                if (member.trap == view.trap) view.probability += member.probability;
        measured();
        differences();
        const Solved& plain = plain_read().solved;
        out_.global_test = adjust::global_test(plain.statistic, plain.redundancy);
        return std::move(out_);
    }

private:
    static Vetting stopped() {
        Vetting out;
        out.stopped = true;
        return out;
    }

    const Read& plain_read() const {
        return explained_.reads[static_cast<std::size_t>(explained_.plain)];
    }
    const std::string& mark_name(int m) const {
        return all_.marks[static_cast<std::size_t>(m)].name;
    }

    void structure() {
        for (const internal::Duplicate& d : all_.duplicates)
            out_.doubled_names.push_back(mark_name(d.mark));
        for (const auto& [a, b] : all_.one_place)
            out_.one_place.emplace_back(mark_name(a), mark_name(b));
    }

    /// "Nothing wrong" with a doubled name is the doubled name.
    Member plain_member(const internal::Variant& v) const {
        Member out;
        if (!all_.duplicates.empty()) {
            out.trap = Trap::duplicate_name;
            for (std::size_t d = 0; d < all_.duplicates.size(); ++d)
                out.subjects.push_back(fmt::format("{} (number {})",
                                                   mark_name(all_.duplicates[d].mark),
                                                   (d < v.choice.size() ? v.choice[d] : 0) + 1));
            out.list = all_.list_names[static_cast<std::size_t>(all_.duplicates[0].list)];
        } else if (!all_.one_place.empty()) {
            out.trap = Trap::one_place;
            out.subjects = {mark_name(all_.one_place[0].first),
                            mark_name(all_.one_place[0].second)};
        }
        return out;
    }

    Member reading_member(const internal::Variant& v, const Solved* solved) const {
        if (v.trap == Trap::nothing_wrong) return plain_member(v);
        Member out;
        out.trap = v.trap;
        if (v.list >= 0) out.list = all_.list_names[static_cast<std::size_t>(v.list)];
        if (v.list < 0 && all_.lists == 1) out.list = all_.list_names[0];
        if (v.mark_a >= 0)
            out.subjects = {mark_name(v.mark_a), mark_name(v.mark_b)};
        else if (!out.list.empty())
            out.subjects = {out.list};
        if (v.ratio != 1.0) out.amount.ratio = v.ratio;
        if (solved != nullptr && v.is_free()) {
            if (v.free_turn) out.amount.turn_rad = -solved->turn_rad;
            if (v.free_scale) out.amount.ratio = 1.0 / solved->scale;
            out.amount.east_m = -solved->shift_m.x();
            out.amount.north_m = -solved->shift_m.y();
        }
        return out;
    }

    /// The second trap of a reading that has two; what the ratio says is its own.
    void add_second(const internal::Variant& v, std::vector<Member>& out) const {
        if (v.also == Trap::nothing_wrong || out.empty()) return;
        Member second;
        second.trap = v.also;
        second.list = out.back().list;
        second.subjects = out.back().subjects;
        second.amount.ratio = v.ratio;
        out.back().amount.ratio.reset();
        out.push_back(std::move(second));
    }

    std::vector<std::string> subjects_of(const Pattern& p) const {
        const auto between = [&](const internal::TapeRow& row) {
            return mark_name(row.from) + " to " + mark_name(row.to);
        };
        switch (p.trap) {
            case Trap::tape_wrong:
                return {between(all_.tapes[static_cast<std::size_t>(p.item)])};
            case Trap::level_wrong:
                return {between(all_.levels[static_cast<std::size_t>(p.item)])};
            case Trap::sight_wrong:
            case Trap::sight_height_wrong: {
                const auto& row = plain_read().solved.rows.sights[static_cast<std::size_t>(p.item)];
                return {all_.setups[static_cast<std::size_t>(row.setup)].name + " to " +
                        mark_name(row.mark)};
            }
            case Trap::grid_for_ground:
            case Trap::prism_constant_wrong:
                return {};
            default:
                return {mark_name(p.mark)};
        }
    }

    Member error_member(const Pattern& p, const VectorXd& mean, const MatrixXd& covariance,
                        Eigen::Index at) const {
        Member out;
        out.trap = p.trap;
        out.subjects = subjects_of(p);
        if (p.list >= 0) out.list = all_.list_names[static_cast<std::size_t>(p.list)];
        out.amount.sd_m = std::sqrt(std::max(covariance(at, at), 0.0));
        switch (p.kind) {
            case AmountKind::plan:
                out.amount.east_m = mean[at];
                out.amount.north_m = mean[at + 1];
                out.amount.sd_m =
                    std::sqrt(std::max({covariance(at, at), covariance(at + 1, at + 1), 0.0}));
                break;
            case AmountKind::whole:
                out.amount.east_m = mean[at];
                out.amount.north_m = mean[at + 1];
                out.amount.height_m = mean[at + 2];
                break;
            case AmountKind::height:
                out.amount.height_m = mean[at];
                break;
            case AmountKind::length:
                out.amount.length_m = mean[at];
                break;
            case AmountKind::ratio:
                out.amount.ratio = 1.0 + mean[at];
                out.amount.sd_m.reset();
                break;
        }
        return out;
    }

    /// The likeliest size's fit; empty columns give an empty fit.
    ColumnFit likeliest_fit(const Weighed& w) const {
        const Read& r = explained_.reads[static_cast<std::size_t>(w.read)];
        const auto size =
            std::max_element(w.sizes.begin(), w.sizes.end(),
                             [](const auto& a, const auto& b) { return a.second < b.second; });
        return r.errors().fit(r.errors().columns_of(w.patterns), size->first);
    }

    std::vector<Member> members_of(const Weighed& w) const {
        std::vector<Member> out;
        const Read* r = w.read >= 0 ? &explained_.reads[static_cast<std::size_t>(w.read)] : nullptr;
        const internal::Variant& v = r != nullptr ? r->variant : w.variant;
        if (w.patterns.empty()) {
            out.push_back(reading_member(v, r != nullptr ? &r->solved : nullptr));
            add_second(v, out);
        } else {
            const ColumnFit fit = likeliest_fit(w);
            if (w.trap == Trap::other_revision) {
                Member set;
                set.trap = w.trap;
                set.list = all_.list_names[static_cast<std::size_t>(w.variant.list)];
                for (const int p : w.patterns) {
                    const std::string& name =
                        mark_name(r->errors().patterns()[static_cast<std::size_t>(p)].mark);
                    if (std::find(set.subjects.begin(), set.subjects.end(), name) ==
                        set.subjects.end())
                        set.subjects.push_back(name);
                }
                in_order(set.subjects);
                out.push_back(std::move(set));
            } else {
                if (auto set = two_entries(w, *r)) {
                    out.push_back(std::move(*set));
                    return stamped(std::move(out), w);
                }
                Member reading = reading_member(v, &r->solved);
                if (reading.trap != Trap::nothing_wrong) out.push_back(std::move(reading));
                add_second(v, out);
                Eigen::Index at = 0;
                for (const int p : w.patterns) {
                    const Pattern& pattern = r->errors().patterns()[static_cast<std::size_t>(p)];
                    out.push_back(error_member(pattern, fit.mean, fit.covariance, at));
                    at += pattern.columns;
                }
            }
        }
        return stamped(std::move(out), w);
    }

    void in_order(std::vector<std::string>& names) const {
        std::sort(names.begin(), names.end(), [&](const std::string& a, const std::string& b) {
            return all_.mark_named(a) < all_.mark_named(b);
        });
    }

    /// Two entries of one list at other places are a small revision.
    std::optional<Member> two_entries(const Weighed& w, const Read& r) const {
        if (all_.lists < 2 || w.patterns.size() != 2 || r.variant.trap != Trap::nothing_wrong)
            return std::nullopt;
        const Pattern& a = r.errors().patterns()[static_cast<std::size_t>(w.patterns[0])];
        const Pattern& b = r.errors().patterns()[static_cast<std::size_t>(w.patterns[1])];
        if (a.trap != Trap::entry_wrong || b.trap != Trap::entry_wrong || a.list != b.list ||
            a.mark == b.mark || plain_member(r.variant).trap != Trap::nothing_wrong)
            return std::nullopt;
        Member out;
        out.trap = Trap::other_revision;
        out.list = all_.list_names[static_cast<std::size_t>(a.list)];
        out.subjects = {mark_name(std::min(a.mark, b.mark)), mark_name(std::max(a.mark, b.mark))};
        return out;
    }

    std::vector<Member> stamped(std::vector<Member> out, const Weighed& w) const {
        for (Member& member : out) {
            member.probability = w.weight;
            member.log_evidence = w.log_evidence - explained_.plain_log;
            member.is_seen = w.is_seen;
        }
        return out;
    }

    void members() {
        for (const Weighed& w : explained_.all) {
            if (w.weight < options_.smallest_listed && w.weight < kNegligible &&
                w.trap != Trap::nothing_wrong) {
                lists_.emplace_back();
                continue;
            }
            lists_.push_back(members_of(w));
            for (const Member& m : lists_.back()) member_of_.push_back(m);
        }
    }

    /// The same revision weighed with other sizes is one explanation.
    std::vector<std::vector<std::size_t>> one_of_each() const {
        std::vector<std::vector<std::size_t>> out;
        for (std::size_t i = 0; i < lists_.size(); ++i) {
            if (lists_[i].empty()) continue;
            const Member& member = lists_[i].front();
            const auto known = std::find_if(out.begin(), out.end(), [&](const auto& from) {
                const Member& other = lists_[from.front()].front();
                return member.trap == Trap::other_revision && lists_[i].size() == 1 &&
                       lists_[from.front()].size() == 1 && other.trap == member.trap &&
                       other.list == member.list && other.subjects == member.subjects;
            });
            if (known == out.end()) {
                out.push_back({i});
            } else {
                known->push_back(i);
            }
        }
        return out;
    }

    void group() {
        const std::vector<std::vector<std::size_t>> single = one_of_each();
        std::vector<infer::Nameable> list;
        for (const std::vector<std::size_t>& from : single) {
            const Member& member = lists_[from.front()].front();
            infer::Nameable& one = list.emplace_back();
            for (const std::size_t i : from) one.probability += explained_.all[i].weight;
            one.log_evidence = member.log_evidence;
            one.may_join = lists_[from.front()].size() == 1 && member.is_seen &&
                           member.trap != Trap::nothing_wrong;
            one.may_lead = one.may_join && member.log_evidence > infer::kSplitEvidence &&
                           member.trap != Trap::duplicate_name && member.trap != Trap::one_place;
        }
        const auto first = [&](int i) { return single[static_cast<std::size_t>(i)].front(); };
        const auto joins = [&](int way, const std::vector<int>& members, int other) {
            const Member& next = lists_[first(other)].front();
            return std::all_of(members.begin(), members.end(), [&](int i) {
                const Member& m = lists_[first(i)].front();
                return way == 0 ? m.trap == next.trap
                                : m.subjects == next.subjects || about_one_mark(m, next) ||
                                      (is_of_frame(m.trap) && is_of_frame(next.trap));
            });
        };
        const auto traces = [&](int a, int b) {
            return same_trace(explained_.all[first(a)], explained_.all[first(b)]);
        };
        where_.assign(lists_.size(), -1);
        for (const std::vector<int>& members : infer::group_alike(list, 2, joins, traces)) {
            Explanation out;
            out.members = lists_[first(members.front())];
            out.is_pair = out.members.size() > 1;
            for (const int i : members) {
                if (i != members.front()) out.members.push_back(lists_[first(i)].front());
                const double probability = list[static_cast<std::size_t>(i)].probability;
                out.probability += probability;
                if (!out.is_pair) out.members.back().probability = probability;
            }
            if (out.probability < options_.smallest_listed &&
                out.members.front().trap != Trap::nothing_wrong) {
                out_.others += out.probability;
                continue;
            }
            for (const int i : members)
                for (const std::size_t k : single[static_cast<std::size_t>(i)])
                    where_[k] = static_cast<int>(out_.explanations.size());
            out_.explanations.push_back(std::move(out));
        }
        for (std::size_t i = 0; i < lists_.size(); ++i)
            if (lists_[i].empty()) out_.others += explained_.all[i].weight;
        if (std::none_of(out_.explanations.begin(), out_.explanations.end(),
                         [](const Explanation& e) {
                             return e.members.front().trap == Trap::nothing_wrong;
                         })) {
            Explanation none;
            none.members.emplace_back();
            out_.explanations.push_back(std::move(none));
        }
    }

    /// Errors that leave the same misfit with free amounts: only their usual sizes tell them apart.
    bool same_trace(const Weighed& a, const Weighed& b) const {
        if (a.read < 0 || a.read != b.read || a.patterns.size() != 1 || b.patterns.size() != 1)
            return false;
        const internal::Evidences& e = explained_.reads[static_cast<std::size_t>(a.read)].errors();
        const std::vector<int> first = e.columns_of(a.patterns);
        const std::vector<int> second = e.columns_of(b.patterns);
        constexpr double kSameMisfit = 0.01;
        return first.size() == second.size() &&
               std::abs(e.explained(first) - e.explained(second)) < kSameMisfit;
    }

    /// "A" and "S1 to A": the ground at A, its entry and the one sight to it.
    static bool about_one_mark(const Member& a, const Member& b) {
        if (a.subjects.empty() || b.subjects.empty()) return false;
        const auto mark = [](const Member& m) {
            const std::string& s = m.subjects.front();
            if (m.trap != Trap::sight_wrong && m.trap != Trap::sight_height_wrong) return s;
            const std::size_t at = s.find(" to ");
            return at == std::string::npos ? s : s.substr(at + 4);
        };
        return a.subjects.size() == 1 && b.subjects.size() == 1 && mark(a) == mark(b);
    }

    struct Sum {
        double plan = 0.0, height = 0.0, both = 0.0;
        Vector2d mean = Vector2d::Zero();
        Eigen::Matrix2d second = Eigen::Matrix2d::Zero();
        double mean_height = 0.0, second_height = 0.0;
        std::vector<double> against;  ///< by explanation
    };

    void add_belief(std::size_t m, const Weighed& w, const Read& r, double share,
                    const std::vector<int>& columns, const ColumnFit& fit, const VectorXd& step,
                    int where, Sum& sum) const {
        const Solved& s = r.solved;
        const internal::Variant& v = r.variant;
        double plan = 1.0;
        double height = 1.0;
        const auto posterior = [&](const std::vector<int>& rows) {
            MatrixXd c = r.errors().covariance_of(rows);
            if (!columns.empty()) {
                const MatrixXd by = r.errors().by_amount(rows, columns);
                c += by * fit.covariance * by.transpose();
            }
            return c;
        };
        if (s.plan_at[m] >= 0 && s.said_plan[m]) {
            const int at = s.plan_at[m];
            const Vector2d off = s.values.segment<2>(at) + step.segment<2>(at) - *s.said_plan[m];
            const Eigen::Matrix2d c = posterior({at, at + 1});
            plan = frame::probability_within_circle(off, c, options_.tolerance_plan_m);
            const bool exchanged =
                v.mark_a >= 0 && (v.list <= 0) &&
                (v.mark_a == static_cast<int>(m) || v.mark_b == static_cast<int>(m));
            if (exchanged) plan = 0.0;
            sum.mean += share * off;
            sum.second += share * (c + off * off.transpose());
        }
        if (s.height_at[m] >= 0 && s.said_height[m]) {
            const int at = s.height_at[m];
            const double off = s.values[at] + step[at] - *s.said_height[m];
            const double c = posterior({at})(0, 0);
            height = frame::probability_within(off, std::sqrt(std::max(c, 0.0)),
                                               options_.tolerance_height_m);
            sum.mean_height += share * off;
            sum.second_height += share * (c + off * off);
        }
        (void)w;
        sum.plan += share * plan;
        sum.height += share * height;
        sum.both += share * plan * (height_counts_ ? height : 1.0);
        if (where >= 0)
            sum.against[static_cast<std::size_t>(where)] +=
                share * (1.0 - plan * (height_counts_ ? height : 1.0));
    }

    void marks() {
        height_counts_ = std::any_of(all_.marks.begin(), all_.marks.end(),
                                     [](const auto& m) { return m.measured_height > 0; });
        std::vector<Sum> sums(all_.marks.size());
        for (Sum& sum : sums) sum.against.assign(out_.explanations.size(), 0.0);
        double total = 0.0;
        for (std::size_t i = 0; i < explained_.all.size(); ++i) {
            const Weighed& w = explained_.all[i];
            if (w.weight < kNegligible) continue;
            // What the evidence says nothing about changes no mark against its neighbours.
            const int at = w.read >= 0 ? w.read : explained_.plain;
            const Read& r = explained_.reads[static_cast<std::size_t>(at)];
            total += w.weight;
            const std::vector<int> columns = r.errors().columns_of(w.patterns);
            const auto one = [&](double share, const ColumnFit& fit) {
                const VectorXd step = r.errors().step(columns, fit.mean);
                for (std::size_t m = 0; m < sums.size(); ++m)
                    add_belief(m, w, r, share, columns, fit, step, where_[i], sums[m]);
            };
            if (w.patterns.empty()) {
                one(w.weight, ColumnFit{0.0, VectorXd(0), MatrixXd(0, 0)});
            } else {
                for (const auto& [sd, share] : w.sizes)
                    if (w.weight * share >= 0.1 * kNegligible)
                        one(w.weight * share, r.errors().fit(columns, sd));
            }
        }
        for (std::size_t m = 0; m < sums.size(); ++m) out_.marks.push_back(mark(m, sums[m], total));
    }

    MarkVerdict mark(std::size_t m, const Sum& sum, double total) const {
        const internal::MarkNode& node = all_.marks[m];
        const Solved& s = plain_read().solved;
        MarkVerdict out;
        out.name = node.name;
        out.lists = node.lists;
        out.measured = node.measured;
        out.measured_height = node.measured_height;
        for (const internal::Entry& entry : all_.entries) {
            if (entry.mark != static_cast<int>(m)) continue;
            if (entry.has_plan && !out.east_m) {
                out.east_m = entry.plan_m.x();
                out.north_m = entry.plan_m.y();
            }
            if (entry.has_height && !out.height_m) out.height_m = entry.height_m;
        }
        const bool plan = s.plan_at[m] >= 0 && s.said_plan[m].has_value();
        const bool height = s.height_at[m] >= 0 && s.said_height[m].has_value();
        const auto& patterns = plain_read().errors().patterns();
        for (std::size_t p = 0; p < patterns.size(); ++p) {
            if (patterns[p].mark != static_cast<int>(m)) continue;
            const bool is_plan = patterns[p].trap == Trap::mark_off;
            if (!is_plan && patterns[p].trap != Trap::mark_height_off) continue;
            const Eigen::SelfAdjointEigenSolver<MatrixXd> solver(
                plain_read().errors().information(
                    plain_read().errors().columns_of({static_cast<int>(p)})),
                Eigen::EigenvaluesOnly);
            const double least = solver.eigenvalues().minCoeff();
            if (least <= kBaarda / (kHeld_m * kHeld_m)) continue;
            (is_plan ? out.detectable_m : out.detectable_height_m) = std::sqrt(kBaarda / least);
        }
        if (plan) {
            out.probability_plan = sum.plan / total;
            out.off_east_m = sum.mean.x() / total;
            out.off_north_m = sum.mean.y() / total;
            const Vector2d mean = sum.mean / total;
            out.off_covariance = sum.second / total - mean * mean.transpose();
        }
        if (height) {
            out.probability_height = sum.height / total;
            out.off_height_m = sum.mean_height / total;
            out.sd_height_m = std::sqrt(
                std::max(sum.second_height / total - *out.off_height_m * *out.off_height_m, 0.0));
        }
        out.probability = std::clamp(sum.both / total, 0.0, 1.0);
        if (out.probability_plan)
            out.probability_plan = std::clamp(*out.probability_plan, 0.0, 1.0);
        if (out.probability_height)
            out.probability_height = std::clamp(*out.probability_height, 0.0, 1.0);
        const auto most = std::max_element(sum.against.begin(), sum.against.end());
        if (most != sum.against.end() && *most > 1e-4)
            out.against = static_cast<int>(most - sum.against.begin());
        out.word = station::judge(out.probability, options_.confidence);
        const bool judges_height = height && (height_counts_ || !plan);
        const bool held = (plan || height) && (!plan || out.detectable_m) &&
                          (!judges_height || out.detectable_height_m);
        if (out.word == station::Word::proven && !held) out.word = station::Word::in_doubt;
        return out;
    }

    void verdict() {
        for (const Weighed& w : explained_.all) {
            const Read* r =
                w.read >= 0 ? &explained_.reads[static_cast<std::size_t>(w.read)] : nullptr;
            const bool by_reading = r != nullptr && r->is_seen && is_of_frame(r->variant.trap);
            if (by_reading || (w.trap == Trap::grid_for_ground && w.is_seen))
                out_.frame_trouble += w.weight;
        }
        double weakest = 1.0;
        bool fails = out_.frame_trouble >= options_.confidence;
        bool proven = 1.0 - out_.frame_trouble >= options_.confidence;
        for (const MarkVerdict& mark : out_.marks) {
            weakest = std::min(weakest, mark.probability);
            fails = fails || mark.word == station::Word::fails;
            proven = proven && mark.word == station::Word::proven;
        }
        proven = proven && out_.doubled_names.empty() && out_.one_place.empty();
        out_.frame_trouble = std::clamp(out_.frame_trouble, 0.0, 1.0);
        out_.probability = std::min(weakest, 1.0 - out_.frame_trouble);
        out_.word = fails    ? station::Word::fails
                    : proven ? station::Word::proven
                             : station::Word::in_doubt;
        if (!height_counts_ && std::any_of(all_.marks.begin(), all_.marks.end(),
                                           [](const auto& m) { return m.has_height; }))
            out_.notices.emplace_back(
                "No height was measured: the verdicts are about the plan alone.");
    }

    void add_measured(const std::string& kind, const std::string& from, const std::string& to,
                      int block, int part) {
        const Solved& s = plain_read().solved;
        const auto k = static_cast<std::size_t>(block);
        const auto size = static_cast<Eigen::Index>(s.size[k]);
        const MatrixXd whitener = s.whitener[k];
        const MatrixXd colour = whitener.inverse();
        const MatrixXd m = plain_read().errors().reduced_block(block);
        const VectorXd e = plain_read().errors().reduced_misfit().segment(s.first_row[k], size);
        const VectorXd residual = -colour * e;
        const VectorXd weighted = -whitener.transpose() * e;
        const MatrixXd mw = whitener.transpose() * m * whitener;
        const MatrixXd redundancy = colour * m * whitener;
        Measured out{kind, from, to, residual[part], 0.0, redundancy(part, part)};
        if (out.redundancy > 1e-6) out.standardised = weighted[part] / std::sqrt(mw(part, part));
        out_.measured.push_back(std::move(out));
    }

    void measured() {
        const internal::Rows& rows = plain_read().solved.rows;
        for (std::size_t t = 0; t < rows.tapes.size(); ++t)
            add_measured("tape", mark_name(all_.tapes[t].from), mark_name(all_.tapes[t].to),
                         rows.tapes[t], 0);
        for (std::size_t t = 0; t < rows.levels.size(); ++t)
            add_measured("level", mark_name(all_.levels[t].from), mark_name(all_.levels[t].to),
                         rows.levels[t], 0);
        for (const internal::Rows::SightRow& row : rows.sights) {
            const std::string& from = all_.setups[static_cast<std::size_t>(row.setup)].name;
            int part = 0;
            if (row.direction)
                add_measured("direction", from, mark_name(row.mark), row.block, part++);
            if (row.zenith) add_measured("zenith", from, mark_name(row.mark), row.block, part++);
            if (row.distance) add_measured("distance", from, mark_name(row.mark), row.block, part);
        }
    }

    void differences() {
        for (const internal::Entry& entry : all_.entries) {
            if (entry.list == 0) continue;
            for (const internal::Entry& first : all_.entries) {
                if (first.list != 0 || first.mark != entry.mark) continue;
                if (!(first.has_plan && entry.has_plan)) break;
                ListDifference d;
                d.list = all_.list_names[static_cast<std::size_t>(entry.list)];
                d.mark = mark_name(entry.mark);
                d.east_m = entry.plan_m.x() - first.plan_m.x();
                d.north_m = entry.plan_m.y() - first.plan_m.y();
                if (first.has_height && entry.has_height)
                    d.height_m = entry.height_m - first.height_m;
                out_.differences.push_back(std::move(d));
                break;
            }
        }
    }

    const VetOptions& options_;
    Gathered all_;
    Explained explained_;
    std::vector<std::vector<Member>> lists_;  ///< per Weighed; empty when negligible
    std::vector<Member> member_of_;
    std::vector<int> where_;  ///< per Weighed: into explanations
    bool height_counts_ = false;
    Vetting out_;
};

}  // namespace

std::string_view to_word(Sighting sighting) {
    constexpr std::array<std::string_view, 4> kWords{"seen", "weak", "cannot be seen",
                                                     "does not apply"};
    return kWords[static_cast<std::size_t>(sighting)];
}

Vetting vet(const network::Evidence& evidence, const VetOptions& options) {
    return Reporting(evidence, options).run();
}

}  // namespace layproof::vet

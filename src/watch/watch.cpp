#include "watch/watch.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>

#include "adjust/tests.hpp"
#include "infer/mixture.hpp"
#include "watch/hypotheses_internal.hpp"
#include "watch/state_internal.hpp"

namespace layproof::watch {
namespace {

using internal::Bridge;
using internal::Entry;
using internal::Evidence;
using internal::Member;
using internal::Part;
using internal::Pattern;
using internal::Scenario;
using internal::Timeline;

/// Explanations are smoothed one by one down to this, or until so much is covered.
constexpr double kSmallestSmoothed = 2e-5;
constexpr double kDayCovered = 0.9999;
constexpr std::size_t kMostSmoothed = 40;
/// A check is good below the 99.9 % value of its chi-square, given all before it.
constexpr double kGoodCheck = 0.999;

class Watch {
public:
    Watch(const Day& day, const WatchOptions& options)
        : day_(day), options_(options), rate_(variance_per_second(options.drift)) {}

    DayReport run() {
        state_ = std::make_shared<DayState>();
        state_->timeline = internal::make_timeline(day_, options_.odds);
        state_->evidence = internal::weigh(day_, options_, state_->timeline);
        smooth();
        through_the_day();
        sights();
        auto listed = internal::list_hypotheses(day_, state_->evidence, state_->scenarios);
        out_.hypotheses = std::move(listed.groups);
        out_.others = listed.others;
        moves();
        out_.state = state_;
        return std::move(out_);
    }

private:
    void smooth() {
        double covered = 0.0;
        for (const Member& m : state_->evidence.members) {
            if (!state_->scenarios.empty() &&
                (m.weight < kSmallestSmoothed || covered > kDayCovered ||
                 state_->scenarios.size() >= kMostSmoothed))
                break;
            state_->scenarios.push_back(
                internal::make_scenario(day_, options_, state_->timeline, state_->evidence, m));
            covered += m.weight;
        }
        out_.left_out = std::max(0.0, 1.0 - covered);
        infer::normalise(state_->scenarios);
    }

    void through_the_day() {
        const Timeline& timeline = state_->timeline;
        const std::size_t n = state_->scenarios.size();
        out_.points.resize(day_.points.size());
        state_->points.resize(day_.points.size());
        std::vector<Bridge> bridges(n);
        int stretch = -1;
        for (std::size_t e = 0; e < timeline.events.size(); ++e) {
            const Entry& entry = timeline.events[e];
            if (entry.stretch != stretch) {
                stretch = entry.stretch;
                for (std::size_t s = 0; s < n; ++s)
                    bridges[s] = internal::bridge_of(state_->scenarios[s],
                                                     static_cast<std::size_t>(stretch));
            }
            EventReport event;
            event.kind = entry.kind;
            event.index = entry.index;
            event.time_s = entry.time_s;
            event.name = name_of(entry);
            infer::Normal<4> pose;
            Sum sum;
            for (std::size_t s = 0; s < n; ++s) {
                const Scenario& scenario = state_->scenarios[s];
                for (const Part& part :
                     internal::parts_at(scenario, timeline, rate_, bridges[s], entry)) {
                    const double weight = scenario.weight * part.share;
                    infer::put_together(pose,
                                        infer::Normal<4>{weight, part.mean.head<4>(),
                                                         part.covariance.topLeftCorner<4, 4>()});
                    if (part.moved) event.probability_moved += weight;
                    if (entry.kind == EventKind::laying) lay(entry, s, part, weight, sum);
                }
            }
            event.pose = pose.mean;
            event.sd = pose.covariance.diagonal().cwiseMax(0.0).cwiseSqrt();
            if (entry.kind == EventKind::laying)
                close(static_cast<std::size_t>(entry.index), sum, entry);
            out_.events.push_back(std::move(event));
        }
        for (const Resight& sight : day_.resights)
            ++out_.points[static_cast<std::size_t>(sight.point)].resights;
    }

    std::string name_of(const Entry& entry) const {
        const auto i = static_cast<std::size_t>(std::max(entry.index, 0));
        switch (entry.kind) {
            case EventKind::check:
                return day_.checks[i].mark;
            case EventKind::laying:
                return day_.points[i].target.name;
            case EventKind::resight:
                return day_.points[static_cast<std::size_t>(day_.resights[i].point)].target.name;
            default:
                return {};
        }
    }

    struct Sum {
        infer::Normal<3> deviation;
        Eigen::Vector3d displacement = Eigen::Vector3d::Zero();
        double moved = 0.0;
        double within = 0.0;
    };

    void lay(const Entry& entry, std::size_t s, const Part& part, double weight, Sum& sum) {
        const Scenario& scenario = state_->scenarios[s];
        const auto p = static_cast<std::size_t>(entry.index);
        const LaidPoint& point = day_.points[p];
        DayState::PointPart out;
        out.scenario = s;
        out.share = part.share;
        out.moved = part.moved;
        out.before_here = part.moved_here;
        if (const int at = scenario.place_of_point[p]; at >= 0) {
            const ChainEstimate& last = scenario.chain.smoothed.back();
            out.mean = last.mean.segment<3>(at);
            out.covariance = last.covariance.block<3, 3>(at, at);
        } else {
            out.mean = point.deviation_m - point.by_state * part.mean;
            out.covariance =
                point.by_state * part.covariance * point.by_state.transpose() + point.own;
        }
        out.within =
            station::probability_within(point.target, point.has_height, out.mean, out.covariance);
        sum.within += weight * out.within;
        infer::put_together(sum.deviation, infer::Normal<3>{weight, out.mean, out.covariance});
        if (part.moved) {
            sum.moved += weight;
            sum.displacement -= weight * (point.by_state.leftCols<4>() *
                                          internal::shift_before(scenario, state_->evidence, entry,
                                                                 part.moved_here));
        }
        state_->points[p].push_back(out);
    }

    void close(std::size_t p, const Sum& sum, const Entry& entry) {
        const LaidPoint& point = day_.points[p];
        PointReport& out = out_.points[p];
        out.deviation_m = sum.deviation.mean;
        out.covariance = sum.deviation.covariance;
        if (!point.has_height) {
            out.deviation_m.z() = 0.0;
            out.covariance.row(2).setZero();
            out.covariance.col(2).setZero();
        }
        const double here = 1.0 - day_.start.elsewhere;
        out.probability = std::clamp(sum.within * here, 0.0, 1.0);
        out.word = station::judge(out.probability, options_.confidence);
        out.probability_moved = std::min(sum.moved, 1.0);
        if (sum.moved > 0.0) out.displacement_m = sum.displacement / sum.moved;
        if (!point.has_height) out.displacement_m.z() = 0.0;
        double unmoved = 0.0;
        for (const auto& start : state_->evidence.starts) {
            station::StateCovariance c = start.covariance.topLeftCorner<10, 10>();
            c.diagonal().head<4>() += rate_ * (entry.time_s - day_.setup_time_s);
            unmoved +=
                start.weight * station::probability_within(
                                   point.target, point.has_height,
                                   point.deviation_m - point.by_state * start.mean.head<10>(),
                                   point.by_state * c * point.by_state.transpose() + point.own);
        }
        out.probability_unmoved = std::clamp(unmoved * here, 0.0, 1.0);
        out.in_doubt_by_move =
            out.word != station::Word::proven && out.probability_unmoved >= options_.confidence;
        out_.proven += out.word == station::Word::proven ? 1 : 0;
        out_.in_doubt += out.word == station::Word::in_doubt ? 1 : 0;
        out_.failing += out.word == station::Word::fails ? 1 : 0;
    }

    void sights() {
        const Evidence& evidence = state_->evidence;
        for (std::size_t o = 0; o < evidence.observations.size(); ++o) {
            EventReport& event =
                out_.events[static_cast<std::size_t>(evidence.observations[o].event)];
            event.statistic = internal::innovation_statistic(evidence, o);
            event.dof = evidence.observations[o].rows;
            event.is_good = event.statistic <= adjust::chi_square_quantile(kGoodCheck, event.dof);
        }
    }

    void moves() {
        const Timeline& timeline = state_->timeline;
        const Evidence& evidence = state_->evidence;
        struct Place {
            double probability = 0.0;
            infer::Normal<4> shift;
        };
        std::map<int, Place> places;
        const auto stretch_of = [&](int p) {
            if (p < 0) return -1;
            const Pattern& pattern = evidence.patterns[static_cast<std::size_t>(p)];
            return pattern.change == Change::bump ? pattern.stretch : -1;
        };
        for (const Member& m : evidence.members) {
            const int first = stretch_of(m.pattern);
            const int second = stretch_of(m.second);
            if (first >= 0) places[first].probability += m.weight;
            if (second >= 0) places[second].probability += m.weight;
            if (first < 0 && second < 0) continue;
            out_.probability_bump += m.weight;
            const auto seen = [&](int s) {
                return s >= 0 && s + 1 < static_cast<int>(timeline.stretches.size());
            };
            if (seen(first) || seen(second)) out_.probability_bump_seen += m.weight;
        }
        for (const Scenario& s : state_->scenarios) {
            const auto add = [&](int p, int at) {
                const int stretch = stretch_of(p);
                if (stretch < 0) return;
                infer::put_together(places[stretch].shift,
                                    infer::Normal<4>{s.weight, s.amount.mean.segment<4>(at),
                                                     s.amount.covariance.block<4, 4>(at, at)});
            };
            add(s.member.pattern, 0);
            add(s.member.second, 4);
        }
        for (const auto& [stretch, place] : places) {
            const auto& where = timeline.stretches[static_cast<std::size_t>(stretch)];
            MoveTime move;
            move.from_event = where.from_event;
            move.to_event = where.to_event;
            move.probability = std::min(place.probability, 1.0);
            move.shift = place.shift.mean;
            move.shift_sd = place.shift.covariance.diagonal().cwiseMax(0.0).cwiseSqrt();
            for (int e = where.from_event + 1; e < where.to_event; ++e)
                if (timeline.events[static_cast<std::size_t>(e)].kind == EventKind::laying)
                    move.layings_between.push_back(
                        timeline.events[static_cast<std::size_t>(e)].index);
            out_.moves.push_back(std::move(move));
        }
        std::stable_sort(
            out_.moves.begin(), out_.moves.end(),
            [](const MoveTime& a, const MoveTime& b) { return a.probability > b.probability; });
        out_.probability_bump = std::min(out_.probability_bump, 1.0);
        out_.probability_bump_seen = std::min(out_.probability_bump_seen, 1.0);
    }

    const Day& day_;
    const WatchOptions& options_;
    Eigen::Vector4d rate_;
    std::shared_ptr<DayState> state_;
    DayReport out_;
};

}  // namespace

std::string_view to_word(EventKind kind) {
    switch (kind) {
        case EventKind::setup_finished:
            return "set-up finished";
        case EventKind::check:
            return "check";
        case EventKind::resight:
            return "re-sight";
        case EventKind::laying:
            return "laying";
        case EventKind::end_of_day:
            return "end of day";
    }
    return "end of day";
}

std::string_view to_word(Change change) {
    using cause::Cause;
    switch (change) {
        case Change::nothing:
            return cause::to_word(Cause::nothing_wrong);
        case Change::bump:
            return cause::to_word(Cause::tripod_disturbed);
        case Change::mark_moved:
            return cause::to_word(Cause::mark_moved);
        case Change::mark_height_changed:
            return cause::to_word(Cause::mark_height_changed);
        case Change::rod_not_plumb:
            return cause::to_word(Cause::rod_not_plumb);
        case Change::rod_height_wrong:
            return cause::to_word(Cause::rod_height_wrong);
    }
    return cause::to_word(Cause::nothing_wrong);
}

double detectable_bump(const DayReport& report, double time_s, const PoseVector& direction) {
    constexpr double kRootNoncentrality = 4.1321;
    constexpr double kNever = std::numeric_limits<double>::infinity();
    if (report.state == nullptr) return kNever;
    const Timeline& timeline = report.state->timeline;
    const Evidence& evidence = report.state->evidence;
    int stretch = 0;
    while (stretch + 1 < static_cast<int>(timeline.moments.size()) &&
           timeline.moment_time_s(static_cast<std::size_t>(stretch + 1)) <= time_s)
        ++stretch;
    const auto seen = [&](const Pattern& p) {
        return p.change == Change::bump && p.stretch == stretch && p.first_shown >= 0;
    };
    const auto at = std::find_if(evidence.patterns.begin(), evidence.patterns.end(), seen);
    if (at == evidence.patterns.end()) return kNever;
    const Eigen::VectorXd effect =
        evidence.root.front().triangularView<Eigen::Lower>().solve(at->rows * direction);
    return effect.norm() > 0.0 ? kRootNoncentrality / effect.norm() : kNever;
}

Result<DayReport> watch(const Day& day, const WatchOptions& options) {
    if (auto refusal = internal::refuse(day, options)) return *refusal;
    return Watch(day, options).run();
}

}  // namespace layproof::watch

// Checks and re-sights as rows, and the changes as patterns over them.

#include <algorithm>
#include <cmath>

#include "watch/patterns_internal.hpp"

namespace layproof::watch::internal {
namespace {

/// A moved mark is in height a quarter as often as in plan (the shares of the causes table).
constexpr double kHeightShare = 0.25;

using cause::Cause;

/// A mark the set-up sighted is correlated with the pose.
bool is_new_mark(const Day& day, int mark) {
    const Eigen::Index at = station::kStateSize + 3 * static_cast<Eigen::Index>(mark);
    return std::all_of(day.start.beliefs.begin(), day.start.beliefs.end(),
                       [&](const auto& b) { return b.covariance.block(0, at, 4, 3).isZero(0.0); });
}

}  // namespace

std::vector<Observation> make_observations(const Day& day, const Timeline& timeline) {
    const auto constants = kOtherStates + 3 * static_cast<Eigen::Index>(day.start.marks.size());
    std::vector<Observation> out;
    for (std::size_t m = 0; m < timeline.moments.size(); ++m) {
        const Entry& entry = timeline.events[static_cast<std::size_t>(timeline.moments[m])];
        Observation o;
        o.event = timeline.moments[m];
        o.moment = static_cast<int>(m);
        o.by_constant = Eigen::MatrixXd::Zero(3, constants);
        const auto index = static_cast<std::size_t>(std::max(entry.index, 0));
        if (entry.kind == EventKind::check) {
            const Check& check = day.checks[index];
            o.rows = check.rows;
            o.mark = check.mark_index;
            o.value = check.misfit_m;
            o.by_pose = check.by_state.leftCols<4>();
            o.by_constant.leftCols<kOtherStates>() = check.by_state.rightCols<kOtherStates>();
            o.by_constant.middleCols<3>(kOtherStates + 3 * check.mark_index) = check.by_mark;
            o.by_rod = check.by_mark;
            o.own = check.own;
        } else if (entry.kind == EventKind::resight) {
            const Resight& sight = day.resights[index];
            const LaidPoint& laid = day.points[static_cast<std::size_t>(sight.point)];
            o.rows = sight.has_height && laid.has_height ? 3 : 2;
            o.point = sight.point;
            o.laid_moment = timeline
                                .events[static_cast<std::size_t>(
                                    timeline.event_of_point[static_cast<std::size_t>(sight.point)])]
                                .moment;
            o.value = sight.deviation_m - laid.deviation_m;
            o.by_pose = sight.by_state.leftCols<4>();
            o.by_pose_laid = laid.by_state.leftCols<4>();
            o.by_constant.leftCols<kOtherStates>() =
                sight.by_state.rightCols<kOtherStates>() - laid.by_state.rightCols<kOtherStates>();
            o.by_rod.setIdentity();
            o.laid_own = laid.own;
            o.own = sight.own;
        } else {
            continue;
        }
        out.push_back(std::move(o));
    }
    return out;
}

namespace {

class PatternMaker {
public:
    PatternMaker(const Day& day, const WatchOptions& options, const Timeline& timeline,
                 const std::vector<Observation>& observations, const std::vector<int>& first_row,
                 int rows)
        : day_(day),
          options_(options),
          timeline_(timeline),
          observations_(observations),
          first_row_(first_row),
          rows_(rows) {}

    std::vector<Pattern> run() {
        if (options_.most_changes < 1) return {};
        bumps();
        marks();
        rods();
        return std::move(out_);
    }

private:
    Pattern blank(Change change) const {
        Pattern p;
        p.change = change;
        p.rows = Eigen::MatrixXd::Zero(rows_, 4);
        return p;
    }

    void put(Pattern& p, std::size_t o, const ByPose& by_amount) const {
        const int n = observations_[o].rows;
        if (by_amount.topRows(n).isZero(0.0)) return;
        p.rows.middleRows(first_row_[o], n) += by_amount.topRows(n);
        if (p.first_shown < 0) p.first_shown = static_cast<int>(o);
    }

    void add(Pattern p, Cause cause, double odds, auto variance) {
        const auto& sizes = options_.sizes.of(cause).sizes;
        if (sizes.empty() || !(odds > 0.0)) return;
        for (const auto& size : sizes) {
            const Eigen::Vector4d v = variance(size);
            if (v.allFinite() && v.maxCoeff() > 0.0)
                p.sizes.push_back({v, odds / static_cast<double>(sizes.size())});
        }
        if (!p.sizes.empty()) out_.push_back(std::move(p));
    }

    static double square(double x) { return x * x; }

    void bumps() {
        for (std::size_t s = 0; s < timeline_.stretches.size(); ++s) {
            const Stretch& stretch = timeline_.stretches[s];
            Pattern p = blank(Change::bump);
            p.stretch = static_cast<int>(s);
            p.from_event = stretch.from_event;
            p.to_event = stretch.to_event;
            for (std::size_t o = 0; o < observations_.size(); ++o) {
                const Observation& seen = observations_[o];
                if (seen.moment <= p.stretch) continue;
                ByPose by = seen.by_pose;
                if (seen.laid_moment > p.stretch) by -= seen.by_pose_laid;
                put(p, o, by);
            }
            add(std::move(p), Cause::tripod_disturbed, stretch.odds, [&](const auto& size) {
                const double length = square(size.length_m);
                return Eigen::Vector4d(length, length, square(size.angle_rad),
                                       day_.has_height ? length : 0.0);
            });
        }
    }

    void marks() {
        const Odds& odds = options_.odds;
        for (int m = 0; m < static_cast<int>(day_.start.marks.size()); ++m) {
            int before = 0;  // event of the sight before
            bool first = true;
            for (std::size_t o = 0; o < observations_.size(); ++o) {
                if (observations_[o].mark != m) continue;
                const int now = observations_[o].event;
                const double hours = (timeline_.events[static_cast<std::size_t>(now)].time_s -
                                      timeline_.events[static_cast<std::size_t>(before)].time_s) /
                                     kHour_s;
                double odd = odds.mark_per_hour * hours + odds.mark_per_gap;
                if (first && is_new_mark(day_, m)) odd += odds.new_mark;
                mark_from(m, o, before, now, odd);
                before = now;
                first = false;
            }
        }
    }

    void mark_from(int mark, std::size_t from, int before, int now, double odds) {
        Pattern plan = blank(Change::mark_moved);
        Pattern height = blank(Change::mark_height_changed);
        for (Pattern* p : {&plan, &height}) {
            p->mark = mark;
            p->observation = static_cast<int>(from);
            p->from_event = before;
            p->to_event = now;
        }
        for (std::size_t o = from; o < observations_.size(); ++o) {
            if (observations_[o].mark != mark) continue;
            ByPose by = ByPose::Zero();
            by.leftCols<2>() = observations_[o].by_rod.leftCols<2>();
            put(plan, o, by);
            by.setZero();
            by.col(3) = observations_[o].by_rod.col(2);
            put(height, o, by);
        }
        add(std::move(plan), Cause::mark_moved, odds, [](const auto& size) {
            return Eigen::Vector4d(square(size.length_m), square(size.length_m), 0.0, 0.0);
        });
        if (height.first_shown >= 0)
            add(std::move(height), Cause::mark_height_changed, odds * kHeightShare,
                [](const auto& size) {
                    return Eigen::Vector4d(0.0, 0.0, 0.0, square(size.length_m));
                });
    }

    void rods() {
        for (std::size_t o = 0; o < observations_.size(); ++o) {
            const Observation& seen = observations_[o];
            for (const Change change : {Change::rod_not_plumb, Change::rod_height_wrong}) {
                const bool leaned = change == Change::rod_not_plumb;
                Pattern p = blank(change);
                p.observation = static_cast<int>(o);
                p.from_event = p.to_event = seen.event;
                ByPose by = ByPose::Zero();
                if (leaned) {
                    by.leftCols<2>() = seen.by_rod.leftCols<2>();
                } else {
                    by.col(3) = seen.by_rod.col(2);
                }
                put(p, o, by);
                if (p.first_shown < 0) continue;
                add(std::move(p), leaned ? Cause::rod_not_plumb : Cause::rod_height_wrong,
                    leaned ? options_.odds.rod_leaned : options_.odds.rod_height,
                    [leaned](const auto& size) {
                        const double length = square(size.length_m);
                        return leaned ? Eigen::Vector4d(length, length, 0.0, 0.0)
                                      : Eigen::Vector4d(0.0, 0.0, 0.0, length);
                    });
            }
        }
    }

    const Day& day_;
    const WatchOptions& options_;
    const Timeline& timeline_;
    const std::vector<Observation>& observations_;
    const std::vector<int>& first_row_;
    int rows_;
    std::vector<Pattern> out_;
};

}  // namespace

std::vector<Pattern> make_patterns(const Day& day, const WatchOptions& options,
                                   const Timeline& timeline,
                                   const std::vector<Observation>& observations,
                                   const std::vector<int>& first_row, int rows) {
    return PatternMaker(day, options, timeline, observations, first_row, rows).run();
}

}  // namespace layproof::watch::internal

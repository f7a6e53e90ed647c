#include <fmt/format.h>

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>

#include "watch/timeline_internal.hpp"

namespace layproof::watch::internal {
namespace {

/// Covariances may be this far (relative) from symmetric or positive.
constexpr double kRounding = 1e-9;

Refusal no(ErrorCode code, std::string found, std::string expected) {
    return {code, {}, std::move(found), std::move(expected)};
}

/// The first `rows` of an own error: positive definite.
bool is_proper(const Eigen::Matrix3d& own, int rows) {
    const Eigen::MatrixXd part = own.topLeftCorner(rows, rows);
    if (!part.isApprox(part.transpose(), kRounding)) return false;
    const Eigen::VectorXd scale = part.diagonal().cwiseSqrt().cwiseInverse();
    return scale.allFinite() &&
           Eigen::MatrixXd(scale.asDiagonal() * part * scale.asDiagonal()).llt().info() ==
               Eigen::Success;
}

std::optional<Refusal> refuse_start(const Day& day) {
    const auto size = station::kStateSize + 3 * static_cast<Eigen::Index>(day.start.marks.size());
    double total = 0.0;
    for (const auto& belief : day.start.beliefs) {
        if (belief.mean.size() != size || belief.covariance.rows() != size ||
            belief.covariance.cols() != size)
            return no(ErrorCode::setup_incomplete, "a start of another size than its marks",
                      "state, then three numbers per mark");
        if (!belief.mean.allFinite() || !belief.covariance.allFinite() ||
            !std::isfinite(belief.weight))
            return no(ErrorCode::not_finite, "a start that is not finite", "finite numbers");
        if (belief.weight < 0.0 || belief.covariance.diagonal().minCoeff() < 0.0)
            return no(ErrorCode::out_of_range, "a start with a negative weight or variance",
                      "weights and variances of at least 0");
        total += belief.weight;
    }
    if (!(total > 0.0))
        return no(ErrorCode::setup_incomplete, "a start without beliefs",
                  "at least one belief about the pose");
    if (!(day.start.elsewhere >= 0.0 && day.start.elsewhere <= 1.0))
        return no(ErrorCode::out_of_range, fmt::format("elsewhere {}", day.start.elsewhere),
                  "a probability");
    return std::nullopt;
}

std::optional<Refusal> refuse_options(const WatchOptions& options) {
    const Odds& o = options.odds;
    for (const double x : {o.bump_per_hour, o.bump_per_gap, o.mark_per_hour, o.mark_per_gap,
                           o.new_mark, o.rod_leaned, o.rod_height, options.check_every_s}) {
        if (!(std::isfinite(x) && x >= 0.0))
            return no(ErrorCode::out_of_range, fmt::format("odds or interval {}", x),
                      "a finite number of at least 0");
    }
    const Eigen::Vector4d q = variance_per_second(options.drift);
    if (!q.allFinite())
        return no(ErrorCode::not_finite, "a drift rate that is not finite", "finite numbers");
    if (!(options.confidence > 0.0 && options.confidence < 1.0))
        return no(ErrorCode::out_of_range, fmt::format("confidence {}", options.confidence),
                  "between 0 and 1");
    return std::nullopt;
}

}  // namespace

std::optional<Refusal> refuse(const Day& day, const WatchOptions& options) {
    if (auto refusal = refuse_start(day)) return refusal;
    if (auto refusal = refuse_options(options)) return refusal;
    const double begin = day.setup_time_s;
    if (!std::isfinite(begin) || (day.end_time_s && !std::isfinite(*day.end_time_s)))
        return no(ErrorCode::not_finite, "a time that is not finite", "UTC seconds");
    const auto in_day = [&](double time_s) {
        return time_s >= begin && (!day.end_time_s || time_s <= *day.end_time_s);
    };
    const auto when = [&](double time_s, const std::string& what) {
        return no(ErrorCode::out_of_range,
                  fmt::format("{} {:.0f} s after the set-up", what, time_s - begin),
                  "a time between the set-up and the end of the day");
    };
    if (day.end_time_s && *day.end_time_s < begin) return when(*day.end_time_s, "an end");
    const auto marks = static_cast<int>(day.start.marks.size());
    for (const Check& check : day.checks) {
        if (!std::isfinite(check.time_s) || !check.misfit_m.allFinite() ||
            !check.by_state.allFinite() || !check.by_mark.allFinite() || !check.own.allFinite())
            return no(ErrorCode::not_finite, "a check of " + check.mark + " that is not finite",
                      "finite numbers");
        if (check.mark_index < 0 || check.mark_index >= marks || check.rows < 1 || check.rows > 3)
            return no(ErrorCode::target_unknown, "a check of " + check.mark,
                      "one to three rows at a mark of the start");
        if (!is_proper(check.own, check.rows))
            return no(ErrorCode::out_of_range, "the own error of a check of " + check.mark,
                      "a positive definite covariance");
        if (!in_day(check.time_s)) return when(check.time_s, "a check of " + check.mark);
    }
    for (const LaidPoint& point : day.points) {
        if (!std::isfinite(point.time_s) || !point.deviation_m.allFinite() ||
            !point.by_state.allFinite() || !point.own.allFinite())
            return no(ErrorCode::not_finite, "point " + point.target.name + " is not finite",
                      "finite numbers");
        if (!is_proper(point.own, point.has_height ? 3 : 2))
            return no(ErrorCode::out_of_range, "the own error of point " + point.target.name,
                      "a positive definite covariance");
        if (!in_day(point.time_s)) return when(point.time_s, "point " + point.target.name);
    }
    for (const Resight& sight : day.resights) {
        if (sight.point < 0 || sight.point >= static_cast<int>(day.points.size()))
            return no(ErrorCode::target_unknown, "a re-sight of a point that was not laid",
                      "a point of the day");
        const LaidPoint& point = day.points[static_cast<std::size_t>(sight.point)];
        if (!std::isfinite(sight.time_s) || !sight.deviation_m.allFinite() ||
            !sight.by_state.allFinite() || !sight.own.allFinite())
            return no(ErrorCode::not_finite, "a re-sight of " + point.target.name,
                      "finite numbers");
        if (!is_proper(sight.own, sight.has_height ? 3 : 2))
            return no(ErrorCode::out_of_range,
                      "the own error of a re-sight of " + point.target.name,
                      "a positive definite covariance");
        if (!in_day(sight.time_s) || sight.time_s < point.time_s)
            return when(sight.time_s, "a re-sight of " + point.target.name);
    }
    return std::nullopt;
}

Timeline make_timeline(const Day& day, const Odds& odds) {
    Timeline out;
    out.resighted.assign(day.points.size(), false);
    for (const Resight& sight : day.resights)
        out.resighted[static_cast<std::size_t>(sight.point)] = true;
    const auto add = [&](EventKind kind, std::size_t index, double time_s) {
        out.events.push_back({kind, static_cast<int>(index), time_s, -1, 0, 0.0});
    };
    for (std::size_t i = 0; i < day.checks.size(); ++i)
        add(EventKind::check, i, day.checks[i].time_s);
    for (std::size_t i = 0; i < day.points.size(); ++i)
        add(EventKind::laying, i, day.points[i].time_s);
    for (std::size_t i = 0; i < day.resights.size(); ++i)
        add(EventKind::resight, i, day.resights[i].time_s);
    // At one and the same time the check comes first; a re-sight never comes before its laying.
    const auto rank = [](EventKind kind) {
        return kind == EventKind::check ? 0 : kind == EventKind::laying ? 1 : 2;
    };
    std::stable_sort(out.events.begin(), out.events.end(), [&](const Entry& a, const Entry& b) {
        return a.time_s != b.time_s ? a.time_s < b.time_s : rank(a.kind) < rank(b.kind);
    });
    out.events.insert(out.events.begin(),
                      {EventKind::setup_finished, -1, day.setup_time_s, -1, 0, 0.0});
    const double end = day.end_time_s.value_or(out.events.back().time_s);
    out.events.push_back({EventKind::end_of_day, -1, end, -1, 0, 0.0});

    out.event_of_point.assign(day.points.size(), -1);
    out.event_of_check.assign(day.checks.size(), -1);
    out.event_of_resight.assign(day.resights.size(), -1);
    double odds_so_far = 0.0;
    for (std::size_t e = 0; e < out.events.size(); ++e) {
        Entry& entry = out.events[e];
        if (e > 0) {
            const double duration = entry.time_s - out.events[e - 1].time_s;
            // Nothing but the event itself stands between two events at one time.
            const double gap =
                duration > 0.0 ? odds.bump_per_hour * duration / kHour_s + odds.bump_per_gap : 0.0;
            odds_so_far += gap;
        }
        entry.odds_before = odds_so_far;
        const auto i = static_cast<std::size_t>(std::max(entry.index, 0));
        bool informs = false;
        switch (entry.kind) {
            case EventKind::setup_finished:
                informs = true;
                break;
            case EventKind::check:
                informs = true;
                out.event_of_check[i] = static_cast<int>(e);
                out.last_sight = static_cast<int>(e);
                break;
            case EventKind::resight:
                informs = true;
                out.event_of_resight[i] = static_cast<int>(e);
                out.last_sight = static_cast<int>(e);
                break;
            case EventKind::laying:
                informs = out.resighted[i];
                out.event_of_point[i] = static_cast<int>(e);
                break;
            case EventKind::end_of_day:
                break;
        }
        if (informs) {
            if (!out.stretches.empty()) {
                out.stretches.back().odds = odds_so_far;
                out.stretches.back().to_event = static_cast<int>(e);
            }
            odds_so_far = 0.0;
            entry.moment = static_cast<int>(out.moments.size());
            out.moments.push_back(static_cast<int>(e));
            out.stretches.push_back({0.0, static_cast<int>(e), -1});
        }
        entry.stretch = static_cast<int>(out.stretches.size()) - 1;
    }
    out.stretches.back().odds = odds_so_far;
    out.stretches.back().to_event = static_cast<int>(out.events.size()) - 1;
    return out;
}

}  // namespace layproof::watch::internal

#include "watch/next_check.hpp"

#include <algorithm>
#include <cmath>

#include "watch/state_internal.hpp"

namespace layproof::watch {
namespace {

constexpr std::size_t kMostScenarios = 8;
/// Points followed: the least certain right after the check.
constexpr std::size_t kMostPoints = 24;
constexpr double kResolution_s = 1.0;

class Outlook {
public:
    Outlook(const Day& day, const WatchOptions& options, const DayReport& report)
        : day_(day), options_(options), rate_(variance_per_second(options.drift)) {
        const DayState& state = *report.state;
        double total = 0.0;
        for (const auto& s : state.scenarios) {
            if (now_.size() >= kMostScenarios) break;
            const internal::Bridge bridge =
                internal::bridge_of(s, state.timeline.moments.size() - 1);
            now_.push_back(
                {s.weight, bridge.mean.head<10>(), bridge.covariance.topLeftCorner<10, 10>()});
            total += s.weight;
        }
        for (auto& belief : now_) belief.weight /= total;
        known_s_ = state.timeline.moment_time_s(state.timeline.moments.size() - 1);
        for (const auto& size : options.sizes.of(cause::Cause::tripod_disturbed).sizes) {
            const double length = size.length_m * size.length_m;
            bumps_.emplace_back(length, length, size.angle_rad * size.angle_rad,
                                day.has_height ? length : 0.0);
        }
    }

    double known_s() const { return known_s_; }

    /// P(within) of the point if it is laid at this time.
    double at(const LaidPoint& point, double time_s) const {
        const double wait = std::max(time_s - known_s_, 0.0);
        const double still = with(point, wait, Eigen::Vector4d::Zero());
        const double odds = bumps_.empty() || !(wait > 0.0)
                                ? 0.0
                                : options_.odds.bump_per_hour * wait / internal::kHour_s +
                                      options_.odds.bump_per_gap;
        double bumped = 0.0;
        if (odds > 0.0)
            for (const auto& bump : bumps_)
                bumped += with(point, wait, bump) / static_cast<double>(bumps_.size());
        return (1.0 - day_.start.elsewhere) * (still + odds * bumped) / (1.0 + odds);
    }

private:
    double with(const LaidPoint& point, double wait, const Eigen::Vector4d& bump) const {
        double out = 0.0;
        for (const auto& belief : now_) {
            station::StateCovariance c = belief.covariance;
            c.diagonal().head<4>() += rate_ * wait + bump;
            out += belief.weight * station::probability_within(
                                       point.target, point.has_height,
                                       -point.by_state * (belief.mean - middle()),
                                       point.by_state * c * point.by_state.transpose() + point.own);
        }
        return out;
    }

    station::State middle() const {
        station::State out = station::State::Zero();
        for (const auto& belief : now_) out += belief.weight * belief.mean;
        return out;
    }

    const Day& day_;
    const WatchOptions& options_;
    Eigen::Vector4d rate_;
    std::vector<station::Belief> now_;
    std::vector<Eigen::Vector4d> bumps_;
    double known_s_ = 0.0;
};

}  // namespace

NextCheck next_check(const Day& day, const WatchOptions& options, const DayReport& report,
                     const std::vector<LaidPoint>& upcoming) {
    NextCheck out;
    double last = day.setup_time_s;
    for (const Check& check : day.checks) last = std::max(last, check.time_s);
    out.due_s = last + options.check_every_s;
    const std::vector<LaidPoint>& points = upcoming.empty() ? day.points : upcoming;
    if (points.empty() || report.state == nullptr) return out;

    const Outlook outlook(day, options, report);
    const double from = std::max(last, outlook.known_s());
    std::vector<std::pair<double, std::size_t>> order;
    for (std::size_t i = 0; i < points.size(); ++i) {
        const double p = outlook.at(points[i], from);
        if (p >= options.confidence) order.emplace_back(p, i);
    }
    std::sort(order.begin(), order.end());
    if (order.size() > kMostPoints) order.resize(kMostPoints);
    double lowest = 2.0;
    for (const auto& [p_now, i] : order) {
        const double p = outlook.at(points[i], std::max(out.due_s, from));
        if (p < lowest) {
            lowest = p;
            out.point = static_cast<int>(i);
        }
    }
    if (out.point < 0) return out;
    out.probability = lowest;
    if (lowest >= options.confidence || out.due_s <= from) return out;
    const LaidPoint& weakest = points[static_cast<std::size_t>(out.point)];
    double good = from;
    double bad = out.due_s;
    while (bad - good > kResolution_s) {
        const double middle = 0.5 * (good + bad);
        (outlook.at(weakest, middle) >= options.confidence ? good : bad) = middle;
    }
    out.by_drift = true;
    out.due_s = good;
    out.probability = outlook.at(weakest, good);
    return out;
}

}  // namespace layproof::watch

#include "watch/resight.hpp"

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>

#include "watch/state_internal.hpp"

namespace layproof::watch {
namespace {

using internal::Between;
using internal::Bridge;
using internal::Entry;
using internal::Scenario;
using internal::Timeline;

constexpr double kCovered = 0.998;
constexpr std::size_t kMostOutlooks = 12;
/// Points surer than this (bits) are not asked about.
constexpr double kOpenBits = 0.02;
/// Explanations that new figures make less probable than this are left out of the sum.
constexpr double kSmallShare = 1e-5;

double bits(double p) {
    const double q = 1.0 - p;
    double out = 0.0;
    if (p > 0.0) out -= p * std::log2(p);
    if (q > 0.0) out -= q * std::log2(q);
    return out;
}

/// New figures under one explanation.
struct Case {
    std::size_t scenario = 0;
    int split = 0;  ///< −1 the bump lies after the candidate, 1 before, 0 not in its stretch
    double weight = 0.0;
    Eigen::Vector3d mean = Eigen::Vector3d::Zero();
    Eigen::Matrix3d covariance = Eigen::Matrix3d::Identity();
    double own_bits = 0.0;  ///< what stays open about the candidate itself
    Eigen::MatrixXd root;
    double log_norm = 0.0;
};

/// P(within) of a point under a scenario: with the bump of its stretch after it, and before it.
struct PointOutlook {
    double after = 0.0;
    double before = 0.0;
    double share_before = 0.0;
};

class Ranking {
public:
    Ranking(const Day& day, const WatchOptions& options, const DayReport& report,
            const ResightOptions& how)
        : day_(day),
          report_(report),
          how_(how),
          state_(*report.state),
          rate_(variance_per_second(options.drift)) {}

    std::vector<NextResight> run() {
        take_scenarios();
        open_points();
        if (open_.empty()) return {};
        std::vector<NextResight> out;
        for (const int p : candidates()) {
            const auto cases = cases_of_point(static_cast<std::size_t>(p));
            const int rows = day_.points[static_cast<std::size_t>(p)].has_height ? 3 : 2;
            out.push_back({false, p, day_.points[static_cast<std::size_t>(p)].target.name,
                           now_bits_ - expected_bits(cases, rows, p), now_bits_});
        }
        for (const Check& check : marks()) {
            const auto cases = cases_of_mark(check);
            out.push_back({true, check.mark_index, check.mark,
                           now_bits_ - expected_bits(cases, check.rows, -1), now_bits_});
        }
        std::stable_sort(out.begin(), out.end(), [](const NextResight& a, const NextResight& b) {
            return a.gain_bits > b.gain_bits;
        });
        return out;
    }

private:
    const Entry& entry_of(std::size_t p) const {
        return state_.timeline.events[static_cast<std::size_t>(state_.timeline.event_of_point[p])];
    }

    void take_scenarios() {
        double covered = 0.0;
        for (const Scenario& s : state_.scenarios) {
            if (covered > kCovered || scenarios_ >= kMostOutlooks) break;
            covered += s.weight;
            ++scenarios_;
        }
        for (std::size_t s = 0; s < scenarios_; ++s)
            weights_.push_back(state_.scenarios[s].weight / covered);
        outlooks_.assign(day_.points.size(), std::vector<PointOutlook>(scenarios_));
        for (std::size_t p = 0; p < day_.points.size(); ++p) {
            const Entry& entry = entry_of(p);
            for (const DayState::PointPart& part : state_.points[p]) {
                if (part.scenario >= scenarios_) continue;
                PointOutlook& o = outlooks_[p][part.scenario];
                const bool split =
                    entry.moment < 0 && state_.scenarios[part.scenario]
                                            .has_bump[static_cast<std::size_t>(entry.stretch)];
                if (split && part.before_here) {
                    o.before = part.within;
                    o.share_before = part.share;
                } else {
                    o.after = part.within;
                }
            }
        }
    }

    void open_points() {
        for (std::size_t p = 0; p < day_.points.size(); ++p) {
            double within = 0.0;
            for (std::size_t s = 0; s < scenarios_; ++s) {
                const PointOutlook& o = outlooks_[p][s];
                within +=
                    weights_[s] * (o.share_before * o.before + (1.0 - o.share_before) * o.after);
            }
            const double h = bits(std::clamp(within, 0.0, 1.0));
            if (h < kOpenBits) continue;
            open_.push_back(static_cast<int>(p));
            now_bits_ += h;
        }
        const bool any = std::any_of(report_.points.begin(), report_.points.end(),
                                     [](const PointReport& p) { return p.in_doubt_by_move; });
        if (!any) open_.clear();
    }

    std::vector<int> candidates() const {
        std::vector<int> all;
        for (const int p : open_)
            if (!state_.timeline.resighted[static_cast<std::size_t>(p)]) all.push_back(p);
        std::stable_sort(all.begin(), all.end(), [&](int a, int b) {
            return state_.timeline.event_of_point[static_cast<std::size_t>(a)] <
                   state_.timeline.event_of_point[static_cast<std::size_t>(b)];
        });
        const auto most = static_cast<std::size_t>(std::max(how_.most_points, 1));
        if (all.size() <= most) return all;
        std::vector<int> out;
        for (std::size_t i = 0; i < most; ++i) out.push_back(all[i * all.size() / most]);
        return out;
    }

    std::vector<Check> marks() const {
        if (!how_.marks.empty()) {
            std::vector<Check> out;
            for (const Check& c : how_.marks) {
                const bool known = c.mark_index >= 0 &&
                                   c.mark_index < static_cast<int>(day_.start.marks.size()) &&
                                   c.rows >= 1 && c.rows <= 3;
                if (known) out.push_back(c);
            }
            return out;
        }
        std::vector<Check> out;
        for (const Check& c : day_.checks) {
            const auto same = std::find_if(out.begin(), out.end(), [&](const Check& o) {
                return o.mark_index == c.mark_index;
            });
            if (same == out.end()) {
                out.push_back(c);
            } else {
                *same = c;
            }
        }
        return out;
    }

    double now_s() const { return state_.timeline.events.back().time_s; }

    /// Covariance of the chain's state at each moment with the pose at the last one.
    const std::vector<Eigen::MatrixXd>& with_last(std::size_t s) {
        if (with_last_.size() <= s) with_last_.resize(s + 1);
        auto& list = with_last_[s];
        if (list.empty()) {
            const internal::Scenario& sc = state_.scenarios[s];
            const std::size_t n = sc.chain.smoothed.size();
            list.resize(n);
            list[n - 1] = sc.chain.smoothed[n - 1].covariance.leftCols<4>();
            for (std::size_t k = n - 1; k-- > 0;) list[k] = sc.chain.gain[k] * list[k + 1];
        }
        return list;
    }

    std::vector<Case> cases_of_point(std::size_t p) {
        const LaidPoint& point = day_.points[p];
        const Entry& entry = entry_of(p);
        const auto stretch = static_cast<std::size_t>(entry.stretch);
        const int rows = point.has_height ? 3 : 2;
        std::vector<Case> out;
        for (std::size_t s = 0; s < scenarios_; ++s) {
            const Scenario& sc = state_.scenarios[s];
            const Bridge bridge = internal::bridge_of(sc, stretch);
            const ChainEstimate& last = sc.chain.smoothed.back();
            const bool open = stretch + 1 >= sc.chain.smoothed.size();
            // Covariance of (pose here, other states, pose later) with the pose at the last moment.
            Eigen::Matrix<double, 14, 4> ends = Eigen::Matrix<double, 14, 4>::Zero();
            for (int i = 0; i < 10; ++i) {
                const int at = i < 4 ? i : sc.place[static_cast<std::size_t>(i - 4)];
                if (at >= 0) ends.row(i) = with_last(s)[stretch].row(at);
            }
            if (!open) ends.bottomRows<4>() = with_last(s)[stretch + 1].topRows<4>();
            const bool split = sc.has_bump[stretch];
            const Eigen::Vector4d walked =
                rate_ *
                (now_s() - state_.timeline.moment_time_s(state_.timeline.moments.size() - 1));
            for (const bool before : {false, true}) {
                const double share = outlooks_[p][s].share_before;
                const double part = split ? (before ? share : 1.0 - share) : (before ? 0.0 : 1.0);
                if (!(part > 0.0)) continue;
                const Between at = internal::between(sc, state_.timeline, rate_, entry, before);
                Eigen::Matrix<double, 10, 14> pick = Eigen::Matrix<double, 10, 14>::Zero();
                pick.leftCols<10>().setIdentity();
                for (int i = 0; i < 4; ++i) {
                    pick(i, i) = 1.0 - at.later[i];
                    pick(i, 10 + i) = at.later[i];
                }
                const station::State mean = pick * bridge.mean;
                station::StateCovariance here = pick * bridge.covariance * pick.transpose();
                here.diagonal().head<4>() += at.variance;
                Eigen::Matrix<double, 10, 4> cross = pick * ends;
                Eigen::Matrix4d now = last.covariance.topLeftCorner<4, 4>();
                now.diagonal() += walked;
                if (open) {
                    // What the pose walked until the laying is in the pose now as well.
                    cross.topRows<4>().diagonal() += at.variance;
                    now.diagonal() += sc.bump[stretch];
                }
                const Eigen::Matrix<double, 3, 4> b = point.by_state.leftCols<4>();
                const Eigen::Matrix<double, 10, 4> with_shift = cross - here.leftCols<4>();
                const Eigen::Matrix4d x_cross = cross.topRows<4>();
                const Eigen::Matrix4d shift =
                    now - x_cross - x_cross.transpose() + here.topLeftCorner<4, 4>();
                Case c;
                c.scenario = s;
                c.split = split ? (before ? 1 : -1) : 0;
                c.weight = weights_[s] * part;
                c.mean = b * (last.mean.head<4>() - mean.head<4>());
                c.covariance = b * shift * b.transpose() + 2.0 * point.own;
                const Eigen::Matrix3d with_d =
                    -point.by_state * with_shift * b.transpose() + point.own;
                const Eigen::Vector3d d_mean = point.deviation_m - point.by_state * mean;
                Eigen::Matrix3d d = point.by_state * here * point.by_state.transpose() + point.own;
                const Eigen::MatrixXd s_part = c.covariance.topLeftCorner(rows, rows);
                const Eigen::MatrixXd cd = with_d.leftCols(rows);
                d -= cd * s_part.llt().solve(cd.transpose());
                c.own_bits =
                    bits(station::probability_within(point.target, point.has_height, d_mean, d));
                finish(c, rows);
                out.push_back(std::move(c));
            }
        }
        return out;
    }

    std::vector<Case> cases_of_mark(const Check& check) {
        std::vector<Case> out;
        const Eigen::Vector4d walked =
            rate_ * (now_s() - state_.timeline.moment_time_s(state_.timeline.moments.size() - 1));
        for (std::size_t s = 0; s < scenarios_; ++s) {
            const Scenario& sc = state_.scenarios[s];
            const ChainEstimate& last = sc.chain.smoothed.back();
            Eigen::MatrixXd row = Eigen::MatrixXd::Zero(3, last.mean.size());
            Case c;
            c.scenario = s;
            c.weight = weights_[s];
            row.leftCols<4>() = check.by_state.leftCols<4>();
            for (int i = 0; i < 6; ++i) {
                const int at = sc.place[static_cast<std::size_t>(i)];
                if (at >= 0) row.col(at) = check.by_state.col(4 + i);
            }
            for (int k = 0; k < 3; ++k) {
                const int at = sc.place[static_cast<std::size_t>(6 + 3 * check.mark_index + k)];
                if (at >= 0) row.col(at) = check.by_mark.col(k);
            }
            c.mean = row * last.mean;
            c.covariance = row * last.covariance * row.transpose() + check.own;
            const Eigen::Matrix<double, 3, 4> b = check.by_state.leftCols<4>();
            c.covariance += b * walked.asDiagonal() * b.transpose();
            finish(c, check.rows);
            out.push_back(std::move(c));
        }
        return out;
    }

    static void finish(Case& c, int rows) {
        const Eigen::MatrixXd s = c.covariance.topLeftCorner(rows, rows);
        const Eigen::LLT<Eigen::MatrixXd> factor(s);
        c.root = factor.matrixL();
        c.log_norm = c.root.diagonal().array().log().sum();
    }

    double within(std::size_t p, const Case& c, int candidate) const {
        const PointOutlook& o = outlooks_[p][c.scenario];
        double before = o.share_before;
        if (c.split != 0 && candidate >= 0 &&
            entry_of(p).stretch == entry_of(static_cast<std::size_t>(candidate)).stretch) {
            const double cut =
                outlooks_[static_cast<std::size_t>(candidate)][c.scenario].share_before;
            if (c.split > 0) {
                before = cut > 0.0 ? std::min(before / cut, 1.0) : 0.0;
            } else {
                before = cut < 1.0 ? std::max((before - cut) / (1.0 - cut), 0.0) : 1.0;
            }
        }
        return before * o.before + (1.0 - before) * o.after;
    }

    double expected_bits(const std::vector<Case>& cases, int rows, int candidate) const {
        std::vector<std::vector<double>> view(cases.size());
        for (std::size_t c = 0; c < cases.size(); ++c)
            for (const int p : open_)
                view[c].push_back(within(static_cast<std::size_t>(p), cases[c], candidate));
        double out = 0.0;
        std::vector<double> share(cases.size());
        std::vector<double> mixed(open_.size());
        const double radius = std::sqrt(static_cast<double>(rows));
        for (const Case& truth : cases) {
            if (truth.weight < kSmallShare) continue;
            for (int q = 0; q < 2 * rows; ++q) {
                const Eigen::VectorXd z =
                    truth.mean.head(rows) + (q % 2 == 0 ? radius : -radius) * truth.root.col(q / 2);
                double top = -1e300;
                for (std::size_t c = 0; c < cases.size(); ++c) {
                    const Eigen::VectorXd off = cases[c].root.triangularView<Eigen::Lower>().solve(
                        z - cases[c].mean.head(rows));
                    share[c] = std::log(std::max(cases[c].weight, 1e-300)) -
                               0.5 * off.squaredNorm() - cases[c].log_norm;
                    top = std::max(top, share[c]);
                }
                double total = 0.0;
                for (double& s : share) total += (s = std::exp(s - top));
                std::fill(mixed.begin(), mixed.end(), 0.0);
                for (std::size_t c = 0; c < cases.size(); ++c) {
                    if (share[c] < kSmallShare * total) continue;
                    for (std::size_t k = 0; k < open_.size(); ++k)
                        mixed[k] += share[c] / total * view[c][k];
                }
                double h = 0.0;
                for (std::size_t k = 0; k < open_.size(); ++k) {
                    if (open_[k] == candidate) continue;
                    h += bits(std::clamp(mixed[k], 0.0, 1.0));
                }
                out += truth.weight * h / (2.0 * rows);
            }
            if (candidate >= 0) out += truth.weight * truth.own_bits;
        }
        return out;
    }

    const Day& day_;
    const DayReport& report_;
    const ResightOptions& how_;
    const DayState& state_;
    Eigen::Vector4d rate_;
    std::size_t scenarios_ = 0;
    std::vector<double> weights_;
    std::vector<std::vector<PointOutlook>> outlooks_;  ///< point, scenario
    std::vector<int> open_;
    double now_bits_ = 0.0;
    std::vector<std::vector<Eigen::MatrixXd>> with_last_;
};

}  // namespace

std::vector<NextResight> rank_resights(const Day& day, const WatchOptions& options,
                                       const DayReport& report, const ResightOptions& how) {
    if (report.state == nullptr || report.state->points.size() != day.points.size()) return {};
    return Ranking(day, options, report, how).run();
}

}  // namespace layproof::watch

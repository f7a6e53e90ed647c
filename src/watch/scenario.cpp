#include <algorithm>
#include <cmath>

#include "watch/scenario_internal.hpp"

namespace layproof::watch::internal {
namespace {

using Eigen::MatrixXd;
using Eigen::Vector4d;
using Eigen::VectorXd;

/// What a member adds to the noise of the chain.
struct Extra {
    std::vector<Vector4d> bump;                                   ///< per stretch
    std::vector<std::pair<int, std::pair<int, Vector4d>>> marks;  ///< moment, (mark, variance)
    std::vector<std::pair<int, Vector4d>> rods;                   ///< observation, variance
};

}  // namespace

Scenario make_scenario(const Day& day, const WatchOptions& options, const Timeline& timeline,
                       const Evidence& evidence, const Member& member) {
    Scenario out;
    out.member = member;
    out.weight = member.weight;
    out.amount = amount_of(evidence, member);
    out.bump.assign(timeline.stretches.size(), Vector4d::Zero());
    out.has_bump.assign(timeline.stretches.size(), false);
    Extra extra;
    const auto take = [&](int p, int s) {
        if (p < 0) return;
        const Pattern& pattern = evidence.patterns[static_cast<std::size_t>(p)];
        const Vector4d& variance = pattern.sizes[static_cast<std::size_t>(s)].variance;
        switch (pattern.change) {
            case Change::bump:
                out.bump[static_cast<std::size_t>(pattern.stretch)] += variance;
                out.has_bump[static_cast<std::size_t>(pattern.stretch)] = true;
                break;
            case Change::mark_moved:
            case Change::mark_height_changed:
                extra.marks.push_back(
                    {evidence.observations[static_cast<std::size_t>(pattern.observation)].moment,
                     {pattern.mark, variance}});
                break;
            case Change::rod_not_plumb:
            case Change::rod_height_wrong:
                extra.rods.push_back({pattern.observation, variance});
                break;
            case Change::nothing:
                break;
        }
    };
    take(member.pattern, member.size);
    take(member.second, member.second_size);

    const cause::JointBelief& belief = evidence.starts[static_cast<std::size_t>(member.start)];
    const Eigen::Index constants = belief.mean.size() - 4;
    out.constants = belief.mean.tail(constants);
    out.place.assign(static_cast<std::size_t>(constants), -1);
    std::vector<Eigen::Index> kept{0, 1, 2, 3};
    for (Eigen::Index c = 0; c < constants; ++c) {
        bool active = belief.covariance(4 + c, 4 + c) > 0.0 || belief.mean[4 + c] != 0.0;
        for (const auto& [moment, mark] : extra.marks) {
            const Eigen::Index at = kOtherStates + 3 * mark.first;
            active = active || (c >= at && c < at + 3);
        }
        if (!active) continue;
        out.place[static_cast<std::size_t>(c)] = static_cast<int>(kept.size());
        kept.push_back(4 + c);
    }
    ChainEstimate start;
    auto size = static_cast<Eigen::Index>(kept.size());
    start.mean.resize(size);
    start.covariance.resize(size, size);
    for (Eigen::Index i = 0; i < size; ++i) {
        start.mean[i] = belief.mean[kept[static_cast<std::size_t>(i)]];
        for (Eigen::Index j = 0; j < size; ++j)
            start.covariance(i, j) = belief.covariance(kept[static_cast<std::size_t>(i)],
                                                       kept[static_cast<std::size_t>(j)]);
    }
    const auto spread = [&](MatrixXd& row, int r, const Eigen::RowVectorXd& by_constant) {
        for (Eigen::Index c = 0; c < by_constant.size(); ++c) {
            const int at = out.place[static_cast<std::size_t>(c)];
            if (at >= 0) row(r, at) += by_constant[c];
        }
    };

    const Vector4d rate = variance_per_second(options.drift);
    out.place_of_point.assign(day.points.size(), -1);
    std::vector<ChainStep> steps(timeline.moments.size());
    std::size_t next = 0;
    for (std::size_t k = 0; k < timeline.moments.size(); ++k) {
        ChainStep& step = steps[k];
        const Entry& entry = timeline.events[static_cast<std::size_t>(timeline.moments[k])];
        const Eigen::Index before = size;
        if (entry.kind == EventKind::laying) {
            const auto p = static_cast<std::size_t>(entry.index);
            const LaidPoint& point = day.points[p];
            out.place_of_point[p] = static_cast<int>(size);
            size += 3;
            // D = y − B x − e
            step.transition = MatrixXd::Zero(size, before);
            step.transition.topLeftCorner(before, before).setIdentity();
            MatrixXd row = MatrixXd::Zero(3, before);
            row.leftCols<4>() = point.by_state.leftCols<4>();
            for (int r = 0; r < 3; ++r) spread(row, r, point.by_state.row(r).tail<kOtherStates>());
            step.transition.bottomRows<3>() = -row;
            step.offset = VectorXd::Zero(size);
            step.offset.tail<3>() = point.deviation_m;
        }
        if (k > 0) {
            step.noise = MatrixXd::Zero(size, size);
            const Vector4d q = rate * (timeline.moment_time_s(k) - timeline.moment_time_s(k - 1)) +
                               out.bump[k - 1];
            step.noise.diagonal().head<4>() += q;
            for (const auto& [moment, mark] : extra.marks) {
                if (moment != static_cast<int>(k)) continue;
                constexpr int kAxis[4] = {0, 1, -1, 2};
                for (int c = 0; c < 4; ++c) {
                    if (kAxis[c] < 0) continue;
                    const int at = out.place[static_cast<std::size_t>(kOtherStates +
                                                                      3 * mark.first + kAxis[c])];
                    step.noise(at, at) += mark.second[c];
                }
            }
            if (entry.kind == EventKind::laying) {
                // The pose wanders first, then the point is laid from where it is.
                const MatrixXd f = step.transition.leftCols(before);
                MatrixXd wandered = step.noise.topLeftCorner(before, before);
                step.noise = f * wandered * f.transpose();
                step.noise.bottomRightCorner<3, 3>() +=
                    day.points[static_cast<std::size_t>(entry.index)].own;
            }
        }
        if (entry.kind != EventKind::check && entry.kind != EventKind::resight) continue;
        const Observation& o = evidence.observations[next];
        const int n = o.rows;
        MatrixXd row = MatrixXd::Zero(n, size);
        Eigen::Matrix3d own = o.own;
        for (const auto& [observation, variance] : extra.rods) {
            if (observation != static_cast<int>(next)) continue;
            const Eigen::Vector3d shift(variance[0], variance[1], variance[3]);
            own += o.by_rod * shift.asDiagonal() * o.by_rod.transpose();
        }
        row.leftCols<4>() = o.by_pose.topRows(n);
        if (entry.kind == EventKind::check) {
            for (int r = 0; r < n; ++r) spread(row, r, o.by_constant.row(r));
            step.value = o.value.head(n);
        } else {
            const Resight& sight = day.resights[static_cast<std::size_t>(entry.index)];
            for (int r = 0; r < n; ++r) spread(row, r, sight.by_state.row(r).tail<kOtherStates>());
            row.middleCols<3>(out.place_of_point[static_cast<std::size_t>(sight.point)])
                .leftCols(n)
                .setIdentity();
            step.value = sight.deviation_m.head(n);
        }
        step.observe = std::move(row);
        step.own = own.topLeftCorner(n, n);
        ++next;
    }
    out.chain = smooth_chain(start, steps);
    return out;
}

Bridge bridge_of(const Scenario& scenario, std::size_t stretch) {
    Bridge out;
    const ChainEstimate& here = scenario.chain.smoothed[stretch];
    const bool open = stretch + 1 >= scenario.chain.smoothed.size();
    int index[10];
    for (int i = 0; i < 10; ++i)
        index[i] = i < 4 ? i : scenario.place[static_cast<std::size_t>(i - 4)];
    for (int i = 0; i < 10; ++i) {
        if (index[i] < 0) {
            out.mean[i] = scenario.constants[i - 4];
            continue;
        }
        out.mean[i] = here.mean[index[i]];
        for (int j = 0; j < 10; ++j)
            if (index[j] >= 0) out.covariance(i, j) = here.covariance(index[i], index[j]);
        if (open) continue;
        for (int j = 0; j < 4; ++j)
            out.covariance(i, 10 + j) = out.covariance(10 + j, i) =
                scenario.chain.with_next[stretch](index[i], j);
    }
    if (!open) {
        const ChainEstimate& later = scenario.chain.smoothed[stretch + 1];
        out.mean.tail<4>() = later.mean.head<4>();
        out.covariance.bottomRightCorner<4, 4>() = later.covariance.topLeftCorner<4, 4>();
    }
    return out;
}

Between between(const Scenario& scenario, const Timeline& timeline, const Vector4d& rate,
                const Entry& entry, bool bump_before) {
    Between out;
    const auto s = static_cast<std::size_t>(entry.stretch);
    const Vector4d& bump = scenario.bump[s];
    Vector4d before = rate * (entry.time_s - timeline.moment_time_s(s));
    if (bump_before) before += bump;
    if (s + 1 >= timeline.moments.size()) {
        out.variance = before;
        return out;
    }
    Vector4d after = rate * (timeline.moment_time_s(s + 1) - entry.time_s);
    if (!bump_before) after += bump;
    for (int i = 0; i < 4; ++i) {
        const double total = before[i] + after[i];
        if (!(total > 0.0)) continue;
        out.later[i] = before[i] / total;
        out.variance[i] = before[i] * (after[i] / total);
    }
    return out;
}

std::vector<Part> parts_at(const Scenario& scenario, const Timeline& timeline, const Vector4d& rate,
                           const Bridge& bridge, const Entry& entry) {
    const auto s = static_cast<std::size_t>(entry.stretch);
    bool moved = false;
    for (std::size_t i = 0; i < s; ++i) moved = moved || scenario.has_bump[i];
    std::vector<Part> out;
    if (entry.moment >= 0) {
        Part part;
        part.moved = moved;
        part.mean = bridge.mean.head<10>();
        part.covariance = bridge.covariance.topLeftCorner<10, 10>();
        out.push_back(part);
        return out;
    }
    const bool split = scenario.has_bump[s];
    const double total = timeline.stretches[s].odds;
    const double early =
        split && total > 0.0 ? std::clamp(entry.odds_before / total, 0.0, 1.0) : 0.0;
    for (const bool bump_before : {false, true}) {
        Part part;
        part.share = bump_before ? early : 1.0 - early;
        if (!(part.share > 0.0)) continue;
        part.moved = moved || bump_before;
        part.moved_here = bump_before;
        const Between at = between(scenario, timeline, rate, entry, bump_before);
        Eigen::Matrix<double, 10, 14> pick = Eigen::Matrix<double, 10, 14>::Zero();
        pick.leftCols<10>().setIdentity();
        for (int i = 0; i < 4; ++i) {
            pick(i, i) = 1.0 - at.later[i];
            pick(i, 10 + i) = at.later[i];
        }
        part.mean = pick * bridge.mean;
        part.covariance = pick * bridge.covariance * pick.transpose();
        part.covariance.diagonal().head<4>() += at.variance;
        out.push_back(part);
    }
    return out;
}

Vector4d shift_before(const Scenario& scenario, const Evidence& evidence, const Entry& entry,
                      bool moved_here) {
    Vector4d out = Vector4d::Zero();
    const auto add = [&](int p, Vector4d mean) {
        if (p < 0) return;
        const Pattern& pattern = evidence.patterns[static_cast<std::size_t>(p)];
        if (pattern.change != Change::bump) return;
        if (pattern.stretch < entry.stretch || (pattern.stretch == entry.stretch && moved_here))
            out += mean;
    };
    add(scenario.member.pattern, scenario.amount.mean.head<4>());
    add(scenario.member.second, scenario.amount.mean.tail<4>());
    return out;
}

}  // namespace layproof::watch::internal

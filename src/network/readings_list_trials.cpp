#include <algorithm>
#include <array>
#include <cmath>

#include "base/index.hpp"
#include "measure/length.hpp"
#include "network/readings_search_internal.hpp"

namespace layproof::network::internal {
namespace {

/// Off by less than this no revision is seen; sizes of what revisions shift (engineering
/// judgement, no source).
constexpr double kLeastShift_m = 0.05;
constexpr double kMostShift_m = 25.0;
constexpr std::array<double, 5> kShiftSizes_m{0.1, 0.3, 1.0, 3.0, 10.0};
constexpr double kManySds = 5.0;
constexpr std::size_t kMostMarks = 12;
constexpr std::size_t kMostSeeds = 3;
constexpr double kRatioNear = 0.01;

/// Ratios of distance measured over distance of the list that another unit makes.
constexpr std::array<double, 8> kUnitRatios{measure::kMetresPerFoot,
                                            1.0 / measure::kMetresPerFoot,
                                            measure::kMetresPerInch,
                                            1.0 / measure::kMetresPerInch,
                                            0.001,
                                            1000.0,
                                            12.0,
                                            1.0 / 12.0};

struct Seen {
    int point = -1;
    Complex local, given;
    double variance = 0.0;
};

/// One vector of each mark sighted from a set-up, the farthest from their middle.
std::vector<Seen> seen_from(const ReadingModel& model, int setup) {
    std::vector<Seen> out;
    Complex middle;
    for (const int v : model.of_setup[at(setup)]) {
        const ReadingVector& one = model.vectors[at(v)];
        const ReadingPoint& point = model.points[at(one.point)];
        if (!point.has_plan || point.is_far) continue;
        if (std::any_of(out.begin(), out.end(),
                        [&](const Seen& other) { return other.point == one.point; }))
            continue;
        out.push_back({one.point, one.local, point.given, one.variance + point.variance});
        middle += one.local;
    }
    if (out.size() <= kMostMarks) return out;
    middle /= static_cast<double>(out.size());
    std::stable_sort(out.begin(), out.end(), [&](const Seen& a, const Seen& b) {
        return std::norm(a.local - middle) > std::norm(b.local - middle);
    });
    out.resize(kMostMarks);
    return out;
}

/// The middle one of all ratios of pairs.
double ratio_of(const ReadingModel& model, const std::vector<int>& setups) {
    std::vector<double> ratios;
    for (const int s : setups) {
        const std::vector<Seen> seen = seen_from(model, s);
        for (std::size_t i = 0; i < seen.size(); ++i)
            for (std::size_t j = i + 1; j < seen.size(); ++j) {
                const double listed = std::abs(seen[j].given - seen[i].given);
                if (listed > 1e-3)
                    ratios.push_back(std::abs(seen[j].local - seen[i].local) / listed);
            }
    }
    if (ratios.empty()) return 1.0;
    const auto middle = ratios.begin() + static_cast<std::ptrdiff_t>(ratios.size() / 2);
    std::nth_element(ratios.begin(), middle, ratios.end());
    return *middle;
}

struct Groups {
    std::vector<int> shifted;
    Complex shift;  ///< to be added to the list
    std::size_t agree = 0;
};

/// Two marks hold the set-up; the others are where the list says, or all off by the same.
std::vector<Groups> groups_of(const ReadingModel& model, int setup) {
    std::vector<Groups> out;
    const std::vector<Seen> seen = seen_from(model, setup);
    if (seen.size() < 4) return out;
    for (std::size_t i = 0; i < seen.size(); ++i)
        for (std::size_t j = i + 1; j < seen.size(); ++j) {
            VectorSums two;
            two.add(1.0, seen[i].local, seen[i].given);
            two.add(1.0, seen[j].local, seen[j].given);
            ReadingPose pose;
            if (!two.place(pose)) continue;
            const double base = std::abs(seen[j].local - seen[i].local);
            const double off_in_pair = std::abs(base - std::abs(seen[j].given - seen[i].given));
            if (off_in_pair > kManySds * std::sqrt(seen[i].variance + seen[j].variance)) continue;
            const auto within = [&](const Seen& one, Complex off) {
                // The turn of a short pair is less certain farther away.
                const double lever = 1.0 + std::abs(one.local - seen[i].local) / base;
                return std::norm(off) < kManySds * kManySds * one.variance * lever * lever;
            };
            std::vector<Complex> off(seen.size());
            for (std::size_t k = 0; k < seen.size(); ++k)
                off[k] = pose.landing(seen[k].local) - seen[k].given;
            for (std::size_t k = 0; k < seen.size(); ++k) {
                if (std::abs(off[k]) < kLeastShift_m || within(seen[k], off[k])) continue;
                Groups one;
                std::size_t unmoved = 0;
                Complex sum;
                for (std::size_t m = 0; m < seen.size(); ++m) {
                    if (within(seen[m], off[m] - off[k])) {
                        one.shifted.push_back(seen[m].point);
                        sum += off[m];
                    } else if (within(seen[m], off[m])) {
                        ++unmoved;
                    }
                }
                if (one.shifted.size() < 2 || unmoved < 2) continue;
                one.agree = unmoved + one.shifted.size();
                one.shift = sum / static_cast<double>(one.shifted.size());
                std::sort(one.shifted.begin(), one.shifted.end());
                out.push_back(std::move(one));
            }
        }
    std::stable_sort(out.begin(), out.end(),
                     [](const Groups& a, const Groups& b) { return a.agree > b.agree; });
    std::vector<Groups> distinct;
    for (Groups& one : out) {
        const bool is_seen =
            std::any_of(distinct.begin(), distinct.end(),
                        [&](const Groups& other) { return other.shifted == one.shifted; });
        if (!is_seen && distinct.size() < kMostSeeds) distinct.push_back(std::move(one));
    }
    return distinct;
}

/// Marks that the sights of all set-ups put off their list by the same.
std::vector<Groups> groups_of_landings(const ReadingModel& model, const ReadingState& state) {
    constexpr double kAlike_m = 0.02;
    std::vector<std::pair<int, Complex>> off;
    for (std::size_t p = 0; p < model.points.size(); ++p) {
        const ReadingPoint& point = model.points[p];
        if (!point.has_plan || point.is_far) continue;
        std::vector<double> east, north;
        for (const int v : model.of_point[p]) {
            const ReadingVector& one = model.vectors[at(v)];
            const ReadingPose& pose = state.poses[at(one.setup)];
            if (!pose.is_placed) continue;
            const Complex landing = pose.landing(one.local) - point.given;
            east.push_back(landing.real());
            north.push_back(landing.imag());
        }
        if (east.empty()) continue;
        const auto middle = static_cast<std::ptrdiff_t>(east.size() / 2);
        std::nth_element(east.begin(), east.begin() + middle, east.end());
        std::nth_element(north.begin(), north.begin() + middle, north.end());
        const Complex here(east[at(middle)], north[at(middle)]);
        if (std::abs(here) >= kLeastShift_m) off.emplace_back(static_cast<int>(p), here);
    }
    std::vector<Groups> out;
    for (const auto& [seed, by] : off) {
        Groups one;
        Complex sum;
        for (const auto& [point, here] : off) {
            if (std::abs(here - by) > kAlike_m) continue;
            one.shifted.push_back(point);
            sum += here;
        }
        if (one.shifted.size() < 2) continue;
        one.agree = one.shifted.size();
        one.shift = sum / static_cast<double>(one.shifted.size());
        const bool is_seen = std::any_of(out.begin(), out.end(), [&](const Groups& other) {
            return other.shifted == one.shifted;
        });
        if (!is_seen) out.push_back(std::move(one));
    }
    std::stable_sort(out.begin(), out.end(),
                     [](const Groups& a, const Groups& b) { return a.agree > b.agree; });
    if (out.size() > kMostSeeds) out.resize(kMostSeeds);
    return out;
}

/// Marks of the whole job that belong to the group, found in turn with the fit.
ReadingTrial settle(const ReadingModel& model, const ReadingState& state, Groups groups) {
    ReadingTrial out;
    out.kind = ReadingKind::older_revision;
    int marks = 0;
    std::vector<int> setups;
    for (std::size_t s = 0; s < model.of_setup.size(); ++s) setups.push_back(static_cast<int>(s));
    for (std::size_t p = 0; p < model.points.size(); ++p)
        if (model.points[p].has_plan && !model.of_point[p].empty()) ++marks;
    double variance = 1e-6;
    constexpr int kMostTurns = 20;
    Complex step;
    for (int round = 0; round < kMostTurns; ++round) {
        out.group = groups.shifted;
        out.shift = groups.shift;
        ReadingModel again = model;
        const std::vector<int> touched = apply(out, again);
        // A first shift comes from two marks alone: the group first goes where its sights are.
        constexpr double kFree_m2 = 1.0;
        if (round < 2)
            for (const int p : out.group) again.points[at(p)].variance = kFree_m2;
        ReadingState fitted = state;
        place_setups(again, round == 0 ? setups : touched, fitted);
        refine(again, round == 0 ? setups : touched, fitted, kRoundsToRank);
        Groups next;
        Complex sum;
        double weight = 0.0;
        for (std::size_t p = 0; p < model.points.size(); ++p) {
            const ReadingPoint& point = model.points[p];
            if (!point.has_plan || point.is_far || model.of_point[p].empty()) continue;
            const Complex off = fitted.plan[p] - point.given;
            if (!(std::norm(off - groups.shift) < std::norm(off))) continue;
            next.shifted.push_back(static_cast<int>(p));
            sum += off;
            weight += 1.0 / point.variance;
        }
        if (next.shifted.size() < 2 || 2 + static_cast<int>(next.shifted.size()) > marks) break;
        next.shift = sum / static_cast<double>(next.shifted.size());
        // Steps shrink by much the same each turn: the rest of the row at once.
        constexpr double kMostRatio = 0.95;
        const Complex by = next.shift - groups.shift;
        if (round > 3 && round % 3 == 0 && std::norm(step) > 0.0) {
            const double ratio = (std::conj(step) * by).real() / std::norm(step);
            if (ratio > 0.0)
                next.shift +=
                    by * std::min(ratio, kMostRatio) / (1.0 - std::min(ratio, kMostRatio));
        }
        step = by;
        variance = 1.0 / weight;
        const bool is_settled = round > 1 && next.shifted == groups.shifted &&
                                std::abs(next.shift - groups.shift) < 1e-4;
        groups = std::move(next);
        if (is_settled) break;
    }
    // The smaller group is named; of two alike that without the first mark.
    const auto in_group = [&](int p) {
        return std::binary_search(groups.shifted.begin(), groups.shifted.end(), p);
    };
    std::vector<int> rest;
    for (std::size_t p = 0; p < model.points.size(); ++p)
        if (model.points[p].has_plan && !model.points[p].is_far && !model.of_point[p].empty() &&
            !in_group(static_cast<int>(p)))
            rest.push_back(static_cast<int>(p));
    out.group = groups.shifted;
    out.shift = groups.shift;
    if (rest.size() < out.group.size() ||
        (rest.size() == out.group.size() && !rest.empty() && rest.front() > out.group.front())) {
        out.group = rest;
        out.shift = -groups.shift;
    }
    double density = 0.0;
    for (const double size : kShiftSizes_m) {
        const double v = size * size;
        density += std::exp(-0.5 * std::norm(out.shift) / v) / v /
                   static_cast<double>(kShiftSizes_m.size());
    }
    out.log_odds = std::log(kOlderRevisionOdds) + std::log(std::max(density * variance, 1e-300)) -
                   std::log(std::max(1.0, std::exp2(std::max(marks - 1, 0)) - 1.0 - marks));
    return out;
}

}  // namespace

std::vector<ReadingTrial> list_trials(const ReadingModel& model, const ReadingState& state,
                                      const std::vector<int>& setups) {
    std::vector<ReadingTrial> out;
    ReadingTrial axes;
    axes.kind = ReadingKind::axes_exchanged;
    axes.log_odds = std::log(kAxesExchangedOdds);
    out.push_back(axes);
    const double ratio = ratio_of(model, setups);
    for (const double unit : kUnitRatios) {
        if (!(std::abs(ratio / unit - 1.0) < kRatioNear)) continue;
        ReadingTrial one;
        one.kind = ReadingKind::lengths_in_feet;
        one.ratio = unit;
        one.log_odds = std::log(kOtherUnitOdds / static_cast<double>(kUnitRatios.size()));
        out.push_back(one);
    }
    std::vector<int> order = setups;
    std::stable_sort(order.begin(), order.end(), [&](int a, int b) {
        return model.of_setup[at(a)].size() > model.of_setup[at(b)].size();
    });
    std::vector<Groups> found = groups_of_landings(model, state);
    constexpr std::size_t kMostTried = 6;
    for (std::size_t i = 0; i < std::min(order.size(), kMostTried); ++i) {
        std::vector<Groups> of_setup = groups_of(model, order[i]);
        found.insert(found.end(), of_setup.begin(), of_setup.end());
        if (!of_setup.empty()) break;
    }
    for (Groups& groups : found) {
        ReadingTrial one = settle(model, state, std::move(groups));
        if (one.group.size() < 2 || std::abs(one.shift) < kLeastShift_m ||
            std::abs(one.shift) > kMostShift_m)
            continue;
        const bool is_seen = std::any_of(out.begin(), out.end(), [&](const ReadingTrial& other) {
            return other.kind == one.kind && other.group == one.group;
        });
        if (!is_seen) out.push_back(std::move(one));
    }
    return out;
}

}  // namespace layproof::network::internal

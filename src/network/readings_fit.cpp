#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "base/index.hpp"
#include "measure/angle.hpp"
#include "network/readings.hpp"
#include "network/readings_fit_internal.hpp"
#include "station/observations.hpp"

namespace layproof::network::internal {
namespace {

constexpr double kTwoPi = measure::kTwoPi;
constexpr std::size_t kMostInPairs = 12;
/// Squared misfit, in variances, from which a plain fit is not believed.
constexpr double kNotPlain = 12.0;
/// Marks that are not where their list says, far: one and the other axis, or both.
constexpr double kOneAxis = 0.5;
constexpr double kFarSizes = 7.0;  // 1 m to 1,000 km, tenfold

double normal(double square, double variance, int dimension) {
    const double d = kTwoPi * variance;
    return std::exp(-0.5 * square / variance) / (dimension == 2 ? d : std::sqrt(d));
}

double far_density(double off_m) {
    double sum = 0.0;
    double size = 1.0;
    for (int k = 0; k < static_cast<int>(kFarSizes); ++k, size *= 10.0)
        sum += normal(off_m * off_m, size * size, 1) / kFarSizes;
    return sum;
}

struct Pair {
    Complex local, target;
    double variance = 0.0;
    int point = -1;
};

double misfit_of(const ReadingPose& pose, const std::vector<Pair>& pairs, double cap) {
    double sum = 0.0;
    for (const Pair& p : pairs) {
        const double q = std::norm(pose.landing(p.local) - p.target) / p.variance;
        sum += q / (1.0 + q / cap);
    }
    return sum;
}

/// From the two that leave the smallest capped misfit, when a plain fit leaves too much.
bool place_one(const ReadingModel& model, int setup, const ReadingState& state, ReadingPose& pose) {
    std::vector<Pair> pairs;
    VectorSums sums;
    for (const int v : model.of_setup[at(setup)]) {
        const ReadingVector& one = model.vectors[at(v)];
        if (state.is_known[at(one.point)] == 0) continue;
        const ReadingPoint& point = model.points[at(one.point)];
        constexpr double kSeen_m = 0.003;
        const double variance =
            one.variance + (point.has_plan ? point.variance : kSeen_m * kSeen_m);
        pairs.push_back({one.local, state.plan[at(one.point)], variance, one.point});
        sums.add(1.0 / variance, one.local, pairs.back().target);
    }
    ReadingPose found;
    if (pairs.size() < 2 || !sums.place(found)) return false;
    double worst = 0.0;
    for (const Pair& p : pairs)
        worst = std::max(worst, std::norm(found.landing(p.local) - p.target) / p.variance);
    if (worst > kNotPlain && pairs.size() > 2) {
        std::vector<const Pair*> order;
        const Complex middle = sums.local / sums.weight;
        for (const Pair& p : pairs) {
            const bool is_seen = std::any_of(order.begin(), order.end(), [&](const Pair* q) {
                return q->point == p.point && std::norm(q->local - p.local) < 0.01;
            });
            if (!is_seen) order.push_back(&p);
        }
        std::stable_sort(order.begin(), order.end(), [&](const Pair* a, const Pair* b) {
            return std::norm(a->local - middle) > std::norm(b->local - middle);
        });
        if (order.size() > kMostInPairs) order.resize(kMostInPairs);
        double least = misfit_of(found, pairs, kNotPlain);
        for (std::size_t i = 0; i < order.size(); ++i)
            for (std::size_t j = i + 1; j < order.size(); ++j) {
                VectorSums two;
                two.add(1.0, order[i]->local, order[i]->target);
                two.add(1.0, order[j]->local, order[j]->target);
                ReadingPose one;
                if (!two.place(one)) continue;
                const double sum = misfit_of(one, pairs, kNotPlain);
                if (sum >= least) continue;
                least = sum;
                found = one;
            }
    }
    found.has_axes = pose.has_axes;
    found.axes_m = pose.axes_m;
    pose = found;
    return true;
}

double median(std::vector<double>& values) {
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    return *middle;
}

bool place_height(const ReadingModel& model, int setup, const ReadingState& state,
                  ReadingPose& pose) {
    std::vector<double> axes;
    for (const int v : model.of_setup[at(setup)]) {
        const ReadingVector& one = model.vectors[at(v)];
        if (one.has_rise && state.is_known_in_height[at(one.point)] != 0)
            axes.push_back(state.height_m[at(one.point)] - one.rise_m);
    }
    if (axes.empty()) return false;
    pose.has_axes = true;
    pose.axes_m = median(axes);
    return true;
}

void spread_from(const ReadingModel& model, int setup, ReadingState& state) {
    const ReadingPose& pose = state.poses[at(setup)];
    for (const int v : model.of_setup[at(setup)]) {
        const ReadingVector& one = model.vectors[at(v)];
        const auto p = at(one.point);
        if (pose.is_placed && state.is_known[p] == 0) {
            state.is_known[p] = 1;
            state.plan[p] = pose.landing(one.local);
        }
        if (pose.has_axes && one.has_rise && state.is_known_in_height[p] == 0) {
            state.is_known_in_height[p] = 1;
            state.height_m[p] = pose.axes_m + one.rise_m;
        }
    }
}

/// The pose of one set-up on its points; how far it went.
double move_setup(const ReadingModel& model, int setup, ReadingState& state) {
    ReadingPose& pose = state.poses[at(setup)];
    if (!pose.is_placed) return 0.0;
    const ErrorMixture& errors = model.sight_errors[at(setup)];
    const ErrorMixture& rises = model.rise_errors[at(setup)];
    VectorSums sums;
    double weight = 0.0, axes = 0.0, reach = 0.0;
    for (const int v : model.of_setup[at(setup)]) {
        const ReadingVector& one = model.vectors[at(v)];
        const auto p = at(one.point);
        if (state.is_known[p] != 0) {
            const double square = std::norm(pose.landing(one.local) - state.plan[p]);
            sums.add(errors.at(square, one.variance, 2).weight, pose.reach(one.local),
                     state.plan[p]);
            reach = std::max(reach, std::abs(one.local));
        }
        if (pose.has_axes && one.has_rise && state.is_known_in_height[p] != 0) {
            const double off = state.height_m[p] - one.rise_m - pose.axes_m;
            const double w = rises.at(off * off, one.rise_variance, 1).weight;
            weight += w;
            axes += w * off;
        }
    }
    double moved = 0.0;
    ReadingPose next = pose;
    if (sums.place(next)) {
        moved = std::abs(next.place - pose.place) + reach * std::abs(next.turn - pose.turn);
        pose = next;
    }
    if (weight > 0.0) {
        pose.axes_m += axes / weight;
        moved = std::max(moved, std::abs(axes / weight));
    }
    return moved;
}

ErrorMixture::Value of_mark(const ReadingModel& model, const ReadingPoint& point, Complex off) {
    if (!point.is_far) return model.mark_errors.at(std::norm(off), point.variance, 2);
    if (std::abs(off) < kMistypedFrom_m) return {};
    const double e = off.real();
    const double n = off.imag();
    const double one_axis = 0.5 * (far_density(e) * normal(n * n, 2.0 * point.variance, 1) +
                                   far_density(n) * normal(e * e, 2.0 * point.variance, 1));
    const double distance = std::abs(off);
    const double both =
        far_density(distance) / (kTwoPi * 0.5 * std::max(distance, kMistypedFrom_m));
    return {kOneAxis * one_axis + (1.0 - kOneAxis) * both, 0.0};
}

ErrorMixture::Value of_mark_height(const ReadingModel& model, const ReadingPoint& point,
                                   double off) {
    if (!point.is_far_in_height)
        return model.mark_height_errors.at(off * off, point.height_variance, 1);
    if (std::abs(off) < kMistypedFrom_m) return {};
    return {far_density(off), 0.0};
}

double minus_log(double density) {
    return -std::log(std::max(density, 1e-300));
}

double local_cost(const ReadingModel& model, std::size_t p, const ReadingState& state,
                  Complex plan) {
    double sum = 0.0;
    for (const int v : model.of_point[p]) {
        const ReadingVector& one = model.vectors[at(v)];
        const ReadingPose& pose = state.poses[at(one.setup)];
        if (pose.is_placed)
            sum += minus_log(model.sight_errors[at(one.setup)]
                                 .at(std::norm(pose.landing(one.local) - plan), one.variance, 2)
                                 .density);
    }
    const ReadingPoint& point = model.points[p];
    if (point.has_plan) sum += minus_log(of_mark(model, point, plan - point.given).density);
    return sum;
}

double local_cost_in_height(const ReadingModel& model, std::size_t p, const ReadingState& state,
                            double height_m) {
    double sum = 0.0;
    for (const int v : model.of_point[p]) {
        const ReadingVector& one = model.vectors[at(v)];
        const ReadingPose& pose = state.poses[at(one.setup)];
        if (!pose.has_axes || !one.has_rise) continue;
        const double off = pose.axes_m + one.rise_m - height_m;
        sum +=
            minus_log(model.rise_errors[at(one.setup)].at(off * off, one.rise_variance, 1).density);
    }
    const ReadingPoint& point = model.points[p];
    if (point.has_height)
        sum += minus_log(of_mark_height(model, point, height_m - point.height_m).density);
    return sum;
}

/// Steps alone would leave a mark at its list and call every one of its sights gross: where the
/// sights put it is tried as well.
void try_where_sights_agree(const ReadingModel& model, std::size_t p, ReadingState& state) {
    constexpr double kApart = 9.0;
    const bool all_agree =
        std::all_of(model.of_point[p].begin(), model.of_point[p].end(), [&](int v) {
            const ReadingVector& one = model.vectors[at(v)];
            const ReadingPose& pose = state.poses[at(one.setup)];
            const double off = pose.axes_m + one.rise_m - state.height_m[p];
            return (!pose.is_placed || state.is_known[p] == 0 ||
                    std::norm(pose.landing(one.local) - state.plan[p]) < kApart * one.variance) &&
                   (!pose.has_axes || !one.has_rise || state.is_known_in_height[p] == 0 ||
                    off * off < kApart * one.rise_variance);
        });
    if (all_agree) return;
    std::vector<double> east, north, height;
    double variance = 0.0, rise_variance = 0.0;
    for (const int v : model.of_point[p]) {
        const ReadingVector& one = model.vectors[at(v)];
        const ReadingPose& pose = state.poses[at(one.setup)];
        if (pose.is_placed && state.is_known[p] != 0) {
            const Complex landing = pose.landing(one.local);
            east.push_back(landing.real());
            north.push_back(landing.imag());
            variance = std::max(variance, one.variance);
        }
        if (pose.has_axes && one.has_rise && state.is_known_in_height[p] != 0) {
            height.push_back(pose.axes_m + one.rise_m);
            rise_variance = std::max(rise_variance, one.rise_variance);
        }
    }
    if (!east.empty()) {
        const Complex middle(median(east), median(north));
        if (std::norm(middle - state.plan[p]) > kApart * variance &&
            local_cost(model, p, state, middle) < local_cost(model, p, state, state.plan[p]))
            state.plan[p] = middle;
    }
    if (!height.empty()) {
        const double middle = median(height);
        const double off = middle - state.height_m[p];
        if (off * off > kApart * rise_variance &&
            local_cost_in_height(model, p, state, middle) <
                local_cost_in_height(model, p, state, state.height_m[p]))
            state.height_m[p] = middle;
    }
}

double move_point(const ReadingModel& model, int number, ReadingState& state) {
    const auto p = at(number);
    const ReadingPoint& point = model.points[p];
    try_where_sights_agree(model, p, state);
    Complex sum;
    double weight = 0.0, rise = 0.0, rise_weight = 0.0;
    for (const int v : model.of_point[p]) {
        const ReadingVector& one = model.vectors[at(v)];
        const ReadingPose& pose = state.poses[at(one.setup)];
        if (pose.is_placed && state.is_known[p] != 0) {
            const Complex off = pose.landing(one.local) - state.plan[p];
            const double w =
                model.sight_errors[at(one.setup)].at(std::norm(off), one.variance, 2).weight;
            weight += w;
            sum += w * off;
        }
        if (pose.has_axes && one.has_rise && state.is_known_in_height[p] != 0) {
            const double off = pose.axes_m + one.rise_m - state.height_m[p];
            const double w =
                model.rise_errors[at(one.setup)].at(off * off, one.rise_variance, 1).weight;
            rise_weight += w;
            rise += w * off;
        }
    }
    if (point.has_plan && state.is_known[p] != 0) {
        const Complex off = point.given - state.plan[p];
        const double w = of_mark(model, point, off).weight;
        weight += w;
        sum += w * off;
    }
    if (point.has_height && state.is_known_in_height[p] != 0) {
        const double off = point.height_m - state.height_m[p];
        const double w = of_mark_height(model, point, off).weight;
        rise_weight += w;
        rise += w * off;
    }
    double moved = 0.0;
    if (weight > 0.0) {
        state.plan[p] += sum / weight;
        moved = std::abs(sum / weight);
    }
    if (rise_weight > 0.0) {
        state.height_m[p] += rise / rise_weight;
        moved = std::max(moved, std::abs(rise / rise_weight));
    }
    return moved;
}

/// Laplace: the share of what is free of all there is, at most all.
double volume_cost(double volume, double all) {
    return -std::log(std::clamp(volume / all, 1e-300, 1.0));
}

double place_cost(double density, double volume) {
    return density > 0.0 ? volume_cost(volume, 1.0 / density) : -std::log(1e-300);
}

}  // namespace

void VectorSums::add(double w, Complex l, Complex t) {
    weight += w;
    local += w * l;
    target += w * t;
    cross += w * std::conj(l) * t;
    local_square += w * std::norm(l);
}

double VectorSums::spread() const {
    return local_square - std::norm(local) / weight;
}

bool VectorSums::place(ReadingPose& pose) const {
    // Two places nearer than this hold no turn.
    constexpr double kSamePlace_m = 0.05;
    if (!(weight > 0.0)) return false;
    const Complex c = cross - std::conj(local) * target / weight;
    if (!(std::abs(c) > 0.0) || !(spread() > weight * kSamePlace_m * kSamePlace_m)) return false;
    pose.turn = c / std::abs(c);
    pose.place = (target - pose.turn * local) / weight;
    pose.is_placed = true;
    return true;
}

void ErrorMixture::add(double share, double sd_m) {
    // A table may say that more goes wrong than not: something stays as stated.
    constexpr double kLeastAsStated = 0.05;
    share = std::min(share, as_stated - kLeastAsStated);
    if (count == kMost || !(share > 0.0) || !(sd_m > 0.0)) return;
    wider[count++] = {share, sd_m * sd_m};
    as_stated -= share;
}

ErrorMixture::Value ErrorMixture::at(double square, double variance, int dimension) const {
    double density = as_stated * normal(square, variance, dimension);
    double weight = density / variance;
    for (std::size_t k = 0; k < count; ++k) {
        const double v = variance + wider[k].variance;
        // What is this small beside the rest needs no exponential.
        constexpr double kNothing = 1e-4;
        const double spread = kTwoPi * v;
        const double most = wider[k].share / (dimension == 2 ? spread : std::sqrt(spread));
        if (most < kNothing * density) continue;
        const double d = most * std::exp(-0.5 * square / v);
        density += d;
        weight += d / v;
    }
    density += anywhere;
    if (!(density > 0.0)) return {};
    return {density, weight / density};
}

Complex ReadingPose::reach(Complex local) const {
    if (constant_m == 0.0 && ratio == 0.0) return local;
    const double length = std::abs(local);
    if (!(length > 0.0)) return local;
    return local * (1.0 - ratio - constant_m / length);
}

void ReadingModel::index() {
    for (auto& one : of_setup) one.clear();
    of_setup.resize(sight_errors.size());
    of_point.assign(points.size(), {});
    for (std::size_t v = 0; v < vectors.size(); ++v) {
        of_setup[layproof::at(vectors[v].setup)].push_back(static_cast<int>(v));
        of_point[layproof::at(vectors[v].point)].push_back(static_cast<int>(v));
    }
}

std::vector<int> ReadingModel::points_of(int setup) const {
    std::vector<int> out;
    for (const int v : of_setup[layproof::at(setup)]) out.push_back(vectors[layproof::at(v)].point);
    std::sort(out.begin(), out.end());
    out.erase(std::unique(out.begin(), out.end()), out.end());
    return out;
}

void place_setups(const ReadingModel& model, const std::vector<int>& setups, ReadingState& state) {
    state.poses.resize(model.of_setup.size());
    state.plan.resize(model.points.size());
    state.height_m.resize(model.points.size());
    state.is_known.resize(model.points.size(), 0);
    state.is_known_in_height.resize(model.points.size(), 0);
    for (const int s : setups) state.poses[at(s)] = {};
    std::vector<char> is_touched(model.points.size(), 0);
    for (const int s : setups)
        for (const int v : model.of_setup[at(s)]) is_touched[at(model.vectors[at(v)].point)] = 1;
    for (std::size_t p = 0; p < model.points.size(); ++p) {
        const ReadingPoint& point = model.points[p];
        const bool is_given = point.has_plan && !point.is_far;
        const bool is_given_in_height = point.has_height && !point.is_far_in_height;
        if (is_touched[p] == 0) {
            if (state.is_known[p] == 0 && is_given) {
                state.is_known[p] = 1;
                state.plan[p] = point.given;
            }
            if (state.is_known_in_height[p] == 0 && is_given_in_height) {
                state.is_known_in_height[p] = 1;
                state.height_m[p] = point.height_m;
            }
            continue;
        }
        state.is_known[p] = is_given ? 1 : 0;
        state.plan[p] = point.given;
        state.is_known_in_height[p] = is_given_in_height ? 1 : 0;
        state.height_m[p] = point.height_m;
        for (const int v : model.of_point[p]) {
            const ReadingVector& one = model.vectors[at(v)];
            const ReadingPose& pose = state.poses[at(one.setup)];
            if (pose.is_placed && state.is_known[p] == 0) {
                state.is_known[p] = 1;
                state.plan[p] = pose.landing(one.local);
            }
            if (pose.has_axes && one.has_rise && state.is_known_in_height[p] == 0) {
                state.is_known_in_height[p] = 1;
                state.height_m[p] = pose.axes_m + one.rise_m;
            }
        }
    }
    for (bool any = true; any;) {
        any = false;
        for (const int s : setups) {
            ReadingPose& pose = state.poses[at(s)];
            bool is_new = false;
            if (!pose.is_placed && place_one(model, s, state, pose)) is_new = true;
            if (!pose.has_axes && place_height(model, s, state, pose)) is_new = true;
            if (is_new) spread_from(model, s, state);
            any = any || is_new;
        }
    }
}

void refine_points(const ReadingModel& model, int setup, ReadingState& state) {
    for (const int p : model.points_of(setup)) move_point(model, p, state);
}

double rank_of(const ReadingModel& model, const ReadingState& state,
               const std::vector<int>& setups) {
    constexpr double kMost = 50.0;
    constexpr double kSeen_m = 0.003;
    double sum = 0.0;
    const auto add = [&](double square, double variance) {
        const double q = square / variance;
        sum += 0.5 * q / (1.0 + q / kMost);
    };
    for (const int s : setups) {
        const ReadingPose& pose = state.poses[at(s)];
        for (const int v : model.of_setup[at(s)]) {
            const ReadingVector& one = model.vectors[at(v)];
            const auto p = at(one.point);
            const ReadingPoint& point = model.points[p];
            if (!pose.is_placed) {
                sum += 0.5 * kMost;
            } else if (point.has_plan && !point.is_far) {
                add(std::norm(pose.landing(one.local) - point.given),
                    one.variance + point.variance);
            } else if (!point.has_plan && state.is_known[p] != 0) {
                add(std::norm(pose.landing(one.local) - state.plan[p]),
                    one.variance + kSeen_m * kSeen_m);
            }
            if (!pose.has_axes || !one.has_rise || !point.has_height || point.is_far_in_height)
                continue;
            const double off = pose.axes_m + one.rise_m - point.height_m;
            add(off * off, one.rise_variance + point.height_variance);
        }
    }
    return sum;
}

void refine(const ReadingModel& model, const std::vector<int>& setups, ReadingState& state,
            int rounds) {
    std::vector<int> points;
    for (const int s : setups)
        for (const int v : model.of_setup[at(s)]) points.push_back(model.vectors[at(v)].point);
    std::sort(points.begin(), points.end());
    points.erase(std::unique(points.begin(), points.end()), points.end());
    for (int round = 0; round < rounds; ++round) {
        double moved = 0.0;
        for (const int s : setups) moved = std::max(moved, move_setup(model, s, state));
        for (const int p : points) moved = std::max(moved, move_point(model, p, state));
        if (moved < kReadingsSettled_m) break;
    }
}

double cost_of(const ReadingModel& model, const ReadingState& state) {
    double cost = 0.0;
    for (std::size_t s = 0; s < model.of_setup.size(); ++s) {
        const ReadingPose& pose = state.poses[s];
        VectorSums sums;
        double rise_weight = 0.0;
        for (const int v : model.of_setup[s]) {
            const ReadingVector& one = model.vectors[at(v)];
            const auto p = at(one.point);
            if (pose.is_placed && state.is_known[p] != 0) {
                const auto value = model.sight_errors[s].at(
                    std::norm(pose.landing(one.local) - state.plan[p]), one.variance, 2);
                cost += minus_log(value.density);
                sums.add(value.weight, one.local, state.plan[p]);
            } else {
                cost += std::log(model.area_m2);
            }
            if (pose.has_axes && one.has_rise && state.is_known_in_height[p] != 0) {
                const double off = state.height_m[p] - one.rise_m - pose.axes_m;
                const auto value = model.rise_errors[s].at(off * off, one.rise_variance, 1);
                cost += minus_log(value.density);
                rise_weight += value.weight;
            } else if (one.has_rise) {
                cost += std::log(kHeightRange_m);
            }
        }
        // A part of a set-up after a disturbance has its own prior.
        if (static_cast<int>(s) >= model.first_tripod_part) continue;
        if (pose.is_placed && sums.weight > 0.0)
            cost += volume_cost(
                std::pow(kTwoPi, 1.5) / sums.weight / std::sqrt(std::max(sums.spread(), 1e-9)),
                model.area_m2 * kTwoPi);
        if (pose.has_axes && rise_weight > 0.0)
            cost += volume_cost(std::sqrt(kTwoPi / rise_weight), kHeightRange_m);
    }
    for (std::size_t p = 0; p < model.points.size(); ++p) {
        const ReadingPoint& point = model.points[p];
        if (model.of_point[p].empty()) continue;
        double weight = 0.0, rise_weight = 0.0;
        for (const int v : model.of_point[p]) {
            const ReadingVector& one = model.vectors[at(v)];
            const ReadingPose& pose = state.poses[at(one.setup)];
            if (pose.is_placed && state.is_known[p] != 0)
                weight +=
                    model.sight_errors[at(one.setup)]
                        .at(std::norm(pose.landing(one.local) - state.plan[p]), one.variance, 2)
                        .weight;
            if (pose.has_axes && one.has_rise && state.is_known_in_height[p] != 0) {
                const double off = pose.axes_m + one.rise_m - state.height_m[p];
                rise_weight +=
                    model.rise_errors[at(one.setup)].at(off * off, one.rise_variance, 1).weight;
            }
        }
        if (state.is_known[p] != 0) {
            ErrorMixture::Value value{1.0 / model.area_m2, 0.0};
            if (point.has_plan) value = of_mark(model, point, state.plan[p] - point.given);
            weight += value.weight;
            cost += place_cost(value.density, weight > 0.0 ? kTwoPi / weight : model.area_m2);
        }
        if (state.is_known_in_height[p] != 0) {
            ErrorMixture::Value value{1.0 / kHeightRange_m, 0.0};
            if (point.has_height)
                value = of_mark_height(model, point, state.height_m[p] - point.height_m);
            rise_weight += value.weight;
            cost += place_cost(value.density, rise_weight > 0.0 ? std::sqrt(kTwoPi / rise_weight)
                                                                : kHeightRange_m);
        }
    }
    return cost;
}

std::vector<double> worst_of(const ReadingModel& model, const ReadingState& state) {
    // Nearer than this nothing is read otherwise, however well it was measured.
    constexpr double kNear_m = 0.02;
    std::vector<double> out(model.of_setup.size(), 0.0);
    for (const ReadingVector& one : model.vectors) {
        const auto p = at(one.point);
        const ReadingPose& pose = state.poses[at(one.setup)];
        double& worst = out[at(one.setup)];
        const ReadingPoint& point = model.points[p];
        if (pose.is_placed && state.is_known[p] != 0) {
            const Complex landing = pose.landing(one.local);
            const bool is_given = point.has_plan && !point.is_far;
            const Complex meant = is_given ? point.given : state.plan[p];
            if (std::norm(landing - meant) > kNear_m * kNear_m) {
                worst = std::max(worst, 0.5 * std::norm(landing - state.plan[p]) / one.variance);
                if (is_given)
                    worst = std::max(worst,
                                     0.5 * std::norm(state.plan[p] - point.given) / point.variance);
            }
        }
        if (pose.has_axes && one.has_rise && state.is_known_in_height[p] != 0) {
            const double landing = pose.axes_m + one.rise_m;
            const bool is_given = point.has_height && !point.is_far_in_height;
            if (std::abs(landing - (is_given ? point.height_m : state.height_m[p])) < kNear_m)
                continue;
            const double off = landing - state.height_m[p];
            worst = std::max(worst, 0.5 * off * off / one.rise_variance);
            if (is_given) {
                const double mark = state.height_m[p] - point.height_m;
                worst = std::max(worst, 0.5 * mark * mark / point.height_variance);
            }
        }
    }
    return out;
}

}  // namespace layproof::network::internal

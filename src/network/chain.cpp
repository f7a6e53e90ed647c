#include "network/chain.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <map>
#include <queue>
#include <utility>

#include "base/index.hpp"
#include "frame/rigid.hpp"
#include "measure/angle.hpp"
#include "network/chain_internal.hpp"
#include "station/observations.hpp"
#include "station/start_values.hpp"

namespace layproof::network {
namespace {

using Eigen::Vector2d;
using internal::ChainWorld;

Vector2d turned(const Vector2d& v, double clockwise_rad) {
    const double c = std::cos(clockwise_rad);
    const double s = std::sin(clockwise_rad);
    return {c * v.x() + s * v.y(), -s * v.x() + c * v.y()};
}

/// The fit over the points that agree with the best pair.
std::optional<ChainPose> fit_robustly(const std::vector<Vector2d>& local,
                                      const std::vector<Vector2d>& target) {
    std::vector<double> weights(local.size(), 1.0);
    if (local.size() > 2) {
        const auto pair = best_pair_fit(local, target);
        if (!pair) return std::nullopt;
        std::vector<double> off(local.size());
        for (std::size_t i = 0; i < local.size(); ++i)
            off[i] = (pair->place(local[i]) - target[i]).norm();
        std::vector<double> sorted = off;
        std::nth_element(sorted.begin(),
                         sorted.begin() + static_cast<std::ptrdiff_t>(sorted.size() / 2),
                         sorted.end());
        // Far above any misfit of good work, and still below what a wrong name does.
        constexpr double kAgrees_m = 0.05;
        const double limit = std::max(kAgrees_m, 4.0 * sorted[sorted.size() / 2]);
        for (std::size_t i = 0; i < local.size(); ++i) weights[i] = off[i] <= limit ? 1.0 : 0.0;
    }
    const frame::PlanFit fit = frame::rigid_fit(local, target, weights);
    if (fit.state != frame::PlanFitState::determined) return std::nullopt;
    return ChainPose{fit.place(Vector2d::Zero()), fit.rotation_rad};
}

class Chaining {
public:
    explicit Chaining(const ChainInput& input)
        : in_(input),
          of_setup_(input.setups.size()),
          of_point_(input.points.size()),
          over_(input.points.size()),
          known_(input) {
        put_angles_to_distances();
        for (std::size_t i = 0; i < sights_.size(); ++i) {
            of_setup_[at(sights_[i].setup)].push_back(static_cast<int>(i));
            of_point_[at(sights_[i].point)].push_back(static_cast<int>(i));
        }
        for (std::size_t s = 0; s < in_.setups.size(); ++s)
            if (in_.setups[s].over_point >= 0)
                over_[at(in_.setups[s].over_point)].push_back(static_cast<int>(s));
    }

    Chained run() {
        bool any = false;
        for (std::size_t p = 0; p < in_.points.size(); ++p)
            if (in_.points[p].plan_m) {
                known_.place_point(static_cast<int>(p), *in_.points[p].plan_m);
                any = true;
            }
        out_.own_frame = !any;
        if (any) grow(known_);
        gather_loose();
        out_.point_plan = known_.points;
        out_.setup_plan = known_.setups;
        internal::chain_heights(in_, sights_, over_, out_);
        return std::move(out_);
    }

private:
    static bool is_polar(const measure::ReducedSight& r) {
        return r.has_direction && r.has_distance;
    }

    /// A direction booked in one row and the distance to the same point in another make one vector.
    void put_angles_to_distances() {
        std::map<std::pair<int, int>, std::size_t> half;
        for (const ChainSight& sight : in_.sights) {
            const measure::ReducedSight& r = sight.reduced;
            if (is_polar(r)) {
                sights_.push_back(sight);
                continue;
            }
            const auto [found, is_new] =
                half.emplace(std::pair(sight.setup, sight.point), sights_.size());
            if (is_new) {
                sights_.push_back(sight);
                continue;
            }
            measure::ReducedSight& whole = sights_[found->second].reduced;
            if (!whole.has_direction && r.has_direction) {
                whole.has_direction = true;
                whole.direction_rad = r.direction_rad;
            }
            if (!whole.has_distance && r.has_distance) {
                whole.has_distance = true;
                whole.distance_m = r.distance_m;
                whole.distance_is_horizontal = r.distance_is_horizontal;
            }
            if (!whole.has_zenith && r.has_zenith) {
                whole.has_zenith = true;
                whole.zenith_rad = r.zenith_rad;
                whole.target_height_m = r.target_height_m;
            }
        }
    }

    /// In the instrument's frame, in plan, at the scale of the coordinates.
    Vector2d vector_of(const measure::ReducedSight& r) const {
        const double plan = in_.scale_factor * station::ground_distance(r);
        return {plan * std::sin(r.direction_rad), plan * std::cos(r.direction_rad)};
    }

    /// Places what this set-up sights, and counts for the others.
    void spread_from(ChainWorld& world, int setup) {
        const ChainPose& pose = *world.setups[at(setup)];
        const int under = in_.setups[at(setup)].over_point;
        if (under >= 0 && !world.points[at(under)]) new_point(world, under, pose.plan_m);
        for (const int s : of_setup_[at(setup)]) {
            const ChainSight& sight = sights_[at(s)];
            if (world.points[at(sight.point)] || !is_polar(sight.reduced)) continue;
            new_point(world, sight.point,
                      pose.plan_m + turned(vector_of(sight.reduced), pose.orientation_rad));
        }
    }

    void new_point(ChainWorld& world, int point, const Vector2d& place) {
        world.place_point(point, place);
        count(world, point);
    }

    void count(ChainWorld& world, int point) {
        for (const int s : of_point_[at(point)]) {
            const ChainSight& sight = sights_[at(s)];
            if (world.setups[at(sight.setup)] || known_.setups[at(sight.setup)]) continue;
            world.touch_setup(sight.setup);
            if (is_polar(sight.reduced))
                world.queue.push({++world.polars[at(sight.setup)], -sight.setup});
        }
        for (const int setup : over_[at(point)])
            if (!known_.setups[at(setup)]) world.touch_setup(setup);
    }

    /// From two or more known points by direction and distance.
    std::optional<ChainPose> place_by_polars(const ChainWorld& world, int setup) const {
        std::vector<Vector2d> local, target;
        const int under = in_.setups[at(setup)].over_point;
        if (under >= 0 && world.points[at(under)]) {
            local.push_back(Vector2d::Zero());
            target.push_back(*world.points[at(under)]);
        }
        for (const int s : of_setup_[at(setup)]) {
            const ChainSight& sight = sights_[at(s)];
            if (!is_polar(sight.reduced) || !world.points[at(sight.point)]) continue;
            local.push_back(vector_of(sight.reduced));
            target.push_back(*world.points[at(sight.point)]);
        }
        if (local.size() < 2) return std::nullopt;
        return fit_robustly(local, target);
    }

    /// Over a known point, turned by one direction to another.
    std::optional<ChainPose> place_over(const ChainWorld& world, int setup) const {
        const int under = in_.setups[at(setup)].over_point;
        if (under < 0 || !world.points[at(under)]) return std::nullopt;
        std::vector<double> turns;
        const Vector2d from = *world.points[at(under)];
        for (const int s : of_setup_[at(setup)]) {
            const ChainSight& sight = sights_[at(s)];
            if (!sight.reduced.has_direction || !world.points[at(sight.point)]) continue;
            const Vector2d to = *world.points[at(sight.point)] - from;
            if (to.norm() > 1e-3)
                turns.push_back(
                    measure::wrap_0_2pi(std::atan2(to.x(), to.y()) - sight.reduced.direction_rad));
        }
        if (turns.empty()) return std::nullopt;
        // The turn that most others agree with.
        double best = turns.front();
        double least = 1e300;
        for (const double turn : turns) {
            double sum = 0.0;
            for (const double other : turns) sum += std::abs(measure::wrap_pi(other - turn));
            if (sum < least) {
                least = sum;
                best = turn;
            }
        }
        return ChainPose{from, best};
    }

    /// Angles alone, distances alone, or a mixture.
    std::optional<ChainPose> place_by_closed_form(const ChainWorld& world, int setup) const {
        station::Prepared prepared;
        prepared.has_height = false;
        prepared.scale_factor = in_.scale_factor;
        Vector2d centre = Vector2d::Zero();
        for (const int s : of_setup_[at(setup)]) {
            const ChainSight& sight = sights_[at(s)];
            if (!world.points[at(sight.point)]) continue;
            station::ControlSight control;
            control.reduced = station::level_part(sight.reduced);
            const auto same = std::find_if(
                prepared.marks.begin(), prepared.marks.end(),
                [&](const station::UsedMark& m) { return m.input_index == sight.point; });
            control.mark = static_cast<int>(same - prepared.marks.begin());
            if (same == prepared.marks.end()) {
                station::UsedMark mark;
                mark.given_m.head<2>() = *world.points[at(sight.point)];
                mark.sd_m.setConstant(0.01);
                mark.has_plan = true;
                mark.input_index = sight.point;
                centre += *world.points[at(sight.point)];
                prepared.marks.push_back(mark);
            }
            prepared.sights.push_back(std::move(control));
        }
        if (prepared.marks.size() < 2) return std::nullopt;
        centre /= static_cast<double>(prepared.marks.size());
        for (station::UsedMark& mark : prepared.marks) mark.given_m.head<2>() -= centre;
        std::optional<ChainPose> best;
        double least = 0.0;
        for (const station::StartValue& start : station::start_values(prepared)) {
            double sum = 0.0;
            for (const station::ControlSight& sight : prepared.sights) {
                const Vector2d to = prepared.marks[at(sight.mark)].given_m.head<2>() -
                                    Vector2d(start.east_m, start.north_m);
                if (sight.reduced.has_direction)
                    sum += to.norm() * std::abs(measure::wrap_pi(std::atan2(to.x(), to.y()) -
                                                                 start.orientation_rad -
                                                                 sight.reduced.direction_rad));
                if (sight.reduced.has_distance)
                    sum += std::abs(to.norm() / in_.scale_factor - sight.reduced.distance_m);
            }
            if (best && sum >= least) continue;
            least = sum;
            best = ChainPose{centre + Vector2d(start.east_m, start.north_m), start.orientation_rad};
        }
        return best;
    }

    /// Points sighted by directions from two or more placed set-ups.
    bool intersect(ChainWorld& world) {
        bool any = false;
        for (std::size_t p = 0; p < in_.points.size(); ++p) {
            if (world.points[p] || of_point_[p].size() < 2) continue;
            Eigen::Matrix2d normal = Eigen::Matrix2d::Zero();
            Vector2d right = Vector2d::Zero();
            for (const int s : of_point_[p]) {
                const ChainSight& sight = sights_[at(s)];
                const auto& pose = world.setups[at(sight.setup)];
                if (!pose || !sight.reduced.has_direction) continue;
                const double azimuth = pose->orientation_rad + sight.reduced.direction_rad;
                const Vector2d across(std::cos(azimuth), -std::sin(azimuth));
                normal += across * across.transpose();
                right += across * across.dot(pose->plan_m);
            }
            const Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> eigen(normal);
            // Two lines that meet at 5 degrees have 0.0038.
            constexpr double kMeet = 0.0038;
            if (!(eigen.eigenvalues()[0] > kMeet)) continue;
            new_point(world, static_cast<int>(p), normal.ldlt().solve(right));
            any = true;
        }
        return any;
    }

    void take(ChainWorld& world, int setup, const ChainPose& pose) {
        world.place_setup(setup, pose);
        spread_from(world, setup);
    }

    void grow(ChainWorld& world) {
        for (const int p : world.touched_points) count(world, p);
        for (;;) {
            while (!world.queue.empty()) {
                const auto [polars, minus] = world.queue.top();
                world.queue.pop();
                const int setup = -minus;
                if (world.setups[at(setup)] || polars != world.polars[at(setup)]) continue;
                const bool over = in_.setups[at(setup)].over_point >= 0;
                if (polars < (over ? 1 : 2)) continue;
                if (const auto pose = place_by_polars(world, setup)) take(world, setup, *pose);
            }
            bool any = false;
            const std::vector<int> reached = world.reached_setups;
            for (const int setup : reached) {
                if (world.setups[at(setup)]) continue;
                auto pose = place_by_polars(world, setup);
                if (!pose) pose = place_over(world, setup);
                if (!pose) pose = place_by_closed_form(world, setup);
                if (!pose) continue;
                take(world, setup, *pose);
                any = true;
                break;
            }
            if (!any && intersect(world)) any = true;
            if (!any) return;
        }
    }

    int most_sighting(const std::vector<bool>& tried) const {
        int best = -1;
        std::size_t most = 0;
        for (std::size_t s = 0; s < in_.setups.size(); ++s) {
            if (known_.setups[s] || tried[s]) continue;
            std::size_t polars = 0;
            for (const int i : of_setup_[s])
                if (is_polar(sights_[at(i)].reduced)) ++polars;
            if (best < 0 || polars > most) {
                best = static_cast<int>(s);
                most = polars;
            }
        }
        return best;
    }

    /// The local frame laid on what is known, through the points both have.
    bool lay_on_known(const ChainWorld& local) {
        std::vector<Vector2d> from, to;
        for (const int p : local.touched_points)
            if (known_.points[at(p)]) {
                from.push_back(*local.points[at(p)]);
                to.push_back(*known_.points[at(p)]);
            }
        if (from.size() < 2) return false;
        const auto fit = fit_robustly(from, to);
        if (!fit) return false;
        const auto moved = [&](const Vector2d& v) -> Vector2d {
            return fit->plan_m + turned(v, fit->orientation_rad);
        };
        for (const int s : local.touched_setups)
            known_.place_setup(s, {moved(local.setups[at(s)]->plan_m),
                                   measure::wrap_0_2pi(local.setups[at(s)]->orientation_rad +
                                                       fit->orientation_rad)});
        for (const int p : local.touched_points)
            if (!known_.points[at(p)]) new_point(known_, p, moved(*local.points[at(p)]));
        return true;
    }

    void gather_loose() {
        std::vector<bool> tried(in_.setups.size(), false);
        ChainWorld local(in_);
        for (;;) {
            const int seed = most_sighting(tried);
            if (seed < 0) break;
            local.clear();
            take(local, seed, {});
            grow(local);
            if (out_.own_frame && known_.touched_setups.empty()) {
                for (const int s : local.touched_setups)
                    known_.place_setup(s, *local.setups[at(s)]);
                for (const int p : local.touched_points)
                    known_.place_point(p, *local.points[at(p)]);
                grow(known_);
                std::fill(tried.begin(), tried.end(), false);
                continue;
            }
            if (lay_on_known(local)) {
                grow(known_);
                // What hung on this part may hang on the known now.
                std::fill(tried.begin(), tried.end(), false);
                parts_.clear();
                continue;
            }
            LoosePart part;
            for (const int s : local.touched_setups) {
                tried[at(s)] = true;
                part.setups.push_back(in_.setups[at(s)].name);
            }
            for (const int p : local.touched_points)
                (known_.points[at(p)] ? part.held_by : part.points)
                    .push_back(in_.points[at(p)].name);
            parts_.push_back(std::move(part));
        }
        out_.loose = std::move(parts_);
        say_points_left();
    }

    /// Sighted from placed set-ups, but by one angle or distance only.
    void say_points_left() {
        LoosePart left;
        for (std::size_t p = 0; p < in_.points.size(); ++p) {
            if (known_.points[p]) continue;
            const bool from_known = std::any_of(
                of_point_[p].begin(), of_point_[p].end(),
                [&](int s) { return known_.setups[at(sights_[at(s)].setup)].has_value(); });
            if (from_known) left.points.push_back(in_.points[p].name);
        }
        if (!left.points.empty()) out_.loose.push_back(std::move(left));
    }

    const ChainInput& in_;
    std::vector<ChainSight> sights_;
    std::vector<std::vector<int>> of_setup_, of_point_, over_;
    ChainWorld known_;
    std::vector<LoosePart> parts_;
    Chained out_;
};

std::string names_in_words(const std::vector<std::string>& names) {
    constexpr std::size_t kMost = 12;
    std::string out;
    for (std::size_t i = 0; i < names.size() && i < kMost; ++i)
        out += (i == 0 ? "" : ", ") + names[i];
    if (names.size() > kMost) out += " and " + std::to_string(names.size() - kMost) + " more";
    return out;
}

}  // namespace

Vector2d PairFit::place(const Vector2d& local_m) const {
    return origin_m + turned(local_m, rotation_rad);
}

std::optional<PairFit> best_pair_fit(const std::vector<Vector2d>& local_m,
                                     const std::vector<Vector2d>& target_m) {
    constexpr std::size_t kMostInPairs = 12;
    const std::size_t n = std::min(local_m.size(), target_m.size());
    std::vector<std::size_t> order(n);
    Vector2d middle = Vector2d::Zero();
    for (std::size_t i = 0; i < n; ++i) {
        order[i] = i;
        middle += local_m[i] / static_cast<double>(n);
    }
    if (n > kMostInPairs)
        std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
            return (local_m[a] - middle).norm() > (local_m[b] - middle).norm();
        });
    std::optional<PairFit> best;
    for (std::size_t i = 0; i < std::min(n, kMostInPairs); ++i)
        for (std::size_t j = i + 1; j < std::min(n, kMostInPairs); ++j) {
            const std::size_t a = std::min(order[i], order[j]);
            const std::size_t b = std::max(order[i], order[j]);
            const std::vector<Vector2d> from{local_m[a], local_m[b]};
            const std::vector<Vector2d> to{target_m[a], target_m[b]};
            const frame::PlanFit fit = frame::rigid_fit(from, to);
            if (fit.state != frame::PlanFitState::determined) continue;
            PairFit one{static_cast<int>(a), static_cast<int>(b), fit.rotation_rad,
                        fit.place(Vector2d::Zero()), 0.0};
            for (std::size_t k = 0; k < n; ++k)
                one.sum_abs_m += (one.place(local_m[k]) - target_m[k]).cwiseAbs().sum();
            if (!best || one.sum_abs_m < best->sum_abs_m) best = one;
        }
    return best;
}

std::string LoosePart::says() const {
    std::string who = names_in_words(setups);
    if (!setups.empty() && !points.empty()) who += " and ";
    who += names_in_words(points);
    const bool one = setups.size() + points.size() == 1;
    const std::string verb = one ? " hangs on " : " hang on ";
    if (in_height_only) return "In height " + who + verb + "nothing.";
    if (setups.empty())
        return who + (one ? " is" : " are") +
               " sighted, but one angle or one distance does not "
               "hold a place.";
    if (held_by.empty()) return who + verb + "nothing.";
    return who + verb + names_in_words(held_by) + " alone and can turn about it.";
}

Chained chain(const ChainInput& input) {
    return Chaining(input).run();
}

}  // namespace layproof::network

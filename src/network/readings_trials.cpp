#include <algorithm>
#include <cmath>
#include <map>
#include <span>

#include "base/index.hpp"
#include "network/readings_search_internal.hpp"

namespace layproof::network::internal {
namespace {

using cause::Cause;

/// Trials of one set-up that are weighed, and of a job.
constexpr std::size_t kMostOfSetup = 6;
constexpr std::size_t kMostOfJob = 40;
/// A trial that leaves this many variances more than what is fitted is not as good.
constexpr double kAsGood = 25.0;

double pairs_of(double n) {
    return std::max(1.0, 0.5 * n * (n - 1.0));
}

/// Sums of the plain fit of one set-up, kept so that another target costs O(1).
struct ExchangeSums {
    double n = 0.0;
    Complex local, target, cross;
    double local_square = 0.0, target_square = 0.0;

    void add(double w, Complex l, Complex t) {
        n += w;
        local += w * l;
        target += w * t;
        cross += w * std::conj(l) * t;
        local_square += w * std::norm(l);
        target_square += w * std::norm(t);
    }
    double square_sum() const {
        if (n < 1.5) return 0.0;
        const double a = local_square - std::norm(local) / n;
        const double b = target_square - std::norm(target) / n;
        return std::max(0.0, a + b - 2.0 * std::abs(cross - std::conj(local) * target / n));
    }
};

class Naming {
public:
    Naming(const ReadingModel& model, const ReadingState& state, const cause::CauseTable& table)
        : model_(model), state_(state), table_(table) {
        for (std::size_t p = 0; p < model.points.size(); ++p)
            if (is_mark(static_cast<int>(p)) && !model.of_point[p].empty()) ++marks_sighted_;
        for (std::size_t p = 0; p < model.points.size(); ++p)
            if (is_mark(static_cast<int>(p))) ++marks_;
        for (std::size_t s = 0; s < model.of_setup.size(); ++s)
            if (!model.of_setup[s].empty()) ++setups_;
    }

    bool is_mark(int p) const { return model_.points[at(p)].has_plan; }
    bool is_target(int p) const { return is_mark(p) || state_.is_known[at(p)] != 0; }
    Complex target(int p) const {
        const ReadingPoint& point = model_.points[at(p)];
        return point.has_plan && !point.is_far ? point.given : state_.plan[at(p)];
    }

    ExchangeSums sums_of(int setup) const {
        ExchangeSums out;
        for (const int v : model_.of_setup[at(setup)]) {
            const ReadingVector& one = model_.vectors[at(v)];
            if (counts(one.point, setup)) out.add(1.0, one.local, target(one.point));
        }
        return out;
    }
    double variance_of(int setup) const {
        double sum = 0.0, n = 0.0;
        for (const int v : model_.of_setup[at(setup)]) {
            const ReadingVector& one = model_.vectors[at(v)];
            sum += one.variance + model_.points[at(one.point)].variance;
            n += 1.0;
        }
        return n > 0.0 ? sum / n : 1.0;
    }
    /// A point that only this set-up sights is where this set-up put it: it holds nothing.
    bool counts(int p, int setup) const {
        if (is_mark(p) && !model_.points[at(p)].is_far) return true;
        return is_target(p) && is_sighted_elsewhere(p, setup);
    }
    void exchange(ExchangeSums& sums, int setup, int from, int to) const {
        for (const int v : model_.of_setup[at(setup)]) {
            const ReadingVector& one = model_.vectors[at(v)];
            if (one.point != from || !counts(from, setup)) continue;
            sums.add(-1.0, one.local, target(from));
            if (to >= 0 && counts(to, setup)) sums.add(1.0, one.local, target(to));
        }
    }

    double gain_of_exchange(int setup, int a, int b) const {
        ExchangeSums sums = sums_of(setup);
        const double before = sums.square_sum();
        exchange(sums, setup, a, b);
        exchange(sums, setup, b, a);
        return (before - sums.square_sum()) / (2.0 * variance_of(setup));
    }

    /// Names exchanged: on the sheet where that says the same or both are marks, in the field where
    /// other set-ups sight one of them.
    void add_exchange(int a, int b, int setup, double gain, std::vector<ReadingTrial>& out) const {
        if (a == b) return;
        ReadingTrial trial;
        trial.kind = ReadingKind::names_swapped;
        trial.a = std::min(a, b);
        trial.b = std::max(a, b);
        trial.gain = gain;
        const double odds = odds_of(table_, Cause::names_swapped);
        const bool is_elsewhere = is_sighted_elsewhere(a, setup) || is_sighted_elsewhere(b, setup);
        if (is_mark(a) && is_mark(b)) {
            trial.log_odds = std::log(std::max(odds, 1e-12) * (is_elsewhere ? 0.5 : 1.0) /
                                      pairs_of(marks_sighted_));
            out.push_back(trial);
        }
        if (!is_elsewhere) return;
        // One sight of the two is a wrong name: add_name has the odds of both.
        if (sights_of(a, setup) + sights_of(b, setup) < 2) return;
        trial.setup = setup;
        trial.log_odds = std::log(0.5 * std::max(odds, 1e-12) /
                                  pairs_of(static_cast<double>(model_.points_of(setup).size())));
        out.push_back(trial);
    }

    void add_name(int v, int meant, double gain, std::vector<ReadingTrial>& out) const {
        const ReadingVector& one = model_.vectors[at(v)];
        if (one.point == meant) return;
        ReadingTrial trial;
        trial.kind = ReadingKind::wrong_name;
        trial.a = one.point;
        trial.b = meant;
        trial.setup = one.setup;
        trial.vector = v;
        trial.gain = gain;
        double odds = std::max(odds_of(table_, Cause::wrong_name), 1e-12) /
                      static_cast<double>(model_.of_setup[at(one.setup)].size()) /
                      std::max(1, marks_ - 1);
        if (sights_of(one.point, one.setup) + sights_of(meant, one.setup) < 2)
            odds += 0.5 * odds_of(table_, Cause::names_swapped) / pairs_of(marks_);
        trial.log_odds = std::log(odds);
        out.push_back(trial);
    }

    void add_mistyped(int a, bool is_height, double gain, std::vector<ReadingTrial>& out) const {
        ReadingTrial trial;
        trial.kind = ReadingKind::mark_mistyped;
        trial.a = a;
        trial.is_height = is_height;
        trial.gain = gain;
        // Two of three coordinates are in plan.
        trial.log_odds = std::log(kMarkMistypedOdds * (is_height ? 1.0 : 2.0) / 3.0 /
                                  std::max(1, marks_sighted_));
        out.push_back(trial);
    }

    int sights_of(int p, int setup) const {
        return static_cast<int>(
            std::count_if(model_.of_point[at(p)].begin(), model_.of_point[at(p)].end(),
                          [&](int v) { return model_.vectors[at(v)].setup == setup; }));
    }

    bool is_sighted_elsewhere(int p, int setup) const {
        return std::any_of(model_.of_point[at(p)].begin(), model_.of_point[at(p)].end(),
                           [&](int v) { return model_.vectors[at(v)].setup != setup; });
    }

    void from_sums(int setup, std::vector<ReadingTrial>& out) const {
        const ExchangeSums base = sums_of(setup);
        const double before = base.square_sum();
        const double scale = 1.0 / (2.0 * variance_of(setup));
        std::vector<ReadingTrial> exchanges, names, mistyped;
        const std::vector<int> points = model_.points_of(setup);
        for (std::size_t i = 0; i < points.size(); ++i)
            for (std::size_t j = i + 1; j < points.size(); ++j) {
                if (!counts(points[i], setup) || !counts(points[j], setup)) continue;
                ExchangeSums sums = base;
                exchange(sums, setup, points[i], points[j]);
                exchange(sums, setup, points[j], points[i]);
                ReadingTrial one;
                one.a = points[i];
                one.b = points[j];
                one.gain = (before - sums.square_sum()) * scale;
                exchanges.push_back(one);
            }
        for (const int v : model_.of_setup[at(setup)]) {
            const ReadingVector& vector = model_.vectors[at(v)];
            if (!counts(vector.point, setup)) continue;
            for (std::size_t p = 0; p < model_.points.size(); ++p) {
                const int to = static_cast<int>(p);
                if (to == vector.point || !is_mark(to) || !counts(to, setup)) continue;
                ExchangeSums sums = base;
                sums.add(-1.0, vector.local, target(vector.point));
                sums.add(1.0, vector.local, target(to));
                ReadingTrial one;
                one.vector = v;
                one.a = vector.point;
                one.b = to;
                one.gain = (before - sums.square_sum()) * scale;
                names.push_back(one);
            }
        }
        for (const int p : points) {
            if (!is_mark(p) || !counts(p, setup)) continue;
            ExchangeSums sums = base;
            exchange(sums, setup, p, -1);
            ReadingTrial one;
            one.a = p;
            one.gain = (before - sums.square_sum()) * scale;
            mistyped.push_back(one);
        }
        for (const ReadingTrial& one : best_of(exchanges))
            add_exchange(one.a, one.b, setup, one.gain, out);
        for (const ReadingTrial& one : best_of(names)) {
            add_name(one.vector, one.b, one.gain, out);
            if (is_mark(one.a)) add_exchange(one.a, one.b, setup, one.gain, out);
        }
        for (const ReadingTrial& one : best_of(mistyped)) add_mistyped(one.a, false, one.gain, out);
    }

    /// Where sights that misfit land, when the others hold the set-up.
    void from_landings(int setup, std::vector<ReadingTrial>& out) const {
        const ReadingPose& pose = state_.poses[at(setup)];
        if (!pose.is_placed) return;
        for (const int v : model_.of_setup[at(setup)]) {
            const ReadingVector& vector = model_.vectors[at(v)];
            const ReadingPoint& booked = model_.points[at(vector.point)];
            const Complex landing = pose.landing(vector.local);
            const double variance = vector.variance + booked.variance;
            const double gain = 0.5 * std::norm(landing - target(vector.point)) / variance;
            if (!counts(vector.point, setup) || gain < kFitsAsStated) continue;
            for (std::size_t p = 0; p < model_.points.size(); ++p) {
                const int to = static_cast<int>(p);
                if (to == vector.point || !counts(to, setup)) continue;
                const double off =
                    std::norm(landing - target(to)) / (vector.variance + model_.points[p].variance);
                if (off > 2.0 * kAsGood) continue;
                add_name(v, to, gain, out);
                add_exchange(vector.point, to, setup, gain, out);
            }
            if (!model_.once) continue;
            for (const ReadingVector& one : *model_.once) {
                const ReadingPose& other = state_.poses[at(one.setup)];
                if (one.setup == setup || !other.is_placed) continue;
                const double off = std::norm(landing - other.landing(one.local)) /
                                   (vector.variance + one.variance);
                if (off < 2.0 * kAsGood) add_name(v, one.point, gain, out);
            }
        }
    }

    /// Heights far off in all sights.
    void from_heights(int setup, std::vector<ReadingTrial>& out) const {
        const ReadingPose& pose = state_.poses[at(setup)];
        for (const int v : model_.of_setup[at(setup)]) {
            const ReadingVector& one = model_.vectors[at(v)];
            const ReadingPoint& point = model_.points[at(one.point)];
            if (!pose.has_axes || !one.has_rise || !point.has_height || point.is_far_in_height)
                continue;
            const double off = pose.axes_m + one.rise_m - point.height_m;
            if (std::abs(off) > kMistypedFrom_m)
                add_mistyped(one.point, true, 0.5 * off * off / one.rise_variance, out);
        }
    }

    void as_good(int setup, std::vector<ReadingTrial>& out) const {
        constexpr std::size_t kFewMarks = 3;
        std::vector<int> points;
        for (const int p : model_.points_of(setup))
            if (counts(p, setup)) points.push_back(p);
        if (points.size() < 2 || points.size() > kFewMarks) return;
        for (std::size_t i = 0; i < points.size(); ++i)
            for (std::size_t j = i + 1; j < points.size(); ++j) {
                const double gain = gain_of_exchange(setup, points[i], points[j]);
                if (gain > -kAsGood) add_exchange(points[i], points[j], setup, gain, out);
            }
        if (points.size() > 2) return;
        const ExchangeSums base = sums_of(setup);
        const double scale = 1.0 / (2.0 * variance_of(setup));
        for (const int v : model_.of_setup[at(setup)]) {
            const ReadingVector& vector = model_.vectors[at(v)];
            if (!counts(vector.point, setup)) continue;
            for (std::size_t p = 0; p < model_.points.size(); ++p) {
                const int to = static_cast<int>(p);
                if (!is_mark(to) || !counts(to, setup) || to == points[0] || to == points[1])
                    continue;
                ExchangeSums sums = base;
                sums.add(-1.0, vector.local, target(vector.point));
                sums.add(1.0, vector.local, target(to));
                const double gain = (base.square_sum() - sums.square_sum()) * scale;
                if (gain > -kAsGood) add_name(v, to, gain, out);
            }
        }
    }

    /// Sheet exchanges gain in every set-up that sights one of the two.
    void sum_up(const std::vector<int>& setups, std::vector<ReadingTrial>& trials) const {
        std::vector<ReadingTrial> out;
        for (const ReadingTrial& one : trials) {
            const auto same = std::find_if(out.begin(), out.end(), [&](const ReadingTrial& other) {
                return other.is_same(one);
            });
            if (same == out.end()) {
                out.push_back(one);
            } else {
                const bool adds_up = one.kind == ReadingKind::mark_mistyped;
                same->gain = adds_up ? same->gain + one.gain : std::max(same->gain, one.gain);
            }
        }
        for (ReadingTrial& one : out) {
            if (one.kind != ReadingKind::names_swapped || one.setup >= 0) continue;
            double sum = 0.0;
            for (const int s : setups) sum += gain_of_exchange(s, one.a, one.b);
            one.gain = std::max(one.gain, sum);
        }
        std::stable_sort(out.begin(), out.end(), [](const ReadingTrial& x, const ReadingTrial& y) {
            return x.gain + x.log_odds > y.gain + y.log_odds;
        });
        if (out.size() > kMostOfJob) out.resize(kMostOfJob);
        trials = std::move(out);
    }

private:
    static std::span<const ReadingTrial> best_of(std::vector<ReadingTrial>& trials) {
        std::stable_sort(trials.begin(), trials.end(),
                         [](const auto& a, const auto& b) { return a.gain > b.gain; });
        return {trials.data(), std::min(trials.size(), kMostOfSetup)};
    }

    const ReadingModel& model_;
    const ReadingState& state_;
    const cause::CauseTable& table_;
    int marks_ = 0, marks_sighted_ = 0, setups_ = 0;
};

}  // namespace

bool ReadingTrial::is_same(const ReadingTrial& other) const {
    return kind == other.kind && a == other.a && b == other.b && setup == other.setup &&
           vector == other.vector && is_height == other.is_height && group == other.group &&
           ratio == other.ratio;
}

std::vector<int> misfitting(const std::vector<double>& worst) {
    std::vector<int> out;
    for (std::size_t s = 0; s < worst.size(); ++s)
        if (worst[s] >= kFitsAsStated) out.push_back(static_cast<int>(s));
    return out;
}

bool agrees(const ReadingTrial& trial, const ReadingModel& before, const ReadingModel& after,
            const ReadingState& state) {
    // What a prism or a kicked mark may still do beside it, and six standard deviations.
    constexpr double kNear_m = 0.1;
    constexpr double kNearSds = 36.0;
    if (trial.kind != ReadingKind::wrong_name && trial.kind != ReadingKind::names_swapped)
        return true;
    bool any = false;
    for (std::size_t v = 0; v < after.vectors.size(); ++v) {
        const ReadingVector& one = after.vectors[v];
        const bool is_renamed = trial.setup < 0 ? one.point == trial.a || one.point == trial.b
                                                : one.point != before.vectors[v].point;
        const ReadingPose& pose = state.poses[at(one.setup)];
        const ReadingPoint& point = after.points[at(one.point)];
        if (!is_renamed || !pose.is_placed || state.is_known[at(one.point)] == 0) continue;
        // A point that is sighted once agrees with anything.
        if (!point.has_plan && after.of_point[at(one.point)].size() < 2) continue;
        const Complex meant =
            point.has_plan && !point.is_far ? point.given : state.plan[at(one.point)];
        const double square = std::norm(pose.landing(one.local) - meant);
        any =
            any || square < std::max(kNear_m * kNear_m, kNearSds * (one.variance + point.variance));
    }
    return any;
}

std::vector<ReadingTrial> name_trials(const ReadingModel& model, const ReadingState& state,
                                      const std::vector<int>& setups,
                                      const cause::CauseTable& table) {
    std::vector<ReadingTrial> out;
    const Naming naming(model, state, table);
    for (const int s : setups) {
        naming.from_sums(s, out);
        naming.from_landings(s, out);
        naming.from_heights(s, out);
    }
    naming.sum_up(setups, out);
    return out;
}

std::vector<ReadingTrial> as_good_trials(const ReadingModel& model, const ReadingState& state,
                                         const cause::CauseTable& table) {
    std::vector<ReadingTrial> out;
    const Naming naming(model, state, table);
    std::vector<int> all;
    for (std::size_t s = 0; s < model.of_setup.size(); ++s) {
        if (!state.poses[s].is_placed) continue;
        naming.as_good(static_cast<int>(s), out);
        all.push_back(static_cast<int>(s));
    }
    if (!out.empty()) naming.sum_up(all, out);
    return out;
}

std::vector<int> apply(const ReadingTrial& trial, ReadingModel& model) {
    std::vector<int> touched;
    const auto touch_point = [&](int p) {
        for (const int v : model.of_point[at(p)]) touched.push_back(model.vectors[at(v)].setup);
    };
    switch (trial.kind) {
        case ReadingKind::axes_exchanged:
            for (ReadingPoint& p : model.points) p.given = {p.given.imag(), p.given.real()};
            break;
        case ReadingKind::lengths_in_feet:
            for (ReadingPoint& p : model.points) {
                p.given *= trial.ratio;
                p.height_m *= trial.ratio;
            }
            break;
        case ReadingKind::names_swapped:
        case ReadingKind::mirror_possible:
            touch_point(trial.a);
            touch_point(trial.b);
            if (trial.setup < 0) {
                std::swap(model.points[at(trial.a)], model.points[at(trial.b)]);
            } else {
                for (const int v : model.of_setup[at(trial.setup)]) {
                    int& point = model.vectors[at(v)].point;
                    if (point == trial.a) {
                        point = trial.b;
                    } else if (point == trial.b) {
                        point = trial.a;
                    }
                }
                model.index();
            }
            break;
        case ReadingKind::wrong_name:
            touch_point(trial.a);
            touch_point(trial.b);
            if (model.of_point[at(trial.b)].empty() && model.once)
                for (const ReadingVector& one : *model.once)
                    if (one.point == trial.b) model.vectors.push_back(one);
            model.vectors[at(trial.vector)].point = trial.b;
            model.index();
            break;
        case ReadingKind::older_revision:
            for (const int p : trial.group) {
                touch_point(p);
                model.points[at(p)].given += trial.shift;
            }
            break;
        case ReadingKind::mark_mistyped:
            touch_point(trial.a);
            if (trial.is_height) {
                model.points[at(trial.a)].is_far_in_height = true;
            } else {
                model.points[at(trial.a)].is_far = true;
            }
            break;
        case ReadingKind::foot_kinds_mixed:
            break;
    }
    if (touched.empty())
        for (std::size_t s = 0; s < model.of_setup.size(); ++s)
            touched.push_back(static_cast<int>(s));
    std::sort(touched.begin(), touched.end());
    touched.erase(std::unique(touched.begin(), touched.end()), touched.end());
    return touched;
}

}  // namespace layproof::network::internal

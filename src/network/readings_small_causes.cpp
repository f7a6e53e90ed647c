#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <numeric>
#include <span>

#include "base/index.hpp"
#include "measure/angle.hpp"
#include "network/readings_fit_internal.hpp"

namespace layproof::network::internal {
namespace {

using cause::Cause;
using Eigen::Matrix4d;
using Eigen::Vector4d;

/// Most set-ups that are tried for a small cause: readings that leave more misfitting are worse.
constexpr std::size_t kMostSetups = 12;
/// A tripod disturbed by more than this was set up anew.
constexpr double kMostDisturbed_m = 0.15;
constexpr double kMostTurned_rad = 0.02;

/// A constant or a ratio of all distances of one set-up, with its normal prior.
struct LongBy {
    bool is_ratio = false;
    double sd = 1.0;
    double odds = 0.0;
};

std::ptrdiff_t misfits(const std::vector<double>& worst) {
    return std::count_if(worst.begin(), worst.end(),
                         [](double one) { return one >= kFitsAsStated; });
}

struct Pull {
    Complex local, target;
    double weight = 0.0;
};

/// One Gauss–Newton step of pose and amount; how far it went.
double step(const std::vector<Pull>& pulls, const LongBy& by, ReadingPose& pose,
            double& information) {
    double& amount = by.is_ratio ? pose.ratio : pose.constant_m;
    Matrix4d normal = Matrix4d::Zero();
    Vector4d right = Vector4d::Zero();
    double reach = 0.0;
    for (const Pull& one : pulls) {
        const Complex off = one.target - pose.landing(one.local);
        const double length = std::abs(one.local);
        const Complex turned = pose.turn * pose.reach(one.local);
        const Complex shorter =
            length > 0.0 ? -pose.turn * one.local / (by.is_ratio ? 1.0 : length) : Complex{};
        const std::array<Complex, 4> columns{Complex{1.0, 0.0}, Complex{0.0, 1.0},
                                             Complex{0.0, 1.0} * turned, shorter};
        for (int i = 0; i < 4; ++i) {
            right[i] += one.weight * (std::conj(columns[at(i)]) * off).real();
            for (int j = 0; j < 4; ++j)
                normal(i, j) += one.weight * (std::conj(columns[at(i)]) * columns[at(j)]).real();
        }
        reach = std::max(reach, length);
    }
    const double prior = 1.0 / (by.sd * by.sd);
    normal(3, 3) += prior;
    right[3] -= prior * amount;
    const Eigen::LDLT<Matrix4d> solved(normal);
    const Vector4d d = solved.solve(right);
    if (solved.info() != Eigen::Success || !d.allFinite() || std::abs(d[2]) > 0.1) return 0.0;
    const Eigen::Matrix3d pose_part = normal.topLeftCorner<3, 3>();
    const Eigen::Vector3d mixed = normal.topRightCorner<3, 1>();
    information = normal(3, 3) - mixed.dot(pose_part.ldlt().solve(mixed));
    pose.place += Complex(d[0], d[1]);
    pose.turn *= std::polar(1.0, d[2]);
    amount += d[3];
    return std::abs(d[0]) + std::abs(d[1]) + reach * std::abs(d[2]) +
           std::abs(d[3]) * (by.is_ratio ? reach : 1.0);
}

/// To the places of the points, with the weights of their misfits.
std::vector<Pull> pulls_of(const ReadingModel& model, int setup, const ReadingState& state) {
    std::vector<Pull> out;
    const ReadingPose& pose = state.poses[at(setup)];
    for (const int v : model.of_setup[at(setup)]) {
        const ReadingVector& one = model.vectors[at(v)];
        if (state.is_known[at(one.point)] == 0) continue;
        const Complex target = state.plan[at(one.point)];
        const double square = std::norm(target - pose.landing(one.local));
        out.push_back(
            {one.local, target, model.sight_errors[at(setup)].at(square, one.variance, 2).weight});
    }
    return out;
}

double paid_long_by(const ReadingModel& model, int setup, const LongBy& by, ReadingState& state) {
    double information = 0.0;
    constexpr int kMostSteps = 30;
    for (int round = 0; round < kMostSteps; ++round) {
        const double moved =
            step(pulls_of(model, setup, state), by, state.poses[at(setup)], information);
        refine_points(model, setup, state);
        if (moved < kReadingsSettled_m) break;
    }
    const ReadingPose& pose = state.poses[at(setup)];
    const double amount = (by.is_ratio ? pose.ratio : pose.constant_m) / by.sd;
    return -std::log(by.odds) + 0.5 * amount * amount +
           0.5 * std::log(std::max(information * by.sd * by.sd, 1.0));
}

/// Plain fit of one set-up to its list with a constant or ratio: where robust weights, which call
/// every distance gross, do not find it.
bool plain_amount(const ReadingModel& model, int setup, bool is_ratio, double& amount, double& sd) {
    std::vector<Pull> pulls;
    VectorSums sums;
    for (const int v : model.of_setup[at(setup)]) {
        const ReadingVector& one = model.vectors[at(v)];
        const ReadingPoint& point = model.points[at(one.point)];
        if (!point.has_plan || point.is_far) continue;
        pulls.push_back({one.local, point.given, 1.0 / (one.variance + point.variance)});
        sums.add(pulls.back().weight, one.local, point.given);
    }
    ReadingPose pose;
    if (pulls.size() < 3 || !sums.place(pose)) return false;
    double information = 0.0;
    constexpr int kSteps = 4;
    const LongBy by{is_ratio, is_ratio ? 0.01 : 1.0, 1.0};
    for (int i = 0; i < kSteps; ++i) step(pulls, by, pose, information);
    if (!(information > 0.0)) return false;
    amount = is_ratio ? pose.ratio : pose.constant_m;
    sd = 1.0 / std::sqrt(information);
    return std::isfinite(amount);
}

/// Plain fit of some vectors to what is known, in variances.
double square_sum(const ReadingModel& model, const ReadingState& state,
                  std::span<const int> vectors) {
    VectorSums sums;
    for (const int v : vectors) {
        const ReadingVector& one = model.vectors[at(v)];
        const auto p = at(one.point);
        if (state.is_known[p] == 0) continue;
        const ReadingPoint& point = model.points[p];
        sums.add(1.0 / (one.variance + point.variance), one.local,
                 point.has_plan && !point.is_far ? point.given : state.plan[p]);
    }
    ReadingPose pose;
    if (!sums.place(pose)) return 1e12;
    double sum = 0.0;
    for (const int v : vectors) {
        const ReadingVector& one = model.vectors[at(v)];
        const auto p = at(one.point);
        if (state.is_known[p] == 0) continue;
        const ReadingPoint& point = model.points[p];
        sum += std::norm(pose.landing(one.local) -
                         (point.has_plan && !point.is_far ? point.given : state.plan[p])) /
               (one.variance + point.variance);
    }
    return sum;
}

/// A set-up in two parts, the tripod disturbed between them where the sums are least.
struct Parts {
    ReadingModel model;
    ReadingState state;
    double paid = 0.0;  ///< −ln of odds and prior
};

bool in_two_parts(const ReadingModel& model, const ReadingState& state, int setup,
                  const cause::CauseTable& table, Parts& out) {
    const std::vector<int>& order = model.of_setup[at(setup)];
    const int n = static_cast<int>(order.size());
    const cause::CausePrior& prior = table.of(Cause::tripod_disturbed);
    if (n < 5 || prior.sizes.empty() || !(prior.frequency > 0.0)) return false;
    int first = -1;
    double least = 0.0;
    for (int one = 2; one <= n - 2; ++one) {
        const double sum = square_sum(model, state, {order.data(), at(one)}) +
                           square_sum(model, state, {order.data() + one, at(n - one)});
        if (first >= 0 && sum >= least) continue;
        least = sum;
        first = one;
    }
    out = {model, state, 0.0};
    const int part = static_cast<int>(model.of_setup.size());
    for (int i = first; i < n; ++i) out.model.vectors[at(order[at(i)])].setup = part;
    out.model.sight_errors.push_back(model.sight_errors[at(setup)]);
    out.model.rise_errors.push_back(model.rise_errors[at(setup)]);
    out.model.index();
    place_setups(out.model, {setup, part}, out.state);
    if (!out.state.poses[at(part)].is_placed || !out.state.poses[at(setup)].is_placed) return false;
    refine(out.model, {setup, part}, out.state);
    const ReadingPose& before = out.state.poses[at(setup)];
    const ReadingPose& after = out.state.poses[at(part)];
    const double shift = std::norm(after.place - before.place);
    const double turn = std::arg(after.turn / before.turn);
    if (shift > kMostDisturbed_m * kMostDisturbed_m || std::abs(turn) > kMostTurned_rad)
        return false;
    VectorSums sums;
    for (const int v : out.model.of_setup[at(part)]) {
        const ReadingVector& vector = out.model.vectors[at(v)];
        sums.add(1.0 / vector.variance, vector.local, {});
    }
    const double spread = std::max(sums.spread(), 1e-9);
    double density = 0.0;
    for (const cause::CauseSize& size : prior.sizes) {
        const double v = size.length_m * size.length_m + 1.0 / sums.weight;
        const double a = size.angle_rad * size.angle_rad + 1.0 / spread;
        density += std::exp(-0.5 * (shift / v + turn * turn / a)) /
                   (measure::kTwoPi * v * std::sqrt(measure::kTwoPi * a)) /
                   static_cast<double>(prior.sizes.size());
    }
    const double volume = std::pow(measure::kTwoPi, 1.5) / sums.weight / std::sqrt(spread);
    out.paid = -std::log(odds_of(table, Cause::tripod_disturbed) / (n - 1)) -
               std::log(std::clamp(density * volume, 1e-300, 1.0));
    return true;
}

}  // namespace

std::optional<SharedAmount> shared_amount(const ReadingModel& model, const ReadingState& state,
                                          bool is_ratio, const cause::CauseTable& table) {
    constexpr double kShows = 4.0;
    const Cause cause = is_ratio ? Cause::distance_scale_wrong : Cause::prism_constant_wrong;
    struct Plain {
        int setup = -1;
        double amount = 0.0, sd = 0.0;
        bool shows() const { return std::abs(amount) >= kShows * sd; }
    };
    std::vector<Plain> plain;
    std::vector<double> shown;
    for (std::size_t s = 0; s < model.of_setup.size(); ++s) {
        Plain one{static_cast<int>(s), 0.0, 0.0};
        if (!state.poses[s].is_placed ||
            !plain_amount(model, one.setup, is_ratio, one.amount, one.sd))
            continue;
        plain.push_back(one);
        if (one.shows()) shown.push_back(one.amount);
    }
    if (shown.empty()) return std::nullopt;
    // A set-up whose names are wrong shows anything.
    const auto middle = shown.begin() + static_cast<std::ptrdiff_t>(shown.size() / 2);
    std::nth_element(shown.begin(), middle, shown.end());
    double weight = 0.0, sum = 0.0;
    std::size_t agree = 0;
    for (const Plain& one : plain) {
        if (!one.shows() || std::abs(one.amount - *middle) >= kShows * one.sd) continue;
        weight += 1.0 / (one.sd * one.sd);
        sum += one.amount / (one.sd * one.sd);
        ++agree;
    }
    if (!(weight > 0.0)) return std::nullopt;
    SharedAmount out;
    out.is_ratio = is_ratio;
    out.amount = sum / weight;
    const bool is_of_most = 2 * agree > plain.size();
    for (const Plain& one : plain) {
        const double off = std::abs(one.amount - out.amount);
        const bool agrees = off < kShows * one.sd && off < std::abs(one.amount);
        const bool says_neither = off >= kShows * one.sd && one.shows();
        if (agrees || (is_of_most && says_neither)) out.setups.push_back(one.setup);
    }
    double density = 0.0;
    const cause::CausePrior& prior = table.of(cause);
    for (const cause::CauseSize& size : prior.sizes) {
        const double sd = is_ratio ? size.ratio : size.length_m;
        if (!(sd > 0.0)) continue;
        const double v = sd * sd + 1.0 / weight;
        density += std::exp(-0.5 * out.amount * out.amount / v) / std::sqrt(measure::kTwoPi * v) /
                   static_cast<double>(prior.sizes.size());
    }
    out.paid = -std::log(std::max(odds_of(table, cause), 1e-12)) -
               std::log(std::clamp(density * std::sqrt(measure::kTwoPi / weight), 1e-300, 1.0));
    // A ratio of units is none of air: a reading has it.
    constexpr double kTooDear = 50.0;
    if (out.paid > kTooDear) return std::nullopt;
    return out;
}

void shorten(const SharedAmount& by, ReadingModel& model) {
    for (const int s : by.setups)
        for (const int v : model.of_setup[at(s)]) {
            ReadingVector& one = model.vectors[at(v)];
            ReadingPose pose;
            (by.is_ratio ? pose.ratio : pose.constant_m) =
                by.amount * (by.is_ratio ? 1.0 : one.zenith_sine);
            one.local = pose.reach(one.local);
            one.rise_m -= by.amount * (by.is_ratio ? one.lift_m : one.zenith_cosine);
        }
}

WithSmallCauses with_small_causes(ReadingModel model, ReadingState state,
                                  const cause::CauseTable& table) {
    double cost = cost_of(model, state);
    double paid = 0.0;
    const ReadingModel as_it_is = model;
    const ReadingState start = state;
    for (const bool is_ratio : {false, true}) {
        const auto shared = shared_amount(as_it_is, start, is_ratio, table);
        if (!shared) continue;
        ReadingModel shorter = as_it_is;
        ReadingState fitted = start;
        shorten(*shared, shorter);
        place_setups(shorter, shared->setups, fitted);
        refine(shorter, shared->setups, fitted);
        const double found = cost_of(shorter, fitted);
        if (found + shared->paid >= cost + paid) continue;
        model = std::move(shorter);
        state = std::move(fitted);
        paid = shared->paid;
        cost = found;
    }
    const std::vector<double> worst = worst_of(model, state);
    std::vector<int> order(worst.size());
    std::iota(order.begin(), order.end(), 0);
    std::stable_sort(order.begin(), order.end(),
                     [&](int a, int b) { return worst[at(a)] > worst[at(b)]; });
    if (order.size() > kMostSetups) order.resize(kMostSetups);
    for (const int s : order) {
        if (worst[at(s)] < kFitsAsStated || !state.poses[at(s)].is_placed) continue;
        ReadingState best = state;
        double least = cost;
        double for_least = 0.0;
        const auto try_long = [&](Cause cause, bool is_ratio) {
            const cause::CausePrior& prior = table.of(cause);
            const double odds = odds_of(table, cause) /
                                std::max<double>(1.0, static_cast<double>(prior.sizes.size()));
            for (const cause::CauseSize& size : prior.sizes) {
                const double sd = is_ratio ? size.ratio : size.length_m;
                if (!(sd > 0.0) || !(odds > 0.0)) continue;
                ReadingState one = state;
                const double for_it = paid_long_by(model, s, {is_ratio, sd, odds}, one);
                const double found = cost_of(model, one) + for_it;
                if (found >= least) continue;
                least = found;
                for_least = for_it;
                best = std::move(one);
            }
        };
        try_long(Cause::prism_constant_wrong, false);
        try_long(Cause::distance_scale_wrong, true);
        Parts parts;
        if (in_two_parts(model, state, s, table, parts)) {
            const double found = cost_of(parts.model, parts.state) + parts.paid;
            if (found < least) {
                least = found;
                for_least = parts.paid;
                model = std::move(parts.model);
                best = std::move(parts.state);
            }
        }
        state = std::move(best);
        paid += for_least;
        cost = least - for_least;
    }
    return {cost + paid, misfits(worst_of(model, state)) == 0};
}

}  // namespace layproof::network::internal

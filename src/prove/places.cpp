#include "prove/places.hpp"

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <map>
#include <tuple>

#include "frame/conformity.hpp"
#include "lay/as_laid.hpp"
#include "lay/mixture.hpp"

namespace layproof::prove {
namespace {

using network::NetworkPoint;
using network::PlaceBelief;
using station::Word;

std::size_t at(int i) {
    return static_cast<std::size_t>(i);
}

/// The point's place by the whole job, with the geometry of its first sight.
struct WholePlace {
    lay::LaidPlace place;
    double own = 0.0;  ///< plan variance of the first sight itself
};

WholePlace place_of(const LaidQuestion& question) {
    const NetworkPoint& point = question.network.points[at(question.point)];
    const network::NetworkSight& first = question.network.sights[question.sights.front()];
    const station::StationInput& setup = question.input.setups[at(first.setup)];
    const lay::LaySetup from = lay::believing_nothing_wrong(
        setup.setup.station, question.network.setups[at(first.setup)].pose, setup.instrument,
        question.input.scale_factor);
    WholePlace out;
    if (const auto by_sight = lay::laid_place(point.name, from, 0, first.reduced)) {
        out.place = *by_sight;
        out.own = out.place.own.topLeftCorner<2, 2>().trace();
    }
    out.place.name = point.name;
    out.place.shares.clear();
    out.place.place_m = point.place_m;
    out.place.has_height = point.has_height;
    out.place.own = point.covariance;
    out.place.marking_m = setup.instrument.marking_m;
    out.place.sights = static_cast<int>(question.sights.size());
    return out;
}

/// What takes probability from a point, summed over its moments and explanations.
class Lost {
public:
    explicit Lost(const network::NetworkDiagnosis& diagnosis) : diagnosis_(diagnosis) {}

    void add(const PlaceBelief& belief, double within) {
        const double lost = belief.weight * (1.0 - within);
        all_ += lost;
        if (belief.explanation < 0) {
            if (belief.is_after_bump) unseen_ += lost;
            return;
        }
        for (const int member : diagnosis_.explanations[at(belief.explanation)].members) {
            const network::NetworkSuspect& who = diagnosis_.suspects[at(member)];
            Sum& sum = sums_[{static_cast<int>(who.cause), who.point, who.setup}];
            sum.lost += lost;
            if (sum.suspect < 0 ||
                diagnosis_.probability[at(member)] > diagnosis_.probability[at(sum.suspect)])
                sum.suspect = member;
        }
    }

    void tell(LaidAnswer& answer) const {
        const double half = 0.5 * all_;
        if (!(half > 0.0)) return;
        answer.doubted_by_unseen_bump = unseen_ >= half;
        double most = half;
        for (const auto& [key, sum] : sums_) {
            if (sum.lost < most) continue;
            most = sum.lost;
            answer.doubted_by = sum.suspect;
        }
    }

private:
    struct Sum {
        double lost = 0.0;
        int suspect = -1;
    };
    const network::NetworkDiagnosis& diagnosis_;
    std::map<std::tuple<int, int, int>, Sum> sums_;
    double all_ = 0.0;
    double unseen_ = 0.0;
};

}  // namespace

SetupFit fit_of(const network::NetworkStation& setup) {
    SetupFit out;
    const int dof = static_cast<int>(std::lround(setup.redundancy));
    out.test = adjust::global_test(setup.statistic, dof);
    out.ratio = setup.redundancy > 0.1 ? std::sqrt(setup.statistic / setup.redundancy) : 1.0;
    out.word = setup.is_placed && dof > 0 && out.test.passes ? Word::proven : Word::in_doubt;
    return out;
}

MarkChance chance_of(const NetworkPoint& point, const frame::Mark& mark,
                     const std::vector<PlaceBelief>& beliefs, const MarkTolerance& tolerance,
                     double confidence) {
    MarkChance out;
    for (const PlaceBelief& belief : beliefs) {
        double within = 1.0;
        if (point.has_plan && mark.has_plan())
            within *= frame::probability_within_circle(
                Eigen::Vector2d(*point.off_east_m, *point.off_north_m) + belief.shift_m.head<2>(),
                (point.covariance + belief.added).topLeftCorner<2, 2>(), tolerance.plan_m);
        if (point.has_height && mark.has_height())
            within *= frame::probability_within(
                *point.off_height_m + belief.shift_m.z(),
                std::sqrt(std::max(point.covariance(2, 2) + belief.added(2, 2), 0.0)),
                tolerance.height_m);
        out.probability += belief.weight * within;
    }
    out.probability = std::clamp(out.probability, 0.0, 1.0);
    out.is_checked = point.seen_off_m.has_value() || !mark.has_plan();
    out.word = station::judge(out.probability, confidence);
    if (out.word == Word::proven && !out.is_checked) out.word = Word::in_doubt;
    return out;
}

LaidAnswer judge_laid(const LaidQuestion& question, const frame::DesignPoint& design,
                      const lay::PointTolerance& tolerance,
                      const std::vector<PlaceBelief>& beliefs) {
    const auto [place, own] = place_of(question);
    const lay::SetupSet none;
    const lay::PointVerdict plain =
        lay::judge_point(place, design, tolerance, none, question.confidence);
    LaidAnswer out;
    lay::PointVerdict& v = out.verdict;
    v = plain;
    v.expected_m.setZero();
    v.covariance.setZero();
    v.probability = 0.0;
    double plan = 0.0;
    double height = 0.0;
    double unmoved = 0.0;
    Lost lost(question.diagnosis);
    for (const PlaceBelief& belief : beliefs) {
        lay::LaidPlace there = place;
        there.place_m += belief.shift_m;
        there.own += belief.added;
        const lay::PlaceChance one = lay::chance_of(there, design, tolerance);
        v.probability += belief.weight * one.probability;
        lost.add(belief, one.probability);
        if (belief.is_after_bump) {
            out.probability_moved += belief.weight;
            out.moved_by_m += belief.weight * belief.bump_m;
        } else {
            unmoved += belief.weight;
            out.probability_unmoved += belief.weight * one.probability;
        }
        plan += belief.weight * one.plan.value_or(0.0);
        height += belief.weight * one.height.value_or(0.0);
        v.expected_m += belief.weight * one.deviation_m;
        v.covariance +=
            belief.weight * (one.covariance + one.deviation_m * one.deviation_m.transpose());
    }
    v.covariance -= v.expected_m * v.expected_m.transpose();
    const double probability = std::clamp(v.probability, 0.0, 1.0);
    const Eigen::Vector3d shift = v.expected_m - plain.deviation_m;
    v.deviation_m = v.expected_m;
    const Eigen::Vector2d plan_m = v.deviation_m.head<2>();
    v.along_m = plan_m.dot(place.sight.ahead);
    v.across_m = plan_m.dot(place.sight.right);
    out.place_m = place.place_m + shift;
    if (plain.probability_plan) v.probability_plan = std::clamp(plan, 0.0, 1.0);
    if (plain.probability_height) v.probability_height = std::clamp(height, 0.0, 1.0);
    const Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> axes(
        Eigen::Matrix2d(v.covariance.topLeftCorner<2, 2>()), Eigen::EigenvaluesOnly);
    v.sd_plan_m = std::sqrt(std::max(axes.eigenvalues()[1], 0.0));
    if (v.has_height) v.sd_height_m = std::sqrt(std::max(v.covariance(2, 2), 0.0));
    const double total = v.covariance.topLeftCorner<2, 2>().trace();
    v.station_share = total > 0.0 ? std::clamp(1.0 - own / total, 0.0, 1.0) : 0.0;
    v.is_widened = false;
    judge_again(v, probability);
    if (unmoved > 0.0) out.probability_unmoved /= unmoved;
    if (out.probability_moved > 0.0) out.moved_by_m /= out.probability_moved;
    if (v.word != Word::proven) lost.tell(out);
    return out;
}

void judge_again(lay::PointVerdict& verdict, double probability) {
    verdict.probability = probability;
    verdict.word =
        verdict.is_judged ? station::judge(probability, verdict.confidence) : Word::in_doubt;
    if (verdict.word == Word::proven && verdict.height_is_open) verdict.word = Word::in_doubt;
}

}  // namespace layproof::prove

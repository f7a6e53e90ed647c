#include <algorithm>
#include <cmath>
#include <unordered_map>

#include "base/index.hpp"
#include "network/readings_fit_internal.hpp"
#include "station/observations.hpp"

namespace layproof::network::internal {
namespace {

using cause::Cause;

/// No vector is better than this (no source): it keeps weights finite where all is stated as exact.
constexpr double kLeastSd_m = 0.0003;
/// Beside the table's sizes (engineering judgement, no source): a mark off by more than its sizes
/// and less than what is called mistyped, and a sight to anything at all.
constexpr double kFartherMark_m = 0.2;
constexpr double kFartherMarkOdds = 0.01;
constexpr double kAnywhereOdds = 0.001;
/// A sight that fits in plan is off in height by its rod, and no rod is longer.
constexpr double kFartherRod_m = 2.0;
constexpr double kElsewhereInHeightOdds = 1e-6;
constexpr double kLeastExtent_m = 10.0;
/// Of what is no gross error of a reading of distance or angle: the rod stood elsewhere.
constexpr double kGross_m = 0.5;

void add_sizes(ErrorMixture& mixture, const cause::CauseTable& table, Cause cause, double among) {
    const auto& sizes = table.of(cause).sizes;
    for (const cause::CauseSize& size : sizes)
        mixture.add(odds_of(table, cause) / among / static_cast<double>(sizes.size()),
                    size.length_m);
}

bool is_finite(const frame::Mark& mark) {
    return mark.has_plan() && std::isfinite(*mark.east_m) && std::isfinite(*mark.north_m) &&
           std::isfinite(mark.sd_east_m) && std::isfinite(mark.sd_north_m);
}

ReadingPoint point_of(const NetworkInput& input, int mark, const Eigen::Vector3d& middle) {
    ReadingPoint out;
    out.mark = mark;
    if (mark < 0) return out;
    const frame::Mark& given = input.marks[at(mark)];
    if (is_finite(given)) {
        out.has_plan = true;
        out.given = {*given.east_m - middle.x(), *given.north_m - middle.y()};
        out.variance = std::max(
            0.5 * (given.sd_east_m * given.sd_east_m + given.sd_north_m * given.sd_north_m),
            kLeastSd_m * kLeastSd_m);
    }
    if (given.has_height() && std::isfinite(*given.height_m) && std::isfinite(given.sd_height_m)) {
        out.has_height = true;
        out.height_m = *given.height_m - middle.z();
        out.height_variance =
            std::max(given.sd_height_m * given.sd_height_m, kLeastSd_m * kLeastSd_m);
    }
    return out;
}

Eigen::Vector3d middle_of(const NetworkInput& input) {
    Eigen::Vector3d sum = Eigen::Vector3d::Zero();
    double n = 0.0, heights = 0.0;
    for (const frame::Mark& mark : input.marks) {
        if (is_finite(mark)) {
            sum.x() += *mark.east_m;
            sum.y() += *mark.north_m;
            n += 1.0;
        }
        if (mark.has_height() && std::isfinite(*mark.height_m)) {
            sum.z() += *mark.height_m;
            heights += 1.0;
        }
    }
    if (n > 0.0) sum.head<2>() /= n;
    if (heights > 0.0) sum.z() /= heights;
    return sum;
}

void add_vector(const NetworkInput& input, const NetworkSight& sight, int number,
                std::vector<ReadingVector>& out) {
    const measure::ReducedSight& r = sight.reduced;
    if (!sight.used || !r.has_direction || !r.has_distance) return;
    const measure::Instrument& instrument = input.setups[at(sight.setup)].instrument;
    const double ground = station::ground_distance(r);
    if (!std::isfinite(ground) || !(ground > station::kNearest_m)) return;
    const Eigen::Matrix3d c = station::covariance_of(r, instrument, ground);
    const bool is_slope = r.has_zenith && !r.distance_is_horizontal;
    const double sine = is_slope ? std::sin(r.zenith_rad) : 1.0;
    const double cosine = is_slope ? std::cos(r.zenith_rad) : 0.0;
    const double lift = is_slope ? r.distance_m * cosine : 0.0;
    const double along =
        sine * sine * c(2, 2) + lift * lift * c(1, 1) + 2.0 * sine * lift * c(1, 2);
    const double across = ground * ground * c(0, 0);
    ReadingVector one;
    one.setup = sight.setup;
    one.point = sight.point;
    one.sight = number;
    // Direction clockwise from north: east is its sine.
    one.local =
        input.scale_factor * ground * Complex(std::sin(r.direction_rad), std::cos(r.direction_rad));
    one.variance = std::max(0.5 * (along + across), kLeastSd_m * kLeastSd_m);
    one.zenith_sine = sine;
    one.zenith_cosine = cosine;
    one.lift_m = lift;
    if (is_slope) {
        one.has_rise = true;
        one.rise_m = r.distance_m * cosine - r.target_height_m +
                     station::bend_of(instrument.refraction_k) * ground * ground;
        one.rise_variance = std::max(
            cosine * cosine * c(2, 2) + ground * ground * c(1, 1) - 2.0 * cosine * ground * c(1, 2),
            kLeastSd_m * kLeastSd_m);
    }
    if (!std::isfinite(one.variance) || !std::isfinite(std::abs(one.local))) return;
    if (!std::isfinite(one.rise_m) || !std::isfinite(one.rise_variance)) one.has_rise = false;
    out.push_back(one);
}

}  // namespace

ReadingGathered gather_readings(const NetworkInput& input, const cause::CauseTable& table) {
    ReadingGathered out;
    out.all = gather_network(input);
    out.middle_m = middle_of(input);
    ReadingModel& model = out.model;
    std::unordered_map<std::string, int> named;
    for (const NetworkPoint& point : out.all.points) {
        named.emplace(point.name, static_cast<int>(model.points.size()));
        model.points.push_back(point_of(input, point.mark, out.middle_m));
        out.names.push_back(point.name);
    }
    for (std::size_t m = 0; m < input.marks.size(); ++m) {
        if (named.contains(input.marks[m].name)) continue;
        named.emplace(input.marks[m].name, static_cast<int>(model.points.size()));
        model.points.push_back(point_of(input, static_cast<int>(m), out.middle_m));
        out.names.push_back(input.marks[m].name);
    }

    std::size_t next = 0;
    for (std::size_t s = 0; s < input.setups.size(); ++s) {
        const ChainSetup& chained = out.all.chain.setups[s];
        if (chained.over_point >= 0) {
            const Eigen::Vector3d sd = station::over_mark_sd_m(input.setups[s].instrument);
            ReadingVector over;
            over.setup = static_cast<int>(s);
            over.point = chained.over_point;
            over.variance = std::max(sd.x() * sd.x(), kLeastSd_m * kLeastSd_m);
            over.has_rise = chained.instrument_height_m.has_value();
            over.rise_m = -chained.instrument_height_m.value_or(0.0);
            over.rise_variance = std::max(sd.z() * sd.z(), kLeastSd_m * kLeastSd_m);
            if (std::isfinite(over.variance) && std::isfinite(over.rise_m))
                model.vectors.push_back(over);
        }
        while (next < out.all.sights.size() && out.all.sights[next].setup < static_cast<int>(s))
            ++next;
        for (std::size_t i = next;
             i < out.all.sights.size() && out.all.sights[i].setup == static_cast<int>(s); ++i)
            add_vector(input, out.all.sights[i], static_cast<int>(i), model.vectors);
    }

    std::vector<int> sights(model.points.size(), 0);
    for (const ReadingVector& v : model.vectors) ++sights[at(v.point)];
    auto once = std::make_shared<std::vector<ReadingVector>>();
    std::vector<ReadingVector> holding;
    for (const ReadingVector& v : model.vectors) {
        const ReadingPoint& point = model.points[at(v.point)];
        const bool holds = point.has_plan || point.has_height || sights[at(v.point)] > 1;
        (holds ? holding : *once).push_back(v);
    }
    model.vectors = std::move(holding);
    model.once = std::move(once);

    double reach = kLeastExtent_m;
    for (const ReadingVector& v : model.vectors) reach = std::max(reach, 2.0 * std::abs(v.local));
    for (const ReadingPoint& p : model.points)
        if (p.has_plan) reach = std::max(reach, std::min(2.0 * std::abs(p.given), 10.0 * reach));
    model.area_m2 = reach * reach;

    model.sight_errors.resize(input.setups.size());
    model.rise_errors.resize(input.setups.size());
    model.first_tripod_part = static_cast<int>(input.setups.size());
    model.index();
    int marks = 0;
    for (std::size_t p = 0; p < model.points.size(); ++p)
        marks += int{model.points[p].mark >= 0 && !model.of_point[p].empty()};
    const double among_marks = std::max(marks, 1);
    add_sizes(model.mark_errors, table, Cause::mark_moved, among_marks);
    model.mark_errors.add(kFartherMarkOdds / among_marks, kFartherMark_m);
    add_sizes(model.mark_height_errors, table, Cause::mark_height_changed, among_marks);
    model.mark_height_errors.add(kFartherMarkOdds / among_marks, kFartherMark_m);
    for (std::size_t s = 0; s < input.setups.size(); ++s) {
        const double among = std::max(1.0, static_cast<double>(model.of_setup[s].size()));
        ErrorMixture& plan = model.sight_errors[s];
        add_sizes(plan, table, Cause::rod_not_plumb, among);
        plan.add((odds_of(table, Cause::gross_direction) + odds_of(table, Cause::gross_distance)) /
                     among,
                 kGross_m);
        plan.anywhere = kAnywhereOdds / among / model.area_m2;
        ErrorMixture& rise = model.rise_errors[s];
        add_sizes(rise, table, Cause::rod_height_wrong, among);
        rise.add(odds_of(table, Cause::gross_zenith) / among, kGross_m);
        rise.add(kAnywhereOdds / among, kFartherRod_m);
        rise.anywhere = kElsewhereInHeightOdds / among / kHeightRange_m;
    }
    return out;
}

}  // namespace layproof::network::internal

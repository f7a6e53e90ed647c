#include "acts/setup/setup_work.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "acts/setup/assess_internal.hpp"
#include "acts/setup/cause_words_internal.hpp"
#include "acts/setup/forecast_all_internal.hpp"
#include "acts/setup/setup_inputs.hpp"
#include "acts/setup/setup_words_internal.hpp"
#include "acts/setup/setup_work.hpp"
#include "acts/shared/progress.hpp"
#include "acts/shared/words.hpp"
#include "cause/traps.hpp"
#include "frame/polar.hpp"
#include "station/aids.hpp"
#include "station/misfit_figures.hpp"

namespace layproof::acts {
namespace {

using internal::OneSetup;
using internal::StationInputs;
using station::LayTarget;
using station::Prepared;
using station::Solved;

constexpr int kCirclePlaces = 16;
constexpr double kShortestRadius_m = 1.0;
constexpr std::size_t kMostAids = 5;

double median(std::vector<double> values) {
    if (values.empty()) return 0.0;
    std::sort(values.begin(), values.end());
    const std::size_t n = values.size();
    return n % 2 == 1 ? values[n / 2] : 0.5 * (values[n / 2 - 1] + values[n / 2]);
}

double rod_height(const OneSetup& one, const Prepared& setup) {
    std::vector<double> heights;
    for (const measure::Sight& sight : one.input.sights)
        if (sight.purpose == measure::Purpose::lay) heights.push_back(sight.target_height_m);
    if (heights.empty())
        for (const station::ControlSight& sight : setup.sights)
            if (sight.used) heights.push_back(sight.reduced.target_height_m);
    return median(std::move(heights));
}

std::vector<LayTarget> targets_of(const StationInputs& inputs, const OneSetup& one,
                                  StationReport& report) {
    std::vector<LayTarget> out;
    int untold = 0;
    int no_height = 0;
    const std::size_t points = one.wanted ? one.wanted->size() : inputs.points.size();
    out.reserve(points);
    for (std::size_t i = 0; i < points; ++i) {
        const frame::DesignPoint& point = inputs.points[one.wanted ? (*one.wanted)[i] : i];
        untold += point.tolerance_plan_m ? 0 : 1;
        no_height += point.tolerance_height_m && !(point.height_m && report.pose.has_height);
        out.push_back({point.name, point.east_m, point.north_m, point.height_m,
                       point.tolerance_plan_m.value_or(kDefaultTolerancePlan_m),
                       point.tolerance_height_m});
    }
    if (untold > 0)
        report.notices.push_back(fmt::format(
            "No tolerance given for {}: 1/4 in (6.35 mm) in plan taken.",
            untold == static_cast<int>(points) ? "the points" : internal::count(untold, "point")));
    if (no_height > 0)
        report.notices.push_back(fmt::format("{} judged in plan only: {} height is not known.",
                                             internal::count(no_height, "point"),
                                             report.pose.has_height ? "their" : "the station's"));
    return out;
}

/// Without points: what could be laid around the station.
std::vector<LayTarget> circle_of(const StationRequest& request, const Prepared& setup,
                                 StationReport& report) {
    std::vector<double> distances;
    double height_sum = 0.0;
    int heights = 0;
    std::set<int> seen;
    for (const station::ControlSight& sight : setup.sights) {
        if (!sight.used || !seen.insert(sight.mark).second) continue;
        const station::UsedMark& mark = setup.marks[static_cast<std::size_t>(sight.mark)];
        const Eigen::Vector3d at = mark.given_m + setup.origin_m;
        if (mark.has_plan && sight.mark != setup.occupied_mark)
            distances.push_back((at - report.pose.position_m).head<2>().norm());
        if (mark.has_height) {
            height_sum += at.z();
            ++heights;
        }
    }
    double mean_m = 0.0;
    for (const double d : distances) mean_m += d / static_cast<double>(distances.size());
    const double radius_m = request.radius_m.value_or(std::max(mean_m, kShortestRadius_m));
    report.circle_radius_m = radius_m;
    std::vector<LayTarget> out;
    for (int k = 0; k < kCirclePlaces; ++k) {
        const double bearing = k * measure::kTwoPi / kCirclePlaces;
        const Eigen::Vector2d at =
            frame::polar_point(report.pose.position_m.head<2>(), bearing, radius_m);
        LayTarget target;
        target.name = fmt::format("circle {}°", k * 360.0 / kCirclePlaces);
        target.east_m = at.x();
        target.north_m = at.y();
        target.tolerance_plan_m = kDefaultTolerancePlan_m;
        if (heights > 0 && report.pose.has_height) {
            target.height_m = height_sum / heights;
            target.tolerance_height_m = kDefaultToleranceHeight_m;
        }
        out.push_back(std::move(target));
    }
    report.notices.push_back(
        out.front().height_m
            ? "No points given: a circle around the station is judged, tolerance 1/4 in (6.35 mm) "
              "in plan and 1/2 in (12.7 mm) in height."
            : "No points given: a circle around the station is judged, tolerance 1/4 in (6.35 mm) "
              "in plan.");
    return out;
}

void report_sights(const OneSetup& one, const Prepared& setup, const Solved& solved,
                   StationReport& report) {
    for (std::size_t i = 0; i < setup.sights.size(); ++i) {
        const station::ControlSight& sight = setup.sights[i];
        SightReport out;
        out.mark = static_cast<std::size_t>(sight.mark);
        out.target = setup.marks[out.mark].name;
        out.used = sight.used;
        out.why = sight.why_not_used;
        out.figures = solved.best.sights[i];
        const auto& aside = one.input.set_aside;
        const auto at = std::find(aside.begin(), aside.end(), sight.booked.front());
        if (at != aside.end()) {
            const std::string& reason =
                one.aside_reasons[static_cast<std::size_t>(at - aside.begin())];
            if (!reason.empty()) out.why = "set aside: " + reason;
        }
        report.sights.push_back(std::move(out));
    }
    for (std::size_t m = 0; m < setup.marks.size(); ++m) {
        const station::UsedMark& mark = setup.marks[m];
        const station::SolvedMark& figures = solved.best.marks[m];
        MarkReport out;
        out.name = mark.name;
        const Eigen::Vector3d at = mark.given_m + setup.origin_m;
        if (mark.has_plan) {
            out.east_m = at.x();
            out.north_m = at.y();
        }
        if (mark.has_height) out.height_m = at.z();
        out.is_under = static_cast<int>(m) == setup.occupied_mark;
        out.used = out.is_under || std::any_of(setup.sights.begin(), setup.sights.end(),
                                               [&](const station::ControlSight& s) {
                                                   return s.used && s.mark == static_cast<int>(m);
                                               });
        out.off_east_m = figures.off_east_m;
        out.off_north_m = figures.off_north_m;
        out.off_height_m = figures.off_height_m;
        out.off_covariance = figures.off_covariance;
        report.marks.push_back(std::move(out));
    }
}

/// The solution with everything that was set aside, in one sentence.
std::string kept_in(const OneSetup& one, const StationReport& report,
                    const measure::LengthStyle& style) {
    if (one.input.set_aside.empty()) return "";
    std::vector<std::string> names;
    for (const SightReport& sight : report.sights)
        if (sight.why.starts_with("set aside") &&
            std::find(names.begin(), names.end(), sight.target) == names.end())
            names.push_back(sight.target);
    station::StationInput whole = one.input;
    whole.set_aside.clear();
    const auto prepared = station::prepare(whole);
    if (!prepared) return "";
    const auto solved = station::solve_station(*prepared);
    if (!solved) return "";
    const Eigen::Vector3d by = solved->best.pose.position_m - report.pose.position_m;
    return fmt::format(
        "With {} kept in, the station would lie {} of here, and the sights would {}.",
        internal::listed(names), internal::toward(by.head<2>(), style),
        solved->best.global_test.passes ? "fit the marks" : "not fit the marks");
}

/// What helps is tried on this many points at most: it shows on some as well as on all.
constexpr std::size_t kMostAidPoints = 1000;

/// Every n-th point in the order of the file.
std::vector<LayTarget> spread_out(const std::vector<LayTarget>& targets) {
    const std::size_t stride = (targets.size() + kMostAidPoints - 1) / kMostAidPoints;
    if (stride < 2) return targets;
    std::vector<LayTarget> out;
    for (std::size_t i = 0; i < targets.size(); i += stride) out.push_back(targets[i]);
    return out;
}

void add_aids(const station::Aids& aids, std::size_t tried, std::size_t all,
              const measure::LengthStyle& style, StationReport& report) {
    const std::string points = tried < all ? fmt::format("{} points tried out of {}", tried, all)
                                           : internal::count(static_cast<int>(all), "point");
    for (const station::Aid& aid : aids.best) {
        const bool helps = aid.proven > aids.now.proven ||
                           (aid.proven == aids.now.proven && aid.lowest > aids.now.lowest + 0.001);
        if (!helps || report.aids.size() >= kMostAids) continue;
        report.aids.push_back({std::string(station::to_word(aid.kind)), aid.mark, aid.proven,
                               aid.lowest, internal::aid_sentence(aid, aids.now, points, style)});
    }
}

void add_trap(const cause::Trap& trap, const measure::LengthStyle& style, StationReport& report) {
    const std::string says = internal::trap_sentence(trap, style);
    report.traps.push_back({std::string(cause::to_word(trap.kind)), trap.is_certain, says});
}

}  // namespace

Result<internal::StationWork> internal::work_of(const StationRequest& request,
                                                const StationInputs& inputs, const OneSetup& one,
                                                const measure::LengthStyle& style,
                                                const StateBeliefs& believed) {
    const auto before = static_cast<double>(&one - inputs.setups.data());
    if (!go_on(request.progress, before / static_cast<double>(inputs.setups.size()),
               "Placing " + one.input.setup.station))
        return stopped();
    const auto prepared = station::prepare(one.input);
    if (!prepared) return prepared.refusal();
    auto solved = station::solve_station(*prepared);
    if (!solved) return solved.refusal();
    station::add_misfit_figures(*prepared, solved->best);

    StationReport report;
    report.station = one.input.setup.station;
    report.kind = one.input.setup.kind;
    report.pose = solved->best.pose;
    report.global_test = solved->best.global_test;
    report.others = solved->others;
    report.notices = prepared->notices;
    report.collimation_rad = prepared->collimation_rad;
    report.index_error_rad = prepared->index_error_rad;
    report.face_pairs = prepared->face_pairs;
    report.fit = internal::fit_sentence(report);
    report_sights(one, *prepared, *solved, report);
    report.if_kept_in = kept_in(one, report, style);

    const station::Geometry geometry = station::judge_geometry(*prepared, *solved);
    report.mark_count = geometry.mark_count;
    report.weak = geometry.weak;
    report.weakness = internal::weakness_sentence(geometry.weak, style);
    for (const station::Remark& remark : geometry.remarks)
        report.remarks.push_back({remark, internal::remark_sentence(remark, report, style)});

    report.rod_height_m = rod_height(one, *prepared);
    const bool is_circle = !inputs.has_points || (one.wanted && one.wanted->empty());
    const std::vector<LayTarget> targets =
        is_circle ? circle_of(request, *prepared, report) : targets_of(inputs, one, report);
    internal::Assessment assessment =
        internal::assess(*prepared, *solved, one.input.marks, inputs.causes, style);
    if (believed) assessment.beliefs = believed(report.pose);
    const station::Forecast forecast =
        internal::forecast_all(report.pose, targets, one.input.instrument, report.rod_height_m,
                               assessment.beliefs, request.confidence);
    for (std::size_t i = 0; i < targets.size(); ++i)
        report.points.push_back({targets[i], forecast.points[i]});
    report.proven = forecast.proven;
    report.causes = assessment.causes;
    report.next_sight = assessment.next_sight;
    report.pose_is = "from all sights used, as booked";
    if (assessment.explained) {
        const station::Forecast put_right = internal::forecast_all(
            assessment.explained->pose, targets, one.input.instrument, report.rod_height_m,
            assessment.explained_beliefs, request.confidence);
        assessment.explained->word = put_right.word;
        assessment.explained->probability = put_right.lowest;
        assessment.explained->proven = put_right.proven;
        report.explained = assessment.explained;
        report.explained->says = internal::explained_sentence(report, style);
    }
    for (const cause::Trap& trap : cause::traps_of_sights(*prepared)) add_trap(trap, style, report);
    for (const cause::Trap& trap : cause::traps_of_units(inputs.marks_unit, inputs.points_unit,
                                                         inputs.largest_coordinate_m)) {
        if (trap.is_certain) {
            add_trap(trap, style, report);
        } else {
            report.notices.push_back(internal::trap_sentence(trap, style));
        }
    }
    // What the points would be worth if nothing were wrong: tells weak geometry from hidden causes.
    const station::Forecast sound =
        internal::forecast_all(report.pose, targets, one.input.instrument, report.rod_height_m,
                               {station::belief_of(report.pose)}, request.confidence);
    if (sound.word != station::Word::proven) {
        const std::vector<LayTarget> sample = spread_out(targets);
        const station::Aids aids =
            station::what_helps({*prepared, report.pose, one.input.marks, sample,
                                 report.rod_height_m, request.confidence});
        add_aids(aids, sample.size(), targets.size(), style, report);
    }
    report.verdict =
        internal::verdict_of(report, forecast, sound, assessment, {style, request.confidence});
    return StationWork{std::move(report), *prepared, std::move(*solved), std::move(assessment)};
}

}  // namespace layproof::acts

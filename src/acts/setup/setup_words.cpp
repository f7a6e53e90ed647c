#include "acts/setup/setup_words_internal.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "acts/shared/words.hpp"

namespace layproof::acts::internal {
namespace {

using station::RemarkKind;
using station::Word;

/// A check is due every 60 minutes (common practice, no source).
constexpr double kSureEnough = 0.9;
constexpr const char* kLayOn =
    "Lay the points; sight a mark again within 60 minutes and before packing up.";

std::string tolerance_phrase(const station::LayTarget& target, bool has_height,
                             const measure::LengthStyle& style) {
    const std::string plan = tolerance(target.tolerance_plan_m, style);
    if (!has_height || !target.tolerance_height_m) return fmt::format("within {} in plan", plan);
    return fmt::format("within {} in plan and {} in height", plan,
                       tolerance(*target.tolerance_height_m, style));
}

std::string what_is_laid(const StationReport& report, const measure::LengthStyle& style) {
    const int points = static_cast<int>(report.points.size());
    if (report.circle_radius_m)
        return fmt::format("places on a circle of {} around the station",
                           rough(*report.circle_radius_m, style));
    return points == 1 ? "point" : "points";
}

std::string forecast_sentence(const StationReport& report, const station::Forecast& forecast,
                              const WordContext& context) {
    if (forecast.weakest < 0) return "There is nothing to lay.";
    const auto& style = context.style;
    const PointReport& weakest = report.points[static_cast<std::size_t>(forecast.weakest)];
    const std::string within =
        tolerance_phrase(weakest.target, weakest.forecast.sd_height_m.has_value(), style);
    const std::string what = what_is_laid(report, style);
    const int points = static_cast<int>(report.points.size());
    if (points == 1) {
        const char* says = forecast.word == Word::proven  ? "can be proven from here"
                           : forecast.word == Word::fails ? "cannot be held from here"
                                                          : "cannot be proven from here";
        return fmt::format("{} {}: it would land {} with {}.", weakest.target.name, says, within,
                           percent(forecast.lowest));
    }
    if (forecast.word == Word::proven)
        return fmt::format(
            "All {} {} can be proven from here; the weakest, {}, would land {} with {}.", points,
            what, weakest.target.name, within, percent(forecast.lowest));
    if (forecast.word == Word::fails)
        return fmt::format(
            "None of the {} {} can be held from here; the best would land within tolerance with "
            "{}, the weakest, {}, with {}.",
            points, what, percent(forecast.highest), weakest.target.name, percent(forecast.lowest));
    return fmt::format(
        "{} of {} {} can be proven from here; the weakest, {}, would land {} with {} where {} is "
        "asked for.",
        forecast.proven == 0 ? "None" : std::to_string(forecast.proven), points, what,
        weakest.target.name, within, percent(forecast.lowest), percent(context.confidence));
}

std::string names_of(const station::Remark& remark) {
    return listed(remark.subjects);
}

std::string rivals_apart(const StationReport& report, const measure::LengthStyle& style) {
    double farthest = 0.0;
    for (const station::Pose& other : report.others)
        farthest = std::max(farthest, (other.position_m - report.pose.position_m).head<2>().norm());
    return rough(farthest, style);
}

}  // namespace

std::string fit_sentence(const StationReport& report) {
    const adjust::GlobalTest& test = report.global_test;
    if (test.dof == 0) return "Nothing is left over that would show a wrong figure.";
    if (test.passes) return "The sights fit the marks as well as instrument, rod and marks allow.";
    return fmt::format(
        "The sights do not fit the marks: they differ {:.1f} times as much as instrument, rod and "
        "marks explain.",
        std::sqrt(std::max(test.variance_factor, 0.0)));
}

std::string weakness_sentence(const station::WeakDirection& weak,
                              const measure::LengthStyle& style) {
    if (weak.major_m < 1.2 * weak.minor_m)
        return fmt::format("The station is about as good in every direction of the plan: {}.",
                           small(weak.major_m, style));
    return fmt::format("The station is weakest {}: {} against {} across.",
                       compass_line(weak.azimuth_rad), small(weak.major_m, style),
                       small(weak.minor_m, style));
}

std::string remark_sentence(const station::Remark& remark, const StationReport& report,
                            const measure::LengthStyle& style) {
    const double deg = remark.angle_rad / measure::kRadPerDeg;
    switch (remark.kind) {
        case RemarkKind::two_marks_only:
            return fmt::format(
                "Only two marks, {}, carry this station: swapped names or swapped east and north "
                "columns would fit perfectly in plan and put the station mirrored. A third mark "
                "shows it.",
                names_of(remark));
        case RemarkKind::danger_circle:
            return fmt::format(
                "The station lies {} from the circle through {}: directions alone hardly fix it "
                "there. Measure a distance.",
                rough(std::abs(remark.amount_m), style), names_of(remark));
        case RemarkKind::marks_in_line:
            return fmt::format(
                "{} lie in one line, {}: across it little is checked. Sight a mark to the side.",
                names_of(remark), compass_line(remark.angle_rad));
        case RemarkKind::narrow_fan:
            return fmt::format(
                "All marks lie within {:.0f}° as seen from here: the station is weak across "
                "that direction. Sight a mark to the side or behind.",
                deg);
        case RemarkKind::one_sided:
            return fmt::format(
                "All marks lie on one side, within {:.0f}°: work on the other side leans on them "
                "without support.",
                deg);
        case RemarkKind::no_check:
            return "Nothing is left over: a wrong figure, name or rod height would not show. "
                   "Sight another mark.";
        case RemarkKind::several_solutions:
            return fmt::format(
                "{} places fit these sights, up to {} apart; the first is shown. One more sight "
                "tells them apart.",
                report.others.size() == 1 ? std::string("Two")
                                          : std::to_string(report.others.size() + 1),
                rivals_apart(report, style));
        case RemarkKind::steep_sight:
            return fmt::format(
                "The sight to {} is steeper than {:.0f}°: there plumb and tilt of the instrument "
                "rule.",
                names_of(remark), deg);
        case RemarkKind::no_height:
            return "The station has no height: heights are neither known nor judged from here.";
    }
    return "";
}

std::string aid_sentence(const station::Aid& aid, const station::Aid& now,
                         const std::string& points, const measure::LengthStyle& style) {
    std::string what;
    switch (aid.kind) {
        case station::AidKind::short_rod:
            what = "hold the rod short, at 0.1 m (4 in)";
            break;
        case station::AidKind::bipod:
            what = "put the rod on a bipod (a quarter of the lean)";
            break;
        case station::AidKind::another_round:
            what = "sight all marks once more";
            break;
        case station::AidKind::sight_mark:
            what = fmt::format("sight {} as well, {} to the {}", aid.mark,
                               rough(aid.distance_m, style), compass(aid.azimuth_rad));
            break;
        case station::AidKind::place_mark:
            what = fmt::format("place a mark some {} to the {} and sight it",
                               rough(aid.distance_m, style), compass(aid.azimuth_rad));
            break;
    }
    if (aid.proven == now.proven)
        return fmt::format("{}: weakest point {} instead of {}", what, percent(aid.lowest),
                           percent(now.lowest));
    return fmt::format("{}: {} of {} proven instead of {}", what, aid.proven, points, now.proven);
}

std::string explained_sentence(const StationReport& report, const measure::LengthStyle& style) {
    const ExplainedReport& e = *report.explained;
    const Eigen::Vector3d by = e.pose.position_m - report.pose.position_m;
    const int points = static_cast<int>(report.points.size());
    return fmt::format(
        "With that put right the station would lie {} of here and {} of {} would be proven "
        "(weakest {}).",
        toward(by.head<2>(), style), e.proven, count(points, "point"), percent(e.probability));
}

Verdict verdict_of(const StationReport& report, const station::Forecast& forecast,
                   const station::Forecast& sound, const Assessment& assessment,
                   const WordContext& context) {
    Verdict out;
    out.word = forecast.word;
    out.probability = forecast.lowest;
    const std::string points = forecast_sentence(report, forecast, context);
    const auto certain = std::find_if(report.traps.begin(), report.traps.end(),
                                      [](const TrapReport& t) { return t.is_certain; });
    const bool is_gross = certain != report.traps.end() && certain->trap != "foot-kinds-mixed";
    if (is_gross) {
        out.word = Word::fails;
        out.probability = std::min(out.probability, 1.0 - context.confidence);
        out.because = certain->says;
        out.next = "Put the files right and solve again; lay nothing from this station.";
        return out;
    }
    if (!report.others.empty()) {
        out.because = fmt::format(
            "{} places fit these sights, up to {} apart; which one is the station is not known.",
            report.others.size() == 1 ? std::string("Two")
                                      : std::to_string(report.others.size() + 1),
            rivals_apart(report, context.style));
        out.next = "Sight one more mark, or measure a distance, before laying.";
        if (out.word == Word::proven) out.word = Word::in_doubt;
        return out;
    }
    const std::string then_sight =
        assessment.splitting.empty() ? std::string("sight the marks again") : assessment.splitting;
    if (assessment.explained) {
        const double probability = report.causes.front().probability;
        out.because =
            fmt::format("{} ({}). {}", capital(assessment.clause), percent(probability), points);
        out.next =
            capital(!assessment.remedy.empty() && probability >= kSureEnough ? assessment.remedy
                                                                             : then_sight) +
            ".";
        if (out.word == Word::proven)
            out.next = capital(then_sight) + "; the points hold all the same.";
        return out;
    }
    if (out.word == Word::proven) {
        out.because = points;
        out.next = kLayOn;
        return out;
    }
    if (sound.proven > forecast.proven) {
        // The geometry would do; what cannot be seen does not.
        out.because = fmt::format(
            "{} If nothing is wrong {} of {} would be proven, but these sights leave {} for "
            "something that is: {}.",
            points, sound.proven, count(static_cast<int>(report.points.size()), "point"),
            percent(1.0 - assessment.nothing_wrong),
            assessment.clause.empty() ? std::string("it would not show") : assessment.clause);
        out.next = capital(then_sight) + ".";
        return out;
    }
    out.because = points;
    out.next = report.aids.empty()
                   ? std::string("Set up nearer to the work, or measure with better equipment.")
                   : capital(report.aids.front().says) + ".";
    return out;
}

}  // namespace layproof::acts::internal

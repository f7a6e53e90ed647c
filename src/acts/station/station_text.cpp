#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "acts/shared/text_table.hpp"
#include "acts/shared/words.hpp"
#include "acts/station/station.hpp"
#include "measure/angle.hpp"

namespace layproof::acts {
namespace {

using internal::shouted;
using internal::small;
using internal::TextTable;
using internal::wrapped;
using measure::LengthStyle;
using station::Word;

constexpr std::size_t kMostMarkRows = 8;
constexpr std::size_t kMostPointRows = 5;
constexpr std::size_t kMostStationCauses = 4;
constexpr double kSmallStationCause = 0.02;
/// Above this nobody needs to read what else might be.
constexpr double kQuiet = 0.8;

std::string kind_phrase(const StationReport& report) {
    const std::string marks = internal::count(report.mark_count, "mark");
    if (report.kind == station::SetupKind::free) return fmt::format("free set-up on {}", marks);
    std::string under;
    for (const MarkReport& mark : report.marks)
        if (mark.is_under) under = mark.name;
    if (under.empty()) return fmt::format("set-up from a baseline of {}", marks);
    return fmt::format("set up over {}, turned by {}", under, marks);
}

std::string verdict_text(const StationReport& report) {
    std::string out = fmt::format("Station {}: {}   ({}; weakest point {})\n", report.station,
                                  shouted(report.verdict.word), kind_phrase(report),
                                  internal::percent(report.verdict.probability));
    out += wrapped(report.verdict.because, 2);
    if (report.explained) out += wrapped(report.explained->says, 2);
    out += wrapped("Next: " + report.verdict.next, 2);
    return out;
}

std::string sd_text(const station::Pose& pose, int at, const LengthStyle& style) {
    return small(std::sqrt(std::max(pose.covariance(at, at), 0.0)), style);
}

std::string pose_text(const StationReport& report, const LengthStyle& style) {
    const station::Pose& pose = report.pose;
    TextTable table({"Instrument", "place", "standard deviation"});
    table.add(
        {"east", measure::format_length(pose.position_m.x(), style), sd_text(pose, 0, style)});
    table.add(
        {"north", measure::format_length(pose.position_m.y(), style), sd_text(pose, 1, style)});
    if (pose.has_height)
        table.add({"height of its axis", measure::format_length(pose.position_m.z(), style),
                   sd_text(pose, 2, style)});
    table.add({"azimuth of circle zero", measure::format_direction(pose.orientation_rad, 1),
               fmt::format("{:.1f}\"", std::sqrt(std::max(pose.covariance(3, 3), 0.0)) /
                                           measure::kRadPerArcsec)});
    return table.to_text();
}

std::string off(const std::optional<double>& value, const LengthStyle& style) {
    return value ? internal::signed_small(*value, style) : "-";
}

std::string marks_text(const StationReport& report, const LengthStyle& style, bool all) {
    TextTable table({"Mark", "off east", "off north", "off height", ""});
    std::vector<const MarkReport*> order;
    for (const MarkReport& mark : report.marks)
        if (!mark.is_under || mark.off_east_m || mark.off_height_m) order.push_back(&mark);
    const std::size_t total = order.size();
    if (!all && total > kMostMarkRows) {
        const auto size = [](const MarkReport* m) {
            return std::hypot(m->off_east_m.value_or(0.0), m->off_north_m.value_or(0.0),
                              m->off_height_m.value_or(0.0));
        };
        std::stable_sort(order.begin(), order.end(),
                         [&](const auto* a, const auto* b) { return size(a) > size(b); });
        order.resize(kMostMarkRows);
    }
    for (const MarkReport* mark : order) {
        std::string note;
        if (!mark->used) {
            for (const SightReport& sight : report.sights)
                if (sight.target == mark->name && !sight.used) note = "not used: " + sight.why;
        }
        table.add({mark->name, off(mark->off_east_m, style), off(mark->off_north_m, style),
                   off(mark->off_height_m, style), note});
    }
    if (table.is_empty()) return "";
    std::string out = table.to_text(true);
    if (order.size() < total)
        out += fmt::format("  and {} more, off less; --explain lists all\n", total - order.size());
    return out;
}

std::string limits(const PointReport& point, const LengthStyle& style) {
    std::string out = internal::tolerance(point.target.tolerance_plan_m, style);
    if (point.forecast.sd_height_m && point.target.tolerance_height_m)
        out += fmt::format(" / {}", internal::tolerance(*point.target.tolerance_height_m, style));
    return out;
}

/// A point that only the station as a whole keeps in doubt needs no row of its own.
std::string points_text(const StationReport& report, const StationAnswer& answer) {
    const LengthStyle& style = answer.style;
    const bool all = answer.explain;
    std::vector<const PointReport*> order;
    for (const PointReport& point : report.points)
        if (all || point.forecast.probability < answer.confidence) order.push_back(&point);
    const int points = static_cast<int>(report.points.size());
    std::string out = fmt::format("  {} of {} proven from here, rod {}.\n", report.proven,
                                  internal::count(points, "point"),
                                  measure::format_length(report.rod_height_m, style));
    if (order.empty()) return out;
    if (!all)
        std::stable_sort(order.begin(), order.end(), [](const auto* a, const auto* b) {
            return a->forecast.probability < b->forecast.probability;
        });
    const std::size_t total = order.size();
    if (!all && total > kMostPointRows) order.resize(kMostPointRows);
    TextTable table(
        {all ? "Point" : "Not proven", "tolerance", "sd plan", "sd height", "probability", ""});
    for (const PointReport* point : order) {
        const station::PointForecast& f = point->forecast;
        table.add({point->target.name, limits(*point, style), small(f.sd_plan_m, style),
                   f.sd_height_m ? small(*f.sd_height_m, style) : "-",
                   internal::percent(f.probability), std::string(station::to_word(f.word))});
    }
    out += table.to_text(true);
    if (order.size() < total)
        out += fmt::format("  and {} more; --explain lists all\n", total - order.size());
    return out;
}

/// What may be wrong, the likeliest first; --explain adds what the sights alone say.
std::string causes_text(const StationReport& report, bool all) {
    const bool quiet = report.causes.front().cause == "nothing-wrong" &&
                       report.causes.front().probability > kQuiet;
    if (quiet && !all) return "";
    std::string out = "\n  What may be wrong\n";
    std::size_t shown = 0;
    for (const CauseReport& cause : report.causes) {
        if (!all && (shown >= kMostStationCauses || cause.probability < kSmallStationCause)) break;
        out += wrapped(fmt::format("{}  {}", internal::percent(cause.probability), cause.says), 4);
        if (all)
            for (const CauseMember& member : cause.members)
                out +=
                    wrapped(fmt::format("{} {}: {}, ln evidence {:.2f}", member.cause,
                                        internal::listed(member.subjects),
                                        internal::percent(member.probability), member.log_evidence),
                            12);
        ++shown;
    }
    return out;
}

std::string figure(const std::optional<double>& value, double factor, int decimals) {
    if (!value) return "-";
    std::string text = fmt::format("{:.{}f}", *value * factor, decimals);
    if (text.find_first_not_of("-0.") == std::string::npos && text.front() == '-') text.erase(0, 1);
    return text;
}

std::string explained(const StationReport& report) {
    const adjust::GlobalTest& test = report.global_test;
    std::string out = fmt::format(
        "\n  Sum of weighted squares {:.2f}, {} degrees of freedom, 95 % range {:.2f} to {:.2f}, "
        "variance factor {:.2f}\n",
        test.statistic, test.dof, test.lower, test.upper, test.variance_factor);
    const double arcsec = 1.0 / measure::kRadPerArcsec;
    TextTable residuals({"Sight to", "residual dir.", "zenith", "distance", "standardised dir.",
                         "zenith", "distance"});
    TextTable checks({"Sight to", "redundancy dir.", "zenith", "distance", "shift that shows",
                      "its effect if not seen"});
    for (const SightReport& sight : report.sights) {
        const station::SolvedSight& f = sight.figures;
        const auto with = [](std::string text, const char* unit) {
            return text == "-" ? text : text + unit;
        };
        const std::string name = sight.target + (sight.used ? "" : " (not used)");
        residuals.add({name, with(figure(f.residual.direction, arcsec, 1), "\""),
                       with(figure(f.residual.zenith, arcsec, 1), "\""),
                       with(figure(f.residual.distance, 1000.0, 1), " mm"),
                       figure(f.standardised.direction, 1.0, 2),
                       figure(f.standardised.zenith, 1.0, 2),
                       figure(f.standardised.distance, 1.0, 2)});
        checks.add({name, figure(f.redundancy.direction, 1.0, 2),
                    figure(f.redundancy.zenith, 1.0, 2), figure(f.redundancy.distance, 1.0, 2),
                    with(figure(f.detectable_m, 1000.0, 1), " mm"),
                    with(figure(f.undetected_effect_m, 1000.0, 1), " mm")});
    }
    out += residuals.to_text() + "\n" + checks.to_text();
    if (report.face_pairs > 0 && report.collimation_rad && report.index_error_rad)
        out +=
            fmt::format("  From {} on two faces: collimation {:.1f}\", vertical index {:.1f}\"\n",
                        internal::count(report.face_pairs, "pair"),
                        *report.collimation_rad * arcsec, *report.index_error_rad * arcsec);
    return out;
}

std::string details_text(const StationReport& report, const StationAnswer& answer) {
    const LengthStyle& style = answer.style;
    std::string out = pose_text(report, style);
    out += wrapped(report.weakness, 2);
    out += wrapped(report.fit, 2);
    for (const RemarkReport& remark : report.remarks) out += wrapped(remark.says, 2);
    if (!report.if_kept_in.empty()) out += wrapped(report.if_kept_in, 2);
    for (const TrapReport& trap : report.traps) {
        if (!trap.says.empty() && trap.says != report.verdict.because) out += wrapped(trap.says, 2);
    }
    out += causes_text(report, answer.explain);
    out += "\n" + marks_text(report, style, answer.explain);
    out += "\n" + points_text(report, answer);
    if (!report.aids.empty()) {
        out += "\n  What would help most\n";
        const std::size_t most = answer.explain ? report.aids.size() : 3;
        for (std::size_t i = 0; i < std::min(most, report.aids.size()); ++i)
            out += wrapped(internal::capital(report.aids[i].says), 4);
    }
    if (answer.explain) out += explained(report);
    return out;
}

}  // namespace

std::string to_text(const StationAnswer& answer) {
    std::string out;
    for (const StationReport& report : answer.stations) {
        if (!out.empty()) out += "\n";
        out += verdict_text(report);
    }
    for (const StationReport& report : answer.stations) {
        out += "\n";
        if (answer.stations.size() > 1) out += fmt::format("Station {}\n", report.station);
        out += details_text(report, answer);
    }
    std::vector<std::string> notices = answer.notices;
    for (const StationReport& report : answer.stations)
        for (const std::string& notice : report.notices) {
            if (std::find(notices.begin(), notices.end(), notice) == notices.end())
                notices.push_back(notice);
        }
    if (!notices.empty()) out += "\n";
    for (const std::string& notice : notices) out += wrapped("Note: " + notice, 0);
    out += "\n" + wrapped(internal::kCaution, 0);
    return out;
}

}  // namespace layproof::acts

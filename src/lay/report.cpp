#include "lay/report.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "frame/conformity.hpp"

namespace layproof::lay {
namespace {

using measure::LengthStyle;
using station::Word;

std::string percent(double probability) {
    // "100.0 %" would claim what no sight can show.
    if (probability > 0.9995) return "over 99.9 %";
    if (probability < 0.0005) return "under 0.1 %";
    return fmt::format("{:.1f} %", 100.0 * probability);
}

std::string limits_words(const Limits& limits, const LengthStyle& style) {
    const auto small = [&](double length_m) { return measure::format_small(length_m, style); };
    if (limits.minus_m && limits.plus_m) {
        if (*limits.minus_m == *limits.plus_m) return "± " + small(*limits.plus_m);
        return fmt::format("-{}/+{}", small(*limits.minus_m), small(*limits.plus_m));
    }
    if (limits.minus_m) return fmt::format("at most {} below", small(*limits.minus_m));
    if (limits.plus_m) return fmt::format("at most {} above", small(*limits.plus_m));
    return "no limit";
}

std::string height_words(double deviation_m, const LengthStyle& style) {
    return fmt::format("{} {}", measure::format_small(std::abs(deviation_m), style),
                       deviation_m < 0.0 ? "low" : "high");
}

/// Would it be proven if it looked to be on its design place?
bool would_be_proven_there(const PointVerdict& v) {
    double probability = 1.0;
    if (v.tolerance.plan_m) {
        probability = frame::probability_within_circle(
            Eigen::Vector2d::Zero(), v.covariance.topLeftCorner<2, 2>(), *v.tolerance.plan_m);
    }
    if (v.has_height && v.tolerance.has_height()) {
        probability *= probability_within(0.0, v.sd_height_m.value_or(0.0), v.tolerance.height);
    }
    return probability >= v.confidence;
}

}  // namespace

std::string because_words(const PointVerdict& v, const LengthStyle& style) {
    const auto small = [&](double length_m) { return measure::format_small(length_m, style); };
    std::string found = fmt::format("{} off in plan", small(v.deviation_m.head<2>().norm()));
    if (v.tolerance.plan_m) found += fmt::format(" of {} allowed", small(*v.tolerance.plan_m));
    found += fmt::format(", standard deviation {}", small(v.sd_plan_m));
    if (v.has_height) {
        found += fmt::format("; {}", height_words(v.deviation_m.z(), style));
        if (v.tolerance.has_height()) {
            found += fmt::format(" with {} allowed", limits_words(v.tolerance.height, style));
        }
        found += fmt::format(", standard deviation {}", small(v.sd_height_m.value_or(0.0)));
    }
    if (!v.is_judged) return found + "; no limit is known for it.";
    found += fmt::format("; within tolerance with {}", percent(v.probability));
    if (v.height_is_open) found += ", but its height was not measured";
    return found + ".";
}

std::string because_words(const RuleVerdict& rule, const LengthStyle& style) {
    const FigureVerdict& v = rule.verdict;
    return fmt::format(
        "{} to {} is {} off its design value with {} allowed, standard deviation {}; within "
        "tolerance with {}.",
        rule.from, rule.to, measure::format_small(v.deviation_m, style),
        limits_words(v.limits, style), measure::format_small(v.sd_m, style),
        percent(v.probability));
}

std::string next_words(const PointVerdict& v, const Move& move) {
    if (v.word == Word::proven) return "Nothing to do.";
    if (!v.is_judged) return "State a tolerance for it or name its element.";
    const bool to_move = !move.is_on_the_mark && !move.parts.empty();
    if (would_be_proven_there(v)) {
        if (v.height_is_open) return "Sight it with a zenith angle so that its height is measured.";
        if (to_move) return fmt::format("Move it {} and sight it again.", move.words);
        if (v.expected_m != v.deviation_m) {
            return "Clear what may be wrong with the station, then sight it again.";
        }
        return "Sight it again.";
    }
    if (v.station_share > 0.5) {
        return "The station is what limits it: sight one more mark, or lay it from nearer.";
    }
    return "The sight is what limits it: sight it again with a shorter rod or a bipod.";
}

PointReport report_verdict(const PointVerdict& verdict, const VerdictPlace& where,
                           const frame::DesignPoint& design, const BuildingGrid& grid,
                           const LengthStyle& style) {
    PointReport out;
    out.point = design.name;
    out.stations = where.stations;
    out.laid = where.laid;
    out.verdict = verdict;
    MoveQuestion move;
    move.laid_m = where.laid.place_m.head<2>();
    move.design_m << design.east_m, design.north_m;
    if (verdict.has_height) move.raise_m = -verdict.deviation_m.z();
    move.instrument_m = where.instrument_m;
    move.grid = &grid;
    move.style = style;
    out.move = move_of(move);
    out.design_grid = grid.position(move.design_m, style);
    for (const LineOffset& at_design : grid.offsets(move.design_m)) {
        out.laid_offsets.push_back(grid.offset(at_design.line, move.laid_m));
        out.across_lines_m.push_back(out.laid_offsets.back().across_m - at_design.across_m);
    }
    out.because = because_words(verdict, style);
    out.next = next_words(verdict, out.move);
    return out;
}

PointReport report_point(const LaidPlace& laid, const frame::DesignPoint& design,
                         const PointTolerance& tolerance, const ReportQuestion& question) {
    VerdictPlace where{laid, {}, {}};
    for (const SetupShare& share : laid.shares) {
        if (share.setup < 0 || share.setup >= static_cast<int>(question.setups.setups.size())) {
            continue;
        }
        const LaySetup& setup = question.setups.setups[static_cast<std::size_t>(share.setup)];
        where.stations.push_back(setup.station);
        if (!where.instrument_m) where.instrument_m = setup.pose.position_m.head<2>();
    }
    return report_verdict(
        judge_point(laid, design, tolerance, question.setups, question.confidence), where, design,
        question.grid, question.style);
}

PointsSummary summary_of(std::span<const PointReport> reports) {
    PointsSummary out;
    for (std::size_t i = 0; i < reports.size(); ++i) {
        const PointVerdict& v = reports[i].verdict;
        out.proven += v.word == Word::proven ? 1 : 0;
        out.in_doubt += v.word == Word::in_doubt ? 1 : 0;
        out.fails += v.word == Word::fails ? 1 : 0;
        if (v.is_judged &&
            (out.weakest < 0 ||
             v.probability < reports[static_cast<std::size_t>(out.weakest)].verdict.probability)) {
            out.weakest = static_cast<int>(i);
        }
    }
    if (reports.empty()) return out;
    out.word = out.fails > 0                                    ? Word::fails
               : out.proven == static_cast<int>(reports.size()) ? Word::proven
                                                                : Word::in_doubt;
    return out;
}

}  // namespace layproof::lay

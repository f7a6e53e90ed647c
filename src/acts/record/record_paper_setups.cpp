// Each set-up: where it stood, what its sights say, what may be wrong, its day.

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "acts/record/record_paper_internal.hpp"
#include "acts/shared/words.hpp"
#include "acts/station/station_plan.hpp"
#include "acts/watch/watch_strip.hpp"
#include "base/text/time.hpp"
#include "measure/angle.hpp"

namespace layproof::acts::internal {
namespace {

using paper::Align;
using paper::Heading;
using paper::Paragraph;
using paper::Row;
using paper::Table;
using paper::Tone;

/// Less probable explanations are counted, not listed.
constexpr double kSmallestShown = 0.001;
constexpr std::size_t kMostShown = 8;

std::string arcsec(const std::optional<double>& value_rad) {
    if (!value_rad || !std::isfinite(*value_rad)) return "-";
    std::string text = fmt::format("{:+.1f}", *value_rad / measure::kRadPerArcsec);
    return text == "-0.0" || text == "+0.0" ? "0.0" : text;
}

std::string ratio(const std::optional<double>& value) {
    if (!value || !std::isfinite(*value)) return "-";
    return fmt::format("{:.2f}", *value);
}

std::optional<double> largest(const station::PartFigures& f) {
    std::optional<double> out;
    for (const auto& part : {f.direction, f.zenith, f.distance})
        if (part && std::isfinite(*part) && (!out || std::abs(*part) > std::abs(*out))) out = *part;
    return out;
}

std::string kind_words(station::SetupKind kind) {
    switch (kind) {
        case station::SetupKind::occupied:
            return "over a mark";
        case station::SetupKind::baseline:
            return "over a mark, turned by one other mark";
        case station::SetupKind::free:
            break;
    }
    return "free, placed from its sights";
}

class SetupPages {
public:
    SetupPages(const RecordAnswer& answer, Blocks& out)
        : answer_(answer), figures_(answer.style), out_(out) {
        for (const RecordPoint& p : answer.points)
            words_[answer.lay.laid[p.laid].figures.point] = &p;
        for (const station::Setup& s : answer.facts.facts.setups) booked_[s.station] = &s;
    }

    void add(std::size_t k) {
        const LayStation& one = answer_.lay.stations[k];
        const StationReport& report = one.station;
        out_.push_back(
            Heading{2, fmt::format("Set-up {}", report.station), setup_anchor(k), false});
        out_.push_back(paper::VerdictBox{
            record_word(report.verdict.word),
            fmt::format("{}: {}", report.station, station::to_word(report.verdict.word)),
            report.verdict.because,
            report.verdict.word == station::Word::proven ? std::string() : report.verdict.next});
        place(one);
        sketch(k);
        sights(report);
        marks(report);
        causes(report);
        day(k);
    }

private:
    void place(const LayStation& one) {
        const StationReport& report = one.station;
        const station::Pose& pose = report.pose;
        const auto sd = [&](int i) { return std::sqrt(std::max(0.0, pose.covariance(i, i))); };
        paper::Pairs pairs;
        pairs.entries.push_back({"Kind", kind_words(report.kind), false});
        std::string where = fmt::format("east {}, north {}",
                                        measure::format_length(pose.position_m.x(), answer_.style),
                                        measure::format_length(pose.position_m.y(), answer_.style));
        std::string how_well = fmt::format("east {}, north {}", small(sd(0), answer_.style),
                                           small(sd(1), answer_.style));
        if (pose.has_height) {
            where += ", axes' height " + measure::format_length(pose.position_m.z(), answer_.style);
            how_well += ", height " + small(sd(2), answer_.style);
        }
        how_well += fmt::format(", turned {:.1f}\"", sd(3) / measure::kRadPerArcsec);
        pairs.entries.push_back({"Stands at", where, false});
        pairs.entries.push_back({"Standard deviation", how_well, false});
        pairs.entries.push_back(
            {"Circle's zero", measure::format_direction(pose.orientation_rad, 1), false});
        if (const auto booked = booked_.find(report.station); booked != booked_.end()) {
            const station::Setup& s = *booked->second;
            if (!s.time_text.empty()) pairs.entries.push_back({"Set up", s.time_text, false});
            std::string air;
            if (s.temperature_k) air = fmt::format("{:.1f} °C", *s.temperature_k - 273.15);
            if (s.pressure_hpa)
                air += fmt::format("{}{:.1f} hPa", air.empty() ? "" : ", ", *s.pressure_hpa);
            if (!air.empty()) pairs.entries.push_back({"Air", air, false});
            if (s.instrument_height_m)
                pairs.entries.push_back(
                    {"Instrument height",
                     measure::format_length(*s.instrument_height_m, answer_.style), false});
        }
        pairs.entries.push_back(
            {"Rod", measure::format_length(one.rod_height_m, answer_.style), false});
        if (!report.fit.empty()) pairs.entries.push_back({"Fit", report.fit, false});
        if (!report.weakness.empty()) pairs.entries.push_back({"Geometry", report.weakness, false});
        for (const RemarkReport& remark : report.remarks)
            pairs.entries.push_back({"Remark", remark.says, false});
        if (!report.if_kept_in.empty())
            pairs.entries.push_back({"If kept in", report.if_kept_in, false});
        out_.push_back(std::move(pairs));
    }

    void sketch(std::size_t k) {
        const StationReport& report = answer_.lay.stations[k].station;
        drawing::PlanDrawing plan = plan_of(report, answer_.style);
        plan.title = fmt::format("Set-up {}", report.station);
        plan.job_lines.clear();
        plan.cautions.clear();
        plan.width_px = 560.0;
        plan.points.clear();
        std::size_t laid = 0;
        for (const RecordPoint& p : answer_.points) {
            const LaidReport& one = answer_.lay.laid[p.laid];
            const auto& from = one.figures.stations;
            if (std::find(from.begin(), from.end(), report.station) == from.end()) continue;
            const frame::DesignPoint& d = answer_.lay.points[one.point].design;
            plan.points.push_back(
                {d.name, d.east_m, d.north_m, record_word(p.word), p.probability});
            ++laid;
        }
        paper::Drawing drawing;
        drawing.words =
            fmt::format("Sketch of set-up {}: {} marks sighted, {} points laid from it.",
                        report.station, report.marks.size(), laid);
        drawing.picture = drawing::draw_plan(plan);
        drawing.most_height = 420.0;
        out_.push_back(std::move(drawing));
    }

    void sights(const StationReport& report) {
        Table table;
        table.caption =
            "Sights to marks: residual (adjusted less observed), the largest of the three in "
            "standard deviations, the smallest shift of the mark that they would show.";
        table.columns = {{"Sight to", Align::left, false},
                         {"direction, \"", Align::right, false},
                         {"zenith, \"", Align::right, false},
                         {figures_.small_head("distance"), Align::right, false},
                         {"in sd", Align::right, false},
                         {figures_.small_head("detectable"), Align::right, false},
                         {"used", Align::left, true}};
        for (const SightReport& s : report.sights) {
            const station::SolvedSight& f = s.figures;
            table.rows.push_back({{{s.target, std::nullopt, ""},
                                   {arcsec(f.residual.direction), std::nullopt, ""},
                                   {arcsec(f.residual.zenith), std::nullopt, ""},
                                   {figures_.signed_small(f.residual.distance), std::nullopt, ""},
                                   {ratio(largest(f.standardised)), std::nullopt, ""},
                                   {figures_.small(f.detectable_m), std::nullopt, ""},
                                   {s.used ? "yes" : "no: " + s.why, std::nullopt, ""}},
                                  ""});
        }
        if (!table.rows.empty()) out_.push_back(std::move(table));
    }

    void marks(const StationReport& report) {
        Table table;
        table.caption = "Marks: where this set-up puts them, less their sheet.";
        table.columns = {{"Mark", Align::left, false},
                         {figures_.small_head("off east"), Align::right, false},
                         {figures_.small_head("off north"), Align::right, false},
                         {figures_.small_head("off height"), Align::right, false},
                         {"carries the set-up", Align::left, false}};
        for (const MarkReport& m : report.marks)
            table.rows.push_back({{{m.name, std::nullopt, ""},
                                   {figures_.signed_small(m.off_east_m), std::nullopt, ""},
                                   {figures_.signed_small(m.off_north_m), std::nullopt, ""},
                                   {figures_.signed_small(m.off_height_m), std::nullopt, ""},
                                   {m.used ? "yes" : "no", std::nullopt, ""}},
                                  ""});
        if (!table.rows.empty()) out_.push_back(std::move(table));
    }

    void causes(const StationReport& report) {
        Table table;
        table.caption = "What may be wrong with this set-up, all causes together make 100 %.";
        table.columns = {{"probability", Align::right, false}, {"cause", Align::left, true}};
        double rest = 0.0;
        for (const CauseReport& c : report.causes) {
            if (table.rows.size() >= kMostShown || c.probability < kSmallestShown) {
                rest += c.probability;
                continue;
            }
            table.rows.push_back(
                {{{percent(c.probability), std::nullopt, ""}, {c.says, std::nullopt, ""}}, ""});
        }
        if (rest > 0.0)
            table.rows.push_back(
                {{{percent(rest), std::nullopt, ""},
                  {"All other causes considered, each less probable.", std::nullopt, ""}},
                 ""});
        if (!table.rows.empty()) out_.push_back(std::move(table));
    }

    void day(std::size_t k) {
        if (k >= answer_.days.size() || !answer_.days[k]) return;
        const WatchStation& one = *answer_.days[k];
        out_.push_back(Heading{3, fmt::format("The day of {}", one.station.station), "", false});
        if (!one.has_checks) {
            out_.push_back(
                Paragraph{"No check was sighted: nothing shows whether the instrument stood still.",
                          Tone::strong});
        } else {
            out_.push_back(Paragraph{one.verdict.because, Tone::plain});
        }
        if (one.report.events.size() > 2) {
            drawing::DayStrip strip = strip_of(one, answer_.style);
            strip.title = fmt::format("Day of {}", one.station.station);
            strip.job_lines.clear();
            strip.remark.clear();
            strip.cautions.clear();
            strip.sight_first.clear();
            strip.width_px = 640.0;
            // The points carry the verdict of the record.
            for (drawing::StripLaying& laying : strip.layings)
                if (const auto at = words_.find(laying.point); at != words_.end())
                    laying.word = record_word(at->second->word);
            paper::Drawing drawing;
            drawing.picture = drawing::draw_day_strip(strip);
            drawing.words = drawing.picture.description;
            drawing.most_height = 260.0;
            out_.push_back(std::move(drawing));
        }
        checks(one);
        if (one.causes.size() > 1 || (!one.causes.empty() && one.holds < answer_.lay.confidence)) {
            Table table;
            table.caption = "What may have happened in the day.";
            table.columns = {{"probability", Align::right, false},
                             {"explanation", Align::left, true}};
            for (const DayCause& cause : one.causes)
                if (cause.probability >= kSmallestShown && table.rows.size() < kMostShown)
                    table.rows.push_back({{{percent(cause.probability), std::nullopt, ""},
                                           {cause.says, std::nullopt, ""}},
                                          ""});
            if (!table.rows.empty()) out_.push_back(std::move(table));
        }
    }

    void checks(const WatchStation& one) {
        Table table;
        table.caption =
            fmt::format("Checks, times of the site's clock ({}).", offset_words(one.offset_s));
        table.columns = {{"Day", Align::left, false},
                         {"time", Align::left, false},
                         {"what", Align::left, false},
                         {"on", Align::left, false},
                         {figures_.small_head("misfit"), Align::right, false},
                         {"fits", Align::left, false},
                         {"moved before", Align::right, false}};
        for (const watch::EventReport& e : one.report.events) {
            const bool is_check = e.kind == watch::EventKind::check;
            if (!is_check && e.kind != watch::EventKind::resight) continue;
            std::string misfit = "-";
            if (is_check) {
                const watch::Check& c = one.day.checks[static_cast<std::size_t>(e.index)];
                misfit = figures_.small(c.misfit_m.head(c.rows).norm());
            }
            table.rows.push_back({{{calendar_day(e.time_s, one.offset_s), std::nullopt, ""},
                                   {clock_text(e.time_s, one.offset_s), std::nullopt, ""},
                                   {std::string(watch::to_word(e.kind)), std::nullopt, ""},
                                   {e.name, std::nullopt, ""},
                                   {misfit, std::nullopt, ""},
                                   {e.is_good ? "yes" : "no", std::nullopt, ""},
                                   {percent(e.probability_moved), std::nullopt, ""}},
                                  ""});
        }
        if (!table.rows.empty()) out_.push_back(std::move(table));
    }

    const RecordAnswer& answer_;
    Figures figures_;
    Blocks& out_;
    std::map<std::string, const RecordPoint*> words_;
    std::map<std::string, const station::Setup*> booked_;
};

}  // namespace

void add_setups(const RecordAnswer& answer, Blocks& out) {
    if (answer.lay.stations.empty() && answer.left_out.empty()) return;
    out.push_back(Heading{1, "Set-ups", "setups", false});
    if (!answer.left_out.empty()) {
        Table table;
        table.caption = "Left out of this record, because they cannot be computed.";
        table.columns = {{"Set-up", Align::left, false}, {"why", Align::left, true}};
        for (const RecordLeftOut& one : answer.left_out)
            table.rows.push_back(
                {{{one.station, std::nullopt, ""}, {one.why, std::nullopt, ""}}, ""});
        out.push_back(std::move(table));
    }
    SetupPages pages(answer, out);
    for (std::size_t k = 0; k < answer.lay.stations.size(); ++k) pages.add(k);
}

}  // namespace layproof::acts::internal

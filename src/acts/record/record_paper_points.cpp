// The points, and the control they were laid from.

#include <fmt/format.h>

#include <algorithm>
#include <map>

#include "acts/record/record_paper_internal.hpp"
#include "acts/shared/words.hpp"
#include "acts/station/station_plan.hpp"
#include "frame/ellipse.hpp"
#include "lay/report.hpp"

namespace layproof::acts::internal {
namespace {

using paper::Align;
using paper::Heading;
using paper::Paragraph;
using paper::Row;
using paper::Table;
using paper::Tone;

/// "6.35 / 12.7", "6.35 / -5 +10".
std::string limits_words(const lay::PointTolerance& t, bool has_height, const Figures& figures) {
    std::string out = figures.tolerance(t.plan_m);
    if (!has_height || !t.has_height()) return out;
    if (t.height.minus_m == t.height.plus_m)
        return fmt::format("{} / {}", out, figures.tolerance(t.height.plus_m));
    return fmt::format("{} / -{} +{}", out, figures.tolerance(t.height.minus_m),
                       figures.tolerance(t.height.plus_m));
}

/// Where a limit comes from, as a short key of the table of sources.
struct LimitKeys {
    std::map<std::string, std::string> key_of;  ///< words -> key
    std::vector<std::pair<std::string, std::string>> list;
    bool any_from_memory = false;

    std::string key(const lay::LimitSource& source) {
        if (source.origin == lay::LimitOrigin::none) return "";
        any_from_memory = any_from_memory || source.from_memory;
        std::string words = source.words;
        if (words.empty()) words = std::string(lay::to_word(source.origin));
        if (source.origin == lay::LimitOrigin::point) words += " on its sheet";
        if (source.from_memory && words.find("memory") == std::string::npos)
            words += "; " + std::string(lay::kFromMemoryWords);
        const auto found = key_of.find(words);
        if (found != key_of.end()) return found->second;
        std::string key = source.id;
        for (const auto& [other, ignored] : list)
            if (other == key) key.clear();
        if (key.empty()) key = fmt::format("T{}", list.size() + 1);
        key_of.emplace(words, key);
        list.emplace_back(key, words);
        return key;
    }
};

std::string keys_of(const lay::PointTolerance& t, LimitKeys& keys) {
    const std::string plan = keys.key(t.plan_source);
    const std::string height = keys.key(t.height_source);
    if (height.empty() || height == plan) return plan;
    return plan.empty() ? height : plan + ", " + height;
}

void add_plan_of_points(const RecordAnswer& answer, Blocks& out) {
    drawing::PlanDrawing plan;
    plan.style = answer.style;
    plan.width_px = 600.0;
    plan.title = "All points";
    std::map<std::string, drawing::PlanWord> words;
    for (const RecordPoint& p : answer.points) {
        const LaidReport& laid = answer.lay.laid[p.laid];
        const frame::DesignPoint& d = answer.lay.points[laid.point].design;
        plan.points.push_back({d.name, d.east_m, d.north_m, record_word(p.word), p.probability});
    }
    for (const std::size_t i : answer.not_laid) {
        const frame::DesignPoint& d = answer.lay.points[i].design;
        plan.points.push_back({d.name, d.east_m, d.north_m, drawing::PlanWord::to_lay, {}});
    }
    for (const frame::Mark& m : answer.facts.facts.marks) {
        if (!m.has_plan()) continue;
        drawing::PlanMark mark;
        mark.name = m.name;
        mark.east_m = *m.east_m;
        mark.north_m = *m.north_m;
        plan.marks.push_back(std::move(mark));
    }
    constexpr std::size_t kMostStations = 12;
    if (answer.lay.stations.size() <= kMostStations)
        for (const LayStation& one : answer.lay.stations)
            plan.stations.push_back({one.station.station, one.station.pose.position_m.x(),
                                     one.station.pose.position_m.y(), std::nullopt});
    for (const frame::GridLine& line : answer.lay.grid.lines())
        plan.grid_lines.push_back(
            {line.name, line.start_m.x(), line.start_m.y(), line.end_m.x(), line.end_m.y()});
    paper::Drawing drawing;
    drawing.words =
        fmt::format("Plan of {} points: {} proven, {} in doubt, {} failing, {} not laid.",
                    answer.lay.points.size(), answer.proven, answer.in_doubt, answer.fails,
                    answer.not_laid.size());
    drawing.picture = drawing::draw_plan(plan);
    drawing.most_height = 540.0;
    out.push_back(std::move(drawing));
}

Row point_row(const RecordAnswer& answer, const RecordPoint& p, const Figures& figures,
              LimitKeys& keys) {
    const LaidReport& laid = answer.lay.laid[p.laid];
    const frame::DesignPoint& d = answer.lay.points[laid.point].design;
    const lay::PointVerdict& v = laid.figures.verdict;
    const auto off_height = v.has_height ? std::optional(v.deviation_m.z()) : std::nullopt;
    const auto plain = [](std::string text) {
        return paper::Cell{std::move(text), std::nullopt, ""};
    };
    Row row;
    row.cells = {plain(d.name),
                 plain(figures.length(d.east_m)),
                 plain(figures.length(d.north_m)),
                 plain(figures.length(d.height_m)),
                 plain(figures.signed_small(v.deviation_m.x())),
                 plain(figures.signed_small(v.deviation_m.y())),
                 plain(figures.signed_small(off_height)),
                 plain(figures.small(v.sd_plan_m)),
                 plain(figures.small(v.sd_height_m)),
                 plain(limits_words(v.tolerance, v.has_height, figures)),
                 plain(keys_of(v.tolerance, keys)),
                 plain(listed(laid.figures.stations, 3)),
                 plain(v.is_judged ? percent(p.probability) : "-"),
                 {std::string(station::to_word(p.word)), record_word(p.word), ""}};
    if (p.word != station::Word::proven) row.under = fmt::format("{} {}", p.because, p.next);
    return row;
}

void add_rules(const RecordAnswer& answer, const Figures& figures, Blocks& out) {
    if (answer.lay.rules.empty()) return;
    out.push_back(Heading{2, "Between points", "rules", false});
    Table table;
    table.caption = "Spacings and offsets that the tolerances speak of.";
    table.columns = {{"From", Align::left, false},
                     {"to", Align::left, false},
                     {"rule", Align::left, true},
                     {figures.small_head("off"), Align::right, false},
                     {figures.small_head("sd"), Align::right, false},
                     {"probability", Align::right, false},
                     {"verdict", Align::left, false}};
    for (const RuleReport& rule : answer.lay.rules) {
        const lay::RuleVerdict& r = rule.figures;
        Row row;
        row.cells = {
            {r.from, std::nullopt, ""},
            {r.to, std::nullopt, ""},
            {r.tolerance_id.empty() ? rule.what : r.tolerance_id, std::nullopt, ""},
            {figures.signed_small(r.verdict.deviation_m), std::nullopt, ""},
            {figures.small(r.verdict.sd_m), std::nullopt, ""},
            {percent(r.verdict.probability), std::nullopt, ""},
            {std::string(station::to_word(r.verdict.word)), record_word(r.verdict.word), ""}};
        if (r.verdict.word != station::Word::proven) row.under = rule.because;
        table.rows.push_back(std::move(row));
    }
    out.push_back(std::move(table));
}

}  // namespace

void add_points(const RecordAnswer& answer, Blocks& out) {
    out.push_back(Heading{1, "Points", "points", true});
    if (answer.lay.points.empty()) {
        out.push_back(Paragraph{"The job holds no points to be laid.", Tone::plain});
        return;
    }
    add_plan_of_points(answer, out);
    const Figures figures(answer.style);
    LimitKeys keys;
    if (!answer.points.empty()) {
        Table table;
        table.caption = fmt::format(
            "Design position; off: as laid less design, positive to the east, the north and up; "
            "sd: standard deviation of that; tolerance in plan (radius) and height{}; within: "
            "probability of being within tolerance. A row without a line below it is proven.",
            figures.small_unit("; off, sd and tolerance in "));
        table.columns = {{"Point", Align::left, false},
                         {figures.head("east"), Align::right, false},
                         {figures.head("north"), Align::right, false},
                         {figures.head("height"), Align::right, false},
                         {"off east", Align::right, false},
                         {"off north", Align::right, false},
                         {"off height", Align::right, false},
                         {"sd plan", Align::right, false},
                         {"sd height", Align::right, false},
                         {"tolerance", Align::right, false},
                         {"source", Align::left, false},
                         {"from", Align::left, false},
                         {"probability", Align::right, false},
                         {"verdict", Align::left, false}};
        for (const RecordPoint& p : answer.points)
            table.rows.push_back(point_row(answer, p, figures, keys));
        out.push_back(std::move(table));
    }
    if (!keys.list.empty()) {
        out.push_back(Heading{2, "Where the tolerances come from", "tolerances", false});
        Table table;
        table.columns = {{"Source", Align::left, false}, {"says", Align::left, true}};
        for (const auto& [key, words] : keys.list)
            table.rows.push_back({{{key, std::nullopt, ""}, {words, std::nullopt, ""}}, ""});
        out.push_back(std::move(table));
        if (keys.any_from_memory)
            out.push_back(
                Paragraph{"A limit from memory was not seen in its standard: check it "
                          "against the contract documents.",
                          Tone::strong});
    }
    add_rules(answer, figures, out);
    if (!answer.not_laid.empty()) {
        out.push_back(Heading{2, "Not laid", "not-laid", false});
        Table table;
        table.columns = {{"Point", Align::left, false},
                         {figures.head("east"), Align::right, false},
                         {figures.head("north"), Align::right, false},
                         {figures.head("height"), Align::right, false},
                         {"element", Align::left, true}};
        for (const std::size_t i : answer.not_laid) {
            const frame::DesignPoint& d = answer.lay.points[i].design;
            table.rows.push_back({{{d.name, drawing::PlanWord::to_lay, ""},
                                   {figures.length(d.east_m), std::nullopt, ""},
                                   {figures.length(d.north_m), std::nullopt, ""},
                                   {figures.length(d.height_m), std::nullopt, ""},
                                   {d.element, std::nullopt, ""}},
                                  ""});
        }
        out.push_back(std::move(table));
    }
}

void add_control(const RecordAnswer& answer, Blocks& out) {
    out.push_back(Heading{1, "Control", "control", true});
    const Figures figures(answer.style);
    const auto sheet_of = [&](const std::string& name) {
        const auto at = answer.facts.mark_sheets.find(name);
        return at == answer.facts.mark_sheets.end() ? std::string("-") : at->second;
    };
    if (!answer.control) {
        out.push_back(Paragraph{
            answer.control_refused.empty()
                ? std::string("The condition of the marks was not computed.")
                : "The condition of the marks was not computed: " + answer.control_refused,
            Tone::strong});
        return;
    }
    const VetAnswer& control = *answer.control;
    out.push_back(
        paper::VerdictBox{record_word(control.verdict.word),
                          fmt::format("Control: {}", station::to_word(control.verdict.word)),
                          control.verdict.because, control.verdict.next});
    Table table;
    table.caption =
        "Each mark as its sheet has it; off: where all sights of the job put it, less its sheet.";
    table.columns = {{"Mark", Align::left, false},
                     {figures.head("east"), Align::right, false},
                     {figures.head("north"), Align::right, false},
                     {figures.head("height"), Align::right, false},
                     {figures.small_head("off east"), Align::right, false},
                     {figures.small_head("off north"), Align::right, false},
                     {figures.small_head("off height"), Align::right, false},
                     {figures.small_head("detectable"), Align::right, false},
                     {"sheet", Align::left, true},
                     {"probability", Align::right, false},
                     {"verdict", Align::left, false}};
    for (std::size_t i = 0; i < control.figures.marks.size(); ++i) {
        const vet::MarkVerdict& m = control.figures.marks[i];
        Row row;
        row.cells = {{m.name, std::nullopt, ""},
                     {figures.length(m.east_m), std::nullopt, ""},
                     {figures.length(m.north_m), std::nullopt, ""},
                     {figures.length(m.height_m), std::nullopt, ""},
                     {figures.signed_small(m.off_east_m), std::nullopt, ""},
                     {figures.signed_small(m.off_north_m), std::nullopt, ""},
                     {figures.signed_small(m.off_height_m), std::nullopt, ""},
                     {figures.small(m.detectable_m), std::nullopt, ""},
                     {sheet_of(m.name), std::nullopt, ""},
                     {percent(m.probability), std::nullopt, ""},
                     {std::string(station::to_word(m.word)), record_word(m.word), ""}};
        if (m.word != station::Word::proven)
            row.under = fmt::format("{} {}", control.marks[i].because, control.marks[i].next);
        table.rows.push_back(std::move(row));
    }
    out.push_back(std::move(table));
    out.push_back(Paragraph{
        fmt::format("Finds: the smallest shift that these sights would show (80 % power, "
                    "significance 0.001). A mark is proven when it is within {} in plan and {} in "
                    "height of its sheet.",
                    tolerance(control.tolerance_plan_m, answer.style),
                    tolerance(control.tolerance_height_m, answer.style)),
        Tone::quiet});

    if (!control.explanations.empty()) {
        out.push_back(Heading{2, "What may be wrong with the control", "", false});
        Table causes;
        causes.columns = {{"probability", Align::right, false}, {"explanation", Align::left, true}};
        constexpr std::size_t kMostListed = 6;
        double rest = control.figures.others;
        for (std::size_t i = 0; i < control.explanations.size(); ++i) {
            const double probability = control.figures.explanations[i].probability;
            if (i >= kMostListed) {
                rest += probability;
                continue;
            }
            causes.rows.push_back({{{percent(probability), std::nullopt, ""},
                                    {control.explanations[i].says, std::nullopt, ""}},
                                   control.explanations[i].next});
        }
        if (control.explanations.size() > kMostListed)
            causes.rows.push_back(
                {{{percent(rest), std::nullopt, ""},
                  {"All other explanations considered, each less probable.", std::nullopt, ""}},
                 ""});
        out.push_back(std::move(causes));
    }
    std::vector<std::string> unseen;
    for (std::size_t i = 0; i < control.traps.size(); ++i)
        if (control.figures.traps[i].sighting == vet::Sighting::unseen &&
            !control.traps[i].says.empty())
            unseen.push_back(fmt::format(
                "{}: {}", capital(std::string(vet::to_word(control.figures.traps[i].trap))),
                control.traps[i].says));
    if (!unseen.empty()) {
        out.push_back(Heading{2, "What these data could not show", "", false});
        out.push_back(paper::Bullets{unseen, false});
    }
}

}  // namespace layproof::acts::internal

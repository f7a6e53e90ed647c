#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "acts/prove/prove.hpp"
#include "acts/shared/text_table.hpp"
#include "acts/shared/words.hpp"
#include "exchange/text/csv_writer.hpp"
#include "measure/angle.hpp"

namespace layproof::acts {
namespace {

using internal::shouted;
using internal::signed_small;
using internal::small;
using internal::TextTable;
using internal::wrapped;
using station::Word;

constexpr std::size_t kMostPoints = 8;
constexpr std::size_t kLeastPoints = 3;
constexpr std::size_t kMostSetups = 8;
constexpr std::size_t kMostMarks = 10;
constexpr std::size_t kMostMisfits = 5;
constexpr std::size_t kMostLines = 6;
constexpr std::size_t kMostLoops = 4;
constexpr std::size_t kMostUnfitLoops = 10;

std::string verdict_text(const ProveAnswer& a) {
    std::string out =
        a.laid.empty()
            ? fmt::format("Whole job: {}   (nothing laid yet; probability {})\n",
                          shouted(a.verdict.word), internal::percent(a.verdict.probability))
            : fmt::format("Whole job: {}   ({} proven, {} in doubt, {} fail; probability {})\n",
                          shouted(a.verdict.word), a.proven, a.in_doubt, a.fails,
                          internal::percent(a.verdict.probability));
    out += wrapped(a.verdict.because, 2);
    out += wrapped("Next: " + a.verdict.next, 2);
    int sights = 0;
    for (const ProveSetup& setup : a.setups)
        for (const ProveSight& sight : setup.sights) sights += sight.used ? 1 : 0;
    out += wrapped(fmt::format("{}, {} and {} adjusted together: {}.",
                               internal::count(static_cast<int>(a.setups.size()), "set-up"),
                               internal::count(sights, "sight"),
                               internal::count(a.observations, "figure"), a.fit),
                   2);
    for (const std::string& part : a.loose) out += wrapped(part, 2);
    return out;
}

std::string moves_text(const ProveAnswer& a) {
    std::string out;
    for (const ProveMove& move : a.moves) {
        if (move.probability < 0.2 && !a.explain) continue;
        out += wrapped("- " + move.says, 2);
        if (!move.setups.empty())
            out += wrapped(
                fmt::format(
                    "  used by {}; laid from there: {}", internal::listed(move.setups),
                    move.points.empty() ? std::string("nothing") : internal::listed(move.points)),
                2);
    }
    return out.empty() ? out : "\nMoved\n" + out;
}

std::string marks_text(const ProveAnswer& a) {
    if (a.marks.empty()) return "";
    std::vector<const ProveMark*> order;
    for (const ProveMark& mark : a.marks) order.push_back(&mark);
    if (!a.explain)
        std::stable_sort(order.begin(), order.end(), [](const auto* x, const auto* y) {
            return std::pair(!x->is_sighted, x->probability) <
                   std::pair(!y->is_sighted, y->probability);
        });
    const std::size_t total = order.size();
    if (!a.explain) order.resize(std::min(total, kMostMarks));
    TextTable table({"Mark", "sights", "set-ups", "off east", "off north", "off height",
                     "holds with", "", "condition"});
    const auto off = [&](const std::optional<double>& value) {
        return value ? signed_small(*value, a.style) : std::string("-");
    };
    for (const ProveMark* m : order)
        table.add({m->name, fmt::format("{}", m->sights), fmt::format("{}", m->setups),
                   off(m->off_east_m), off(m->off_north_m), off(m->off_height_m),
                   m->is_sighted ? internal::percent(m->probability) : "-",
                   std::string(m->is_sighted ? station::to_word(m->word) : ""),
                   m->is_sighted && m->word == Word::proven && !a.explain ? std::string()
                                                                          : m->condition});
    return "\n" + table.to_text(true) + internal::and_more(order.size(), total, " marks");
}

std::string points_text(const ProveAnswer& a) {
    if (a.laid.empty()) return "";
    std::vector<const ProvePoint*> order;
    for (const ProvePoint& point : a.laid) order.push_back(&point);
    if (!a.explain)
        std::stable_sort(order.begin(), order.end(), [](const auto* x, const auto* y) {
            return x->verdict.probability < y->verdict.probability;
        });
    const std::size_t total = order.size();
    const auto open = static_cast<std::size_t>(a.in_doubt + a.fails);
    if (!a.explain) order.resize(std::min(total, std::clamp(open, kLeastPoints, kMostPoints)));
    TextTable table(
        {"As laid", "from", "off east", "off north", "off height", "tolerance", "probability", ""});
    for (const ProvePoint* p : order) {
        const lay::PointVerdict& v = p->verdict;
        table.add({a.points[p->point].design.name, internal::listed(p->stations, 2),
                   signed_small(v.deviation_m.x(), a.style),
                   signed_small(v.deviation_m.y(), a.style),
                   v.has_height ? signed_small(v.deviation_m.z(), a.style) : "-",
                   v.tolerance.plan_m ? internal::tolerance(*v.tolerance.plan_m, a.style) : "-",
                   v.is_judged ? internal::percent(v.probability) : "-",
                   std::string(station::to_word(v.word))});
    }
    std::string out =
        "\n" + table.to_text(true) + internal::and_more(order.size(), total, " points, surer");
    if (a.explain)
        for (const ProvePoint* p : order)
            out += wrapped(fmt::format("{}: {} {}", a.points[p->point].design.name,
                                       internal::capital(p->because), p->next),
                           2);
    return out;
}

std::string setups_text(const ProveAnswer& a) {
    std::vector<const ProveSetup*> order;
    for (const ProveSetup& setup : a.setups) order.push_back(&setup);
    if (!a.explain)
        std::stable_sort(order.begin(), order.end(), [](const auto* x, const auto* y) {
            return std::pair(x->word == Word::proven, -x->ratio) <
                   std::pair(y->word == Word::proven, -y->ratio);
        });
    const std::size_t total = order.size();
    if (!a.explain) order.resize(std::min(total, kMostSetups));
    TextTable table({"Set-up", "sights", "laid", "sd", "misfits", "stood still", ""});
    for (const ProveSetup* s : order) {
        const double plan =
            std::sqrt(std::max(s->pose.covariance(0, 0) + s->pose.covariance(1, 1), 0.0) / 2.0);
        table.add({s->station, fmt::format("{}", s->sights.size()), fmt::format("{}", s->laid),
                   s->is_placed ? small(plan, a.style) : "-", fmt::format("{:.2f} x", s->ratio),
                   s->holds ? internal::percent(*s->holds) : "-",
                   s->word == Word::proven ? std::string("fits") : s->fit});
    }
    return "\n" + table.to_text(true) +
           internal::and_more(order.size(), total, " set-ups, which fit better");
}

std::string causes_text(const ProveAnswer& a) {
    constexpr double kWorthALine = 0.1;
    std::string out;
    for (const JobCause& cause : a.causes)
        if (a.explain || cause.probability >= kWorthALine)
            out += wrapped(
                fmt::format("{:>6}  {}", internal::percent(cause.probability), cause.says), 2);
    return out.empty() ? out : "\nWhat may be wrong\n" + out;
}

std::string sights_text(const ProveAnswer& a) {
    struct Row {
        const ProveSetup* setup;
        const ProveSight* sight;
        double worst;
    };
    std::vector<Row> rows;
    std::string out;
    for (const ProveSetup& setup : a.setups)
        for (const ProveSight& sight : setup.sights) {
            if (!sight.used) {
                out += wrapped(
                    fmt::format("{} to {}: not used, {}.", setup.station, sight.target, sight.why),
                    2);
                continue;
            }
            double worst = 0.0;
            for (const auto& w : {sight.standardised.direction, sight.standardised.zenith,
                                  sight.standardised.distance})
                worst = std::max(worst, std::abs(w.value_or(0.0)));
            rows.push_back({&setup, &sight, worst});
        }
    std::stable_sort(rows.begin(), rows.end(),
                     [](const Row& x, const Row& y) { return x.worst > y.worst; });
    if (!a.explain) {
        std::erase_if(rows, [](const Row& row) { return row.worst < 3.0; });
        if (rows.size() > kMostMisfits) rows.resize(kMostMisfits);
    }
    if (rows.empty()) return out.empty() ? out : "\nSights\n" + out;
    TextTable table({"Sight", "to", "for", "direction", "zenith", "distance", "misfit/sd"});
    for (const Row& row : rows) {
        const station::PartFigures& r = row.sight->residual;
        const auto angle = [](const std::optional<double>& v) {
            return v ? fmt::format("{:+.1f}\"", *v / measure::kRadPerArcsec) : std::string("-");
        };
        table.add({row.setup->station, row.sight->target, row.sight->purpose, angle(r.direction),
                   angle(r.zenith), r.distance ? signed_small(*r.distance, a.style) : "-",
                   fmt::format("{:.1f}", row.worst)});
    }
    return "\n" + table.to_text() + out;
}

std::string lines_text(const ProveAnswer& a) {
    if (a.lines.empty()) return "";
    std::vector<const ProveLine*> order;
    for (const ProveLine& line : a.lines) order.push_back(&line);
    if (!a.explain)
        std::stable_sort(order.begin(), order.end(), [](const auto* x, const auto* y) {
            return std::pair(x->used, -std::abs(x->standardised)) <
                   std::pair(y->used, -std::abs(y->standardised));
        });
    const std::size_t total = order.size();
    if (!a.explain) order.resize(std::min(total, kMostLines));
    TextTable table({"Between", "and", "by", "misfit", "misfit/sd"});
    for (const ProveLine* line : order)
        table.add(
            {line->from, line->to, line->by.empty() ? line->kind : line->by,
             line->used ? signed_small(line->residual_m, a.style) : "-",
             line->used ? fmt::format("{:+.1f}", line->standardised) : std::string("not used")});
    return "\n" + table.to_text() +
           internal::and_more(order.size(), total, " of the tapes and levels");
}

std::string levels_text(const ProveAnswer& a) {
    std::string out;
    if (!a.runs.empty()) {
        TextTable table({"Run", "from", "to", "set-ups", "length", "rise", "sd"});
        for (const ProveRun& run : a.runs)
            table.add({run.run, run.points.front(), run.points.back(), fmt::format("{}", run.turns),
                       run.length_m ? internal::rough(*run.length_m, a.style) : "-",
                       measure::format_length(run.rise_m, a.style), small(run.sd_m, a.style)});
        out += "\n" + table.to_text();
    }
    if (a.loops.empty()) return out;
    out += "\nClosures of levels\n";
    std::size_t shown = 0;
    for (const ProveLoop& loop : a.loops) {
        if (!a.explain && shown >= (loop.fits ? kMostLoops : kMostUnfitLoops)) break;
        out += wrapped("- " + loop.says, 2);
        ++shown;
    }
    const bool rest_fits = shown < a.loops.size() && a.loops[shown].fits;
    out +=
        internal::and_more(shown, a.loops.size(), rest_fits ? " closures, which fit" : " closures");
    std::vector<std::string> rules;
    for (const ProveLoop& loop : a.loops) {
        const std::string rule = fmt::format("{}: {}.", loop.rule, loop.source);
        if (std::find(rules.begin(), rules.end(), rule) == rules.end()) rules.push_back(rule);
    }
    for (const std::string& rule : rules) out += wrapped(internal::capital(rule), 2);
    return out;
}

std::string components_text(const ProveAnswer& a) {
    if (!a.explain || a.components.empty()) return "";
    TextTable table({"Misfits of", "figures", "checked", "found / stated", "sd"});
    for (const ProveComponent& c : a.components)
        table.add({c.group, fmt::format("{}", c.figures), fmt::format("{:.1f}", c.redundancy),
                   fmt::format("{:.2f}", c.ratio), fmt::format("{:.2f}", c.ratio_sd)});
    return "\n" + table.to_text();
}

}  // namespace

std::string to_text(const ProveAnswer& answer) {
    std::string out = verdict_text(answer) + moves_text(answer) + points_text(answer) +
                      marks_text(answer) + setups_text(answer) + causes_text(answer) +
                      sights_text(answer) + levels_text(answer) + lines_text(answer) +
                      components_text(answer);
    if (!answer.notices.empty()) out += "\n";
    for (const std::string& notice : answer.notices) out += wrapped("Note: " + notice, 0);
    return out + "\n" + wrapped(internal::kCaution, 0);
}

std::string prove_points_csv(const ProveAnswer& answer) {
    exchange::CsvWriter csv;
    const double unit = 1.0 / measure::metres_per(answer.unit);
    const std::string in_unit = " [" + std::string(measure::to_word(answer.unit)) + "]";
    for (const std::string& name : {std::string("point"),
                                    std::string("stations"),
                                    std::string("laid"),
                                    std::string("word"),
                                    std::string("probability"),
                                    "design_east" + in_unit,
                                    "design_north" + in_unit,
                                    "design_height" + in_unit,
                                    "east" + in_unit,
                                    "north" + in_unit,
                                    "height" + in_unit,
                                    std::string("off_east_mm"),
                                    std::string("off_north_mm"),
                                    std::string("off_height_mm"),
                                    std::string("sd_plan_mm"),
                                    std::string("sd_height_mm"),
                                    std::string("tolerance_plan_mm"),
                                    std::string("tolerance_source"),
                                    std::string("because"),
                                    std::string("next")})
        csv.text(name);
    csv.end_row();
    const auto number = [&](const std::optional<double>& value, int decimals) {
        if (value)
            csv.number(*value, decimals);
        else
            csv.blank();
    };
    for (const ProvePoint& p : answer.laid) {
        const LayPoint& wanted = answer.points[p.point];
        const lay::PointVerdict& v = p.verdict;
        std::string stations;
        for (const std::string& name : p.stations) stations += (stations.empty() ? "" : " ") + name;
        csv.text(wanted.design.name).text(stations).text(p.laid_time);
        csv.text(station::to_word(v.word));
        number(v.is_judged ? std::optional(v.probability) : std::nullopt, 4);
        number(wanted.design.east_m * unit, 4);
        number(wanted.design.north_m * unit, 4);
        number(
            wanted.design.height_m ? std::optional(*wanted.design.height_m * unit) : std::nullopt,
            4);
        number(p.as_laid_m.x() * unit, 4);
        number(p.as_laid_m.y() * unit, 4);
        number(p.has_height ? std::optional(p.as_laid_m.z() * unit) : std::nullopt, 4);
        number(v.deviation_m.x() * 1000.0, 2);
        number(v.deviation_m.y() * 1000.0, 2);
        number(v.has_height ? std::optional(v.deviation_m.z() * 1000.0) : std::nullopt, 2);
        number(v.sd_plan_m * 1000.0, 2);
        number(v.sd_height_m ? std::optional(*v.sd_height_m * 1000.0) : std::nullopt, 2);
        number(v.tolerance.plan_m ? std::optional(*v.tolerance.plan_m * 1000.0) : std::nullopt, 2);
        csv.text(v.tolerance.plan_source.words).text(p.because).text(p.next);
        csv.end_row();
    }
    return csv.str();
}

std::string prove_levels_csv(const ProveAnswer& answer) {
    if (answer.runs.empty() && answer.loops.empty()) return "";
    exchange::CsvWriter csv;
    const double unit = 1.0 / measure::metres_per(answer.unit);
    const std::string in_unit = " [" + std::string(measure::to_word(answer.unit)) + "]";
    for (const std::string& name :
         {std::string("kind"), std::string("name"), std::string("points"), "length" + in_unit,
          std::string("setups"), "rise" + in_unit, std::string("sd_mm"), std::string("closure_mm"),
          std::string("allowed_mm"), std::string("word"), std::string("rule"),
          std::string("source")})
        csv.text(name);
    csv.end_row();
    const auto joined = [](const std::vector<std::string>& names) {
        std::string out;
        for (const std::string& name : names) out += (out.empty() ? "" : " ") + name;
        return out;
    };
    const auto length = [&](const std::optional<double>& value_m) {
        if (value_m)
            csv.number(*value_m * unit, 2);
        else
            csv.blank();
    };
    for (const ProveRun& run : answer.runs) {
        csv.text("run").text(run.run).text(joined(run.points));
        length(run.length_m);
        csv.number(run.turns, 0).number(run.rise_m * unit, 4).number(run.sd_m * 1000.0, 2);
        csv.blank().blank().blank().blank().blank();
        csv.end_row();
    }
    for (const ProveLoop& loop : answer.loops) {
        std::vector<std::string> by;
        for (const ProveLoop::Member& member : loop.members)
            if (by.empty() || by.back() != member.by) by.push_back(member.by);
        csv.text(loop.is_tie ? "between-marks" : "loop");
        csv.text(internal::listed(by)).text(joined(loop.points));
        length(loop.length_m);
        if (loop.turns)
            csv.number(*loop.turns, 0);
        else
            csv.blank();
        csv.blank().number(loop.sd_m * 1000.0, 2).number(loop.closure_m * 1000.0, 2);
        csv.number(loop.allowed_m * 1000.0, 2).text(loop.fits ? "fits" : "does not fit");
        csv.text(loop.rule).text(loop.source);
        csv.end_row();
    }
    return csv.str();
}

}  // namespace layproof::acts

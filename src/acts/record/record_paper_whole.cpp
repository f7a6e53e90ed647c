// The whole job in one adjustment: marks, what moved, what may be wrong.

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "acts/record/record_paper_internal.hpp"
#include "acts/shared/words.hpp"
#include "frame/ellipse.hpp"

namespace layproof::acts::internal {
namespace {

using paper::Align;
using paper::Heading;
using paper::Paragraph;
using paper::Row;
using paper::Table;
using paper::Tone;

constexpr std::size_t kMostCausesListed = 8;
constexpr std::size_t kMostClosuresListed = 100;

paper::Cell words(std::string text) {
    return {std::move(text), std::nullopt, ""};
}

void add_whole_marks(const ProveAnswer& whole, const Figures& figures, Blocks& out) {
    Table table;
    table.caption =
        "Marks by all sights of all set-ups; off: that place less the sheet's, the mark's own "
        "sheet "
        "figures left out; sd: of the adjusted place.";
    table.columns = {{"Mark", Align::left, false},
                     {figures.small_head("off east"), Align::right, false},
                     {figures.small_head("off north"), Align::right, false},
                     {figures.small_head("off height"), Align::right, false},
                     {figures.small_head("sd plan"), Align::right, false},
                     {"sights", Align::right, false},
                     {"set-ups", Align::right, false},
                     {"as on its sheet", Align::right, false},
                     {"verdict", Align::left, false}};
    for (const ProveMark& m : whole.marks) {
        const Eigen::Matrix2d plan = m.covariance.topLeftCorner<2, 2>();
        const bool known = m.adjusted_east_m.has_value() && plan.allFinite();
        const auto sd =
            known ? std::optional(frame::error_ellipse(plan, 1.0).semi_major_m) : std::nullopt;
        Row row;
        row.cells = {words(m.name),
                     words(figures.signed_small(m.off_east_m)),
                     words(figures.signed_small(m.off_north_m)),
                     words(figures.signed_small(m.off_height_m)),
                     words(figures.small(sd)),
                     words(std::to_string(m.sights)),
                     words(std::to_string(m.setups)),
                     words(m.is_sighted ? percent(m.probability) : std::string("-")),
                     {std::string(station::to_word(m.word)), record_word(m.word), ""}};
        if (m.word != station::Word::proven) row.under = m.condition;
        table.rows.push_back(std::move(row));
    }
    if (!table.rows.empty()) out.push_back(std::move(table));
}

void add_whole_moves(const ProveAnswer& whole, Blocks& out) {
    out.push_back(Heading{2, "What moved between the days", "moves", false});
    if (whole.moves.empty()) {
        out.push_back(Paragraph{"No sight says that a mark moved.", Tone::plain});
        return;
    }
    Table table;
    table.columns = {{"probability", Align::right, false}, {"what moved", Align::left, true}};
    for (const ProveMove& move : whole.moves) {
        Row row;
        row.cells = {words(percent(move.probability)), words(move.says)};
        if (!move.setups.empty())
            row.under = fmt::format("Used as control afterwards by {}.", listed(move.setups));
        if (!move.points.empty())
            row.under += fmt::format("{}Laid from these, to be looked at again: {}.",
                                     row.under.empty() ? "" : " ", listed(move.points, 24));
        table.rows.push_back(std::move(row));
    }
    out.push_back(std::move(table));
}

void add_whole_causes(const ProveAnswer& whole, Blocks& out) {
    Table table;
    table.caption = "What may be wrong in the whole job.";
    table.columns = {{"probability", Align::right, false}, {"explanation", Align::left, true}};
    // Several may hold at once, so that their probabilities do not add up.
    for (const JobCause& cause : whole.causes) {
        if (table.rows.size() >= kMostCausesListed) break;
        table.rows.push_back({{words(percent(cause.probability)), words(cause.says)}, cause.next});
    }
    if (whole.causes.size() > table.rows.size())
        table.caption +=
            fmt::format(" {} more are less probable.", whole.causes.size() - table.rows.size());
    if (!table.rows.empty()) out.push_back(std::move(table));
}

void add_whole_setups(const ProveAnswer& whole, Blocks& out) {
    Table table;
    table.caption =
        "Set-ups in the whole adjustment; ratio: how large the misfits are against what instrument "
        "and marks allow, 1 as expected.";
    table.columns = {{"Set-up", Align::left, false},
                     {"checked figures", Align::right, false},
                     {"ratio", Align::right, false},
                     {"fit", Align::left, true}};
    for (std::size_t k = 0; k < whole.setups.size(); ++k) {
        const ProveSetup& s = whole.setups[k];
        table.rows.push_back({{{s.station, std::nullopt, ""},
                               words(fmt::format("{:.1f}", s.redundancy)),
                               words(fmt::format("{:.2f}", s.ratio)),
                               words(s.is_placed ? s.fit : std::string("hangs on nothing"))},
                              ""});
    }
    if (!table.rows.empty()) out.push_back(std::move(table));
}

void add_whole_lines(const ProveAnswer& whole, const Figures& figures, Blocks& out) {
    if (whole.lines.empty()) return;
    out.push_back(Heading{2, "Tapes and levels", "lines", false});
    Table table;
    table.columns = {{"Kind", Align::left, false},
                     {"from", Align::left, false},
                     {"to", Align::left, false},
                     {figures.head("measured"), Align::right, false},
                     {figures.small_head("residual"), Align::right, false},
                     {"in sd", Align::right, false},
                     {"used", Align::left, false}};
    for (const ProveLine& line : whole.lines)
        table.rows.push_back(
            {{words(line.by.empty() ? line.kind : line.by), words(line.from), words(line.to),
              words(figures.length(line.value_m)), words(figures.signed_small(line.residual_m)),
              words(fmt::format("{:.2f}", line.standardised)), words(line.used ? "yes" : "no")},
             ""});
    out.push_back(std::move(table));
}

void add_whole_runs(const ProveAnswer& whole, const Figures& figures, Blocks& out) {
    if (whole.runs.empty()) return;
    Table table;
    table.caption =
        "Runs of levels as read; length: of all sights; imbalance: lengths of the backsights less "
        "those of the foresights.";
    table.columns = {{"Run", Align::left, false},
                     {"from", Align::left, false},
                     {"to", Align::left, false},
                     {"set-ups", Align::right, false},
                     {figures.head("length"), Align::right, false},
                     {figures.head("imbalance"), Align::right, false},
                     {figures.head("rise"), Align::right, false},
                     {figures.small_head("sd"), Align::right, false}};
    for (const ProveRun& run : whole.runs) {
        Row row;
        row.cells = {words(run.run),
                     words(run.points.front()),
                     words(run.points.back()),
                     words(std::to_string(run.turns)),
                     words(figures.length(run.length_m)),
                     words(figures.length(run.imbalance_m)),
                     words(figures.length(run.rise_m)),
                     words(figures.small(run.sd_m))};
        std::vector<std::string> between(run.points.begin() + 1, run.points.end() - 1);
        if (!between.empty()) row.under = fmt::format("Over {}.", listed(between, 24));
        if (!run.intermediate.empty())
            row.under += fmt::format("{}Read aside: {}.", row.under.empty() ? "" : " ",
                                     listed(run.intermediate, 24));
        table.rows.push_back(std::move(row));
    }
    out.push_back(std::move(table));
}

void add_whole_loops(const ProveAnswer& whole, const Figures& figures, Blocks& out) {
    if (whole.loops.empty()) return;
    Table table;
    table.caption =
        "Closures of levels: round loops, and between marks against their sheet heights.";
    table.columns = {{"Loop, or marks", Align::left, true},
                     {"set-ups", Align::right, false},
                     {figures.small_head("closure"), Align::right, false},
                     {figures.small_head("sd"), Align::right, false},
                     {figures.small_head("allowed"), Align::right, false},
                     {"fit", Align::left, false}};
    std::set<std::string> rules;
    for (const ProveLoop& loop : whole.loops) {
        if (table.rows.size() >= kMostClosuresListed) break;
        std::vector<std::string> by;
        for (const ProveLoop::Member& member : loop.members)
            if (std::find(by.begin(), by.end(), member.by) == by.end()) by.push_back(member.by);
        Row row;
        row.cells = {words(loop.is_tie ? loop.points.front() + " to " + loop.points.back()
                                       : listed(loop.points, 24)),
                     words(loop.turns ? std::to_string(*loop.turns) : std::string("-")),
                     words(figures.signed_small(loop.closure_m)),
                     words(figures.small(loop.sd_m)),
                     words(figures.small(loop.allowed_m)),
                     words(loop.fits ? "fits" : "does not fit")};
        row.under = fmt::format("By {}.", listed(by, 12));
        rules.insert(fmt::format("{} ({})", loop.rule, loop.source));
        table.rows.push_back(std::move(row));
    }
    table.caption += " Allowed:";
    for (const std::string& rule : rules)
        table.caption += (rule == *rules.begin() ? " " : "; ") + rule;
    table.caption += ".";
    if (whole.loops.size() > table.rows.size())
        table.caption += fmt::format(" {} more stand in record-levels.csv.",
                                     whole.loops.size() - table.rows.size());
    out.push_back(std::move(table));
}

}  // namespace

void add_whole(const RecordAnswer& answer, Blocks& out) {
    if (!answer.whole && answer.whole_refused.empty()) return;
    out.push_back(Heading{1, "The whole job in one adjustment", "whole", false});
    if (!answer.whole) {
        out.push_back(Paragraph{"It was not computed: " + answer.whole_refused, Tone::strong});
        return;
    }
    const ProveAnswer& whole = *answer.whole;
    const Figures figures(answer.style);
    out.push_back(paper::VerdictBox{
        record_word(whole.verdict.word),
        fmt::format("All sights together: {}", station::to_word(whole.verdict.word)),
        whole.verdict.because, whole.verdict.next});
    paper::Pairs pairs;
    pairs.entries.push_back(
        {"Size",
         fmt::format("{} figures measured, {} unknowns", whole.observations, whole.unknowns),
         false});
    if (!whole.fit.empty()) pairs.entries.push_back({"Fit", whole.fit, false});
    pairs.entries.push_back({"Nothing wrong", percent(whole.nothing_wrong), false});
    for (const ProveComponent& one : whole.components)
        pairs.entries.push_back({capital(one.group),
                                 fmt::format("{} figures, misfits {:.2f} ± {:.2f} times what was "
                                             "expected",
                                             one.figures, one.ratio, one.ratio_sd),
                                 false});
    out.push_back(std::move(pairs));
    if (!whole.loose.empty()) out.push_back(paper::Bullets{whole.loose, false});
    add_whole_marks(whole, figures, out);
    add_whole_moves(whole, out);
    add_whole_causes(whole, out);
    add_whole_setups(whole, out);
    add_whole_lines(whole, figures, out);
    add_whole_runs(whole, figures, out);
    add_whole_loops(whole, figures, out);
}

}  // namespace layproof::acts::internal

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <utility>

#include "acts/shared/levelled.hpp"
#include "acts/shared/words.hpp"
#include "exchange/tables/level_readers.hpp"

namespace layproof::acts::internal {
namespace {

std::string place_words(const Place& place) {
    const std::size_t slash = place.file.find_last_of('/');
    const std::string file = slash == std::string::npos ? place.file : place.file.substr(slash + 1);
    if (file.empty()) return "by hand";
    return fmt::format("{} line {}", file, place.line);
}

std::string size_words(const ProveLoop& loop, const measure::LengthStyle& style) {
    std::vector<std::string> parts;
    if (loop.length_m) parts.push_back(rough(*loop.length_m, style));
    if (loop.turns) parts.push_back(count(*loop.turns, "set-up"));
    if (parts.empty()) return "";
    return " (" + parts[0] + (parts.size() > 1 ? ", " + parts[1] : "") + ")";
}

std::string loop_words(const ProveLoop& loop, const measure::LengthStyle& style) {
    std::string what;
    if (loop.is_tie)
        what = fmt::format("{} to {}{}: levelled {} against their sheet heights",
                           loop.points.front(), loop.points.back(), size_words(loop, style),
                           signed_small(loop.closure_m, style));
    else if (loop.members.size() == 1)
        what = fmt::format("{} comes back to {}{} with {}", capital(loop.members.front().by),
                           loop.points.front(), size_words(loop, style),
                           signed_small(loop.closure_m, style));
    else
        what = fmt::format("Loop {}{} closes to {}", listed(loop.points, 8),
                           size_words(loop, style), signed_small(loop.closure_m, style));
    return fmt::format("{}, {} allowed ({}): {}.", what, small(loop.allowed_m, style), loop.rule,
                       loop.fits ? "fits" : "does not fit");
}

}  // namespace

std::string free_name(const std::string& name, std::map<std::string, int>& taken) {
    std::string out = name;
    for (int& same = taken[name]; ++same > 1;) {
        out = fmt::format("{} ({})", name, same);
        if (taken.emplace(out, 1).second) break;
    }
    return out;
}

void Levelled::add_link(network::LevelLink link, std::string by) {
    if (link.from != link.to) by_.push_back(by);
    links_.push_back(std::move(link));
    link_by_.push_back(std::move(by));
}

void Levelled::add(const std::vector<network::LevelRise>& rises) {
    for (const network::LevelRise& rise : rises) {
        if (rise.from == rise.to || !(rise.sd_m > 0.0) || !std::isfinite(rise.rise_m)) continue;
        rises_.push_back(rise);
        add_link({rise.from, rise.to, rise.rise_m, rise.sd_m, std::nullopt, std::nullopt, -1},
                 place_words(rise.place));
    }
}

void Levelled::add(const network::LevelRun& run) {
    const network::ReducedRun reduced = network::reduce_run(run);
    notices_.insert(notices_.end(), reduced.notices.begin(), reduced.notices.end());
    // Facts by another's hand may hold what no reader lets in.
    if (reduced.legs.empty() || !std::isfinite(reduced.rise_m) || !(reduced.sd_m > 0.0)) return;
    ProveRun out;
    out.run = free_name(run.name, names_);
    out.turns = reduced.turns;
    out.length_m = reduced.length_m;
    out.imbalance_m = reduced.imbalance_m;
    out.rise_m = reduced.rise_m;
    out.sd_m = reduced.sd_m;
    out.points.push_back(reduced.legs.front().from);
    const int number = static_cast<int>(runs_.size());
    for (const network::LevelLeg& leg : reduced.legs) {
        (leg.is_intermediate ? out.intermediate : out.points).push_back(leg.to);
        if (leg.from != leg.to)
            rises_.push_back({leg.from, leg.to, leg.rise_m, leg.sd_m, leg.place});
        add_link({leg.from, leg.to, leg.rise_m, leg.sd_m, leg.length_m, leg.turns,
                  leg.is_intermediate ? -1 : number},
                 "run " + out.run);
    }
    runs_.push_back(std::move(out));
}

Result<Done> Levelled::add(const exchange::Document& document,
                           const exchange::ReadOptions& options) {
    auto levels = exchange::read_any_levels(document, options);
    if (!levels) return levels.refusal();
    add(levels->rises);
    for (const network::LevelRun& run : network::level_runs_of(levels->readings)) add(run);
    notices_.insert(notices_.end(), levels->notices.begin(), levels->notices.end());
    return Done{};
}

std::vector<ProveLoop> Levelled::loops(const std::vector<frame::Mark>& marks,
                                       const measure::LengthStyle& style) const {
    std::vector<network::LevelClosure> closures = network::level_loops(links_);
    for (network::LevelClosure& tie : network::level_ties(links_, marks))
        closures.push_back(std::move(tie));
    std::vector<ProveLoop> out;
    for (const network::LevelClosure& closure : closures) {
        ProveLoop loop;
        loop.is_tie = closure.is_tie;
        loop.points = closure.points;
        loop.closure_m = closure.closure_m;
        loop.sd_m = closure.sd_m;
        loop.length_m = closure.length_m;
        loop.turns = closure.turns;
        const network::AllowedClosure allowed = network::allowed_closure(closure);
        loop.allowed_m = allowed.amount_m;
        loop.rule = allowed.rule;
        loop.source = allowed.source;
        loop.fits = std::abs(closure.closure_m) <= allowed.amount_m;
        for (const auto& member : closure.members) {
            const network::LevelLink& link = links_[member.link];
            loop.members.push_back(
                member.is_forward ? ProveLoop::Member{link.from, link.to, link_by_[member.link]}
                                  : ProveLoop::Member{link.to, link.from, link_by_[member.link]});
        }
        loop.says = loop_words(loop, style);
        out.push_back(std::move(loop));
    }
    std::stable_sort(out.begin(), out.end(),
                     [](const auto& a, const auto& b) { return !a.fits && b.fits; });
    return out;
}

}  // namespace layproof::acts::internal

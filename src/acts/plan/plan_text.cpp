#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "acts/plan/plan.hpp"
#include "acts/shared/text_table.hpp"
#include "acts/shared/words.hpp"
#include "exchange/text/csv_writer.hpp"

namespace layproof::acts {
namespace {

using internal::percent;
using internal::TextTable;
using internal::wrapped;

constexpr std::size_t kMostSetupRows = 12;
constexpr std::size_t kMostOpenPoints = 12;
constexpr std::size_t kMostReasons = 6;
/// Set-ups whose alternates are listed without being asked for.
constexpr std::size_t kFewSetups = 4;

std::string_view ground_words(watch::Ground ground) {
    switch (ground) {
        case watch::Ground::slab:
            return "a slab";
        case watch::Ground::soil:
            return "soil";
        case watch::Ground::deck:
            return "a deck";
        case watch::Ground::steel:
            return "steel";
    }
    return "a slab";
}

std::string setups_text(const PlanAnswer& a) {
    TextTable table(
        {"Set-up", "east", "north", "in sight", "proven", "new", "sd", "marks to sight"});
    const std::size_t shown =
        a.explain ? a.setups.size() : std::min(a.setups.size(), kMostSetupRows);
    for (std::size_t i = 0; i < shown; ++i) {
        const PlanSetup& s = a.setups[i];
        std::string marks;
        for (const std::string& m : s.marks) marks += (marks.empty() ? "" : " ") + m;
        if (!s.check.empty()) marks += " (check " + s.check + ")";
        table.add({s.name, measure::format_length(s.east_m, a.style),
                   measure::format_length(s.north_m, a.style), fmt::format("{}", s.in_sight),
                   fmt::format("{:.1f}", s.expected), fmt::format("{}", s.first),
                   internal::small(s.sd_plan_m, a.style), marks});
    }
    if (table.is_empty()) return "";
    std::string out = table.to_text(true);
    if (shown < a.setups.size())
        out += fmt::format("  and {} more; --explain lists all\n", a.setups.size() - shown);
    out += wrapped(
        fmt::format("proven: on average, of the points in sight; new: counted here first; sd: of "
                    "the station in its weakest direction. Walk {} in this order.",
                    internal::rough(a.walk_m, a.style)),
        2);
    return out;
}

std::string remarks_text(const PlanAnswer& a) {
    std::string out;
    for (const PlanSetup& s : a.setups)
        for (const std::string& remark : s.remarks) {
            if (!a.explain && std::count(out.begin(), out.end(), '\n') >= 4) return out;
            out += wrapped(fmt::format("{}: {}", s.name, remark), 2);
        }
    return out;
}

std::string alternates_text(const PlanAnswer& a) {
    std::string out;
    for (const PlanSetup& s : a.setups)
        if (s.alternate)
            out += fmt::format("    {}: go to {}, {} instead (all set-ups then prove {})\n", s.name,
                               measure::format_length(s.alternate->east_m, a.style),
                               measure::format_length(s.alternate->north_m, a.style),
                               internal::count(s.alternate->proven, "point"));
    return out;
}

/// Points of one reason together, in the order of the reasons' first points.
std::string open_points_text(const PlanAnswer& a) {
    std::vector<std::pair<std::string, std::vector<std::string>>> groups;
    for (const PlanPointReport& p : a.point_reports) {
        if (p.state == PlanPointState::counted) continue;
        auto group = std::find_if(groups.begin(), groups.end(),
                                  [&](const auto& g) { return g.first == p.says; });
        if (group == groups.end()) group = groups.insert(groups.end(), {p.says, {}});
        group->second.push_back(p.name);
    }
    if (groups.empty()) return "";
    std::stable_sort(groups.begin(), groups.end(), [](const auto& x, const auto& y) {
        return x.second.size() > y.second.size();
    });
    std::string out = "  Not provable from anywhere\n";
    const std::size_t shown = a.explain ? groups.size() : std::min(groups.size(), kMostReasons);
    for (std::size_t i = 0; i < shown; ++i) {
        const auto& [says, names] = groups[i];
        out += wrapped(
            fmt::format("{}: {}",
                        internal::listed(names, a.explain ? names.size() : kMostOpenPoints), says),
            4);
    }
    if (shown < groups.size()) {
        std::size_t more = 0;
        for (std::size_t i = shown; i < groups.size(); ++i) more += groups[i].second.size();
        out += fmt::format("    and {} for other reasons; --explain lists all\n",
                           internal::count(static_cast<int>(more), "point"));
    }
    return out;
}

}  // namespace

std::string to_text(const PlanAnswer& a) {
    std::string out = fmt::format("Plan: {}   ({}, {} of {} points; {} wanted)\n",
                                  internal::shouted(a.verdict.word),
                                  internal::count(static_cast<int>(a.setups.size()), "set-up"),
                                  a.counted, a.points, a.wanted);
    out += wrapped(a.verdict.because, 2);
    out += wrapped("Next: " + a.verdict.next, 2);
    if (!a.certificate.empty()) out += wrapped(a.certificate, 2);
    if (const std::string setups = setups_text(a); !setups.empty()) out += "\n" + setups;
    out += remarks_text(a);
    if (const std::string alternates = alternates_text(a);
        !alternates.empty() && (a.explain || a.setups.size() <= kFewSetups))
        out += "\n  If a place is blocked\n" + alternates;
    if (const std::string open = open_points_text(a); !open.empty()) out += "\n" + open;
    if (!a.advice.empty()) {
        out += "\n  What would help\n";
        for (const PlanAdvice& d : a.advice) out += wrapped(d.says, 4);
    }
    out += wrapped(
        fmt::format(
            "\nAll this assumes that nothing goes wrong at the set-ups: a point counts where at "
            "least {} of such set-ups would prove it. On {} the instrument wanders some {} in "
            "an hour: sight the check within the hour and before packing up.",
            percent(a.counts_from), ground_words(a.ground), internal::small(a.drift_m, a.style)),
        0);
    for (const std::string& notice : a.notices) out += wrapped("Note: " + notice, 0);
    out += wrapped(internal::kCaution, 0);
    return out;
}

std::string setups_csv(const PlanAnswer& a) {
    exchange::CsvWriter csv;
    const std::string unit = fmt::format(" [{}]", measure::to_word(a.unit));
    for (const std::string& name :
         {std::string("setup"), "east" + unit, "north" + unit, std::string("marks"),
          std::string("check"), std::string("points_in_sight"), std::string("points_expected"),
          std::string("points_counted"), std::string("points_first"), std::string("sd_plan_mm"),
          "walk" + unit, "alternate_east" + unit, "alternate_north" + unit})
        csv.text(name);
    csv.end_row();
    const double metres = measure::metres_per(a.unit);
    for (const PlanSetup& s : a.setups) {
        std::string marks;
        for (const std::string& m : s.marks) marks += (marks.empty() ? "" : " ") + m;
        csv.text(s.name).number(s.east_m / metres, 3).number(s.north_m / metres, 3);
        csv.text(marks).text(s.check).number(s.in_sight, 0).number(s.expected, 2);
        csv.number(s.counted, 0).number(s.first, 0).number(s.sd_plan_m * 1000.0, 2);
        csv.number(s.walk_m / metres, 3);
        if (s.alternate) {
            csv.number(s.alternate->east_m / metres, 3).number(s.alternate->north_m / metres, 3);
        } else {
            csv.blank();
            csv.blank();
        }
        csv.end_row();
    }
    return csv.str();
}

}  // namespace layproof::acts

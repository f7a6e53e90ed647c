#include "acts/setup/cause_words_internal.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "acts/shared/words.hpp"
#include "measure/angle.hpp"

namespace layproof::acts::internal {
namespace {

using cause::Cause;
using cause::Entry;
using cause::Explanation;
using measure::LengthStyle;

constexpr double kMmPerMetre = 1000.0;
constexpr double kPpm = 1e6;

std::string subject(const Explanation& e) {
    return e.subjects.empty() ? std::string("a mark") : e.subjects.front();
}

std::string plan_amount(const Explanation& e, const LengthStyle& style) {
    return toward({e.estimate.east_m.value_or(0.0), e.estimate.north_m.value_or(0.0)}, style);
}

std::string seconds(double angle_rad) {
    return fmt::format("{:.0f}\"", std::abs(angle_rad) / measure::kRadPerArcsec);
}

/// Rod heights are wrong by habit: the other mark on the pole, a foot, a half, a tenth, a
/// decimetre.
std::string habitual(double amount_m, double sd_m, const LengthStyle& style) {
    struct Habit {
        double length_m;
        const char* name;
    };
    const bool feet = style.unit != measure::LengthUnit::metre || style.feet_and_inches;
    constexpr std::array<Habit, 5> kFeet{{{0.03048, "0.1 ft"},
                                          {0.1524, "half a foot"},
                                          {0.3048, "1 ft"},
                                          {0.6096, "2 ft"},
                                          {1.524, "5 ft"}}};
    constexpr std::array<Habit, 5> kMetric{
        {{0.1, "100 mm"}, {0.2, "200 mm"}, {0.5, "half a metre"}, {1.0, "1 m"}, {0.05, "50 mm"}}};
    const double limit = std::max(3.0 * sd_m, 0.004);
    const Habit* best = nullptr;
    for (const Habit& habit : feet ? kFeet : kMetric) {
        const double off = std::abs(std::abs(amount_m) - habit.length_m);
        if (off < limit && (best == nullptr || off < std::abs(std::abs(amount_m) - best->length_m)))
            best = &habit;
    }
    return best == nullptr ? std::string{} : fmt::format(" ({} is a habitual slip)", best->name);
}

double booked_rod(const Explanation& e, const station::Prepared& setup) {
    if (e.sight >= 0 && static_cast<std::size_t>(e.sight) < setup.sights.size())
        return setup.sights[static_cast<std::size_t>(e.sight)].reduced.target_height_m;
    for (const auto& sight : setup.sights)
        if (sight.used) return sight.reduced.target_height_m;
    return 0.0;
}

std::string longer(double amount_m) {
    return amount_m < 0.0 ? "short" : "long";
}

std::string clause(const Explanation& e, const station::Prepared& setup, const LengthStyle& style,
                   bool follows_same_subject) {
    const std::string at = follows_same_subject ? "there" : "at " + subject(e);
    switch (e.cause) {
        case Cause::nothing_wrong:
            return "nothing is wrong";
        case Cause::mark_moved:
            return fmt::format("{} is {} of its sheet position", subject(e), plan_amount(e, style));
        case Cause::mark_height_changed: {
            const double by = e.estimate.height_m.value_or(0.0);
            return fmt::format("{} is {} {} than its sheet height", subject(e),
                               small(std::abs(by), style), by < 0.0 ? "lower" : "higher");
        }
        case Cause::rod_not_plumb:
            return fmt::format("the rod leaned {} ({})", at, plan_amount(e, style));
        case Cause::rod_height_wrong: {
            const double by = e.estimate.length_m.value_or(0.0);
            return fmt::format("the rod {} was {} high, not {}{}", at,
                               measure::format_length(booked_rod(e, setup) + by, style),
                               measure::format_length(booked_rod(e, setup), style),
                               habitual(by, e.estimate.sd_m.value_or(0.0), style));
        }
        case Cause::rod_height_wrong_on_all: {
            const double by = e.estimate.length_m.value_or(0.0);
            return fmt::format("the rod was {} {}er than booked on every sight",
                               small(std::abs(by), style), longer(by));
        }
        case Cause::prism_constant_wrong: {
            const double by = e.estimate.length_m.value_or(0.0);
            return fmt::format("the prism constant is wrong: every distance reads {} too {}",
                               small(std::abs(by), style), longer(by));
        }
        case Cause::distance_scale_wrong: {
            const double by = e.estimate.ratio.value_or(0.0);
            return fmt::format(
                "every distance is {:.0f} parts per million too {} (air, kind of foot, or grid "
                "taken for ground)",
                std::abs(by) * kPpm, longer(by));
        }
        case Cause::names_swapped:
            return fmt::format("the names of {} are swapped", listed(e.subjects));
        case Cause::wrong_name:
            return fmt::format("a sight booked to {} was to {}", subject(e),
                               e.subjects.size() > 1 ? e.subjects[1] : std::string("another mark"));
        case Cause::tripod_disturbed:
            return fmt::format("the tripod was disturbed before the sight to {} ({}, turned {})",
                               subject(e), plan_amount(e, style),
                               seconds(e.estimate.angle_rad.value_or(0.0)));
        case Cause::out_of_level:
            return fmt::format("the instrument stands out of level by {}",
                               seconds(e.estimate.angle_rad.value_or(0.0)));
        case Cause::vertical_index_wrong:
            return fmt::format("every zenith angle reads {} too {}",
                               seconds(e.estimate.angle_rad.value_or(0.0)),
                               e.estimate.angle_rad.value_or(0.0) < 0.0 ? "small" : "large");
        case Cause::gross_direction:
            return fmt::format(
                "the direction to {} is wrong by {}", subject(e),
                measure::format_dms(std::abs(e.estimate.angle_rad.value_or(0.0)), 0));
        case Cause::gross_zenith:
            return fmt::format(
                "the zenith angle to {} is wrong by {}", subject(e),
                measure::format_dms(std::abs(e.estimate.angle_rad.value_or(0.0)), 0));
        case Cause::gross_distance: {
            const double by = e.estimate.length_m.value_or(0.0);
            return fmt::format("the distance to {} is {} too {}", subject(e),
                               small(std::abs(by), style), longer(by));
        }
    }
    return "";
}

bool is_no_cause(const Entry& entry) {
    return !entry.is_pair && entry.members.front().cause == Cause::nothing_wrong;
}

bool one_cause_many_subjects(const Entry& entry) {
    return entry.members.size() > 1 && !entry.is_pair &&
           std::all_of(entry.members.begin(), entry.members.end(), [&](const Explanation& e) {
               return e.cause == entry.members.front().cause;
           });
}

}  // namespace

std::string cause_word(const Entry& entry) {
    std::string out;
    std::vector<Cause> seen;
    for (const Explanation& e : entry.members) {
        if (std::find(seen.begin(), seen.end(), e.cause) != seen.end()) continue;
        seen.push_back(e.cause);
        if (!out.empty()) out += "|";
        out += cause::to_word(e.cause);
        if (entry.is_pair) break;
    }
    return out;
}

std::vector<std::string> subjects_of(const Entry& entry) {
    std::vector<std::string> out;
    for (const Explanation& e : entry.members)
        for (const std::string& name : e.subjects)
            if (std::find(out.begin(), out.end(), name) == out.end() &&
                (!entry.is_pair || &e == &entry.members.front()))
                out.push_back(name);
    return out;
}

std::string cause_clause(const Entry& entry, const station::Prepared& setup,
                         const LengthStyle& style) {
    if (one_cause_many_subjects(entry)) {
        std::string out = "one of these, and the sights cannot tell which: ";
        for (std::size_t i = 0; i < entry.members.size(); ++i)
            out += (i == 0 ? "" : "; or ") + clause(entry.members[i], setup, style, false);
        return out;
    }
    // What happened at the same mark is said in one breath, what has no mark last.
    std::vector<const Explanation*> order;
    for (const Explanation& e : entry.members)
        if (!e.subjects.empty()) order.push_back(&e);
    for (const Explanation& e : entry.members)
        if (e.subjects.empty()) order.push_back(&e);
    std::string out;
    for (std::size_t i = 0; i < order.size(); ++i) {
        const bool same = i > 0 && order[i]->subjects == order[0]->subjects;
        if (i > 0) out += entry.is_pair ? ", and " : ", or ";
        out += clause(*order[i], setup, style, same);
    }
    return out;
}

std::string remedy(const Entry& entry, const station::Prepared& setup, const LengthStyle& style) {
    if (is_no_cause(entry)) return "";
    const Explanation& e = entry.members.front();
    if (entry.is_pair || entry.members.size() > 1) return "";
    switch (e.cause) {
        case Cause::mark_moved:
        case Cause::mark_height_changed:
            return fmt::format(
                "set {} aside, with the reason, and have the surveyor check the mark", subject(e));
        case Cause::rod_not_plumb:
        case Cause::gross_direction:
        case Cause::gross_zenith:
        case Cause::gross_distance:
            return fmt::format("sight {} again", subject(e));
        case Cause::rod_height_wrong:
            return fmt::format(
                "read the rod height used at {}: if it was {}, book it so", subject(e),
                measure::format_length(booked_rod(e, setup) + e.estimate.length_m.value_or(0.0),
                                       style));
        case Cause::rod_height_wrong_on_all:
            return "measure the rod and book its true height";
        case Cause::prism_constant_wrong:
            return "check which prism is on the rod and the constant set for it, then sight again";
        case Cause::distance_scale_wrong:
            return "check temperature and pressure set, the kind of foot, and whether the sheet is "
                   "grid or ground";
        case Cause::names_swapped:
            return fmt::format("exchange the names of {} in the sights and solve again",
                               listed(e.subjects));
        case Cause::wrong_name:
            return fmt::format(
                "book the sight to {} and solve again",
                e.subjects.size() > 1 ? e.subjects[1] : std::string("its true mark"));
        case Cause::tripod_disturbed:
            return "make the tripod firm, level up and sight all marks again";
        case Cause::out_of_level:
            return "level the instrument and sight all marks again";
        case Cause::vertical_index_wrong:
            return "read the marks in both faces";
        case Cause::nothing_wrong:
            return "";
    }
    return "";
}

std::string sight_phrase(const cause::NextSight& next) {
    switch (next.way) {
        case cause::Way::again:
            return fmt::format("sight {} again", next.target);
        case cause::Way::other_face:
            return fmt::format("sight {} again in the other face", next.target);
        case cause::Way::rod_turned:
            return fmt::format("sight {} twice, the rod turned by half a turn between",
                               next.target);
        case cause::Way::bipod:
            return fmt::format("sight {} again with the rod on a bipod", next.target);
        case cause::Way::short_rod:
            return fmt::format("sight {} again with a short rod", next.target);
        case cause::Way::tape:
            return fmt::format("pull a tape from {} to {}", next.target, next.second);
        case cause::Way::new_mark:
            return fmt::format("sight {} as well", next.target);
    }
    return "";
}

std::vector<std::pair<std::string, double>> estimate_list(const Explanation& e,
                                                          const station::Prepared& setup) {
    std::vector<std::pair<std::string, double>> out;
    const cause::Estimate& a = e.estimate;
    if (a.east_m) out.emplace_back("east_mm", *a.east_m * kMmPerMetre);
    if (a.north_m) out.emplace_back("north_mm", *a.north_m * kMmPerMetre);
    if (a.height_m) out.emplace_back("height_mm", *a.height_m * kMmPerMetre);
    if (a.length_m) {
        const double mm = *a.length_m * kMmPerMetre;
        if (e.cause == Cause::rod_height_wrong || e.cause == Cause::rod_height_wrong_on_all) {
            out.emplace_back("rod_longer_mm", mm);
            out.emplace_back("rod_height_mm", booked_rod(e, setup) * kMmPerMetre + mm);
        } else if (e.cause == Cause::prism_constant_wrong) {
            out.emplace_back("distances_long_mm", mm);
            out.emplace_back("add_to_prism_constant_mm", -mm);
        } else {
            out.emplace_back("distance_long_mm", mm);
        }
    }
    if (a.ratio) out.emplace_back("scale_ppm", *a.ratio * kPpm);
    if (a.angle_rad) {
        const bool turn = e.cause == Cause::tripod_disturbed;
        out.emplace_back(turn ? "turn_arcsec" : "angle_arcsec",
                         *a.angle_rad / measure::kRadPerArcsec);
    }
    if (a.sd_m) out.emplace_back("sd_mm", *a.sd_m * kMmPerMetre);
    if (a.sd_angle_rad) out.emplace_back("sd_arcsec", *a.sd_angle_rad / measure::kRadPerArcsec);
    return out;
}

std::string trap_sentence(const cause::Trap& trap, const LengthStyle& style) {
    switch (trap.kind) {
        case cause::TrapKind::axes_exchanged:
            return "East and north are exchanged in the marks file or were booked so: the marks "
                   "fit "
                   "as a mirror image and not as given. Exchange the two columns.";
        case cause::TrapKind::lengths_in_feet:
            return fmt::format(
                "Distances and coordinates are in different units: measured distances are {:.4f} "
                "times those of the sheet, which is the ratio of feet and metres. Check the units "
                "of "
                "both files.",
                trap.ratio);
        case cause::TrapKind::mirror_possible:
            return "";  // said by the geometry's own remark
        case cause::TrapKind::foot_kinds_mixed:
            return fmt::format(
                "One file is in ft and one in us-ft: at these coordinates the two feet lie {} "
                "apart, "
                "which no sight here can show. Ask which foot the sheet is in.",
                small(trap.amount_m, style));
        case cause::TrapKind::foot_kind_unproven:
            return fmt::format(
                "At these coordinates the two kinds of foot lie {} apart, which no sight here can "
                "show: make sure that every file is in the foot it says.",
                small(trap.amount_m, style));
    }
    return "";
}

}  // namespace layproof::acts::internal

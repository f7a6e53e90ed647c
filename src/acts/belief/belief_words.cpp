#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <span>
#include <string_view>
#include <utility>

#include "acts/belief/belief_words.hpp"
#include "acts/shared/words.hpp"
#include "base/index.hpp"
#include "base/text/time.hpp"
#include "measure/angle.hpp"

namespace layproof::acts::internal {
namespace {

using cause::Cause;

std::string turned_words(double angle_rad) {
    return fmt::format("{:.0f}\"", std::abs(angle_rad) / measure::kRadPerArcsec);
}

/// The round amount by which a rod is misread when the error is one: a wrong decimetre or foot, or
/// a tenth of one. Nothing when the error is near none.
const char* misread_amount(double amount_m, double sd_m, measure::LengthUnit unit) {
    struct Round {
        double amount_m;
        const char* words;
    };
    static constexpr Round kMetric[] = {
        {0.01, "10 mm"}, {0.1, "100 mm"}, {0.5, "0.5 m"}, {1.0, "1 m"}};
    static constexpr Round kFeet[] = {{0.003048, "0.01 ft"}, {0.03048, "0.1 ft"}, {0.3048, "1 ft"}};
    const bool metric =
        unit == measure::LengthUnit::metre || unit == measure::LengthUnit::millimetre;
    const std::span<const Round> rounds =
        metric ? std::span<const Round>(kMetric) : std::span<const Round>(kFeet);
    for (const Round& round : rounds) {
        const double off = std::abs(amount_m - round.amount_m);
        if (off < 3.0 * sd_m && off < 0.2 * round.amount_m) return round.words;
    }
    return nullptr;
}

}  // namespace

std::string BeliefWords::point(int number) const {
    return number < 0 ? std::string("a point") : network.points[at(number)].name;
}

std::string BeliefWords::setup(int number) const {
    return number < 0 ? std::string("a set-up") : network.setups[at(number)].name;
}

std::string BeliefWords::when(int sight) const {
    if (sight < 0) return "";
    const network::NetworkSight& s = network.sights[at(sight)];
    if (!s.time_s || !is_one_day) return dated_when(sight);
    return clock_text(*s.time_s, clock_offset_s(booked(s).time_text));
}

std::string BeliefWords::dated_when(int sight) const {
    if (sight < 0) return "";
    const network::NetworkSight& s = network.sights[at(sight)];
    if (!s.time_s) return "the sight from " + setup(s.setup);
    const double offset = clock_offset_s(booked(s).time_text);
    return calendar_day(*s.time_s, offset) + " " + clock_text(*s.time_s, offset);
}

std::string BeliefWords::full_when(int sight) const {
    if (sight < 0) return "";
    const network::NetworkSight& s = network.sights[at(sight)];
    if (!s.time_s) return "";
    return full_time(*s.time_s, clock_offset_s(booked(s).time_text));
}

bool BeliefWords::all_of_one_day() const {
    // The first and the last of each offset from UTC tell for all between.
    std::map<std::string_view,
             std::pair<const network::NetworkSight*, const network::NetworkSight*>>
        ends;
    for (const network::NetworkSight& s : network.sights) {
        if (!s.time_s) continue;
        constexpr std::size_t kOffset = 6;  // "+02:00"
        std::string_view text = booked(s).time_text;
        text.remove_prefix(text.size() - std::min(text.size(), kOffset));
        auto& [first, last] = ends.try_emplace(text, &s, &s).first->second;
        if (*s.time_s < *first->time_s) first = &s;
        if (*s.time_s > *last->time_s) last = &s;
    }
    std::set<std::string> days;
    for (const auto& [offset, of_offset] : ends)
        for (const network::NetworkSight* s : {of_offset.first, of_offset.second})
            days.insert(calendar_day(*s->time_s, clock_offset_s(booked(*s).time_text)));
    return days.size() < 2;
}

const measure::Sight& BeliefWords::booked(const network::NetworkSight& sight) const {
    return input.setups[at(sight.setup)].sights[at(sight.booked.front())];
}

std::string BeliefWords::gap(const network::NetworkSuspect& suspect) const {
    if (suspect.after_sight < 0) return "before it was first sighted";
    const network::NetworkSight& after = network.sights[at(suspect.after_sight)];
    const network::NetworkSight& before = network.sights[at(suspect.before_sight)];
    if (after.setup == before.setup && !(after.time_s && before.time_s))
        return fmt::format("between two sights from {}", setup(after.setup));
    return fmt::format("between {} and {}", when(suspect.after_sight), when(suspect.before_sight));
}

std::string BeliefWords::setups(const network::NetworkSuspect& suspect) const {
    if (suspect.setups.empty()) return setup(suspect.setup);
    if (suspect.setups.size() == network.setups.size()) return "every set-up";
    if (suspect.setups.size() == 2)
        return setup(suspect.setups.front()) + " and " + setup(suspect.setups.back());
    return fmt::format("the {} set-ups from {} to {}", suspect.setups.size(),
                       setup(suspect.setups.front()), setup(suspect.setups.back()));
}

std::string BeliefWords::clause(int suspect, const Eigen::VectorXd& amount) const {
    const network::NetworkSuspect& s = diagnosis.suspects[at(suspect)];
    const double first = amount.size() > 0 ? amount[0] : 0.0;
    if (s.level >= 0 || s.tape >= 0) return line_clause(s, first);
    const bool has_plan = amount.size() >= 2;
    const std::string plan =
        has_plan ? toward({amount[0], amount[1]}, style) : std::string("by some amount");
    switch (s.cause) {
        case Cause::nothing_wrong:
            return "nothing is wrong";
        case Cause::mark_moved:
            if (s.after_sight < 0)
                return fmt::format("{} is {} of its sheet position", point(s.point), plan);
            return fmt::format("{} moved {} {}", point(s.point), plan, gap(s));
        case Cause::mark_height_changed: {
            const std::string way = first < 0.0 ? "lower" : "higher";
            if (s.after_sight < 0)
                return fmt::format("{} is {} {} than its sheet height", point(s.point),
                                   small(std::abs(first), style), way);
            return fmt::format("{} came {} {} {}", point(s.point), small(std::abs(first), style),
                               way, gap(s));
        }
        case Cause::rod_not_plumb:
            return fmt::format("the rod leaned at {} in the sight from {} ({})", point(s.point),
                               setup(s.setup), plan);
        case Cause::rod_height_wrong:
            return fmt::format("the rod at {} in the sight from {} was {} {} than booked",
                               point(s.point), setup(s.setup), small(std::abs(first), style),
                               first < 0.0 ? "shorter" : "longer");
        case Cause::rod_height_wrong_on_all:
            return fmt::format("the rod was {} {} than booked on every sight from {}{}",
                               small(std::abs(first), style), first < 0.0 ? "shorter" : "longer",
                               setups(s),
                               s.before_sight < 0 ? std::string() : ", beginning " + gap(s));
        case Cause::prism_constant_wrong:
            return fmt::format("the prism constant at {} is wrong: every distance reads {} too {}",
                               setups(s), small(std::abs(first), style),
                               first < 0.0 ? "short" : "long");
        case Cause::distance_scale_wrong:
            return fmt::format("every distance from {} is {:.0f} parts per million too {}",
                               setups(s), std::abs(first) * 1e6, first < 0.0 ? "short" : "long");
        case Cause::tripod_disturbed:
            return fmt::format("the tripod of {} was disturbed {} ({}, turned {})", setup(s.setup),
                               gap(s), plan, turned_words(amount.size() > 2 ? amount[2] : 0.0));
        case Cause::gross_direction:
        case Cause::gross_zenith:
            return fmt::format("the {} from {} to {} is wrong by {}",
                               s.cause == Cause::gross_direction ? "direction" : "zenith angle",
                               setup(s.setup), point(s.point),
                               measure::format_dms(std::abs(first), 0));
        case Cause::gross_distance:
            return fmt::format("the distance from {} to {} is {} too {}", setup(s.setup),
                               point(s.point), small(std::abs(first), style),
                               first < 0.0 ? "short" : "long");
        case Cause::names_swapped:
        case Cause::wrong_name:
        case Cause::out_of_level:
            break;
        case Cause::vertical_index_wrong:
            return fmt::format("every zenith angle from {} reads {} too {}", setups(s),
                               turned_words(first), first < 0.0 ? "small" : "large");
    }
    return std::string(cause::to_word(s.cause));
}

std::string BeliefWords::line_clause(const network::NetworkSuspect& suspect,
                                     double amount_m) const {
    const bool is_level = suspect.level >= 0;
    const network::NetworkLine& line =
        is_level ? network.levels[at(suspect.level)] : network.tapes[at(suspect.tape)];
    std::string out = fmt::format(
        "the {} from {} to {}{} is {} too {}", is_level ? "level" : "tape", point(line.from),
        point(line.to), is_level ? " (" + level_by[at(line.input)] + ")" : "",
        small(std::abs(amount_m), style),
        amount_m < 0.0 ? (is_level ? "low" : "short") : (is_level ? "high" : "long"));
    const double sd =
        is_level ? input.levels[at(line.input)].sd_m : input.tapes[at(line.input)].sd_m;
    if (const char* near = misread_amount(std::abs(amount_m), sd, style.unit); near != nullptr)
        out += fmt::format(", near {}: a {} misread by that", near, is_level ? "rod" : "tape");
    return out;
}

std::string BeliefWords::sentence(const network::NetworkExplanation& explanation) const {
    if (explanation.members.empty()) return "Nothing is wrong.";
    std::vector<std::string> clauses;
    for (const int member : explanation.members) {
        const auto amount = diagnosis.amount_in(explanation, member);
        clauses.push_back(clause(member, amount ? amount->mean : Eigen::VectorXd()));
    }
    std::string out;
    for (std::size_t i = 0; i < clauses.size(); ++i)
        out += (i == 0 ? "" : i + 1 == clauses.size() ? ", and " : ", ") + clauses[i];
    return capital(out) + ".";
}

std::vector<std::string> BeliefWords::subjects(
    const network::NetworkExplanation& explanation) const {
    std::vector<std::string> out;
    const auto take = [&](const std::string& name) {
        if (std::find(out.begin(), out.end(), name) == out.end()) out.push_back(name);
    };
    for (const int member : explanation.members) {
        const network::NetworkSuspect& s = diagnosis.suspects[at(member)];
        for (const network::NetworkLine* line :
             {s.level >= 0 ? &network.levels[at(s.level)] : nullptr,
              s.tape >= 0 ? &network.tapes[at(s.tape)] : nullptr}) {
            if (line == nullptr) continue;
            take(point(line->from));
            take(point(line->to));
        }
        if (s.point >= 0) take(point(s.point));
        if (s.setup >= 0) take(setup(s.setup));
        for (const int one : s.setups) take(setup(one));
    }
    return out;
}

std::string BeliefWords::remedy(const network::NetworkExplanation& explanation) const {
    if (explanation.members.empty()) return "Nothing to do.";
    const network::NetworkSuspect& s = diagnosis.suspects[at(explanation.members.front())];
    if (s.level >= 0) {
        const network::NetworkLine& line = network.levels[at(s.level)];
        return fmt::format("Look up the readings of {}, or level from {} to {} again.",
                           level_by[at(line.input)], point(line.from), point(line.to));
    }
    if (s.tape >= 0) {
        const network::NetworkLine& line = network.tapes[at(s.tape)];
        return fmt::format("Tape from {} to {} again.", point(line.from), point(line.to));
    }
    switch (s.cause) {
        case Cause::mark_moved:
        case Cause::mark_height_changed:
            return fmt::format(
                "Sight {} again from another set-up, and have it set anew or decided "
                "to have moved.",
                point(s.point));
        case Cause::rod_not_plumb:
        case Cause::gross_direction:
        case Cause::gross_distance:
        case Cause::gross_zenith:
            return fmt::format("Set the sight from {} to {} aside, or sight {} again.",
                               setup(s.setup), point(s.point), point(s.point));
        case Cause::rod_height_wrong:
        case Cause::rod_height_wrong_on_all:
            return fmt::format("Look up the rod height booked at {}.", setups(s));
        case Cause::prism_constant_wrong:
            return fmt::format("Look up the prism and its constant used at {}.", setups(s));
        case Cause::distance_scale_wrong:
            return fmt::format("Look up the air, the scale and the kind of foot used at {}.",
                               setups(s));
        case Cause::vertical_index_wrong:
            return fmt::format("Measure the vertical index of the instrument used at {}.",
                               setup(s.setup));
        case Cause::tripod_disturbed:
            return fmt::format("Sight again what was laid from {} after that.", setup(s.setup));
        default:
            return "Look at the sights named.";
    }
}

}  // namespace layproof::acts::internal

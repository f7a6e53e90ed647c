#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "acts/shared/words.hpp"
#include "acts/watch/watch_words_internal.hpp"
#include "base/text/time.hpp"
#include "measure/angle.hpp"

namespace layproof::acts::internal {
namespace {

using station::Word;

/// Likelier than not: worth a clause in the verdict.
constexpr double kLikely = 0.5;
constexpr double kWatchWorthSaying = 0.02;
constexpr double kSmallAmount_m = 0.00005;
constexpr double kSmallTurn_rad = 0.5 * measure::kRadPerArcsec;

std::string at_event(int event, const WatchStation& s) {
    const auto& events = s.report.events;
    if (event < 0 || event >= static_cast<int>(events.size())) return "an unknown time";
    return clock_text(events[static_cast<std::size_t>(event)].time_s, s.offset_s);
}

bool is_end(int event, const WatchStation& s) {
    const auto& events = s.report.events;
    return event < 0 || event >= static_cast<int>(events.size()) ||
           events[static_cast<std::size_t>(event)].kind == watch::EventKind::end_of_day;
}

std::string between(int from, int to, const WatchStation& s) {
    if (is_end(to, s)) return fmt::format("after {}", at_event(from, s));
    return fmt::format("between {} and {}", at_event(from, s), at_event(to, s));
}

std::string with_comma(const std::string& amount) {
    return amount.empty() ? amount : ", " + amount;
}

/// Which move is the likeliest of those that a later sight showed.
const watch::MoveTime* likeliest_move(const WatchStation& s) {
    for (const watch::MoveTime& move : s.report.moves)
        if (!is_end(move.to_event, s)) return &move;
    return nullptr;
}

std::string points_clause(const WatchStation& s) {
    const watch::DayReport& r = s.report;
    const int laid = static_cast<int>(r.points.size());
    if (laid == 0) return "No point was laid.";
    const int by_move = static_cast<int>(
        std::count_if(r.points.begin(), r.points.end(),
                      [](const watch::PointReport& p) { return p.in_doubt_by_move; }));
    std::string out = fmt::format("{} of {} laid {} proven", r.proven, count(laid, "point"),
                                  r.proven == 1 ? "is" : "are");
    if (r.failing > 0) out += fmt::format(", {} {}", r.failing, r.failing == 1 ? "fails" : "fail");
    if (by_move > 0)
        out += fmt::format("; because of a move {} {} not proven", by_move,
                           by_move == 1 ? "is" : "are");
    return out + ".";
}

}  // namespace

std::string amount_words(const watch::PoseVector& amount, bool turns,
                         const measure::LengthStyle& style) {
    std::string out;
    const auto add = [&](const std::string& part) { out += (out.empty() ? "" : ", ") + part; };
    if (amount.head<2>().norm() > kSmallAmount_m) add("by " + toward(amount.head<2>(), style));
    if (std::abs(amount[3]) > kSmallAmount_m)
        add(fmt::format("{} {}", small(std::abs(amount[3]), style),
                        amount[3] < 0.0 ? "down" : "up"));
    if (turns && std::abs(amount[2]) > kSmallTurn_rad)
        add(fmt::format("turned {:.0f}\"", std::abs(amount[2]) / measure::kRadPerArcsec));
    return out;
}

std::string move_when(const watch::MoveTime& move, const WatchStation& station) {
    return between(move.from_event, move.to_event, station);
}

std::string resight_words(const watch::NextResight& next) {
    return (next.is_mark ? "mark " : "point ") + next.name;
}

Verdict verdict_of(const WatchStation& s, const WatchAnswer& answer) {
    const watch::DayReport& r = s.report;
    Verdict out;
    out.probability = s.holds;
    for (const watch::PointReport& point : r.points)
        out.probability = std::min(out.probability, point.probability);
    const bool all_proven = r.proven == static_cast<int>(r.points.size());
    const bool ambiguous = !s.station.others.empty();
    if (s.holds >= answer.confidence && all_proven && !ambiguous) {
        out.word = Word::proven;
    } else if (1.0 - s.holds >= answer.confidence || r.failing > 0) {
        out.word = Word::fails;
    } else {
        out.word = Word::in_doubt;
    }

    const watch::MoveTime* move = likeliest_move(s);
    const double moved = 1.0 - s.holds;
    const DayCause* other = nullptr;
    for (const DayCause& cause : s.causes)
        if (!cause.changes.empty()) {
            other = &cause;
            break;
        }
    const bool nothing_leads = s.causes.empty() || other == nullptr || other != &s.causes.front();
    if (ambiguous) {
        out.because = s.station.verdict.because;
        out.next = s.station.verdict.next;
        return out;
    }
    if (move != nullptr && moved >= kLikely) {
        out.because = fmt::format(
            "The tripod moved {} ({}){}. {}", move_when(*move, s), percent(move->probability),
            with_comma(amount_words(move->shift, true, answer.style)), points_clause(s));
    } else if (!nothing_leads) {
        out.because = fmt::format("{} ({}). {}", other->says.substr(0, other->says.size() - 1),
                                  percent(other->probability), points_clause(s));
    } else {
        out.because =
            s.has_checks ? fmt::format("Nothing says that the station moved ({} that it holds). {}",
                                       percent(s.holds), points_clause(s))
                         : fmt::format("No check was taken after the set-up. {}", points_clause(s));
        if (other != nullptr && other->probability >= kWatchWorthSaying && out.word != Word::proven)
            out.because +=
                fmt::format(" Otherwise: {} ({}).", other->says.substr(0, other->says.size() - 1),
                            percent(other->probability));
    }
    const std::string due = clock_text(s.next_check.due_s, s.offset_s);
    if (!s.resights.empty()) {
        out.next = fmt::format("Sight {} again first{}.", resight_words(s.resights.front()),
                               moved >= kLikely ? "; lay nothing more before the marks are sighted "
                                                  "anew"
                                                : "");
    } else if (moved >= kLikely) {
        out.next = "Sight the marks anew as a new set-up before laying on.";
    } else if (!s.has_checks) {
        out.next = fmt::format("Sight a mark as a check, by {}.", due);
    } else if (!all_proven) {
        const auto weakest = std::min_element(
            r.points.begin(), r.points.end(),
            [](const auto& a, const auto& b) { return a.probability < b.probability; });
        out.next = fmt::format(
            "{} is the least sure point ({}): sight it again.",
            s.day.points[static_cast<std::size_t>(weakest - r.points.begin())].target.name,
            percent(weakest->probability));
    } else {
        out.next = fmt::format("Lay on; the next check is due by {}.", due);
    }
    return out;
}

}  // namespace layproof::acts::internal

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "acts/shared/text_table.hpp"
#include "acts/shared/words.hpp"
#include "acts/watch/watch.hpp"
#include "acts/watch/watch_words_internal.hpp"
#include "base/text/time.hpp"
#include "measure/angle.hpp"

namespace layproof::acts {
namespace {

using internal::percent;
using internal::shouted;
using internal::small;
using internal::TextTable;
using internal::wrapped;
using station::Word;

constexpr std::size_t kMostWatchRows = 8;
constexpr std::size_t kMostResights = 4;
constexpr std::size_t kMostWatchCauses = 4;
constexpr double kSmallWatchCause = 0.02;
constexpr double kQuietWatch = 0.9;

std::string verdict_text(const WatchStation& s) {
    const watch::DayReport& r = s.report;
    std::string out =
        fmt::format("Station {}: {}   ({} proven, {} in doubt, {} fail)\n", s.station.station,
                    shouted(s.verdict.word), r.proven, r.in_doubt, r.failing);
    out += wrapped(s.verdict.because, 2);
    out += wrapped("Next: " + s.verdict.next, 2);
    return out;
}

/// Layings between two other events are one row.
std::string day_text(const WatchStation& s, const WatchAnswer& answer) {
    TextTable table({"Time", "what", "on", "station off by", "turned", "moved before", ""});
    const auto& events = s.report.events;
    for (std::size_t i = 0; i < events.size(); ++i) {
        const watch::EventReport& e = events[i];
        std::string what(watch::to_word(e.kind));
        std::string on = e.name;
        std::string note;
        if (e.kind == watch::EventKind::laying && !answer.explain) {
            std::size_t last = i;
            while (last + 1 < events.size() && events[last + 1].kind == watch::EventKind::laying)
                ++last;
            int proven = 0;
            for (std::size_t k = i; k <= last; ++k)
                proven +=
                    s.report.points[static_cast<std::size_t>(events[k].index)].word == Word::proven
                        ? 1
                        : 0;
            const int laid = static_cast<int>(last - i) + 1;
            on = laid == 1 ? e.name : e.name + " … " + events[last].name;
            note = fmt::format("{}, {} proven", internal::count(laid, "point"), proven);
            i = last;
        } else if (e.kind == watch::EventKind::laying) {
            note = station::to_word(s.report.points[static_cast<std::size_t>(e.index)].word);
        } else if (e.kind == watch::EventKind::check || e.kind == watch::EventKind::resight) {
            note = e.is_good ? "fits" : "does not fit";
        }
        const watch::EventReport& at = events[i];
        std::string moved = percent(at.probability_moved);
        if (e.kind == watch::EventKind::setup_finished) moved = "-";
        table.add({clock_text(e.time_s, s.offset_s), what, on,
                   internal::toward(at.pose.head<2>(), answer.style),
                   fmt::format("{:.0f}\"", std::abs(at.pose[2]) / measure::kRadPerArcsec), moved,
                   note});
    }
    return fmt::format("\nThe day of {}, {}, {}\n", s.station.station,
                       calendar_day(s.day.setup_time_s, s.offset_s), offset_words(s.offset_s)) +
           table.to_text(true);
}

std::string causes_text(const WatchStation& s, bool all) {
    if (s.causes.empty()) return "";
    const DayCause& first = s.causes.front();
    if (!all && first.changes.empty() && first.probability > kQuietWatch) return "";
    std::string out = "\n  What happened\n";
    std::size_t shown = 0;
    for (const DayCause& cause : s.causes) {
        if (!all && (shown >= kMostWatchCauses || cause.probability < kSmallWatchCause)) break;
        out += wrapped(fmt::format("{}  {}", percent(cause.probability), cause.says), 4);
        ++shown;
    }
    if (all && s.report.moves.size() > 1) {
        out += "\n  When the tripod moved, if it did\n";
        for (const watch::MoveTime& move : s.report.moves)
            out += wrapped(
                fmt::format("{}  {}", percent(move.probability), internal::move_when(move, s)), 4);
    }
    return out;
}

std::string points_text(const WatchStation& s, const WatchAnswer& answer) {
    std::vector<std::size_t> order;
    for (std::size_t i = 0; i < s.report.points.size(); ++i)
        if (answer.explain || s.report.points[i].word != Word::proven) order.push_back(i);
    if (order.empty()) return "";
    const std::size_t total = order.size();
    if (!answer.explain && total > kMostWatchRows) order.resize(kMostWatchRows);
    TextTable table({answer.explain ? "Point" : "Not proven", "laid", "moved before",
                     "then displaced", "probability", "", ""});
    for (const std::size_t i : order) {
        const watch::PointReport& p = s.report.points[i];
        const watch::LaidPoint& laid = s.day.points[i];
        const bool is_displaced =
            p.probability_moved >= kSmallWatchCause && p.displacement_m.head<2>().norm() > 0.0;
        table.add({laid.target.name, clock_text(laid.time_s, s.offset_s),
                   percent(p.probability_moved),
                   is_displaced ? internal::toward(p.displacement_m.head<2>(), answer.style) : "-",
                   percent(p.probability), std::string(station::to_word(p.word)),
                   p.in_doubt_by_move ? "because of a move" : ""});
    }
    std::string out = "\n" + table.to_text(true);
    if (order.size() < total)
        out += fmt::format("  and {} more; --explain lists all\n", total - order.size());
    return out;
}

std::string resights_text(const WatchStation& s, bool all) {
    if (s.resights.empty()) return "";
    std::string out = fmt::format(
        "\n  What to sight again first (in all as much doubt as {:.1f} points at 50 %)\n",
        s.resights.front().left_bits);
    const std::size_t shown = all ? s.resights.size() : std::min(kMostResights, s.resights.size());
    for (std::size_t i = 0; i < shown; ++i)
        out += wrapped(fmt::format("{}. {}, clears {:.1f} of it", i + 1,
                                   internal::resight_words(s.resights[i]), s.resights[i].gain_bits),
                       4);
    return out;
}

std::string check_text(const WatchStation& s, const WatchAnswer& answer) {
    const watch::NextCheck& next = s.next_check;
    std::string out = fmt::format("\n  Next check due by {}", clock_text(next.due_s, s.offset_s));
    if (next.by_drift && next.point >= 0 && next.point < static_cast<int>(s.day.points.size())) {
        out += fmt::format(": from then on {} could not be proven ({} on {})",
                           s.day.points[static_cast<std::size_t>(next.point)].target.name,
                           percent(next.probability), watch::to_word(answer.ground));
    } else {
        out += fmt::format(" (every {:.0f} minutes)", answer.check_every_s / 60.0);
    }
    return out + ".\n";
}

}  // namespace

std::string to_text(const WatchAnswer& answer) {
    std::string out;
    for (const WatchStation& s : answer.stations) {
        if (!out.empty()) out += "\n";
        out += verdict_text(s);
    }
    std::vector<std::string> notices = answer.notices;
    for (const WatchStation& s : answer.stations) {
        out += day_text(s, answer) + causes_text(s, answer.explain) + points_text(s, answer) +
               resights_text(s, answer.explain) + check_text(s, answer);
        for (const auto* list : {&s.station.notices, &s.notices})
            for (const std::string& notice : *list)
                if (std::find(notices.begin(), notices.end(), notice) == notices.end())
                    notices.push_back(notice);
    }
    if (!notices.empty()) out += "\n";
    for (const std::string& notice : notices) out += wrapped("Note: " + notice, 0);
    out += "\n" + wrapped(internal::kCaution, 0);
    return out;
}

}  // namespace layproof::acts

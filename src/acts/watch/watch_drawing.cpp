#include <fmt/format.h>

#include <algorithm>

#include "acts/shared/plan_word.hpp"
#include "acts/shared/words.hpp"
#include "acts/watch/watch.hpp"
#include "acts/watch/watch_strip.hpp"
#include "acts/watch/watch_words_internal.hpp"
#include "drawing/day_strip.hpp"

namespace layproof::acts {
namespace {

constexpr std::size_t kMostFirst = 4;
/// A stretch less probable is not hatched.
constexpr double kSmallBand = 0.1;

}  // namespace

drawing::DayStrip internal::strip_of(const WatchStation& s, const measure::LengthStyle& style) {
    drawing::DayStrip out;
    const watch::DayReport& r = s.report;
    out.title =
        fmt::format("Day of station {}: {}", s.station.station, station::to_word(s.verdict.word));
    out.remark = s.verdict.because;
    out.job_lines = {s.verdict.next};
    out.cautions = {"Contractor's layout record, not a survey.",
                    "Contract documents, local codes and the licensed surveyor decide."};
    out.utc_offset_s = s.offset_s;
    double last_s = s.day.setup_time_s;
    for (const watch::EventReport& e : r.events) {
        last_s = std::max(last_s, e.time_s);
        const auto index = static_cast<std::size_t>(std::max(e.index, 0));
        switch (e.kind) {
            case watch::EventKind::check: {
                const watch::Check& check = s.day.checks[index];
                out.checks.push_back(
                    {e.name, e.time_s, e.is_good,
                     internal::small(check.misfit_m.head(check.rows).norm(), style) + " off"});
                break;
            }
            case watch::EventKind::laying:
                out.layings.push_back(
                    {e.name, e.time_s, internal::plan_word(r.points[index].word)});
                break;
            case watch::EventKind::resight:
                out.resights.push_back({e.name, e.time_s});
                break;
            case watch::EventKind::setup_finished:
            case watch::EventKind::end_of_day:
                break;
        }
    }
    out.setups.push_back({s.station.station, s.day.setup_time_s, last_s});
    for (const watch::MoveTime& move : r.moves) {
        if (move.probability < kSmallBand) continue;
        const auto time_of = [&](int event) {
            return event >= 0 && event < static_cast<int>(r.events.size())
                       ? r.events[static_cast<std::size_t>(event)].time_s
                       : last_s;
        };
        out.bands.push_back({time_of(move.from_event), time_of(move.to_event),
                             "moved in here: " + internal::percent(move.probability)});
    }
    for (std::size_t i = 0; i < std::min(kMostFirst, s.resights.size()); ++i)
        out.sight_first.push_back(internal::resight_words(s.resights[i]));
    out.next_check_s = s.next_check.due_s;
    return out;
}

std::vector<std::string> to_svg(const WatchAnswer& answer) {
    std::vector<std::string> out;
    for (const WatchStation& s : answer.stations)
        out.push_back(drawing::draw_day_strip_svg(internal::strip_of(s, answer.style)));
    return out;
}

}  // namespace layproof::acts

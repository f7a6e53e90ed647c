#include "acts/watch/watch.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <utility>

#include "acts/belief/job_belief.hpp"
#include "acts/points/places.hpp"
#include "acts/setup/setup_inputs.hpp"
#include "acts/setup/setup_work.hpp"
#include "acts/setup/site_grid.hpp"
#include "acts/shared/words.hpp"
#include "acts/watch/watch_believed_internal.hpp"
#include "acts/watch/watch_day.hpp"
#include "acts/watch/watch_words_internal.hpp"
#include "watch/next_check.hpp"

namespace layproof::acts {
namespace {}  // namespace

Result<WatchStation> internal::watch_station(const WatchRequest& request,
                                             const cause::CauseTable& causes, const OneSetup& one,
                                             StationWork& work, const DayPoints& points,
                                             const JobBelief& belief, const WatchAnswer& about) {
    auto timed = day_of(one, work, points);
    if (!timed) return timed.refusal();

    watch::WatchOptions options;
    options.sizes = causes;
    options.drift = watch::drift_rate(request.ground);
    options.confidence = about.confidence;
    options.check_every_s = request.check_every_s;
    auto report = watch::watch(timed->day, options);
    if (!report) {
        Refusal refusal = report.refusal();
        if (refusal.place.file.empty()) refusal.place.file = request.station.sights.name;
        return refusal;
    }

    WatchStation out;
    out.station = std::move(work.report);
    out.day = std::move(timed->day);
    out.offset_s = timed->offset_s;
    out.notices = std::move(timed->notices);
    out.report = std::move(*report);
    out.has_checks = !out.day.checks.empty() || !out.day.resights.empty();
    out.resights = watch::rank_resights(out.day, options, out.report);
    out.next_check = watch::next_check(out.day, options, out.report);
    // Nothing more is asked of it, and it is large: many set-ups would hold one each.
    out.report.state.reset();
    believe_day(belief, points, about, out);
    heed_own_setup(belief, about.style, about.confidence, out.station);
    out.verdict = verdict_of(out, about);
    heed_gross(belief, out.verdict);
    return out;
}

Result<WatchAnswer> run_watch(const WatchRequest& request) {
    if (!(request.check_every_s >= 60.0 && request.check_every_s <= 86400.0))
        return Refusal{ErrorCode::out_of_range,
                       {"check every", 0, 0},
                       fmt::format("{} min", request.check_every_s / 60.0),
                       "1 to 1440 minutes"};
    auto inputs = internal::read_inputs(request.station);
    if (!inputs) return inputs.refusal();
    WatchAnswer answer;
    answer.unit = inputs->unit;
    answer.style.unit = inputs->unit;
    if (request.station.show) answer.style = *request.station.show;
    answer.confidence = request.station.confidence;
    answer.explain = request.station.explain;
    answer.ground = request.ground;
    answer.check_every_s = request.check_every_s;
    answer.notices = std::move(inputs->notices);
    const std::vector<LayPoint> points =
        internal::lay_points(inputs->points, internal::shipped_tolerances(), answer.notices);
    const internal::PointIndex index = internal::index_of(points);
    lay::BuildingGrid grid;
    if (auto refusal = internal::read_site_grid({}, request.station, grid, answer.notices))
        return *refusal;
    const auto belief = internal::believe(
        {request.station, *inputs, points, index, grid, answer.style, request.ground});
    if (!belief) return belief.refusal();
    answer.causes = belief->causes;
    for (const internal::OneSetup& one : inputs->setups) {
        auto work = internal::work_of(request.station, *inputs, one, answer.style,
                                      belief->states_of(one.input.setup.station));
        if (!work) return work.refusal();
        auto station = internal::watch_station(request, inputs->causes, one, *work, {points, index},
                                               *belief, answer);
        if (!station) return station.refusal();
        answer.stations.push_back(std::move(*station));
    }
    if (points.empty())
        answer.notices.emplace_back("No points file: lay sights are not looked at.");
    return answer;
}

bool is_proven(const WatchAnswer& answer) {
    return !answer.stations.empty() &&
           std::all_of(answer.stations.begin(), answer.stations.end(),
                       [](const auto& s) { return s.verdict.word == station::Word::proven; });
}

}  // namespace layproof::acts

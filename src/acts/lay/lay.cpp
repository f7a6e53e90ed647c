#include "acts/lay/lay.hpp"
#include "acts/setup/site_grid.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "acts/belief/job_belief.hpp"
#include "acts/lay/lay_days.hpp"
#include "acts/lay/lay_rules_internal.hpp"
#include "acts/points/places.hpp"
#include "acts/setup/setup_inputs.hpp"
#include "acts/setup/setup_work.hpp"
#include "acts/shared/words.hpp"
#include "acts/watch/watch_day.hpp"
#include "base/index.hpp"
#include "lay/common_marks.hpp"
#include "threads/threads.hpp"

namespace layproof::acts {
namespace {

using internal::OneSetup;
using internal::StationWork;
using station::Word;

struct Sighted {
    std::vector<std::vector<lay::LaidPlace>> laid;  ///< by point
    std::vector<std::optional<double>> ground_m;    ///< by point
};

Result<Sighted> places_of(const std::vector<OneSetup>& setups, const lay::SetupSet& set,
                          const internal::PointIndex& index, LayAnswer& answer) {
    Sighted out;
    out.laid.resize(answer.points.size());
    out.ground_m.resize(answer.points.size());
    for (std::size_t k = 0; k < setups.size(); ++k) {
        for (const measure::Sight& sight : setups[k].input.sights) {
            const bool is_lay = sight.purpose == measure::Purpose::lay;
            if (!is_lay && sight.purpose != measure::Purpose::other) continue;
            if (answer.points.empty()) continue;
            const auto at = index.find(sight.target);
            if (at == index.end()) {
                if (is_lay) return internal::no_such_point(sight);
                continue;
            }
            const auto place =
                internal::place_of(sight, setups[k], set.setups[k], static_cast<int>(k));
            if (!place) {
                answer.notices.push_back(fmt::format(
                    "The sight from {} to {} gives no place, it lacks a direction, a zenith angle "
                    "or a distance; it is left out.",
                    sight.station, sight.target));
                continue;
            }
            if (is_lay) {
                out.laid[at->second].push_back(*place);
                ++answer.stations[k].laid;
            } else if (place->has_height) {
                out.ground_m[at->second] = place->place_m.z();
            }
        }
    }
    return out;
}

/// Between the stations that laid something: only their points are put together.
void add_links(const std::vector<StationWork>& works, const LayAnswer& answer, lay::SetupSet& set) {
    std::vector<std::size_t> laying;
    std::vector<station::MisfitModel> models;
    for (std::size_t k = 0; k < works.size(); ++k) {
        if (answer.stations[k].laid == 0) continue;
        laying.push_back(k);
        models.push_back(station::misfit_model(works[k].prepared, set.setups[k].pose));
    }
    for (std::size_t i = 0; i < laying.size(); ++i)
        for (std::size_t j = i + 1; j < laying.size(); ++j)
            if (auto link = lay::link_through_marks(
                    {works[laying[i]].prepared, models[i]}, static_cast<int>(laying[i]),
                    {works[laying[j]].prepared, models[j]}, static_cast<int>(laying[j])))
                set.links.push_back(std::move(*link));
}

/// Word, place and probability are those of the belief; the sights put together stay for what is
/// asked between points.
void report_laid(Sighted& sighted, const lay::SetupSet& set, const internal::JobBelief& belief,
                 LayAnswer& answer) {
    for (std::size_t p = 0; p < answer.points.size(); ++p) {
        const internal::BelievedPoint* believed = belief.of_point(p);
        if (believed == nullptr || sighted.laid[p].empty()) continue;
        LaidReport report{p, believed->report};
        if (auto place = lay::put_together(sighted.laid[p], set.setups)) {
            place->place_m = report.figures.laid.place_m;
            report.figures.laid = std::move(*place);
        }
        if (report.figures.laid.sights_disagree)
            answer.notices.push_back(fmt::format(
                "The {} sights to {} disagree: if the point was moved between them, leave the "
                "earlier ones out.",
                report.figures.laid.sights, report.figures.point));
        if (report.figures.laid.has_height && !sighted.ground_m[p])
            sighted.ground_m[p] = report.figures.laid.place_m.z();
        switch (report.figures.verdict.word) {
            case Word::proven:
                ++answer.proven;
                break;
            case Word::in_doubt:
                ++answer.in_doubt;
                break;
            case Word::fails:
                ++answer.fails;
                break;
        }
        answer.laid.push_back(std::move(report));
    }
}

/// Whether the stations stood still, as the belief has it.
void say_checked(const internal::JobBelief& belief, LayAnswer& answer) {
    bool all_checked = true;
    for (LayStation& one : answer.stations) {
        if (one.laid == 0) continue;
        const int setup = belief.setup_named(one.station.station);
        const bool is_checked = setup >= 0 && belief.setups[at(setup)].is_checked;
        all_checked = all_checked && is_checked;
        if (is_checked) one.holds = belief.setups[at(setup)].holds;
    }
    for (LayStation& one : answer.stations)
        internal::heed_own_setup(belief, answer.style, answer.confidence, one.station);
    if (!all_checked && !answer.laid.empty())
        answer.notices.emplace_back(
            "Not every station was checked after its points were laid: sight a mark with purpose "
            "check before packing up.");
}

/// The days of the stations, for those who show them too.
void add_days(const LayRequest& request, const internal::StationInputs& inputs,
              std::vector<StationWork>& works, const internal::PointIndex& index,
              const internal::JobBelief& belief, LayAnswer& answer, internal::LayDays& days) {
    days.resize(answer.stations.size());
    WatchRequest asked;
    asked.station.sights.name = request.station.sights.name;
    asked.ground = request.ground;
    WatchAnswer about;
    about.style = answer.style;
    about.confidence = answer.confidence;
    about.ground = asked.ground;
    about.check_every_s = asked.check_every_s;
    // Days do not know of each other; what they say is put together in the order of the stations.
    std::vector<std::optional<Result<WatchStation>>> watched_at(answer.stations.size());
    threads::share(answer.stations.size(), [&](std::size_t, std::size_t k) {
        LayStation& one = answer.stations[k];
        // The report is lent to the day and comes back with it.
        works[k].report = std::move(one.station);
        watched_at[k] = internal::watch_station(asked, inputs.causes, inputs.setups[k], works[k],
                                                {answer.points, index}, belief, about);
        one.station = std::move(*watched_at[k] ? (*watched_at[k])->station : works[k].report);
    });
    for (std::size_t k = 0; k < answer.stations.size(); ++k) {
        LayStation& one = answer.stations[k];
        Result<WatchStation>& watched = *watched_at[k];
        if (!watched) {
            answer.notices.push_back(fmt::format("The day of station {} was not looked at: {}",
                                                 one.station.station, watched.refusal().to_text()));
            continue;
        }
        watched->station.station = one.station.station;
        days[k] = std::move(*watched);
    }
}

std::optional<Verdict> verdict_of(const LayAnswer& answer, const internal::JobBelief& belief) {
    if (answer.laid.empty()) return std::nullopt;
    const auto weakest =
        std::min_element(answer.laid.begin(), answer.laid.end(), [](const auto& a, const auto& b) {
            return a.figures.verdict.probability < b.figures.verdict.probability;
        });
    const lay::PointReport& point = weakest->figures;
    std::vector<lay::RuleVerdict> rules;
    for (const RuleReport& rule : answer.rules) rules.push_back(rule.figures);
    const lay::RulesSummary between = lay::summary_of(rules);
    const bool rules_hold = rules.empty() || between.word == Word::proven;

    Verdict out;
    const int laid = static_cast<int>(answer.laid.size());
    out.word = answer.fails > 0 || between.fails > 0 ? Word::fails
               : answer.proven == laid && rules_hold ? Word::proven
                                                     : Word::in_doubt;
    out.probability = point.verdict.probability;
    out.because = fmt::format("{} of {} laid {} proven; the weakest, {}: {}", answer.proven,
                              internal::count(laid, "point"), answer.proven == 1 ? "is" : "are",
                              point.point, point.because);
    out.next = point.verdict.word == Word::proven
                   ? std::string("Nothing to do for the points laid.")
                   : fmt::format("{}: {}", point.point, point.next);
    if (!rules.empty()) {
        const auto& rule = answer.rules[static_cast<std::size_t>(between.weakest)];
        out.because += fmt::format(" {} of {} between points {} proven.", between.proven,
                                   internal::count(static_cast<int>(rules.size()), "figure"),
                                   between.proven == 1 ? "is" : "are");
        out.probability = std::min(out.probability, rule.figures.verdict.probability);
        if (!rules_hold) {
            out.because += fmt::format(" The weakest ({}): {}", rule.what, rule.because);
            if (point.verdict.word == Word::proven)
                out.next = fmt::format("Tape {} to {}, and move the one that is off.",
                                       rule.figures.from, rule.figures.to);
        }
    }
    std::vector<int> setups;
    for (const LayStation& one : answer.stations)
        if (one.laid > 0) setups.push_back(belief.setup_named(one.station.station));
    if (!internal::heed_gross(belief, out))
        internal::heed_setups(belief, setups, answer.style, answer.confidence, out);
    return out;
}

/// Distances to tape: between the points set out, or from the chosen ones to what stands near.
std::vector<lay::TapeDistance> tape_of(const LayRequest& request,
                                       const internal::StationInputs& inputs) {
    lay::TapeOptions options;
    options.scale_factor = request.station.scale_factor;
    const auto chosen = [&](const OneSetup& one) { return one.wanted.has_value(); };
    if (!inputs.setups.empty() && std::all_of(inputs.setups.begin(), inputs.setups.end(), chosen)) {
        std::vector<int> from;
        for (const OneSetup& one : inputs.setups)
            for (const std::size_t point : *one.wanted) from.push_back(static_cast<int>(point));
        std::sort(from.begin(), from.end());
        from.erase(std::unique(from.begin(), from.end()), from.end());
        options.only_from = std::move(from);
    }
    return lay::tape_distances(inputs.points, options);
}

/// Nothing is set out with files that are wrong, nor from a station that fails.
void withhold(const internal::JobBelief& belief, bool anyway, LayAnswer& answer) {
    if (anyway || answer.points.empty()) return;
    for (LayStation& one : answer.stations) {
        one.is_withheld = belief.gross() != nullptr || one.station.verdict.word == Word::fails;
        if (!one.is_withheld) continue;
        answer.notices.push_back(
            fmt::format("Nothing is set out from {} while this stands: {} (--anyway gives the "
                        "figures.)",
                        one.station.station, one.station.verdict.because));
    }
}

void set_out(const LayRequest& request, const internal::StationInputs& inputs,
             const lay::SetupSet& set, const Sighted& sighted, LayAnswer& answer) {
    auto tape = threads::begin([&] { return tape_of(request, inputs); });
    for (std::size_t k = 0; k < answer.stations.size(); ++k) {
        LayStation& station = answer.stations[k];
        if (station.is_withheld) continue;
        const lay::SettingOutStation from{station.station.pose, station.rod_height_m,
                                          request.station.scale_factor,
                                          set.setups[k].instrument.refraction_k};
        const auto& wanted = inputs.setups[k].wanted;
        const std::size_t points = wanted ? wanted->size() : answer.points.size();
        station.setting_out.reserve(points);
        for (std::size_t i = 0; i < points; ++i) {
            const std::size_t p = wanted ? (*wanted)[i] : i;
            station.setting_out.push_back(
                {p, lay::setting_out(from, answer.points[p].design, answer.grid, answer.style,
                                     sighted.ground_m[p])});
        }
    }
    answer.tape = tape.get();
}

std::optional<double> last_laid_in(const std::vector<OneSetup>& setups) {
    std::optional<double> out;
    for (const OneSetup& one : setups) {
        for (const measure::Sight& sight : one.input.sights) {
            if (sight.purpose != measure::Purpose::lay || !sight.time_s) continue;
            out = std::max(out.value_or(*sight.time_s), *sight.time_s);
        }
    }
    return out;
}

}  // namespace

Result<LayAnswer> internal::lay_with_days(const LayRequest& request, LayDays* days) {
    if (request.rod_height_m && !(*request.rod_height_m >= 0.0 && *request.rod_height_m <= 20.0))
        return Refusal{ErrorCode::out_of_range,
                       {"rod", 0, 0},
                       fmt::format("{} m", *request.rod_height_m),
                       "a rod height of 0 to 20 m"};
    auto inputs = internal::read_inputs(request.station);
    if (!inputs) return inputs.refusal();
    LayAnswer answer;
    answer.unit = inputs->unit;
    answer.style.unit = inputs->unit;
    if (request.station.show) answer.style = *request.station.show;
    answer.confidence = request.station.confidence;
    answer.explain = request.station.explain;
    answer.is_chosen = !request.station.only_points.empty();
    answer.notices = std::move(inputs->notices);
    if (auto refusal =
            internal::read_site_grid(request.grid, request.station, answer.grid, answer.notices))
        return *refusal;
    const lay::ToleranceTable& table = internal::shipped_tolerances();
    answer.points = internal::lay_points(inputs->points, table, answer.notices);

    const internal::PointIndex index = internal::index_of(answer.points);

    const auto belief = internal::believe({request.station, *inputs, answer.points, index,
                                           answer.grid, answer.style, request.ground});
    if (!belief) return belief.refusal();
    std::vector<StationWork> works;
    lay::SetupSet set;
    for (const OneSetup& one : inputs->setups) {
        auto work = internal::work_of(request.station, *inputs, one, answer.style,
                                      belief->states_of(one.input.setup.station));
        if (!work) return work.refusal();
        set.setups.push_back(internal::lay_setup(one, *work));
        LayStation station;
        station.station = std::move(work->report);
        station.rod_height_m = request.rod_height_m.value_or(station.station.rod_height_m);
        answer.stations.push_back(std::move(station));
        works.push_back(std::move(*work));
    }

    answer.last_laid_s = last_laid_in(inputs->setups);
    auto sighted = places_of(inputs->setups, set, index, answer);
    if (!sighted) return sighted.refusal();
    add_links(works, answer, set);
    report_laid(*sighted, set, *belief, answer);
    answer.causes = belief->causes;
    answer.rules = internal::rules_of(answer, set, table, answer.notices);
    answer.verdict = verdict_of(answer, *belief);
    say_checked(*belief, answer);
    if (days != nullptr) add_days(request, *inputs, works, index, *belief, answer, *days);
    withhold(*belief, request.anyway, answer);
    set_out(request, *inputs, set, *sighted, answer);
    if (answer.points.empty())
        answer.notices.emplace_back("No points file: there is nothing to set out.");
    return answer;
}

Result<LayAnswer> run_lay(const LayRequest& request) {
    return internal::lay_with_days(request, nullptr);
}

bool is_proven(const LayAnswer& answer) {
    return !answer.verdict || answer.verdict->word == Word::proven;
}

}  // namespace layproof::acts

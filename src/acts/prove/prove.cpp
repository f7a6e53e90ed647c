#include "acts/prove/prove.hpp"
#include "acts/station/site_grid.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>
#include <utility>

#include "acts/points/places.hpp"
#include "acts/prove/prove_days.hpp"
#include "acts/prove/prove_words_internal.hpp"
#include "acts/shared/levelled.hpp"
#include "acts/shared/words.hpp"
#include "acts/station/station_inputs.hpp"
#include "acts/station/station_work.hpp"
#include "acts/watch/watch_day.hpp"
#include "base/index.hpp"
#include "base/text/time.hpp"
#include "exchange/import/import.hpp"
#include "exchange/tables/column_map.hpp"
#include "exchange/tables/control_readers.hpp"
#include "exchange/tables/grid_lines.hpp"
#include "exchange/tables/level_readers.hpp"
#include "lay/report.hpp"
#include "network/site_network_causes.hpp"
#include "prove/moves.hpp"
#include "prove/places.hpp"
#include "threads/threads.hpp"

namespace layproof::acts {
namespace {

using internal::OneSetup;
using internal::PointIndex;
using network::NetworkInput;
using network::NetworkPoint;
using network::NetworkSight;
using station::Word;

/// Why a sight took no part, by set-up and number.
using AsideReasons = std::map<std::pair<int, int>, std::string>;

Result<NetworkInput> network_input(const ProveRequest& request,
                                   const internal::StationInputs& inputs, const PointIndex& index,
                                   AsideReasons& reasons, internal::Levelled& levelled) {
    NetworkInput out;
    out.scale_factor = request.station.scale_factor;
    if (!inputs.setups.empty()) out.marks = inputs.setups.front().input.marks;
    for (std::size_t s = 0; s < inputs.setups.size(); ++s) {
        const OneSetup& one = inputs.setups[s];
        station::StationInput setup;
        setup.setup = one.input.setup;
        setup.instrument = one.input.instrument;
        setup.sights = one.input.sights;
        setup.set_aside = one.input.set_aside;
        for (std::size_t k = 0; k < one.input.set_aside.size(); ++k)
            reasons[{static_cast<int>(s), one.input.set_aside[k]}] = one.aside_reasons[k];
        for (std::size_t i = 0; i < setup.sights.size(); ++i) {
            const measure::Sight& sight = setup.sights[i];
            const bool is_point = index.contains(sight.target);
            if (sight.purpose == measure::Purpose::lay && !is_point && inputs.has_points)
                return internal::no_such_point(sight);
            if (sight.purpose != measure::Purpose::other || !is_point) continue;
            setup.set_aside.push_back(static_cast<int>(i));
            reasons[{static_cast<int>(s), static_cast<int>(i)}] =
                "the ground at a point, not its mark";
        }
        out.setups.push_back(std::move(setup));
    }
    if (request.station.facts) {
        out.tapes = request.station.facts->tapes;
        levelled.add(request.station.facts->levels);
        for (const network::LevelRun& run : request.station.facts->level_runs) levelled.add(run);
    }
    exchange::ReadOptions options;
    options.unit = request.station.unit;
    if (!options.unit) options.unit = inputs.unit;
    for (const exchange::Document& document : request.tapes) {
        auto table = exchange::read_tapes(document, options);
        if (!table) return table.refusal();
        out.tapes.insert(out.tapes.end(), table->rows.begin(), table->rows.end());
    }
    for (const exchange::Document& document : request.levels) {
        const auto done = levelled.add(document, options);
        if (!done) return done.refusal();
    }
    out.levels = levelled.rises();
    return out;
}

/// The report of one whole job.
class Proving {
public:
    Proving(const ProveRequest& request, const internal::StationInputs& inputs,
            const NetworkInput& input, const network::SiteNetwork& network,
            const network::NetworkDiagnosis& diagnosis, const AsideReasons& reasons,
            const internal::Levelled& levelled, const internal::DayOf& day_of, ProveAnswer& answer)
        : request_(request),
          inputs_(inputs),
          input_(input),
          network_(network),
          diagnosis_(diagnosis),
          reasons_(reasons),
          levelled_(levelled),
          day_of_(day_of),
          answer_(answer),
          words_{input, network, diagnosis, answer.style, levelled.by()} {
        for (std::size_t p = 0; p < network.points.size(); ++p)
            number_of_.emplace(network.points[p].name, static_cast<int>(p));
        watched_.resize(inputs.setups.size());
    }

    void run(const PointIndex& index) {
        say_network();
        setups(index);
        moves();
        causes();
        marks();
        points();
        lines();
        answer_.verdict = internal::prove_verdict(answer_);
    }

private:
    std::string time_text(const NetworkSight& sight) const {
        if (!sight.time_s) return "";
        const auto& booked = input_.setups[at(sight.setup)].sights[at(sight.booked.front())];
        return full_time(*sight.time_s, clock_offset_s(booked.time_text));
    }

    void say_network() {
        answer_.global_test = network_.global_test;
        answer_.fit = internal::fit_words(network_.global_test);
        answer_.unknowns = network_.unknowns;
        answer_.observations = network_.observations;
        for (const network::VarianceComponent& c : network_.components)
            answer_.components.push_back({std::string(network::to_word(c.group)), c.observations,
                                          c.redundancy, c.ratio, c.ratio_sd});
        for (const network::LoosePart& part : network_.loose) answer_.loose.push_back(part.says());
        if (network_.own_frame)
            answer_.notices.emplace_back(
                "No mark is known in plan: the job has a frame of its own, turned as the circle of "
                "its largest set-up.");
        if (!diagnosis_.is_usable)
            answer_.notices.emplace_back(
                "What may be wrong was not looked at: nothing checks the sights, or the job is too "
                "large for it.");
    }

    ProveSight sight_of(const NetworkSight& sight) const {
        ProveSight out;
        out.target = network_.points[at(sight.point)].name;
        out.purpose = measure::to_word(sight.purpose);
        out.time = time_text(sight);
        out.pointings = static_cast<int>(sight.booked.size());
        out.used = sight.used;
        out.why = sight.why_not_used;
        if (const auto reason = reasons_.find({sight.setup, sight.booked.front()});
            reason != reasons_.end())
            out.why = reason->second;
        if (sight.lands_off_m) {
            out.why = fmt::format("lands {} from where the other sights put {}",
                                  internal::rough(*sight.lands_off_m, answer_.style), out.target);
            if (!sight.lands_at.empty())
                out.why += fmt::format(", at {}: wrong name?", sight.lands_at);
        }
        out.residual = sight.residual;
        out.standardised = sight.standardised;
        out.redundancy = sight.redundancy;
        return out;
    }

    void setups(const PointIndex& index) {
        for (std::size_t s = 0; s < network_.setups.size(); ++s) {
            const network::NetworkStation& station = network_.setups[s];
            ProveSetup out;
            out.station = station.name;
            out.kind = input_.setups[s].setup.kind;
            if (out.kind != station::SetupKind::free) out.over = input_.setups[s].setup.mark;
            out.is_placed = station.is_placed;
            out.pose = station.pose;
            out.statistic = station.statistic;
            out.redundancy = station.redundancy;
            const prove::SetupFit fit = prove::fit_of(station);
            out.ratio = fit.ratio;
            out.word = fit.word;
            out.fit = !station.is_placed ? std::string("hangs on nothing")
                                         : internal::fit_words(fit.test);
            answer_.setups.push_back(std::move(out));
        }
        std::vector<std::set<std::string>> laid(answer_.setups.size());
        std::vector<std::pair<double, double>> span(answer_.setups.size(), {1e300, -1e300});
        for (const NetworkSight& sight : network_.sights) {
            ProveSetup& setup = answer_.setups[at(sight.setup)];
            setup.sights.push_back(sight_of(sight));
            if (sight.purpose == measure::Purpose::lay)
                laid[at(sight.setup)].insert(setup.sights.back().target);
            if (!sight.time_s) continue;
            auto& [first, last] = span[at(sight.setup)];
            if (*sight.time_s < first) {
                first = *sight.time_s;
                setup.from_time = setup.sights.back().time;
            }
            if (*sight.time_s > last) {
                last = *sight.time_s;
                setup.to_time = setup.sights.back().time;
            }
        }
        for (std::size_t s = 0; s < answer_.setups.size(); ++s)
            answer_.setups[s].laid = static_cast<int>(laid[s].size());
        watch(index);
    }

    /// Whether the stations stood still is asked of the same act that answers it alone.
    void watch(const PointIndex& index) {
        WatchRequest asked;
        asked.station.sights.name = request_.station.sights.name;
        WatchAnswer about;
        about.style = answer_.style;
        about.confidence = answer_.confidence;
        about.ground = asked.ground;
        about.check_every_s = asked.check_every_s;
        std::vector<std::optional<Result<WatchStation>>> found(inputs_.setups.size());
        threads::share(inputs_.setups.size(), [&](std::size_t, std::size_t s) {
            const auto& sights = inputs_.setups[s].input.sights;
            const bool has_checks = std::any_of(sights.begin(), sights.end(), [](const auto& x) {
                return x.purpose == measure::Purpose::check;
            });
            if (!has_checks || answer_.setups[s].laid == 0) return;
            const WatchStation* known = day_of_ ? day_of_(s, answer_.setups[s].station) : nullptr;
            if (known != nullptr) {
                found[s] = *known;
                return;
            }
            auto work =
                internal::work_of(request_.station, inputs_, inputs_.setups[s], answer_.style);
            if (!work) return;
            found[s] = internal::watch_station(asked, inputs_.causes, inputs_.setups[s], *work,
                                               {answer_.points, index}, about);
        });
        for (std::size_t s = 0; s < found.size(); ++s) {
            if (!found[s]) continue;
            Result<WatchStation>& watched = *found[s];
            if (!watched) {
                answer_.notices.push_back(
                    fmt::format("Whether station {} stood still was not looked at: {}",
                                answer_.setups[s].station, watched.refusal().to_text()));
                continue;
            }
            if (!watched->has_checks) continue;
            answer_.setups[s].holds = watched->holds;
            answer_.setups[s].watched = watched->verdict.because;
            watched_[s] = std::move(*watched);
        }
    }

    void moves() {
        for (const prove::Move& move : prove::moves_of(network_, diagnosis_))
            answer_.moves.push_back(told(move));
    }

    ProveMove told(const prove::Move& move) const {
        ProveMove out;
        out.point = network_.points[at(move.point)].name;
        out.is_height = move.is_height;
        out.probability = move.probability;
        const network::NetworkSuspect& best = diagnosis_.suspects[at(move.suspect)];
        out.before_all = best.after_sight < 0;
        if (best.after_sight >= 0) out.after = words_.when(best.after_sight);
        if (best.before_sight >= 0) out.before = words_.when(best.before_sight);
        if (move.is_height) {
            out.shift_m.z() = move.amount[0];
            out.covariance(2, 2) = move.covariance(0, 0);
        } else {
            out.shift_m.head<2>() = move.amount;
            out.covariance.topLeftCorner<2, 2>() = move.covariance;
        }
        out.says = internal::capital(words_.clause(move.suspect, move.amount)) +
                   (out.probability >= answer_.confidence
                        ? "."
                        : fmt::format(" (probability {}).", internal::percent(out.probability)));
        for (const int setup : move.setups) out.setups.push_back(network_.setups[at(setup)].name);
        for (const int point : move.points) out.points.push_back(network_.points[at(point)].name);
        return out;
    }

    void causes() {
        answer_.nothing_wrong = diagnosis_.nothing_wrong;
        for (const prove::LikelyCause& likely : prove::causes_of(diagnosis_)) {
            network::NetworkExplanation one;
            one.members = {likely.suspect};
            one.amount = likely.amount;
            ProveCause out;
            const network::NetworkSuspect& suspect = diagnosis_.suspects[at(likely.suspect)];
            // The words of "vet" for the same.
            out.cause = suspect.level >= 0  ? std::string("level-wrong")
                        : suspect.tape >= 0 ? std::string("tape-wrong")
                                            : std::string(cause::to_word(suspect.cause));
            out.subjects = words_.subjects(one);
            out.probability = likely.probability;
            out.says = words_.sentence(one);
            out.next = words_.remedy(one);
            answer_.causes.push_back(std::move(out));
        }
    }

    const ProveMove* move_named(const std::string& name) const {
        const ProveMove* out = nullptr;
        for (const ProveMove& move : answer_.moves)
            if (move.point == name && (out == nullptr || move.probability > out->probability))
                out = &move;
        return out;
    }

    void marks() {
        for (const frame::Mark& mark : input_.marks) {
            ProveMark out;
            out.name = mark.name;
            out.east_m = mark.east_m;
            out.north_m = mark.north_m;
            out.height_m = mark.height_m;
            out.sheet_sd_m << mark.sd_east_m, mark.sd_north_m, mark.sd_height_m;
            const auto found = number_of_.find(mark.name);
            if (found == number_of_.end() || network_.points[at(found->second)].sights == 0) {
                out.condition = "Not sighted.";
            } else {
                sighted_mark(found->second, mark, out);
            }
            answer_.marks.push_back(std::move(out));
        }
    }

    void sighted_mark(int number, const frame::Mark& mark, ProveMark& out) const {
        const NetworkPoint& point = network_.points[at(number)];
        out.is_sighted = true;
        out.sights = point.sights;
        out.setups = static_cast<int>(point.setups.size());
        out.covariance = point.covariance;
        if (point.has_plan) {
            out.adjusted_east_m = point.place_m.x();
            out.adjusted_north_m = point.place_m.y();
        }
        if (point.has_height) out.adjusted_height_m = point.place_m.z();
        if (point.seen_off_m) {
            out.off_east_m = point.seen_off_m->x();
            out.off_north_m = point.seen_off_m->y();
            out.off_covariance.topLeftCorner<2, 2>() = point.seen_off_covariance;
        }
        if (point.seen_off_height_m) {
            out.off_height_m = point.seen_off_height_m;
            out.off_covariance(2, 2) = point.seen_off_height_sd_m * point.seen_off_height_sd_m;
        }
        const prove::MarkChance chance = prove::chance_of(
            point, mark, diagnosis_.beliefs(number),
            {kDefaultTolerancePlan_m, kDefaultToleranceHeight_m}, answer_.confidence);
        out.probability = chance.probability;
        out.word = chance.word;
        const ProveMove* move = move_named(mark.name);
        const auto& style = answer_.style;
        if (point.sheet_left_out)
            out.condition =
                fmt::format("All sights put it {} from its sheet position, which was left out.",
                            internal::rough(point.seen_off_m->norm(), style));
        else if (move != nullptr && move->probability >= 0.5)
            out.condition = move->says;
        else if (!chance.is_checked)
            out.condition = "Nothing else checks where it is.";
        else if (out.word == Word::proven)
            out.condition = fmt::format("Where its sheet says, within {} ({}).",
                                        internal::tolerance(kDefaultTolerancePlan_m, style),
                                        internal::percent(out.probability));
        else
            out.condition = fmt::format("Within {} of its sheet position with {}.",
                                        internal::tolerance(kDefaultTolerancePlan_m, style),
                                        internal::percent(out.probability));
    }

    void points() {
        std::vector<std::vector<std::size_t>> sights(network_.points.size());
        for (std::size_t i = 0; i < network_.sights.size(); ++i)
            if (network_.sights[i].used && network_.sights[i].purpose == measure::Purpose::lay)
                sights[at(network_.sights[i].point)].push_back(i);
        struct Laid {
            std::size_t design;
            int number;
        };
        std::vector<Laid> laid;
        for (std::size_t d = 0; d < answer_.points.size(); ++d) {
            const auto found = number_of_.find(answer_.points[d].design.name);
            if (found == number_of_.end()) continue;
            const NetworkPoint& point = network_.points[at(found->second)];
            if (point.has_plan && !sights[at(found->second)].empty())
                laid.push_back({d, found->second});
        }
        std::vector<std::optional<ProvePoint>> points(laid.size());
        threads::share(laid.size(), [&](std::size_t, std::size_t i) {
            points[i] = judged(laid[i].design, laid[i].number, sights[at(laid[i].number)]);
        });
        for (std::optional<ProvePoint>& one : points) {
            switch (one->verdict.word) {
                case Word::proven:
                    ++answer_.proven;
                    break;
                case Word::in_doubt:
                    ++answer_.in_doubt;
                    break;
                case Word::fails:
                    ++answer_.fails;
                    break;
            }
            answer_.laid.push_back(std::move(*one));
        }
    }

    ProvePoint judged(std::size_t design, int number,
                      const std::vector<std::size_t>& sights) const {
        const NetworkPoint& point = network_.points[at(number)];
        const LayPoint& wanted = answer_.points[design];
        prove::LaidAnswer laid =
            prove::judge_laid({input_, network_, number, sights, answer_.confidence}, wanted.design,
                              wanted.tolerance, diagnosis_.beliefs(number));
        lay::PointVerdict& v = laid.verdict;

        ProvePoint out;
        out.point = design;
        out.as_laid_m = laid.place_m;
        out.has_height = point.has_height;
        out.sights = static_cast<int>(sights.size());
        std::set<int> from_setups;
        for (const std::size_t i : sights) {
            if (from_setups.insert(network_.sights[i].setup).second)
                out.stations.push_back(network_.setups[at(network_.sights[i].setup)].name);
        }
        out.laid_time = time_text(network_.sights[sights.front()]);
        const watch::PointReport* doubted = doubted_by_watch(point.name, from_setups);
        if (doubted != nullptr && doubted->probability < v.probability) {
            prove::judge_again(v, doubted->probability);
            out.in_doubt_by = may_have_moved(*from_setups.begin());
        }
        if (doubted != nullptr && v.word != Word::proven)
            out.in_doubt_by = may_have_moved(*from_setups.begin());
        if (out.in_doubt_by.empty() && v.word != Word::proven)
            for (const ProveMove& move : answer_.moves)
                if (move.probability >= 0.5 && std::find(move.points.begin(), move.points.end(),
                                                         point.name) != move.points.end())
                    out.in_doubt_by = move.says;
        out.verdict = v;
        out.because = lay::because_words(v, answer_.style);
        lay::MoveQuestion move;
        move.laid_m = laid.place_m.head<2>();
        move.design_m << wanted.design.east_m, wanted.design.north_m;
        if (v.has_height) move.raise_m = -v.deviation_m.z();
        move.grid = &answer_.grid;
        move.style = answer_.style;
        out.design_grid = answer_.grid.position(move.design_m, answer_.style);
        out.next = lay::next_words(v, lay::move_of(move));
        if (!out.in_doubt_by.empty() && v.word != Word::proven) {
            out.because = internal::capital(out.in_doubt_by) + " " + out.because;
            // More sights from a set-up that moved, or onto a mark that did, would not help.
            out.next = "Sight it again from a new set-up, on marks that hold.";
        }
        return out;
    }

    /// What the day of the only station says of the point; from several stations it was checked by
    /// another way. Null where it says nothing against it.
    const watch::PointReport* doubted_by_watch(const std::string& point,
                                               const std::set<int>& setups) const {
        if (setups.size() != 1) return nullptr;
        const auto& watched = watched_[at(*setups.begin())];
        if (!watched || watched->holds >= answer_.confidence) return nullptr;
        for (std::size_t i = 0; i < watched->day.points.size(); ++i)
            if (watched->day.points[i].target.name == point)
                return watched->report.points[i].in_doubt_by_move ? &watched->report.points[i]
                                                                  : nullptr;
        return nullptr;
    }
    std::string may_have_moved(int setup) const {
        const auto& watched = *watched_[at(setup)];
        return fmt::format("station {} may have moved (it stood still with {}).",
                           watched.station.station, internal::percent(watched.holds));
    }

    void lines() {
        const auto add = [&](const network::NetworkLine& line, const char* kind, double value,
                             double sd, const std::string& by) {
            answer_.lines.push_back(
                {kind, network_.points[at(line.from)].name, network_.points[at(line.to)].name, by,
                 value, sd, line.residual_m, line.standardised, line.redundancy, line.used});
        };
        for (const network::NetworkLine& line : network_.tapes)
            add(line, "tape", input_.tapes[at(line.input)].distance_m,
                input_.tapes[at(line.input)].sd_m, "");
        for (const network::NetworkLine& line : network_.levels)
            add(line, "level", input_.levels[at(line.input)].rise_m,
                input_.levels[at(line.input)].sd_m, levelled_.by()[at(line.input)]);
        answer_.runs = levelled_.runs();
        answer_.loops = levelled_.loops(input_.marks, answer_.style);
    }

    const ProveRequest& request_;
    const internal::StationInputs& inputs_;
    const NetworkInput& input_;
    const network::SiteNetwork& network_;
    const network::NetworkDiagnosis& diagnosis_;
    const AsideReasons& reasons_;
    const internal::Levelled& levelled_;
    const internal::DayOf& day_of_;
    ProveAnswer& answer_;
    internal::ProveWords words_;
    std::map<std::string, int, std::less<>> number_of_;
    std::vector<std::optional<WatchStation>> watched_;
};

}  // namespace

Result<ProveAnswer> internal::prove_with_days(const ProveRequest& request, const DayOf& day_of) {
    auto inputs = internal::read_inputs(request.station);
    if (!inputs) return inputs.refusal();
    ProveAnswer answer;
    answer.unit = inputs->unit;
    answer.style.unit = inputs->unit;
    if (request.station.show) answer.style = *request.station.show;
    answer.confidence = request.station.confidence;
    answer.explain = request.station.explain;
    answer.job = request.station.facts ? request.station.facts->name : request.station.sights.name;
    answer.notices = std::move(inputs->notices);
    if (auto refusal =
            internal::read_site_grid(request.grid, request.station, answer.grid, answer.notices))
        return *refusal;
    answer.points =
        internal::lay_points(inputs->points, internal::shipped_tolerances(), answer.notices);
    const PointIndex index = internal::index_of(answer.points);
    AsideReasons reasons;
    internal::Levelled levelled;
    auto input = network_input(request, *inputs, index, reasons, levelled);
    if (!input) return input.refusal();
    answer.notices.insert(answer.notices.end(), levelled.notices().begin(),
                          levelled.notices().end());
    auto network = network::adjust_network(*input);
    if (!network) {
        Refusal refusal = network.refusal();
        if (refusal.place.file.empty()) refusal.place.file = request.station.sights.name;
        return refusal;
    }
    const network::NetworkDiagnosis diagnosis = network::diagnose_network(*network, inputs->causes);
    Proving(request, *inputs, *input, *network, diagnosis, reasons, levelled, day_of, answer)
        .run(index);
    return answer;
}

Result<ProveAnswer> run_prove(const ProveRequest& request) {
    return internal::prove_with_days(request, nullptr);
}

bool is_proven(const ProveAnswer& answer) {
    return answer.verdict.word == Word::proven;
}

}  // namespace layproof::acts

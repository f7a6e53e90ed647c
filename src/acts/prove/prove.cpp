#include "acts/prove/prove.hpp"
#include "acts/setup/site_grid.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>
#include <utility>

#include "acts/belief/belief_words.hpp"
#include "acts/belief/job_belief.hpp"
#include "acts/points/places.hpp"
#include "acts/prove/prove_words_internal.hpp"
#include "acts/setup/setup_inputs.hpp"
#include "acts/shared/words.hpp"
#include "base/index.hpp"
#include "base/text/time.hpp"
#include "lay/report.hpp"
#include "network/site_network_causes.hpp"
#include "prove/moves.hpp"
#include "prove/places.hpp"

namespace layproof::acts {
namespace {

using internal::PointIndex;
using network::NetworkInput;
using network::NetworkPoint;
using network::NetworkSight;
using station::Word;

/// The report of one whole job.
class Proving {
public:
    Proving(const internal::JobBelief& belief, ProveAnswer& answer)
        : belief_(belief),
          input_(belief.input),
          network_(belief.network),
          diagnosis_(belief.diagnosis),
          answer_(answer),
          words_{belief.input, belief.network, belief.diagnosis, answer.style,
                 belief.levelled.by()} {
        for (std::size_t p = 0; p < network_.points.size(); ++p)
            number_of_.emplace(network_.points[p].name, static_cast<int>(p));
    }

    void run() {
        say_network();
        setups();
        moves();
        answer_.nothing_wrong = diagnosis_.nothing_wrong;
        answer_.causes = belief_.causes;
        marks();
        points();
        lines();
        answer_.verdict = internal::prove_verdict(answer_);
        if (internal::heed_gross(belief_, answer_.verdict)) return;
        std::vector<int> laying;
        for (std::size_t s = 0; s < answer_.setups.size(); ++s)
            if (answer_.setups[s].laid > 0) laying.push_back(static_cast<int>(s));
        internal::heed_setups(belief_, laying, answer_.style, answer_.confidence, answer_.verdict);
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
        if (const auto reason = belief_.aside.find({sight.setup, sight.booked.front()});
            reason != belief_.aside.end())
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

    void setups() {
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
        for (std::size_t s = 0; s < answer_.setups.size(); ++s) {
            const internal::BelievedSetup& setup = belief_.setups[s];
            if (!setup.is_checked) continue;
            answer_.setups[s].holds = setup.holds;
            answer_.setups[s].watched = stood_still(setup);
        }
    }

    std::string stood_still(const internal::BelievedSetup& setup) const {
        if (setup.bumps.empty() || setup.holds >= answer_.confidence)
            return fmt::format("Its checks say that it stood still ({}).",
                               internal::percent(setup.holds));
        return fmt::format("It stood still with {}. {}", internal::percent(setup.holds),
                           internal::bump_sentence(belief_, setup, answer_.style));
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
        if (best.after_sight >= 0) out.after = words_.dated_when(best.after_sight);
        if (best.before_sight >= 0) out.before = words_.dated_when(best.before_sight);
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
        const prove::MarkChance chance =
            belief_
                .chance_of(mark.name, {kDefaultTolerancePlan_m, kDefaultToleranceHeight_m},
                           answer_.confidence)
                .value_or(prove::MarkChance{});
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
        for (const internal::BelievedPoint& one : belief_.laid) {
            switch (one.report.verdict.word) {
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
            ProvePoint out;
            out.point = one.point;
            out.verdict = one.report.verdict;
            out.as_laid_m = one.report.laid.place_m;
            out.has_height = one.report.laid.has_height;
            out.stations = one.report.stations;
            out.sights = static_cast<int>(one.sights.size());
            out.laid_time = time_text(network_.sights[one.sights.front()]);
            out.design_grid = one.report.design_grid;
            out.because = one.report.because;
            out.next = one.report.next;
            out.in_doubt_by = one.in_doubt_by;
            answer_.laid.push_back(std::move(out));
        }
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
                input_.levels[at(line.input)].sd_m, belief_.levelled.by()[at(line.input)]);
        answer_.runs = belief_.levelled.runs();
        answer_.loops = belief_.levelled.loops(input_.marks, answer_.style);
    }

    const internal::JobBelief& belief_;
    const NetworkInput& input_;
    const network::SiteNetwork& network_;
    const network::NetworkDiagnosis& diagnosis_;
    ProveAnswer& answer_;
    internal::BeliefWords words_;
    std::map<std::string, int, std::less<>> number_of_;
};

}  // namespace

Result<ProveAnswer> run_prove(const ProveRequest& request) {
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
    const auto belief =
        internal::believe({request.station, *inputs, answer.points, index, answer.grid,
                           answer.style, request.ground, &request.tapes, &request.levels});
    if (!belief) return belief.refusal();
    answer.notices.insert(answer.notices.end(), belief->levelled.notices().begin(),
                          belief->levelled.notices().end());
    Proving(*belief, answer).run();
    return answer;
}

bool is_proven(const ProveAnswer& answer) {
    return answer.verdict.word == Word::proven;
}

}  // namespace layproof::acts

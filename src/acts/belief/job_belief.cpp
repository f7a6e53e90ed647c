#include "acts/belief/job_belief.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "acts/belief/belief_words.hpp"
#include "acts/belief/laid_cause_words.hpp"
#include "acts/shared/reading_words.hpp"
#include "acts/shared/words.hpp"
#include "base/index.hpp"
#include "exchange/tables/control_readers.hpp"
#include "prove/moves.hpp"
#include "prove/places.hpp"
#include "threads/threads.hpp"

namespace layproof::acts::internal {
namespace {

using cause::Cause;
using network::NetworkPoint;
using network::NetworkSight;
using station::Word;

Result<network::NetworkInput> network_input(const BeliefQuestion& question,
                                            const StationInputs& inputs, AsideReasons& reasons,
                                            Levelled& levelled) {
    network::NetworkInput out;
    out.scale_factor = question.request.scale_factor;
    out.drift_per_s = watch::variance_per_second(watch::drift_rate(question.ground));
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
            const bool is_point = question.index.contains(sight.target);
            if (sight.purpose == measure::Purpose::lay && !is_point && inputs.has_points)
                return no_such_point(sight);
            if (sight.purpose != measure::Purpose::other || !is_point) continue;
            setup.set_aside.push_back(static_cast<int>(i));
            reasons[{static_cast<int>(s), static_cast<int>(i)}] =
                "the ground at a point, not its mark";
        }
        out.setups.push_back(std::move(setup));
    }
    if (question.request.facts) {
        out.tapes = question.request.facts->tapes;
        levelled.add(question.request.facts->levels);
        for (const network::LevelRun& run : question.request.facts->level_runs) levelled.add(run);
    }
    exchange::ReadOptions options;
    options.unit = question.request.unit;
    if (!options.unit) options.unit = inputs.unit;
    if (question.tapes != nullptr) {
        for (const exchange::Document& document : *question.tapes) {
            auto table = exchange::read_tapes(document, options);
            if (!table) return table.refusal();
            out.tapes.insert(out.tapes.end(), table->rows.begin(), table->rows.end());
        }
    }
    if (question.levels != nullptr) {
        for (const exchange::Document& document : *question.levels) {
            const auto done = levelled.add(document, options);
            if (!done) return done.refusal();
        }
    }
    out.levels = levelled.rises();
    return out;
}

/// A reading more probable than this is taken for certain.
constexpr double kSureReading = 0.999;

class Believing {
public:
    Believing(const BeliefQuestion& question, JobBelief& belief)
        : question_(question),
          belief_(belief),
          network_(belief.network),
          words_{belief.input, belief.network, belief.diagnosis, question.style,
                 belief.levelled.by()} {}

    void run() {
        causes();
        setups();
        points();
    }

private:
    void causes() {
        for (const prove::LikelyCause& likely : prove::causes_of(belief_.diagnosis)) {
            network::NetworkExplanation one;
            one.members = {likely.suspect};
            one.amount = likely.amount;
            JobCause out;
            const network::NetworkSuspect& suspect = belief_.diagnosis.suspects[at(likely.suspect)];
            // The words of "vet" for the same.
            out.cause = suspect.level >= 0  ? std::string("level-wrong")
                        : suspect.tape >= 0 ? std::string("tape-wrong")
                                            : std::string(cause::to_word(suspect.cause));
            out.subjects = words_.subjects(one);
            out.probability = likely.probability;
            out.from = words_.full_when(suspect.after_sight);
            out.to = words_.full_when(suspect.before_sight);
            out.says = words_.sentence(one);
            out.next = words_.remedy(one);
            belief_.causes.push_back(std::move(out));
            belief_.cause_setups.push_back(belief_.diagnosis.setups_of(network_, likely.suspect));
        }
    }

    void setups() {
        belief_.setups.resize(network_.setups.size());
        for (const NetworkSight& sight : network_.sights) {
            if (!sight.used || sight.purpose == measure::Purpose::control) continue;
            const bool tells = sight.purpose == measure::Purpose::check ||
                               network_.points[at(sight.point)].sights > 1;
            if (tells) belief_.setups[at(sight.setup)].is_checked = true;
        }
        std::map<int, BelievedBump> bumps;
        for (const network::NetworkExplanation& e : belief_.diagnosis.explanations) {
            std::set<int> moved;
            for (const int member : e.members) {
                const network::NetworkSuspect& who = belief_.diagnosis.suspects[at(member)];
                if (who.cause != Cause::tripod_disturbed) continue;
                moved.insert(who.setup);
                add_bump(bumps[member], member, e);
            }
            for (const int s : moved) belief_.setups[at(s)].holds -= e.probability;
        }
        for (auto& [suspect, bump] : bumps) {
            bump.suspect = suspect;
            bump.probability = belief_.diagnosis.probability[at(suspect)];
            belief_.setups[at(belief_.diagnosis.suspects[at(suspect)].setup)].bumps.push_back(bump);
        }
        for (std::size_t s = 0; s < belief_.setups.size(); ++s) {
            BelievedSetup& setup = belief_.setups[s];
            setup.holds = std::clamp(setup.holds, 0.0, 1.0);
            setup.holds_on =
                setup.holds / (1.0 + belief_.diagnosis.unseen_bump_odds(static_cast<int>(s)));
            std::stable_sort(
                setup.bumps.begin(), setup.bumps.end(),
                [](const auto& a, const auto& b) { return a.probability > b.probability; });
        }
    }

    /// Of equal explanations the likeliest tells the amount.
    void add_bump(BelievedBump& bump, int member, const network::NetworkExplanation& e) const {
        const auto amount = belief_.diagnosis.amount_in(e, member);
        if (!amount || !bump.sd.isZero(0.0)) return;
        bump.amount.head(amount->mean.size()) = amount->mean;
        bump.sd.head(amount->sd.size()) = amount->sd;
    }

    void points() {
        std::vector<std::vector<std::size_t>> sights(network_.points.size());
        for (std::size_t i = 0; i < network_.sights.size(); ++i)
            if (network_.sights[i].used && network_.sights[i].purpose == measure::Purpose::lay)
                sights[at(network_.sights[i].point)].push_back(i);
        std::map<std::string_view, int> number_of;
        for (std::size_t p = 0; p < network_.points.size(); ++p)
            number_of.emplace(network_.points[p].name, static_cast<int>(p));
        for (std::size_t d = 0; d < question_.points.size(); ++d) {
            const auto found = number_of.find(question_.points[d].design.name);
            if (found == number_of.end()) continue;
            if (!network_.points[at(found->second)].has_plan || sights[at(found->second)].empty())
                continue;
            BelievedPoint one;
            one.point = d;
            one.number = found->second;
            one.sights = std::move(sights[at(found->second)]);
            belief_.laid.push_back(std::move(one));
        }
        threads::share(belief_.laid.size(),
                       [&](std::size_t, std::size_t i) { judge(belief_.laid[i]); });
        if (belief_.gross() == nullptr) laid_causes();
        belief_.laid_of_point.assign(question_.points.size(), -1);
        for (std::size_t i = 0; i < belief_.laid.size(); ++i)
            belief_.laid_of_point[belief_.laid[i].point] = static_cast<int>(i);
    }

    /// What went wrong in the laying itself: it is named, and no point of it is moved by itself.
    void laid_causes() {
        std::vector<std::size_t> order(belief_.laid.size());
        for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
        const auto first = [&](std::size_t i) -> const NetworkSight& {
            return network_.sights[belief_.laid[i].sights.front()];
        };
        std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
            const NetworkSight& one = first(a);
            const NetworkSight& other = first(b);
            if (one.setup != other.setup) return one.setup < other.setup;
            return one.time_s && other.time_s && *one.time_s < *other.time_s;
        });
        std::vector<lay::LaidDeviation> laid;
        for (const std::size_t i : order) {
            const BelievedPoint& point = belief_.laid[i];
            const LayPoint& wanted = question_.points[point.point];
            const lay::PointVerdict& v = point.report.verdict;
            lay::LaidDeviation one;
            one.name = wanted.design.name;
            one.design_m << wanted.design.east_m, wanted.design.north_m,
                wanted.design.height_m.value_or(0.0);
            one.deviation_m = v.deviation_m;
            one.covariance = v.covariance;
            one.has_height = v.has_height;
            one.setup = first(i).setup;
            one.group = wanted.group;
            laid.push_back(std::move(one));
        }
        std::vector<lay::DesignPlace> designs;
        for (const LayPoint& point : question_.points)
            designs.push_back({point.design.name, {point.design.east_m, point.design.north_m}});
        for (const lay::LaidCause& cause : lay::laid_causes(laid, designs, question_.grid)) {
            JobCause out;
            out.cause = lay::to_word(cause.kind);
            out.probability = cause.probability;
            for (const int p : cause.points) out.subjects.push_back(laid[at(p)].name);
            const LaidCauseWords words = laid_cause_words(cause, out.subjects, question_.style);
            out.says = words.says;
            out.next = words.to_do;
            if (!cause.other.empty()) out.subjects.push_back(cause.other);
            for (const int p : cause.points) heed_laid(cause, out, belief_.laid[order[at(p)]]);
            belief_.cause_setups.push_back({laid[at(cause.points.front())].setup});
            belief_.causes.push_back(std::move(out));
        }
    }

    /// Where the booking may be wrong instead of the point, its sights say half of what they said.
    static void heed_laid(const lay::LaidCause& cause, const JobCause& told, BelievedPoint& point) {
        constexpr double kBookedWrong = 0.5;
        lay::PointVerdict& v = point.report.verdict;
        if (cause.kind != lay::LaidCauseKind::shifted_in_plan)
            prove::judge_again(v, (1.0 - kBookedWrong * cause.probability) * v.probability +
                                      kBookedWrong * cause.probability * v.confidence);
        give_reason(told, point);
    }

    static void hold_move(BelievedPoint& point) { point.report.move = {{}, "none yet", false}; }

    /// A cause stands in place of the point's own reason.
    static void give_reason(const JobCause& cause, BelievedPoint& point) {
        point.in_doubt_by = cause.says;
        point.report.because = cause.says;
        point.report.next = cause.next;
        hold_move(point);
    }

    void judge(BelievedPoint& point) const {
        const LayPoint& wanted = question_.points[point.point];
        const prove::LaidAnswer laid = prove::judge_laid(
            {belief_.input, network_, belief_.diagnosis, point.number, point.sights,
             question_.request.confidence},
            wanted.design, wanted.tolerance, belief_.diagnosis.beliefs(point.number));
        point.probability_moved = laid.probability_moved;
        point.moved_by_m = laid.moved_by_m;
        point.probability_unmoved = laid.probability_unmoved;
        lay::VerdictPlace where;
        where.laid.name = wanted.design.name;
        where.laid.place_m = laid.place_m;
        where.laid.has_height = network_.points[at(point.number)].has_height;
        where.laid.own = laid.verdict.covariance;
        where.laid.sights = 0;
        std::set<int> seen;
        for (const std::size_t i : point.sights) {
            const NetworkSight& sight = network_.sights[i];
            where.laid.sights += static_cast<int>(sight.booked.size());
            if (!seen.insert(sight.setup).second) continue;
            where.stations.push_back(network_.setups[at(sight.setup)].name);
            if (!where.instrument_m)
                where.instrument_m = network_.setups[at(sight.setup)].pose.position_m.head<2>();
        }
        lay::PointVerdict verdict = laid.verdict;
        // What is computed from one reading is worth no more than that reading.
        if (belief_.reading_probability < kSureReading)
            prove::judge_again(verdict, verdict.probability * belief_.reading_probability);
        // Figures worked out with wrong files prove nothing, for or against.
        if (belief_.gross() != nullptr) verdict.word = Word::in_doubt;
        point.report =
            lay::report_verdict(verdict, where, wanted.design, question_.grid, question_.style);
        if (const JobCause* gross = belief_.gross()) {
            give_reason(*gross, point);
        } else if (verdict.word != Word::proven) {
            doubt(laid, point);
            heed_tools(point);
        }
    }

    void doubt(const prove::LaidAnswer& laid, BelievedPoint& point) const {
        const NetworkSight& first = network_.sights[point.sights.front()];
        if (laid.doubted_by_unseen_bump) {
            point.in_doubt_by = fmt::format("nothing checked the station {} after this point.",
                                            network_.setups[at(first.setup)].name);
            point.report.next = "Sight a mark as a check, then this point again.";
        } else if (laid.doubted_by >= 0) {
            const network::NetworkSuspect& who = belief_.diagnosis.suspects[at(laid.doubted_by)];
            const bool by_move = who.cause == Cause::tripod_disturbed &&
                                 word_of(belief_.setups[at(who.setup)],
                                         question_.request.confidence) != Word::proven;
            if (by_move) point.moved_setup = who.setup;
            point.in_doubt_by =
                fmt::format("{} ({}).", words_.clause(laid.doubted_by, amount_of(laid.doubted_by)),
                            percent(belief_.diagnosis.probability[at(laid.doubted_by)]));
            // More sights from a set-up that moved, or onto a mark that did, would not help.
            point.report.next = "Sight it again from a new set-up, on marks that hold.";
        }
        // What the doubt is about must be cleared first: a move now could take a good point away.
        if (point.in_doubt_by.empty()) return;
        hold_move(point);
        point.report.because = capital(point.in_doubt_by) + " " + capital(point.report.because);
    }

    /// While a rod, prism or instrument of its set-up is likelier wrong than right, the point is
    /// not moved: the figures would be read off with the same tool.
    void heed_tools(BelievedPoint& point) const {
        constexpr double kLikely = 0.5;
        for (std::size_t i = 0; i < belief_.causes.size(); ++i) {
            const JobCause& cause = belief_.causes[i];
            const auto kind = cause::cause_from_word(cause.cause);
            const bool is_tool =
                kind == Cause::prism_constant_wrong || kind == Cause::distance_scale_wrong ||
                kind == Cause::rod_height_wrong_on_all || kind == Cause::vertical_index_wrong;
            if (!is_tool || cause.probability < kLikely) continue;
            const std::vector<int>& setups = belief_.cause_setups[i];
            const bool laid_it =
                std::any_of(point.sights.begin(), point.sights.end(), [&](std::size_t sight) {
                    return std::find(setups.begin(), setups.end(), network_.sights[sight].setup) !=
                           setups.end();
                });
            if (!laid_it) continue;
            point.report.next = cause.next;
            hold_move(point);
            return;
        }
    }

    Eigen::VectorXd amount_of(int suspect) const {
        for (const network::NetworkExplanation& e : belief_.diagnosis.explanations)
            if (const auto amount = belief_.diagnosis.amount_in(e, suspect)) return amount->mean;
        return {};
    }

    const BeliefQuestion& question_;
    JobBelief& belief_;
    const network::SiteNetwork& network_;
    BeliefWords words_;
};

}  // namespace

const BelievedPoint* JobBelief::of_point(std::size_t point) const {
    if (point >= laid_of_point.size() || laid_of_point[point] < 0) return nullptr;
    return &laid[at(laid_of_point[point])];
}

std::vector<JobCause> JobBelief::causes_at(int setup) const {
    std::vector<JobCause> out;
    for (std::size_t i = 0; i < causes.size(); ++i)
        if (causes[i].is_gross || std::find(cause_setups[i].begin(), cause_setups[i].end(),
                                            setup) != cause_setups[i].end())
            out.push_back(causes[i]);
    return out;
}

StateBeliefs JobBelief::states_of(const std::string& station) const {
    const int setup = setup_named(station);
    if (setup < 0 || !network.is_solved) return {};
    return [this, setup](const station::Pose& nominal) {
        return diagnosis.states(network, setup, nominal);
    };
}

std::optional<prove::MarkChance> JobBelief::chance_of(const std::string& mark,
                                                      const prove::MarkTolerance& tolerance,
                                                      double confidence) const {
    const int number = network.point_named(mark);
    if (number < 0) return std::nullopt;
    const NetworkPoint& point = network.points[at(number)];
    if (point.mark < 0 || point.sights == 0) return std::nullopt;
    prove::MarkChance out = prove::chance_of(point, input.marks[at(point.mark)],
                                             diagnosis.beliefs(number), tolerance, confidence);
    // Two kinds of foot among the files move points against marks, not the marks.
    const JobCause* first = gross();
    if (first != nullptr &&
        first->cause != network::to_word(network::ReadingKind::foot_kinds_mixed))
        out.word = Word::in_doubt;
    return out;
}

int JobBelief::setup_named(const std::string& station) const {
    for (std::size_t s = 0; s < network.setups.size(); ++s)
        if (network.setups[s].name == station) return static_cast<int>(s);
    return -1;
}

station::Word word_of(const BelievedSetup& setup, double confidence) {
    return setup.is_checked ? station::judge(setup.holds, confidence) : Word::proven;
}

void heed_own_setup(const JobBelief& belief, const measure::LengthStyle& style, double confidence,
                    StationReport& report) {
    const int setup = belief.setup_named(report.station);
    report.job_causes = belief.causes_at(setup);
    Verdict& verdict = report.verdict;
    if (heed_gross(belief, verdict) || setup < 0) return;
    const BelievedSetup& own = belief.setups[at(setup)];
    const Word word = word_of(own, confidence);
    if (word == Word::proven) return;
    if (verdict.word != Word::fails) verdict.word = word;
    verdict.probability = std::min(verdict.probability, own.holds);
    verdict.because = bump_sentence(belief, own, style) + " " + verdict.because;
    verdict.next = "Sight the marks anew as a new set-up before laying on.";
}

std::string bump_sentence(const JobBelief& belief, const BelievedSetup& setup,
                          const measure::LengthStyle& style) {
    if (setup.bumps.empty()) return "";
    const BeliefWords words{belief.input, belief.network, belief.diagnosis, style,
                            belief.levelled.by()};
    const BelievedBump& bump = setup.bumps.front();
    return capital(words.clause(bump.suspect, bump.amount)) +
           fmt::format(" ({}).", percent(bump.probability));
}

void heed_setups(const JobBelief& belief, const std::vector<int>& setups,
                 const measure::LengthStyle& style, double confidence, Verdict& verdict) {
    const BelievedSetup* worst = nullptr;
    for (const int s : setups) {
        if (s < 0) continue;
        const BelievedSetup& setup = belief.setups[at(s)];
        if (word_of(setup, confidence) == Word::proven) continue;
        if (worst == nullptr || setup.holds < worst->holds) worst = &setup;
    }
    if (worst == nullptr) return;
    const bool points_fail = verdict.word == Word::fails;
    if (!points_fail) verdict.word = word_of(*worst, confidence);
    verdict.probability = std::min(verdict.probability, worst->holds);
    const std::string bump = bump_sentence(belief, *worst, style);
    if (verdict.because.find(bump.substr(0, bump.find(" ("))) == std::string::npos)
        verdict.because = bump + " " + verdict.because;
    verdict.next = "Lay nothing more from there before the marks are sighted anew. " + verdict.next;
}

const JobCause* JobBelief::gross() const {
    return !causes.empty() && causes.front().is_gross ? &causes.front() : nullptr;
}

bool heed_gross(const JobBelief& belief, Verdict& verdict) {
    const JobCause* gross = belief.gross();
    if (gross == nullptr) return false;
    verdict.word = Word::fails;
    verdict.probability = std::min(verdict.probability, 1.0 - gross->probability);
    verdict.because = gross->says;
    verdict.next = gross->next;
    return true;
}

Result<JobBelief> believe_alone(const StationRequest& request, const StationInputs& inputs,
                                measure::LengthStyle style,
                                const std::vector<exchange::Document>* tapes,
                                const std::vector<exchange::Document>* levels) {
    std::vector<std::string> said_elsewhere;
    const std::vector<LayPoint> points =
        lay_points(inputs.points, shipped_tolerances(), said_elsewhere);
    const PointIndex index = index_of(points);
    const lay::BuildingGrid no_grid;
    return believe(
        {request, inputs, points, index, no_grid, style, watch::Ground::slab, tapes, levels});
}

namespace {

/// Lists and booked names read as they most probably are meant: all is computed from these.
void tell_readings(const BeliefQuestion& question, const StationInputs& inputs,
                   const network::NetworkInput& written, JobBelief& belief) {
    const network::ReadingAlternative& best = belief.solved->readings.best();
    belief.reading_probability = best.probability;
    ReadingFiles files;
    if (!question.request.marks.name.empty()) files.marks = question.request.marks.name;
    if (question.request.points) files.points = question.request.points->name;
    files.marks_unit = inputs.marks_unit;
    files.points_unit = inputs.points_unit;
    for (const network::Reading& reading : best.readings) {
        const ReadingWords words = reading_words(reading, written, files, question.style);
        JobCause out;
        out.cause = network::to_word(reading.kind);
        for (const int mark : reading.marks)
            if (mark >= 0 && at(mark) < written.marks.size())
                out.subjects.push_back(written.marks[at(mark)].name);
        if (out.subjects.empty())
            for (const std::string& name : {reading.booked, reading.meant})
                if (!name.empty()) out.subjects.push_back(name);
        if (reading.setup >= 0)
            out.subjects.push_back(written.setups[at(reading.setup)].setup.station);
        out.probability = reading.probability;
        out.says = words.says;
        out.next = capital(words.to_do);
        out.is_gross = network::is_gross(reading);
        const auto where = out.is_gross ? 0 : static_cast<std::ptrdiff_t>(belief.causes.size());
        belief.causes.insert(belief.causes.begin() + where, std::move(out));
        belief.cause_setups.insert(
            belief.cause_setups.begin() + where,
            reading.setup >= 0 ? std::vector<int>{reading.setup} : std::vector<int>());
    }
}

}  // namespace

Result<JobBelief> believe(const BeliefQuestion& question) {
    // One station was asked for: what is known of it is known from all.
    const StationInputs* inputs = &question.inputs;
    std::optional<StationInputs> whole;
    if (question.request.only_station) {
        StationRequest all = question.request;
        all.only_station.reset();
        std::erase_if(all.set_aside, [&](const SetAside& aside) {
            return aside.station != *question.request.only_station;
        });
        auto read = read_inputs(all);
        if (!read) return read.refusal();
        whole = std::move(*read);
        inputs = &*whole;
    }
    AsideReasons aside;
    Levelled levelled;
    auto input = network_input(question, *inputs, aside, levelled);
    if (!input) return input.refusal();
    const SolvedJobQuestion asked{
        std::move(*input),
        inputs->causes,
        {inputs->marks_unit, inputs->points_unit, inputs->largest_coordinate_m}};
    const StationRequest& request = question.request;
    const auto solved = request.solved ? request.solved->get(asked, request.progress)
                                       : solve_job(asked, request.progress);
    if (!solved) {
        Refusal refusal = solved.refusal();
        if (refusal.code != ErrorCode::stopped && refusal.place.file.empty())
            refusal.place.file = request.sights.name;
        return refusal;
    }
    JobBelief out(*solved);
    out.aside = std::move(aside);
    out.levelled = std::move(levelled);
    tell_readings(question, *inputs, asked.input, out);
    Believing(question, out).run();
    return out;
}

}  // namespace layproof::acts::internal

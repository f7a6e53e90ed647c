#include "acts/record/record.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <future>
#include <map>
#include <memory>
#include <set>
#include <span>
#include <utility>

#include "acts/belief/solved_jobs.hpp"
#include "acts/lay/lay_days.hpp"
#include "acts/shared/refusal_json.hpp"
#include "acts/shared/words.hpp"
#include "base/text/time.hpp"
#include "job/digest.hpp"
#include "threads/threads.hpp"

namespace layproof::acts {
namespace {

using station::Word;

constexpr std::size_t kMostNamed = 12;

int badness(Word word) {
    return word == Word::proven ? 0 : word == Word::in_doubt ? 1 : 2;
}

std::string plain_sentence(Refusal refusal) {
    return sentence_of(refusal);
}

/// What acts of one record have in common is kept in `solved`.
using Solved = std::shared_ptr<SolvedJobs>;

LayRequest lay_request(const RecordFacts& facts, Progress* progress, const Solved& solved) {
    LayRequest out;
    out.station.facts = facts.facts;
    out.station.marks.name = facts.facts.name;
    out.station.sights.name = facts.facts.name;
    out.station.unit = facts.facts.unit;
    out.station.show = facts.options.show;
    out.station.confidence = facts.options.confidence;
    out.station.scale_factor = facts.options.scale_factor;
    out.station.progress = progress;
    out.station.solved = solved;
    return out;
}

/// Without the sights of these stations; what is set aside keeps pointing to its sights.
JobFacts without(const JobFacts& facts, const std::set<std::string>& stations) {
    JobFacts out = facts;
    out.sights.clear();
    out.set_aside.clear();
    for (std::size_t i = 0; i < facts.sights.size(); ++i) {
        if (stations.contains(facts.sights[i].station)) continue;
        for (const JobFacts::Aside& aside : facts.set_aside)
            if (aside.sight == i) out.set_aside.push_back({out.sights.size(), aside.reason});
        out.sights.push_back(facts.sights[i]);
    }
    return out;
}

/// Set-ups that refuse when they are placed alone.
std::vector<RecordLeftOut> unplaceable(const LayRequest& request) {
    std::set<std::string> names;
    for (const measure::Sight& sight : request.station.facts->sights) names.insert(sight.station);
    std::vector<RecordLeftOut> out;
    for (const std::string& name : names) {
        LayRequest one = request;
        one.station.only_station = name;
        const auto answer = run_lay(one);
        if (!answer && answer.refusal().code != ErrorCode::stopped)
            out.push_back({name, plain_sentence(answer.refusal())});
    }
    return out;
}

Result<Done> lay_all(const RecordFacts& facts, Progress* progress, const Solved& solved,
                     RecordAnswer& out) {
    if (facts.refused) return Done{};
    LayRequest request = lay_request(facts, progress, solved);
    auto lay = internal::lay_with_days(request, &out.days);
    if (!lay && lay.refusal().code == ErrorCode::stopped) return lay.refusal();
    if (!lay) {
        // One set-up must not keep the others from being shown.
        out.left_out = unplaceable(request);
        std::set<std::string> names;
        for (const RecordLeftOut& one : out.left_out) names.insert(one.station);
        std::string why = plain_sentence(lay.refusal());
        request.station.facts = without(facts.facts, names);
        if (!names.empty() && !request.station.facts->sights.empty()) {
            out.days.clear();
            lay = internal::lay_with_days(request, &out.days);
            if (!lay && lay.refusal().code == ErrorCode::stopped) return lay.refusal();
            if (!lay) why = plain_sentence(lay.refusal());
        }
        if (!lay) {
            if (names.empty()) out.left_out.push_back({"all", why});
            out.days.clear();
            return Done{};
        }
    }
    out.lay = std::move(*lay);
    return Done{};
}

Result<VetAnswer> vet_control(const RecordFacts& facts, const Solved& solved) {
    VetRequest request;
    request.solved = solved;
    request.facts = facts.facts;
    request.unit = facts.facts.unit;
    request.show = facts.options.show;
    request.confidence = facts.options.confidence;
    request.scale_factor = facts.options.scale_factor;
    network::MarkList list;
    // One sheet gives the list its name.
    std::set<std::string> sheets;
    for (const auto& [mark, sheet] : facts.mark_sheets) sheets.insert(sheet);
    list.name = sheets.size() == 1 ? *sheets.begin() : std::string("of control sheets");
    list.entries = facts.facts.marks;
    request.job_lists.push_back(std::move(list));
    request.job_tapes = facts.facts.tapes;
    request.job_levels = facts.facts.levels;
    request.job_runs = facts.facts.level_runs;
    return run_vet(request);
}

Result<ProveAnswer> prove_whole(const RecordFacts& facts, const Solved& solved) {
    ProveRequest request;
    request.station = lay_request(facts, nullptr, solved).station;
    return run_prove(request);
}

/// What the day of its station says about a point laid from it.
struct DayWord {
    const watch::PointReport* point = nullptr;
    const watch::LaidPoint* laid = nullptr;
    const WatchStation* day = nullptr;
};

class Judge {
public:
    explicit Judge(RecordAnswer& answer) : answer_(answer) {
        for (std::size_t k = 0; k < answer.days.size(); ++k) {
            if (!answer.days[k]) continue;
            const WatchStation& day = *answer.days[k];
            for (std::size_t i = 0; i < day.report.points.size(); ++i)
                days_[day.day.points[i].target.name].push_back(
                    {&day.report.points[i], &day.day.points[i], &day});
        }
    }

    void judge() {
        std::vector<bool> is_laid(answer_.lay.points.size(), false);
        for (std::size_t i = 0; i < answer_.lay.laid.size(); ++i) {
            const LaidReport& report = answer_.lay.laid[i];
            is_laid[report.point] = true;
            answer_.points.push_back(judged(i, report.figures));
            const Word word = answer_.points.back().word;
            ++(word == Word::proven     ? answer_.proven
               : word == Word::in_doubt ? answer_.in_doubt
                                        : answer_.fails);
        }
        for (std::size_t p = 0; p < is_laid.size(); ++p)
            if (!is_laid[p]) answer_.not_laid.push_back(p);
    }

private:
    RecordPoint judged(std::size_t index, const lay::PointReport& report) const {
        RecordPoint out;
        out.laid = index;
        out.word = report.verdict.word;
        out.probability = report.verdict.probability;
        out.because = report.because;
        out.next = report.next;
        const auto found = days_.find(report.point);
        if (found == days_.end()) return out;
        for (const DayWord& day : found->second) {
            out.by_move = out.by_move || day.point->in_doubt_by_move;
            if (out.time_s && day.laid->time_s >= *out.time_s) continue;
            out.time_s = day.laid->time_s;
            out.offset_s = day.day->offset_s;
        }
        return out;
    }

    RecordAnswer& answer_;
    std::map<std::string, std::vector<DayWord>> days_;
};

std::vector<std::string> names_with(const RecordAnswer& answer, Word word) {
    std::vector<std::string> out;
    for (const RecordPoint& p : answer.points)
        if (p.word == word) out.push_back(answer.lay.laid[p.laid].figures.point);
    return out;
}

bool rules_hold(const RecordAnswer& answer, Word& worst) {
    for (const RuleReport& rule : answer.lay.rules)
        if (badness(rule.figures.verdict.word) > badness(worst)) worst = rule.figures.verdict.word;
    return worst == Word::proven;
}

/// Stations from which something was laid and whose checks do not say that they held.
std::vector<std::size_t> moved_days(const RecordAnswer& answer) {
    std::vector<std::size_t> out;
    for (std::size_t k = 0; k < answer.days.size(); ++k)
        if (answer.days[k] && answer.days[k]->has_checks && answer.lay.stations[k].laid > 0 &&
            answer.days[k]->holds < answer.lay.confidence)
            out.push_back(k);
    return out;
}

void sum_up(RecordAnswer& answer) {
    Verdict& v = answer.verdict;
    const int laid = static_cast<int>(answer.points.size());
    v.probability = 1.0;
    for (const RecordPoint& p : answer.points)
        v.probability = std::min(v.probability, p.probability);
    Word rules = Word::proven;
    const bool between = rules_hold(answer, rules);
    if (answer.facts.refused) {
        v.word = Word::in_doubt;
        v.because = "Nothing can be computed: " + *answer.facts.refused;
        v.next = "Take marks and sights into the job.";
        v.probability = 0.0;
    } else if (laid == 0) {
        v.word = Word::in_doubt;
        v.probability = 0.0;
        v.because = "No point has been laid yet.";
    } else {
        v.word = answer.fails > 0 || rules == Word::fails                      ? Word::fails
                 : answer.proven == laid && between && answer.left_out.empty() ? Word::proven
                                                                               : Word::in_doubt;
        v.because = fmt::format("Of {} laid, {} {} proven, {} {} in doubt and {} {}.",
                                internal::count(laid, "point"), answer.proven,
                                answer.proven == 1 ? "is" : "are", answer.in_doubt,
                                answer.in_doubt == 1 ? "is" : "are", answer.fails,
                                answer.fails == 1 ? "fails" : "fail");
        if (!between) v.because += " Not every figure between points is proven.";
    }
    const auto moved = moved_days(answer);
    for (std::size_t i = 0; i < std::min<std::size_t>(moved.size(), 2); ++i) {
        const std::size_t k = moved[i];
        v.because += fmt::format(" Station {}: {}", answer.lay.stations[k].station.station,
                                 answer.days[k]->verdict.because);
    }
    if (!answer.not_laid.empty())
        v.because += fmt::format(" {} of the list {} not laid yet.",
                                 internal::count(static_cast<int>(answer.not_laid.size()), "point"),
                                 answer.not_laid.size() == 1 ? "is" : "are");
    answer.word = v.word;
}

void list_what_to_do(RecordAnswer& answer) {
    auto& out = answer.to_do;
    if (answer.facts.refused) out.emplace_back("Take marks and sights into the job.");
    for (const RecordLeftOut& one : answer.left_out)
        out.push_back(fmt::format("Set-up {} is not in this record: {}", one.station, one.why));
    const auto fails = names_with(answer, Word::fails);
    if (!fails.empty())
        out.push_back(
            fmt::format("Do not build on {}: {} not where the drawing has {}. Lay {} "
                        "again and sight {}.",
                        internal::listed(fails, kMostNamed),
                        fails.size() == 1 ? "it is" : "they are", fails.size() == 1 ? "it" : "them",
                        fails.size() == 1 ? "it" : "them", fails.size() == 1 ? "it" : "them"));
    for (const std::size_t k : moved_days(answer))
        out.push_back(fmt::format("Station {}: {}", answer.lay.stations[k].station.station,
                                  answer.days[k]->verdict.next));
    const auto doubt = names_with(answer, Word::in_doubt);
    if (!doubt.empty())
        out.push_back(fmt::format("Wait with {} until {} been sighted again.",
                                  internal::listed(doubt, kMostNamed),
                                  doubt.size() == 1 ? "it has" : "they have"));
    if (answer.control)
        for (std::size_t m = 0; m < answer.control->marks.size(); ++m)
            if (answer.control->figures.marks[m].word == Word::fails)
                out.push_back(answer.control->marks[m].next);
    for (const std::string& conflict : answer.facts.conflicts) out.push_back("Decide: " + conflict);
    if (!answer.not_laid.empty()) {
        std::vector<std::string> names;
        for (const std::size_t p : answer.not_laid)
            names.push_back(answer.lay.points[p].design.name);
        out.push_back(fmt::format("Still to lay: {}.", internal::listed(names, kMostNamed)));
    }
    if (out.empty()) out.emplace_back("Nothing to do for what is laid.");
    if (answer.verdict.next.empty()) answer.verdict.next = out.front();
}

}  // namespace

Result<RecordAnswer> run_record(RecordFacts facts, Progress* progress) {
    RecordAnswer out;
    out.facts = std::move(facts);
    out.facts_json = to_facts_json(out.facts);
    out.facts_digest = job::sha256({reinterpret_cast<const std::uint8_t*>(out.facts_json.data()),
                                    out.facts_json.size()})
                           .to_text();
    out.unit = out.facts.facts.unit.value_or(measure::LengthUnit::metre);
    out.style.unit = out.unit;
    if (out.facts.options.show) out.style = *out.facts.options.show;
    out.lay.confidence = out.facts.options.confidence;
    out.lay.style = out.style;

    struct Together {
        std::optional<Result<VetAnswer>> control;
        std::optional<Result<ProveAnswer>> whole;
    };
    const auto solved = std::make_shared<SolvedJobs>();
    auto beside = threads::begin([&] {
        Together together;
        if (out.facts.refused) return together;
        together.control = vet_control(out.facts, solved);
        together.whole = prove_whole(out.facts, solved);
        return together;
    });
    const auto laid = lay_all(out.facts, progress, solved, out);
    Together together = beside.get();
    if (!laid) return laid.refusal();
    if (together.control && *together.control)
        out.control = std::move(**together.control);
    else if (together.control)
        out.control_refused = plain_sentence(together.control->refusal());
    if (together.whole && *together.whole)
        out.whole = std::move(**together.whole);
    else if (together.whole)
        out.whole_refused = plain_sentence(together.whole->refusal());
    Judge(out).judge();
    sum_up(out);
    list_what_to_do(out);
    return out;
}

std::string to_text(const RecordAnswer& answer) {
    std::string out =
        fmt::format("Record of {}: {}\n", answer.facts.title, internal::shouted(answer.word));
    out += "  " + answer.verdict.because + "\n";
    for (const std::string& one : answer.to_do) out += "  - " + one + "\n";
    out += fmt::format("Facts {}\n", answer.facts_digest);
    out += std::string(internal::kCaution) + "\n";
    return out;
}

bool is_proven(const RecordAnswer& answer) {
    return answer.word == Word::proven;
}

}  // namespace layproof::acts

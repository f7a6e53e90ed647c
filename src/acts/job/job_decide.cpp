#include <fmt/chrono.h>
#include <fmt/format.h>

#include <algorithm>
#include <set>
#include <utility>

#include "acts/job/job.hpp"
#include "base/text/time.hpp"

namespace layproof::acts {
namespace {

using job::Decision;
using job::DecisionKind;
using job::FactId;
using job::Kept;
using job::SubjectKind;

struct Thing {
    FactId id;
    SubjectKind kind = SubjectKind::other;
    std::string name;
};

std::string name_of(const measure::Sight& sight) {
    return fmt::format("{} to {}", sight.station, sight.target);
}

Refusal not_there(const job::Job& job, const std::string& subject, const char* expected) {
    return {
        ErrorCode::target_unknown, {job.path(), 0, 0}, fmt::format("\"{}\"", subject), expected};
}

struct Pointing {
    std::string station, target;
    std::size_t which = 0;  ///< from 1; 0: all
};

std::optional<Pointing> read_pointing(const std::string& text) {
    const std::size_t colon = text.find(':');
    if (colon == std::string::npos) return std::nullopt;
    Pointing out{text.substr(0, colon), text.substr(colon + 1), 0};
    const std::size_t hash = out.target.rfind('#');
    if (hash != std::string::npos) {
        const std::string number = out.target.substr(hash + 1);
        if (number.empty() || number.size() > 4 ||
            number.find_first_not_of("0123456789") != std::string::npos)
            return std::nullopt;
        for (const char digit : number)
            out.which = out.which * 10 + static_cast<std::size_t>(digit - '0');
        if (out.which == 0) return std::nullopt;
        out.target.resize(hash);
    }
    if (out.station.empty() || out.target.empty()) return std::nullopt;
    return out;
}

Result<std::vector<Thing>> pointings(const job::Job& job, const std::string& subject) {
    const char* expected =
        "a station and one of its targets in the job, such as S1:H3 or S1:H3#2, or a fact's id";
    const auto wanted = read_pointing(subject);
    if (!wanted) return not_there(job, subject, expected);
    auto sights = job.sights_of(wanted->station);
    if (!sights) return sights.refusal();
    const bool all_timed = std::all_of(sights->begin(), sights->end(),
                                       [](const auto& s) { return s.value.time_s.has_value(); });
    if (all_timed)
        std::stable_sort(sights->begin(), sights->end(), [](const auto& a, const auto& b) {
            return *a.value.time_s < *b.value.time_s;
        });
    std::vector<Thing> in_solution, others;
    for (const auto& kept : *sights) {
        if (kept.value.target != wanted->target) continue;
        (measure::is_to_mark(kept.value.purpose) ? in_solution : others)
            .push_back({kept.id, SubjectKind::sight, name_of(kept.value)});
    }
    std::vector<Thing> out = in_solution.empty() ? std::move(others) : std::move(in_solution);
    if (wanted->which > 0) {
        if (wanted->which > out.size()) return not_there(job, subject, expected);
        out = {out[wanted->which - 1]};
    }
    if (out.empty()) return not_there(job, subject, expected);
    return out;
}

template <class T>
Result<bool> look_in(const job::Job& job, const FactId& id, SubjectKind kind, Thing& out) {
    const auto facts = job.all<T>();
    if (!facts) return facts.refusal();
    for (const auto& kept : *facts) {
        if (kept.id != id) continue;
        out.kind = kind;
        if constexpr (std::is_same_v<T, measure::Sight>)
            out.name = name_of(kept.value);
        else if constexpr (std::is_same_v<T, station::Setup>)
            out.name = kept.value.station;
        else
            out.name = kept.value.name;
        return true;
    }
    return false;
}

/// What the fact is about. One recorded under a second id too is found by its id alone.
Result<Thing> thing_of(const job::Job& job, const FactId& id) {
    Thing out{id, SubjectKind::other, {}};
    auto found = look_in<measure::Sight>(job, id, SubjectKind::sight, out);
    if (found && !*found) found = look_in<frame::Mark>(job, id, SubjectKind::mark, out);
    if (found && !*found) found = look_in<station::Setup>(job, id, SubjectKind::setup, out);
    if (found && !*found) found = look_in<frame::DesignPoint>(job, id, SubjectKind::point, out);
    if (found && !*found) found = look_in<job::Document>(job, id, SubjectKind::document, out);
    if (!found) return found.refusal();
    return out;
}

Result<std::vector<Thing>> things_of(const job::Job& job, const DecideRequest& request) {
    if (request.kind == DecisionKind::mark_moved) {
        const auto marks = job.current<frame::Mark>();
        if (!marks) return marks.refusal();
        for (const auto& kept : *marks)
            if (kept.value.name == request.subject)
                return std::vector<Thing>{{kept.id, SubjectKind::mark, kept.value.name}};
        return not_there(job, request.subject, "the name of a mark in the job");
    }
    if (const auto id = FactId::from_text(request.subject)) {
        auto thing = thing_of(job, *id);
        if (!thing) return thing.refusal();
        return std::vector<Thing>{std::move(*thing)};
    }
    if (request.kind == DecisionKind::accept)
        return not_there(job, request.subject, "the id of a fact in the job");
    return pointings(job, request.subject);
}

}  // namespace

Result<DecideAnswer> decide(job::Job& job, const DecideRequest& request) {
    auto things = things_of(job, request);
    if (!things) return things.refusal();
    const auto aside_ids = job.set_aside();
    if (!aside_ids) return aside_ids.refusal();
    const std::set<FactId> aside(aside_ids->begin(), aside_ids->end());

    DecideAnswer answer;
    answer.kind = request.kind;
    auto writing = job.begin();
    if (!writing) return writing.refusal();
    for (const Thing& thing : *things) {
        const bool is_aside = aside.contains(thing.id);
        if (request.kind == DecisionKind::set_aside && is_aside) continue;
        if (request.kind == DecisionKind::put_back && !is_aside) continue;
        const bool by_name = request.kind == DecisionKind::mark_moved;
        Decision decision;
        decision.kind = request.kind;
        decision.subject = {thing.kind, thing.name, thing.id};
        if (by_name) decision.subject.fact.reset();
        decision.reason = request.reason;
        decision.initials = request.initials;
        decision.time_s = static_cast<double>(request.time_ms) / 1000.0;
        decision.time_text = utc_text(request.time_ms);
        auto added = writing->add(decision);
        if (!added) return added.refusal();
        answer.decided.push_back({by_name ? std::string() : thing.id.to_text(),
                                  thing.name.empty() ? thing.id.to_text() : thing.name});
    }
    auto done = writing->commit();
    if (!done) return done.refusal();
    return answer;
}

}  // namespace layproof::acts

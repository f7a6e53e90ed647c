#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>
#include <utility>

#include "acts/job/facts_to_plan.hpp"
#include "acts/job/job.hpp"
#include "acts/job/job_measured.hpp"

namespace layproof::acts {
namespace {

using job::Conflict;
using job::ConflictKind;
using job::Decision;
using job::DecisionKind;
using job::FactId;
using job::Kept;
using job::WriterId;

using Decisions = std::vector<Kept<Decision>>;

bool counts_in_solution(const measure::Sight& sight) {
    return measure::is_to_mark(sight.purpose);
}

std::string signed_reason(const Decision& decision) {
    return fmt::format("{} ({})", decision.reason, decision.initials);
}

std::string reason_for(const FactId& fact, const Decisions& decisions) {
    for (auto at = decisions.rbegin(); at != decisions.rend(); ++at)
        if (at->value.kind == DecisionKind::set_aside && at->value.subject.fact == fact)
            return signed_reason(at->value);
    return "set aside in the job";
}

/// Which of the facts in a conflict the last accept decision names.
std::optional<FactId> accepted(const Conflict& conflict, const Decisions& decisions) {
    for (auto at = decisions.rbegin(); at != decisions.rend(); ++at) {
        const auto& fact = at->value.subject.fact;
        if (at->value.kind == DecisionKind::accept && fact &&
            std::find(conflict.facts.begin(), conflict.facts.end(), *fact) != conflict.facts.end())
            return fact;
    }
    return std::nullopt;
}

/// One name, two instruments: the sights of both crews must never be put into one solution.
struct OneCrew {
    std::string station;
    std::set<WriterId> left_out;
    std::optional<FactId> setup;  ///< the set-up that counts, if a set-up was accepted
};

class Crews {
public:
    Crews(const std::vector<Kept<measure::Sight>>& sights,
          const std::vector<Kept<station::Setup>>& setups, const Decisions& decisions)
        : sights_(sights), setups_(setups), decisions_(decisions) {}

    /// Nothing when the conflict is none of sights in one solution.
    Result<std::optional<OneCrew>> settle(const Conflict& conflict, const std::string& path) const {
        if (conflict.kind != ConflictKind::station_name &&
            conflict.kind != ConflictKind::setup_name)
            return std::optional<OneCrew>{};
        std::set<WriterId> writers;
        for (const FactId& fact : conflict.facts)
            if (const auto writer = writer_of(fact)) writers.insert(*writer);
        // Both crews took the same file: the facts are shown once, and there is one crew.
        if (writers.size() < 2) return std::optional<OneCrew>{};
        const auto used = accepted(conflict, decisions_);
        if (!used) {
            std::string ids;
            for (const FactId& fact : conflict.facts)
                ids += (ids.empty() ? "" : " or ") + fact.to_text();
            return Refusal{
                ErrorCode::duplicate_setup,
                {path, 0, 0},
                conflict.because,
                fmt::format("one crew's station under that name: layproof job decide {} accept "
                            "with {}",
                            path, ids)};
        }
        OneCrew out;
        out.station = conflict.name;
        out.left_out = writers;
        if (const auto writer = writer_of(*used)) out.left_out.erase(*writer);
        if (conflict.kind == ConflictKind::setup_name) out.setup = used;
        return std::optional<OneCrew>{std::move(out)};
    }

private:
    std::optional<WriterId> writer_of(const FactId& fact) const {
        for (const auto& kept : sights_)
            if (kept.id == fact) return kept.writer;
        for (const auto& kept : setups_)
            if (kept.id == fact) return kept.writer;
        return std::nullopt;
    }

    const std::vector<Kept<measure::Sight>>& sights_;
    const std::vector<Kept<station::Setup>>& setups_;
    const Decisions& decisions_;
};

/// In order of recording, which is that of the sheet.
template <class T>
void in_order(std::vector<Kept<T>>& facts) {
    std::sort(facts.begin(), facts.end(), [](const auto& a, const auto& b) { return a.id < b.id; });
}

template <class T>
std::vector<T> values_of(std::vector<Kept<T>>& facts, const std::set<FactId>& aside,
                         const char* kind, std::vector<std::string>& notices) {
    in_order(facts);
    std::vector<T> out;
    for (const auto& kept : facts) {
        if (aside.contains(kept.id)) {
            notices.push_back(
                fmt::format("{} {} is set aside in the job and left out.", kind, kept.value.name));
            continue;
        }
        out.push_back(kept.value);
    }
    return out;
}

/// Marks decided to have moved whose coordinates are no newer than the decision.
std::map<std::string, std::string> moved_marks(const std::vector<Kept<frame::Mark>>& marks,
                                               const Decisions& decisions) {
    std::map<std::string, std::string> out;
    for (const auto& decided : decisions) {
        if (decided.value.kind != DecisionKind::mark_moved) continue;
        const auto mark = std::find_if(marks.begin(), marks.end(), [&](const auto& kept) {
            return kept.value.name == decided.value.subject.name;
        });
        if (mark != marks.end() && mark->id > decided.id) continue;
        out[decided.value.subject.name] = signed_reason(decided.value);
    }
    return out;
}

std::optional<measure::LengthUnit> unit_named(const std::vector<Kept<job::Setting>>& settings,
                                              const char* name) {
    for (const auto& kept : settings)
        if (kept.value.name == name) return measure::length_unit_from_word(kept.value.value);
    return std::nullopt;
}

/// The document of that role taken last.
Result<std::optional<exchange::Document>> last_document(
    const job::Job& job, const std::vector<Kept<job::Document>>& documents, const char* role) {
    for (auto at = documents.rbegin(); at != documents.rend(); ++at) {
        if (at->value.role != role) continue;
        const auto bytes = job.document_bytes(at->value.digest);
        if (!bytes) return bytes.refusal();
        return std::optional(
            exchange::Document{at->value.name, std::string(bytes->begin(), bytes->end())});
    }
    return std::optional<exchange::Document>{};
}

/// What is kept as it came and read by the acts.
Result<Done> add_documents(const job::Job& job, const job::AsOf& as_of,
                           const std::vector<Kept<job::Setting>>& settings, JobFacts& out) {
    const auto documents = job.all<job::Document>(as_of);
    if (!documents) return documents.refusal();
    auto causes = last_document(job, *documents, "causes");
    if (!causes) return causes.refusal();
    auto grid = last_document(job, *documents, "grid");
    if (!grid) return grid.refusal();
    out.causes = std::move(*causes);
    out.grid = std::move(*grid);
    out.grid_unit = unit_named(settings, "unit of grid");
    for (const auto& kept : settings) {
        if (kept.value.name != "map of grid") continue;
        const auto digest = job::Digest::from_text(kept.value.value);
        if (!digest) continue;
        const auto bytes = job.document_bytes(*digest);
        if (!bytes) return bytes.refusal();
        out.grid_map = exchange::Document{"column map of the grid lines",
                                          std::string(bytes->begin(), bytes->end())};
    }
    return Done{};
}

Result<JobFacts> gather_facts(const job::Job& job, const job::AsOf& as_of,
                              const std::optional<std::string>& only_station, bool needs_sights) {
    auto marks = job.current<frame::Mark>(as_of);
    if (!marks) return marks.refusal();
    auto sights =
        only_station ? job.sights_of(*only_station, as_of) : job.all<measure::Sight>(as_of);
    if (!sights) return sights.refusal();
    if (only_station && sights->empty())
        return internal::no_such_station(*only_station, job.path());
    const auto all_setups = job.all<station::Setup>(as_of);
    if (!all_setups) return all_setups.refusal();
    auto setups = job.current<station::Setup>(as_of);
    if (!setups) return setups.refusal();
    auto points = job.current<frame::DesignPoint>(as_of);
    if (!points) return points.refusal();
    auto instruments = job.current<measure::Instrument>(as_of);
    if (!instruments) return instruments.refusal();
    const auto settings = job.current<job::Setting>(as_of);
    if (!settings) return settings.refusal();
    auto decisions = job.all<Decision>(as_of);
    if (!decisions) return decisions.refusal();
    const auto aside_ids = job.set_aside(as_of);
    if (!aside_ids) return aside_ids.refusal();
    const auto conflicts = job.conflicts(as_of, only_station);
    if (!conflicts) return conflicts.refusal();
    const std::set<FactId> aside(aside_ids->begin(), aside_ids->end());

    JobFacts out;
    out.name = job.path();
    in_order(*decisions);
    std::vector<OneCrew> one_crew;
    const Crews crews(*sights, *all_setups, *decisions);
    for (const Conflict& conflict : *conflicts) {
        auto settled = crews.settle(conflict, job.path());
        if (!settled) return settled.refusal();
        if (*settled) {
            one_crew.push_back(std::move(**settled));
        } else if (!conflict.settled && conflict.kind != ConflictKind::station_name &&
                   conflict.kind != ConflictKind::setup_name) {
            out.notices.push_back(conflict.because + " The one that counts now was used.");
        }
    }

    const auto moved = moved_marks(*marks, *decisions);
    for (const auto& [name, reason] : moved)
        out.notices.push_back(
            fmt::format("Mark {} was decided to have moved: {}. Sights to it are not used until "
                        "new coordinates of it are taken.",
                        name, reason));
    out.marks = values_of(*marks, aside, "Mark", out.notices);
    out.points = values_of(*points, aside, "Point", out.notices);
    if (out.marks.empty())
        return Refusal{ErrorCode::no_marks, {job.path(), 0, 0}, "no mark in the job", "marks"};

    in_order(*setups);
    for (auto& kept : *setups) {
        if (only_station && kept.value.station != *only_station) continue;
        for (const OneCrew& crew : one_crew) {
            if (crew.station != kept.value.station || !crew.setup) continue;
            const auto used = std::find_if(all_setups->begin(), all_setups->end(),
                                           [&](const auto& s) { return s.id == *crew.setup; });
            if (used != all_setups->end()) kept.value = used->value;
        }
        out.setups.push_back(std::move(kept.value));
    }
    std::map<std::string, int> left_out;
    in_order(*sights);
    for (auto& kept : *sights) {
        measure::Sight& sight = kept.value;
        const bool of_other_crew =
            std::any_of(one_crew.begin(), one_crew.end(), [&](const OneCrew& crew) {
                return crew.station == sight.station && crew.left_out.contains(kept.writer);
            });
        if (of_other_crew) {
            ++left_out[sight.station];
            continue;
        }
        std::optional<std::string> why;
        if (aside.contains(kept.id)) {
            why = reason_for(kept.id, *decisions);
        } else if (const auto at = moved.find(sight.target); at != moved.end()) {
            if (counts_in_solution(sight)) why = "mark moved: " + at->second;
        }
        if (why && !counts_in_solution(sight)) {
            out.notices.push_back(fmt::format("{} to {} is set aside in the job and left out: {}.",
                                              sight.station, sight.target, *why));
            continue;
        }
        if (why) out.set_aside.push_back({out.sights.size(), *why});
        out.sights.push_back(std::move(sight));
    }
    for (const auto& [station, number] : left_out)
        out.notices.push_back(fmt::format(
            "Station {}: {} sights of another crew under that name were decided not to count.",
            station, number));
    if (needs_sights && out.sights.empty())
        return Refusal{ErrorCode::no_sights, {job.path(), 0, 0}, "no sight in the job", "sights"};

    in_order(*instruments);
    if (!instruments->empty()) {
        out.instrument = instruments->back().value;
        out.instruments = instruments->size();
    }
    out.unit = unit_named(*settings, "unit");
    out.marks_unit = unit_named(*settings, "unit of marks");
    out.points_unit = unit_named(*settings, "unit of points");
    auto done = add_documents(job, as_of, *settings, out);
    if (done) done = internal::add_measured(job, as_of, aside, out);
    if (!done) return done.refusal();
    return out;
}

}  // namespace

Result<JobFacts> facts_of(const job::Job& job, const job::AsOf& as_of,
                          const std::optional<std::string>& only_station) {
    return gather_facts(job, as_of, only_station, true);
}

Result<JobFacts> facts_to_plan(const job::Job& job, const job::AsOf& as_of) {
    return gather_facts(job, as_of, std::nullopt, false);
}

}  // namespace layproof::acts

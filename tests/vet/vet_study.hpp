#pragma once
// One invented job vetted, and whether its trap could be seen at all: what is asked of the vetting
// is fixed here, before any result.
//
// Detectable: from the same job without noise, the statistic that remains under "nothing wrong" and
// under every other explanation with no more free amounts than the trap's own is at least
// vet::kSeen. Where only another explanation with the same trace stands against it, it is
// "shared": the first entry must hold it as a member. Two more by definition: a revision needs two
// lists and every changed mark d²/(2σ²) ≥ kSeen; a doubled name or place is read off the paper.

#include <algorithm>
#include <set>

#include "vet/explain_internal.hpp"
#include "vet/vet.hpp"
#include "vet_jobs.hpp"

namespace layproof::testing {

enum class Showing { detectable, shared, faint };

struct Vetted {
    VetJob job;
    Showing showing = Showing::faint;
    double noncentrality = 0.0;  ///< against nothing wrong
    double apart = 0.0;          ///< least against another explanation
    std::string nearest;         ///< that explanation
    vet::Vetting vetting;
    bool is_named = false;    ///< the first entry holds it
    bool is_accused = false;  ///< the first entry is something else than nothing wrong
    double probability_of_first = 0.0;
};

inline bool holds_truth(vet::Trap trap, const std::vector<std::string>& subjects,
                        const VetJob& job) {
    using vet::Trap;
    if (trap != job.truth) return false;
    if (job.truth == Trap::mark_off || job.truth == Trap::mark_height_off ||
        job.truth == Trap::entry_wrong)
        return !subjects.empty() && subjects.front() == job.subjects.front();
    if (job.truth == Trap::names_exchanged || job.truth == Trap::other_revision)
        return std::set<std::string>(subjects.begin(), subjects.end()) ==
               std::set<std::string>(job.subjects.begin(), job.subjects.end());
    return true;
}

inline int amounts_of(const vet::internal::Variant& v) {
    return int{v.free_turn} + int{v.free_scale} + 2 * int{v.free_shift};
}

/// Of the job without noise.
inline void look(Vetted& out, const VetJob& clean) {
    using vet::Trap;
    using namespace vet::internal;
    const Gathered all = gather(clean.evidence);
    const Explained explained = explain(all, nullptr);
    if (explained.plain < 0) return;
    const Read& plain = explained.reads[static_cast<std::size_t>(explained.plain)];
    out.noncentrality = plain.statistic;
    if (clean.truth == Trap::duplicate_name || clean.truth == Trap::one_place) {
        out.showing = Showing::detectable;
        return;
    }
    if (clean.truth == Trap::other_revision) {
        const double least = clean.amount * clean.amount /
                             (2.0 * network::kListRounding_m * network::kListRounding_m);
        if (clean.evidence.lists.size() > 1 && least >= vet::kSeen)
            out.showing = Showing::detectable;
        return;
    }
    // The truth's own amounts, and what every other explanation leaves.
    int own = 0;
    if (clean.truth == Trap::mark_off || clean.truth == Trap::entry_wrong) own = 2;
    if (clean.truth == Trap::mark_height_off || clean.truth == Trap::grid_for_ground) own = 1;
    if (clean.truth == Trap::turned) own = 3;
    if (clean.truth == Trap::shifted) own = 2;
    if (clean.truth == Trap::mirrored && clean.evidence.lists.size() > 1) own = 2;
    if (clean.truth == Trap::grid_for_ground && clean.list >= 0) own = 3;
    out.apart = 1e30;
    const auto against = [&](double left, Trap trap) {
        if (left >= out.apart) return;
        out.apart = left;
        out.nearest = std::string(to_word(trap));
    };
    for (const Read& r : explained.reads) {
        if (r.variant.trap == Trap::nothing_wrong || r.variant.also != Trap::nothing_wrong ||
            amounts_of(r.variant) > own)
            continue;
        std::vector<std::string> subjects;
        if (r.variant.mark_a >= 0)
            subjects = {all.marks[static_cast<std::size_t>(r.variant.mark_a)].name,
                        all.marks[static_cast<std::size_t>(r.variant.mark_b)].name};
        if (holds_truth(r.variant.trap, subjects, clean)) continue;
        against(r.statistic, r.variant.trap);
    }
    const auto& patterns = plain.errors().patterns();
    for (std::size_t p = 0; p < patterns.size(); ++p) {
        if (patterns[p].columns > own) continue;
        std::vector<std::string> subjects;
        if (patterns[p].mark >= 0)
            subjects = {all.marks[static_cast<std::size_t>(patterns[p].mark)].name};
        if (holds_truth(patterns[p].trap, subjects, clean)) continue;
        against(plain.solved.statistic -
                    plain.errors().explained(plain.errors().columns_of({static_cast<int>(p)})),
                patterns[p].trap);
    }
    if (out.noncentrality < vet::kSeen)
        out.showing = Showing::faint;
    else
        out.showing = out.apart >= vet::kSeen ? Showing::detectable : Showing::shared;
}

inline Vetted vet_one(std::uint64_t seed, vet::Trap truth) {
    using vet::Trap;
    Vetted out;
    VetJobOptions clean;
    clean.noise = 0.0;
    look(out, draw_vet_job(seed, truth, clean));
    out.job = draw_vet_job(seed, truth);
    out.vetting = vet::vet(out.job.evidence);
    const vet::Explanation& first = out.vetting.explanations.front();
    out.probability_of_first = first.probability;
    out.is_accused = first.members.front().trap != Trap::nothing_wrong;
    if (truth == Trap::nothing_wrong)
        out.is_named = !out.is_accused;
    else if (truth == Trap::duplicate_name)
        out.is_named = std::count(out.vetting.doubled_names.begin(),
                                  out.vetting.doubled_names.end(), out.job.subjects[0]) > 0;
    else if (truth == Trap::one_place)
        out.is_named = out.vetting.one_place.size() == 1;
    else
        for (const vet::Member& m : first.members)
            out.is_named = out.is_named || holds_truth(m.trap, m.subjects, out.job);
    return out;
}

}  // namespace layproof::testing

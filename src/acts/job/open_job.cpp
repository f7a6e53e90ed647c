#include "acts/job/open_job.hpp"

#include <algorithm>

#include "acts/job/job.hpp"
#include "job/digest.hpp"

namespace layproof::acts {
namespace {

std::string head_of(const std::vector<job::ChainHead>& heads) {
    if (heads.size() == 1) return heads.front().hash.to_text();
    job::Sha256 all;
    for (const job::ChainHead& head : heads) all.add(head.hash.bytes);
    return all.finish().to_text();
}

}  // namespace

OpenJob::OpenJob(std::string path, job::Job reader, job::Clock& clock, job::Entropy& entropy)
    : path_(std::move(path)), clock_(&clock), entropy_(&entropy), reader_(std::move(reader)) {}

Result<std::unique_ptr<OpenJob>> OpenJob::open(const std::string& path, job::Clock& clock,
                                               job::Entropy& entropy) {
    // A file of an old schema would be read as a copy in memory, in which no change is ever seen.
    // Where it may not be written to, nobody else can change it either.
    auto writer = job::Job::open(path, job::Mode::write, clock, entropy);
    if (!writer && writer.refusal().code != ErrorCode::job_read_only) return writer.refusal();
    auto reader = job::Job::open(path, job::Mode::read, clock, entropy);
    if (!reader) return reader.refusal();
    std::unique_ptr<OpenJob> out(new OpenJob(path, std::move(*reader), clock, entropy));
    if (writer) out->writer_.emplace(std::move(*writer));
    auto state = out->state();
    if (!state) return state.refusal();
    return out;
}

Result<JobState> OpenJob::look_at_state() {
    for (int tries = 0;; ++tries) {
        const auto before = reader_.changes();
        if (!before) return before.refusal();
        if (seen_ == *before) return state_;
        const auto summary = reader_.summary();
        if (!summary) return summary.refusal();
        const auto after = reader_.changes();
        if (!after) return after.refusal();
        if (*before != *after && tries < kMostLooks) continue;
        JobState now;
        for (const job::KindCount& kind : summary->kinds) now.facts += kind.facts;
        now.head = head_of(summary->heads);
        now.last_ms = summary->last_recorded_ms.value_or(0);
        now.generation = state_.generation;
        if (!(now == state_)) ++now.generation;
        seen_ = *after;
        state_ = std::move(now);
        return state_;
    }
}

Result<JobState> OpenJob::state() {
    const std::lock_guard lock(read_mutex_);
    return look_at_state();
}

Result<std::shared_ptr<const JobFacts>> OpenJob::facts(const job::AsOf& as_of) {
    const std::lock_guard lock(read_mutex_);
    for (int tries = 0;; ++tries) {
        const auto state = look_at_state();
        if (!state) return state.refusal();
        const std::pair key(state->generation, as_of);
        const auto kept = std::find_if(facts_.begin(), facts_.end(),
                                       [&](const auto& entry) { return entry.first == key; });
        if (kept != facts_.end()) {
            std::rotate(kept, kept + 1, facts_.end());
            return facts_.back().second;
        }
        auto facts = facts_of(reader_, as_of);
        if (!facts) return facts.refusal();
        const auto after = look_at_state();
        if (!after) return after.refusal();
        auto shared = std::make_shared<const JobFacts>(std::move(*facts));
        if (after->generation != state->generation) {
            if (tries < kMostLooks) continue;
            return shared;
        }
        facts_.emplace_back(key, shared);
        if (facts_.size() > kMostFacts) facts_.erase(facts_.begin());
        return shared;
    }
}

}  // namespace layproof::acts

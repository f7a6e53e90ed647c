#pragma once
// The facts of a job for what comes before the first sight.

#include "acts/shared/job_facts.hpp"
#include "base/result.hpp"
#include "job/job.hpp"

namespace layproof::acts {

/// As facts_of; a job without sights is no refusal.
Result<JobFacts> facts_to_plan(const job::Job& job, const job::AsOf& as_of = {});

}  // namespace layproof::acts

#pragma once
// Tapes and levels of a job.

#include <set>

#include "acts/shared/job_facts.hpp"
#include "base/result.hpp"
#include "job/job.hpp"

namespace layproof::acts::internal {

/// Tapes, levels and runs of a job that are not set aside, oldest first. Two files may use one name
/// for their runs: the later run is then called "R1 (2)".
Result<Done> add_measured(const job::Job& job, const job::AsOf& as_of,
                          const std::set<job::FactId>& aside, JobFacts& out);

}  // namespace layproof::acts::internal

#pragma once
// What the commands share that open a job file.

#include <optional>
#include <string>

#include "acts/shared/job_facts.hpp"
#include "base/result.hpp"
#include "job/facts.hpp"

namespace layproof::cli {

/// exit_not_written when the job file could not be read or written, else exit_refused. Of an
/// unopened file an empty one counts as unreadable.
int job_status(const Refusal& refusal, bool is_opening);

/// Says the refusal on standard error; job_status.
int refuse_job(const Refusal& refusal, bool is_opening = false);

/// Reads --as-of. False when it is no time, said on standard error.
bool read_as_of(const std::string& text, job::AsOf& as_of);

/// The facts of a job for an act. Nothing when all went well, else the exit status; what is wrong
/// is then said on standard error.
std::optional<int> read_job(const std::string& path, const job::AsOf& as_of,
                            std::optional<acts::JobFacts>& into);

}  // namespace layproof::cli

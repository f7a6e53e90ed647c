#pragma once
// Another crew's file taken over, with a note of it in the job, so that the strip of what was
// recorded when shows it.

#include <cstdint>
#include <string>
#include <string_view>

#include "base/result.hpp"
#include "job/job.hpp"

namespace layproof::acts {

/// How the name of the setting begins that notes a merge: "merged 2031-05-15 …Z"; its value
/// is "evening.job: 31 entries".
inline constexpr std::string_view kMergeNote = "merged ";

/// job::Job::merge_from, and a note when anything came over but such notes: crews that merge each
/// other's files in turn come to an end.
Result<job::MergeReport> merge(job::Job& job, const std::string& other_path,
                               const job::MergeOptions& options, std::int64_t time_ms);

}  // namespace layproof::acts

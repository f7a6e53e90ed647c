#include "acts/job/merge.hpp"

#include <algorithm>

#include "acts/job/job.hpp"
#include "acts/shared/words.hpp"
#include "base/text/time.hpp"

namespace layproof::acts {
namespace {

Result<std::int64_t> merge_notes(const job::Job& job) {
    const auto settings = job.all<job::Setting>();
    if (!settings) return settings.refusal();
    return static_cast<std::int64_t>(
        std::count_if(settings->begin(), settings->end(),
                      [](const auto& kept) { return kept.value.name.starts_with(kMergeNote); }));
}

}  // namespace

Result<job::MergeReport> merge(job::Job& job, const std::string& other_path,
                               const job::MergeOptions& options, std::int64_t time_ms) {
    const auto notes_before = merge_notes(job);
    if (!notes_before) return notes_before.refusal();
    auto report = job.merge_from(other_path, options);
    if (!report) return report;
    const auto notes_after = merge_notes(job);
    if (!notes_after) return notes_after.refusal();
    const std::int64_t told = report->facts_new - (*notes_after - *notes_before);
    if (told <= 0) return report;
    const std::string file = other_path.substr(other_path.find_last_of('/') + 1);
    const auto noted = job.add<job::Setting>(
        {std::string(kMergeNote) + utc_text(time_ms),
         file + (told == 1 ? ": 1 entry" : ": " + std::to_string(told) + " entries")});
    if (!noted) return noted.refusal();
    return report;
}

}  // namespace layproof::acts

#include "cli/record_output.hpp"

#include <utility>

#include "acts/record/record.hpp"
#include "acts/record/record_check.hpp"
#include "cli/commands.hpp"
#include "cli/job_file.hpp"
#include "cli/output_folder.hpp"
#include "cli/site_answer.hpp"
#include "cli/site_options.hpp"
#include "job/sources.hpp"

namespace layproof::cli {

std::optional<int> add_record_files(const std::string& job_path, const acts::RecordOptions& options,
                                    std::vector<OutputFile>& files,
                                    std::optional<acts::ProveAnswer>* whole) {
    job::SystemClock clock;
    job::SystemEntropy entropy;
    const auto job = job::Job::open(job_path, job::Mode::read, clock, entropy);
    if (!job) return refuse_job(job.refusal(), true);
    auto facts = acts::record_facts_of(*job, options);
    if (!facts) return refuse_job(facts.refusal());
    auto answer = acts::run_record(std::move(*facts));
    if (!answer) return refuse(answer.refusal());
    auto made = acts::record_files(*answer);
    if (!made) return not_written(made.refusal().to_text());
    for (acts::RecordFile& one : *made)
        files.push_back({std::move(one.name), std::move(one.bytes)});
    if (whole != nullptr) *whole = std::move(answer->whole);
    return std::nullopt;
}

int check_record_file(const std::string& path, bool json) {
    std::optional<exchange::Document> document;
    if (!read_into(path, document)) return exit_refused;
    if (!document) return usage("prove", "--from: a record was expected");
    const auto check = acts::check_record(*document);
    if (!check) return refuse(check.refusal());
    return show(json ? acts::to_json(*check) : acts::to_text(*check), check->agrees);
}

}  // namespace layproof::cli

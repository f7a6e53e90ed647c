#pragma once
// The parts of `layproof prove` that deal in records: the record of a job as files, and a record
// checked against its own facts.

#include <optional>
#include <string>
#include <vector>

#include "acts/prove/prove.hpp"
#include "acts/record/record_facts.hpp"
#include "cli/output_folder.hpp"

namespace layproof::cli {

/// Adds record.pdf, record.html and the lists. Nothing when all went well, else the exit status;
/// what is wrong is then said on standard error. `whole`: takes the job in one adjustment as the
/// record has it; nothing when that was refused.
std::optional<int> add_record_files(const std::string& job_path, const acts::RecordOptions& options,
                                    std::vector<OutputFile>& files,
                                    std::optional<acts::ProveAnswer>* whole = nullptr);

/// Reads a record, computes it again and says whether it agrees: exit_proven when it does,
/// exit_not_proven when it does not.
int check_record_file(const std::string& path, bool json);

}  // namespace layproof::cli

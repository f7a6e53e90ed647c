#pragma once
// The tables of a job file and the steps from one schema to the next. Not for other rooms.

#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "job/sqlite_internal.hpp"

namespace layproof::job {

/// "LPJF" as a big-endian number, in the file's header as SQLite's application id.
inline constexpr std::int64_t kApplicationId = 0x4C504A46;

/// One step: what is run to come from schema `to_version` − 1 to `to_version`.
struct Migration {
    int to_version;
    std::string sql;
};

/// All steps, from nothing to the schema this layproof writes.
std::span<const Migration> migrations();
inline int newest_version(std::span<const Migration> steps) {
    return steps.empty() ? 0 : steps.back().to_version;
}

/// Runs the steps that are still to be run, all or none, and sets user_version. A file of a newer
/// schema is refused (job_newer). Nothing is touched when the schema is the newest.
Result<Done> migrate(Db& db, std::span<const Migration> steps);

/// What differs between the tables, indexes and triggers of `db` and those the steps make. Empty:
/// nothing. A dropped guard shows up here.
Result<std::vector<std::string>> schema_differences(Db& db, std::span<const Migration> steps);

}  // namespace layproof::job

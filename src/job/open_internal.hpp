#pragma once
// Opening the SQLite file of a job: is it one, is it whole, may it be written to. Not for other
// rooms.

#include <cstdint>
#include <span>
#include <string>

#include "base/result.hpp"
#include "job/schema_internal.hpp"
#include "job/sqlite_internal.hpp"

namespace layproof::job {

struct FileIdentity {
    std::int64_t device = 0;
    std::int64_t inode = 0;

    friend bool operator==(const FileIdentity&, const FileIdentity&) = default;
};

/// Which file stands under a path: tells a copy from the file it was copied from.
Result<FileIdentity> identity_of(const std::string& path);

bool path_exists(const std::string& path);

/// Opens an existing job file. Refuses, touching nothing: no file, an empty file, a file that is
/// not SQLite, a foreign SQLite file, a file cut short, a newer schema; for writing also a file or
/// folder that may not be written to. An older schema is brought up to date: in the file when
/// opened for writing, in memory when opened for reading.
Result<Done> open_job_db(Db& db, const std::string& path, bool write, int busy_ms,
                         std::span<const Migration> steps);

/// Makes an empty job file with the newest schema. The path must be free.
Result<Done> create_job_db(Db& db, const std::string& path, int busy_ms,
                           std::span<const Migration> steps);

/// Gives the finished file `from` its name `to` without ever replacing a file there, and makes the
/// name durable. `from` is gone afterwards.
Result<Done> place_file(const std::string& from, const std::string& to);

/// Makes what was done to the names in the folder of `path` durable.
void sync_folder(const std::string& path);

/// How much of a damaged file can still be read: "12 marks, 480 sights", or "nothing".
std::string readable_part(const std::string& path);

}  // namespace layproof::job

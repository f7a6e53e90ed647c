#pragma once
// All that a record is made of. Whoever has these facts makes the same record: no clock, no file
// and no setting goes into it besides. They travel in the record as record-facts.json.

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "acts/shared/job_facts.hpp"
#include "base/result.hpp"
#include "job/job.hpp"
#include "measure/length.hpp"

namespace layproof::acts {

/// A document that was handed over and taken into the job.
struct RecordSource {
    std::string name, role, note, revision;
    std::string digest;  ///< SHA-256, 64 hexadecimal digits
    std::int64_t size_bytes = 0;
    std::int64_t taken_ms = 0;
};

struct RecordDecision {
    std::string kind;  ///< word of job::DecisionKind
    std::string what;  ///< "S1 to H3", or the name of a mark
    std::string reason, initials;
    std::string time;  ///< as written, with the site's offset; else UTC
};

/// A writer's chain of facts and the hash of its last one.
struct RecordChain {
    std::string writer;
    std::int64_t facts = 0;
    std::string head;  ///< 64 hexadecimal digits
};

struct RecordOptions {
    job::AsOf as_of;
    std::optional<measure::LengthStyle> show;  ///< of the words; else the unit of the job
    double confidence = 0.95;
    double scale_factor = 1.0;
};

struct RecordFacts {
    std::string version;  ///< of the program that gathered them
    std::string title;
    std::string job;  ///< its id
    RecordOptions options;
    std::int64_t last_ms = 0;  ///< when the last fact was recorded; 0: none is
    std::vector<RecordSource> sources;
    std::vector<RecordDecision> decisions;
    std::vector<RecordChain> chains;
    std::vector<std::string> conflicts;              ///< what two facts of the job contradict in
    std::map<std::string, std::string> mark_sheets;  ///< name of a mark -> "marks.csv, revision B"
    std::map<std::string, std::string> point_sheets;
    std::optional<std::string> refused;  ///< why nothing can be computed, in one sentence
    JobFacts facts;
};

/// A job without marks or sights, or with an unsettled conflict, has `refused` set. Refuses as
/// reading the job does.
Result<RecordFacts> record_facts_of(const job::Job& job, const RecordOptions& options);

/// Canonical: the same facts are the same bytes; numbers read back to the last bit.
std::string to_facts_json(const RecordFacts& facts);

/// Reads what to_facts_json writes. Refuses: request_not_json, request_field_missing,
/// request_type_wrong, out_of_range.
Result<RecordFacts> read_facts_json(std::string_view json);

}  // namespace layproof::acts

#pragma once
// The answers that the door itself makes.

#include <cstddef>
#include <string>
#include <vector>

#include "acts/shared/verdict.hpp"

namespace layproof::acts {

class Fields;

/// One file of a record that is kept for fetching.
struct KeptFile {
    std::string name;
    std::string path;  ///< where the server gives it
    std::string mime;
    std::string description;
    std::size_t bytes = 0;
};

struct KeptRecord {
    std::string head;   ///< of the job it was made from
    std::string as_of;  ///< as asked; empty: now
    Verdict verdict;
    int proven = 0, in_doubt = 0, fails = 0;
    std::string digest;  ///< of its facts
    std::vector<KeptFile> files;
};
void describe(Fields& f, const KeptRecord& record);

/// Numbers of a field check that went into the job.
struct KeepAnswer {
    int kept = 0;
};
void describe(Fields& f, const KeepAnswer& answer);

struct StopAnswer {
    bool is_stopped = false;
};
void describe(Fields& f, const StopAnswer& answer);

struct PairAnswer {
    std::string token;
};
void describe(Fields& f, const PairAnswer& answer);
std::string to_json(const PairAnswer& answer);

struct JobState;
struct WorkNote;
/// What a page that is open is told: JobEvent, WorkEvent.
void describe(Fields& f, const JobState& state);
void describe(Fields& f, const WorkNote& note);

}  // namespace layproof::acts

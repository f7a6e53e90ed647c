#pragma once
// What a job file tells about itself.

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "job/digest.hpp"
#include "job/fact_id.hpp"
#include "job/facts.hpp"

namespace layproof::job {

struct StationEntry {
    std::string name;
    bool has_setup = false;
    std::int64_t sights = 0;
    std::int64_t first_recorded_ms = 0;  ///< of its set-ups and sights
    std::int64_t last_recorded_ms = 0;
};

/// A chain in the file. After a merge of a file and its copy, both written to, it has two heads.
struct ChainHead {
    WriterId writer;
    std::string writer_name;
    std::int64_t position = 0;  ///< facts from the beginning of the chain to this head
    Digest hash;
};

struct WriterEntry {
    WriterId id;
    JobId job;
    std::string name;
    std::int64_t started_ms = 0;
    std::optional<WriterId> after;  ///< the chain it goes on from: the file was copied or moved
    std::int64_t facts = 0;
};

struct KindCount {
    std::string kind;            ///< "mark", "sight", …
    std::int64_t facts = 0;      ///< recorded
    std::int64_t different = 0;  ///< the same fact in two chains counted once
};

struct Summary {
    JobId job;
    std::string title;
    int schema = 0;
    std::vector<WriterEntry> writers;  ///< in order of id
    std::vector<ChainHead> heads;
    std::vector<KindCount> kinds;  ///< kinds that have facts
    std::optional<std::int64_t> first_recorded_ms;
    std::optional<std::int64_t> last_recorded_ms;
};

struct LogLine {
    FactId id;
    WriterId writer;
    std::int64_t position = 0;
    std::string kind;
    std::int64_t recorded_ms = 0;
    std::string what;  ///< the fact in a few words: "H1", "S1 to H1", "set-aside S1 to H1: …"
};

/// mark_coordinates, point_coordinates: one name, one revision, two places more than kSamePlace_m
/// apart. revision_order: two revisions of one name of which it is not clear which is the later.
/// setup_name: two crews described a set-up of one name differently. station_name: two crews booked
/// sights under one station name. chain_branched: a file and its copy were both written to under
/// one writer; nothing is lost, both branches are kept.
enum class ConflictKind {
    mark_coordinates,
    point_coordinates,
    revision_order,
    setup_name,
    station_name,
    chain_branched,
};

/// Positions that differ by less are one: feet and metres of one sheet differ in the last digits.
inline constexpr double kSamePlace_m = 1e-6;

/// "mark-coordinates", "point-coordinates", "revision-order", "setup-name", "station-name",
/// "chain-branched".
std::string_view to_word(ConflictKind kind);

struct Conflict {
    ConflictKind kind{};
    std::string name;            ///< of the mark, point, station or writer
    std::string revision;        ///< for coordinates
    std::vector<FactId> facts;   ///< those that contradict each other, in order of id
    std::optional<FactId> used;  ///< the one of them that counts now
    bool settled = false;        ///< an accept decision names one of them
    std::string because;         ///< one sentence
};

struct MergeReport {
    std::int64_t facts_new = 0;    ///< taken over
    std::int64_t facts_known = 0;  ///< were here already, same id
    std::int64_t facts_same = 0;   ///< taken over, and saying what a fact here said
    std::int64_t writers_new = 0;
    std::vector<KindCount> kinds_new;  ///< taken over by kind; different: not said here before
    std::vector<Conflict> conflicts;   ///< of the file as merged
};

enum class FindingKind {
    file_damaged,      ///< SQLite's own check found something
    schema_changed,    ///< a table, index or guard is not as layproof made it
    fact_changed,      ///< what the fact says is not what was hashed
    chain_broken,      ///< a fact does not follow the one before it: changed, put in or reordered
    fact_missing,      ///< facts are gone from a chain
    fact_extra,        ///< a row that belongs to no fact, or a fact that no head leads to
    document_changed,  ///< a kept document's bytes are not what was hashed, or are gone
    note_missing,      ///< a head noted earlier is in no chain
};

/// "file-damaged", "schema-changed", …
std::string_view to_word(FindingKind kind);

struct Finding {
    FindingKind kind{};
    std::optional<FactId> fact;
    std::optional<WriterId> writer;
    std::int64_t position = 0;  ///< in the writer's chain; 0: none
    std::string text;           ///< one sentence
};

struct VerifyReport {
    std::int64_t facts = 0;  ///< looked at
    std::vector<ChainHead> heads;
    std::vector<Finding> findings;  ///< the first kMostFindings
    std::int64_t findings_in_all = 0;

    static constexpr std::size_t kMostFindings = 100;
    bool sound() const { return findings_in_all == 0; }
};

}  // namespace layproof::job

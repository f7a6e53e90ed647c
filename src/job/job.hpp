#pragma once
// The job file: everything measured, handed over and decided on a job, kept as facts that are only
// added. Nothing is computed here; verdicts are never stored.
//
// A job file is an SQLite database. Each file writes its own chain of facts, in which every fact
// carries the hash of the one before it (docs/design/job-file.md). Several chains lie in one file
// once crews' files are merged.
//
// What counts when two facts speak of one thing (a mark, a point, a set-up, an instrument, a
// tolerance, a column map, a setting of one name): the later revision; at the same revision, or
// when the order of the two revisions is not clear, the one an accept decision names; else the one
// recorded last. Everything stays readable through all(). A fact that came from the same document
// into two files is one fact: it is shown once, under its earliest id.
//
// Durability: once commit() (or a one-fact call) has returned without refusal, the fact survives
// the end of the process and, as far as the disk keeps its promises, of the power.
//
// Errors: codes 401 to 419, cannot_read, cannot_write and empty_file say that the file could not be
// read or written and that it is as it was. value_missing, not_finite, file_too_large and
// fact_unknown refuse what was to be added.
//
// Not for use by two threads at once; two programs at once are fine, one of them waits.

#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.hpp"
#include "job/facts.hpp"
#include "job/report.hpp"
#include "job/sources.hpp"

namespace layproof::job {

class Job;

/// Where an added fact stands, and whether it stood there already. Only a fact with a document can:
/// the same row of the same document, at the same revision, is recorded once.
struct Added {
    FactId id;
    bool already_there = false;
};

struct AddedDocument {
    FactId id;
    Digest digest;  ///< what facts from it give as Source::document
    bool already_there = false;
};

/// One change to the job, all or nothing. Rolled back when it goes out of scope without commit().
/// After a refusal of cannot_write, job_full or the like, nothing more can be added to it.
class Writing {
public:
    ~Writing();
    Writing(Writing&&) noexcept;
    Writing& operator=(Writing&&) = delete;

    /// Keeps the bytes whole. At most 900 million bytes (file_too_large).
    Result<AddedDocument> add_document(std::string_view name, std::string_view role,
                                       std::string_view note, std::span<const std::uint8_t> bytes);

    /// T: frame::Mark, station::Setup, measure::Sight, frame::DesignPoint, Tolerance,
    /// measure::Instrument, ColumnMap, Decision, Setting, network::Tape, network::LevelRise,
    /// network::LevelReading, DrawnMark. Refused: a number that is not finite, an empty name, a
    /// source document or a decision's fact that the job does not hold.
    template <class T>
    Result<Added> add(const T& fact, const Source& source = {});

    /// Makes all of it durable, or none of it.
    Result<Done> commit();

private:
    friend class Job;
    struct State;
    explicit Writing(std::unique_ptr<State> state);
    std::unique_ptr<State> state_;
};

enum class Mode { read, write };

struct OpenOptions {
    int busy_ms = 5000;  ///< how long to wait for another writer before job_busy
};

struct NewJob {
    std::string title;
    std::string writer_name;        ///< crew or instrument, shown with its chain
    std::optional<JobId> same_job;  ///< a second crew's file for a job that exists
};

struct MergeOptions {
    bool other_job = false;  ///< also take facts of a file that was begun as another job
};

class Job {
public:
    ~Job();
    Job(Job&&) noexcept;
    Job& operator=(Job&&) noexcept;

    /// Makes a job file. It appears whole or not at all; a file there is never replaced
    /// (job_exists).
    static Result<Job> create(const std::string& path, const NewJob& what, Clock& clock,
                              Entropy& entropy, const OpenOptions& options = {});
    /// Opens one. Clock and entropy must outlive the job.
    static Result<Job> open(const std::string& path, Mode mode, Clock& clock, Entropy& entropy,
                            const OpenOptions& options = {});

    const std::string& path() const;
    JobId id() const;

    // ---- writing -------------------------------------------------------------------------------

    /// Begins a change; the file is this program's to write until it ends. One at a time per Job.
    Result<Writing> begin();

    /// Each one a change of its own.
    Result<AddedDocument> add_document(std::string_view name, std::string_view role,
                                       std::string_view note, std::span<const std::uint8_t> bytes);
    template <class T>
    Result<Added> add(const T& fact, const Source& source = {});
    template <class T>
    Result<std::vector<Added>> add_all(std::span<const T> facts, const Source& source = {});

    /// Takes over every fact of the other file that is not here yet, with its chain. Both files are
    /// verified first (job_changed if one does not). Merging twice changes nothing; merging A into
    /// B and B into A leaves both with the same facts. The other file is not changed.
    Result<MergeReport> merge_from(const std::string& other_path, const MergeOptions& options = {});

    /// A whole copy for another crew, in one file without side files. It will write a chain of its
    /// own. A file there is never replaced (job_exists).
    Result<Done> copy_to(const std::string& path) const;

    // ---- reading -------------------------------------------------------------------------------

    /// Every fact of a kind in order of id (time of recording), the same one shown once.
    template <class T>
    Result<std::vector<Kept<T>>> all(AsOf as_of = {}) const;

    /// Those that count. For sights, documents, decisions, tapes, levels and marks as drawn: all of
    /// them.
    template <class T>
    Result<std::vector<Kept<T>>> current(AsOf as_of = {}) const;

    /// The sights booked at a station, those set aside among them. Through an index.
    Result<std::vector<Kept<measure::Sight>>> sights_of(const std::string& station,
                                                        AsOf as_of = {}) const;

    /// Facts whose last decision is set-aside and not put-back, in order of id. Holds every id
    /// under which such a fact was recorded.
    Result<std::vector<FactId>> set_aside(AsOf as_of = {}) const;

    /// The bytes of a kept document; fact_unknown if there is none of that digest.
    Result<Bytes> document_bytes(const Digest& digest) const;

    /// Stations named by a set-up or a sight, in order of name.
    Result<std::vector<StationEntry>> stations(AsOf as_of = {}) const;

    /// What is in the file, counted.
    Result<Summary> summary(AsOf as_of = {}) const;

    /// A number that is another one once anything but this Job has changed the file since it was
    /// last asked. Cheap enough to ask many times a second.
    Result<std::int64_t> changes() const;

    /// One line per recorded fact, in order of id; the last `most` of them.
    Result<std::vector<LogLine>> log(AsOf as_of = {}, std::size_t most = SIZE_MAX) const;

    /// Where facts contradict each other. See ConflictKind. With a station: of set-ups and station
    /// names only that one's.
    Result<std::vector<Conflict>> conflicts(
        AsOf as_of = {}, const std::optional<std::string>& only_station = {}) const;

    /// Recomputes every hash and compares. `noted` are head hashes written down earlier (in a
    /// printed record): each must still be in a chain, which also finds facts removed at the end.
    /// A damaged file is a finding, not a refusal, as far as it can be read at all.
    Result<VerifyReport> verify(std::span<const Digest> noted = {}) const;

private:
    friend class Writing;
    struct State;
    explicit Job(std::unique_ptr<State> state);
    Result<Writing> begin_new(const std::string& writer_name);
    std::unique_ptr<State> state_;
};

}  // namespace layproof::job

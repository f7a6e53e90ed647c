#pragma once
// What a Job and its Writing hold. Not for other rooms.

#include <algorithm>
#include <map>
#include <unordered_set>

#include "job/job.hpp"
#include "job/kinds_internal.hpp"
#include "job/open_internal.hpp"

namespace layproof::job {

struct Job::State {
    std::string path;
    Mode mode = Mode::read;
    OpenOptions options;
    Clock* clock = nullptr;
    Entropy* entropy = nullptr;
    JobId id;
    // Reading is const to the caller; a connection is not.
    mutable Db db;
};

struct Writing::State {
    State(Job::State& job_state, Transaction begun)
        : job(&job_state), transaction(std::move(begun)), ids(*job_state.entropy) {}

    Job::State* job;
    Transaction transaction;
    IdMaker ids;
    std::int64_t writer_seq = 0;
    WriterRecord writer;
    std::int64_t position = 0;
    Digest head;
    Digest head_at_begin;
    bool any_at_begin = false;
    bool new_writer = false;
    std::optional<Refusal> broken;

    /// Finds the chain to go on with, or begins one: the first of a file, and one for a file that
    /// is not the one that wrote last (a copy, a file restored or moved to another disk).
    Result<Done> take_chain();
    Result<Added> put(const char* kind, Row row, const Source& source);
    Result<Done> finish();
};

Refusal no_entropy(const std::string& path);

/// Steps through all rows: each(statement) for each. Refuses on any SQLite error.
template <class Each>
Result<Done> each_row(Db& db, Statement& statement, Each&& each) {
    int code = 0;
    while ((code = statement.step()) == SQLITE_ROW) each(statement);
    if (code != SQLITE_DONE) return db.refusal(code);
    return Done{};
}

/// The largest id that counts as of a moment.
inline FactId last_id(const AsOf& as_of) {
    if (as_of.has_value()) return FactId::last_of(*as_of);
    FactId id;
    id.bytes.fill(0xFF);
    return id;
}

struct DigestHash {
    std::size_t operator()(const Digest& digest) const {
        std::size_t value = 0;
        std::copy_n(digest.bytes.begin(), sizeof value, reinterpret_cast<std::uint8_t*>(&value));
        return value;
    }
};
using DigestSet = std::unordered_set<Digest, DigestHash>;

/// Writers by their seq.
Result<std::map<std::int64_t, WriterRecord>> writers_of(Db& db);

/// Kept facts with the digest of what they say.
template <class T>
struct Read {
    Kept<T> kept;
    Digest content;
};

/// In order of id, the same fact once. `station`: only sights of it.
template <class T>
Result<std::vector<Read<T>>> read_facts(Db& db, const AsOf& as_of,
                                        const std::string* station = nullptr);

/// Contents that an accept decision names, with the id of the last such decision.
Result<std::map<Digest, FactId>> accepted(Db& db, const AsOf& as_of);

/// True if `next` takes the place of `now`, both of one name.
bool takes_place(const Source& now_source, const Digest& now, const Source& next_source,
                 const Digest& next, const std::map<Digest, FactId>& accepts);

Result<std::vector<ChainHead>> heads_of(Db& db);

/// Verify without a Job around it.
Result<VerifyReport> verify_db(Db& db, std::span<const Digest> noted);

}  // namespace layproof::job

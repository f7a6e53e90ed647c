#include "base/error_code.hpp"
#include "job/job_internal.hpp"

namespace layproof::job {

namespace {

constexpr std::size_t kMostDocumentBytes = 900'000'000;  // SQLite keeps blobs below 10^9 bytes

Refusal missing(const std::string& path, std::string found, std::string expected) {
    return {ErrorCode::value_missing, Place{path, 0, 0}, std::move(found), std::move(expected)};
}

std::optional<Digest> digest_in(const Statement& row, int column) {
    Digest out;
    if (row.is_null(column) || !row.blob_into(column, out.bytes)) return std::nullopt;
    return out;
}

// What each kind must say at least.
const std::string* name_of(const frame::Mark& fact) {
    return &fact.name;
}
const std::string* name_of(const station::Setup& fact) {
    return &fact.station;
}
const std::string* name_of(const measure::Sight& fact) {
    return &fact.station;
}
const std::string* name_of(const frame::DesignPoint& fact) {
    return &fact.name;
}
const std::string* name_of(const Tolerance& fact) {
    return &fact.quantity;
}
const std::string* name_of(const ColumnMap& fact) {
    return &fact.name;
}
const std::string* name_of(const Setting& fact) {
    return &fact.name;
}
const std::string* name_of(const network::Tape& fact) {
    return &fact.from;
}
const std::string* name_of(const network::LevelRise& fact) {
    return &fact.from;
}
const std::string* name_of(const network::LevelReading& fact) {
    return &fact.run;
}
const std::string* name_of(const DrawnMark& fact) {
    return &fact.mark.name;
}
const std::string* name_of(const measure::Instrument&) {
    return nullptr;  // the assumed instrument has no name
}

template <class T>
Result<Done> check(Db& db, const T& fact) {
    const std::string* name = name_of(fact);
    if (name != nullptr && name->empty()) {
        return missing(db.shown(), std::string("a ") + Kind<T>::kWord + " without a name",
                       "a name");
    }
    return Done{};
}

Result<bool> holds_fact(Db& db, const FactId& id) {
    auto found = db.use("SELECT 1 FROM fact WHERE id = ?");
    if (!found) return found.refusal();
    (*found)->bind_blob(1, id.bytes);
    const int code = (*found)->step();
    if (code != SQLITE_ROW && code != SQLITE_DONE) return db.refusal(code);
    return code == SQLITE_ROW;
}

template <>
Result<Done> check(Db& db, const Decision& fact) {
    const std::string& path = db.shown();
    if (fact.reason.empty()) return missing(path, "a decision without a reason", "a reason");
    if (fact.initials.empty()) return missing(path, "a decision without initials", "initials");
    const Subject& subject = fact.subject;
    switch (fact.kind) {
        case DecisionKind::set_aside:
        case DecisionKind::put_back:
            if (!subject.fact) return missing(path, "a decision about no fact", "a fact's id");
            break;
        case DecisionKind::accept:
            if (!subject.fact && subject.name.empty()) {
                return missing(path, "a decision about nothing", "a fact's id or a name");
            }
            break;
        case DecisionKind::mark_moved:
            if (subject.kind != SubjectKind::mark || subject.name.empty()) {
                return missing(path, "a moved mark without a name", "the name of a mark");
            }
            break;
    }
    if (subject.fact) {
        auto held = holds_fact(db, *subject.fact);
        if (!held) return held.refusal();
        if (!*held) {
            return Refusal{ErrorCode::fact_unknown, Place{path, 0, 0}, subject.fact->to_text(),
                           "the id of a fact in this job"};
        }
    }
    return Done{};
}

}  // namespace

Refusal no_entropy(const std::string& path) {
    return {ErrorCode::cannot_read, Place{path, 0, 0},
            "no random bits, or a clock outside the years 1970 to 10889",
            "a random source and a clock that is set"};
}

Result<Done> Writing::State::take_chain() {
    Db& db = job->db;
    auto file = identity_of(job->path);
    if (!file) return file.refusal();

    std::string name;
    FileIdentity known;
    std::optional<std::int64_t> last_writer;
    std::optional<Digest> last_hash;
    std::int64_t last_position = 0;
    {
        auto row = db.use(
            "SELECT name, writer, position, hash, device, inode FROM this_file WHERE only = 1");
        if (!row) return row.refusal();
        const int code = (*row)->step();
        if (code != SQLITE_ROW) return db.refusal(code == SQLITE_DONE ? SQLITE_CORRUPT : code);
        name = (*row)->text(0);
        if (!(*row)->is_null(1)) last_writer = (*row)->integer(1);
        last_position = (*row)->integer(2);
        last_hash = digest_in(**row, 3);
        known = {(*row)->integer(4), (*row)->integer(5)};
    }
    auto writers = writers_of(db);
    if (!writers) return writers.refusal();
    const auto last = last_writer ? writers->find(*last_writer) : writers->end();

    // The end of the chain must still be an end: a merge may have brought what a copy wrote on.
    bool still_the_end = false;
    if (last != writers->end() && last_hash.has_value()) {
        auto row = db.use("SELECT 1 FROM head WHERE writer = ? AND hash = ?");
        if (!row) return row.refusal();
        (*row)->bind(1, *last_writer);
        (*row)->bind_blob(2, last_hash->bytes);
        const int code = (*row)->step();
        if (code != SQLITE_ROW && code != SQLITE_DONE) return db.refusal(code);
        still_the_end = code == SQLITE_ROW;
    }
    if (still_the_end && known == *file) {
        auto row = db.use("SELECT id FROM fact WHERE writer = ? AND position = ? AND hash = ?");
        if (!row) return row.refusal();
        (*row)->bind(1, *last_writer);
        (*row)->bind(2, last_position);
        (*row)->bind_blob(3, last_hash->bytes);
        FactId id;
        const int code = (*row)->step();
        if (code != SQLITE_ROW || !(*row)->blob_into(0, id.bytes)) {
            return db.refusal(code == SQLITE_ROW || code == SQLITE_DONE ? SQLITE_CORRUPT : code);
        }
        ids.continue_after(id);
        writer_seq = *last_writer;
        writer = last->second;
        position = last_position;
        head = *last_hash;
        head_at_begin = head;
        any_at_begin = true;
        return Done{};
    }

    const auto id = ids.next(job->clock->now_ms());
    if (!id) return no_entropy(job->path);
    writer.id = *id;
    writer.job = job->id;
    writer.name = name;
    writer.started_ms = id->time_ms();
    if (last != writers->end() && last_hash.has_value()) {
        writer.after_writer = last->second.id;
        writer.after_position = last_position;
        writer.after_hash = last_hash;
    }
    head = genesis_digest(writer);
    new_writer = true;
    return Done{};
}

namespace {

Result<Done> run(Db& db, Db::Use& statement) {
    const int code = statement->step();
    if (code != SQLITE_DONE) return db.refusal(code);
    return Done{};
}

Result<Done> insert_writer(Db& db, const WriterRecord& writer) {
    auto row = db.use(
        "INSERT INTO writer (id, job, name, started_ms, after_writer, after_position, after_hash) "
        "VALUES (?, ?, ?, ?, ?, ?, ?)");
    if (!row) return row.refusal();
    (*row)->bind_blob(1, writer.id.bytes);
    (*row)->bind_blob(2, writer.job.bytes);
    (*row)->bind(3, std::string_view{writer.name});
    (*row)->bind(4, writer.started_ms);
    if (writer.after_writer) (*row)->bind_blob(5, writer.after_writer->bytes);
    (*row)->bind(6, writer.after_position);
    if (writer.after_hash) (*row)->bind_blob(7, writer.after_hash->bytes);
    return run(db, *row);
}

}  // namespace

Result<Added> Writing::State::put(const char* kind, Row row, const Source& source) {
    Db& db = job->db;
    FactRecord fact;
    fact.kind = kind;
    fact.source = source;
    fact.row = std::move(row);
    fact.writer = writer.id;
    if (source.document) {
        // With a document the content does not depend on the id, so it can be looked for first.
        const Digest content = content_digest(fact);
        auto known = db.use("SELECT id FROM fact WHERE content = ? ORDER BY id LIMIT 1");
        if (!known) return known.refusal();
        (*known)->bind_blob(1, content.bytes);
        const int code = (*known)->step();
        if (code == SQLITE_ROW) {
            Added there{{}, true};
            if (!(*known)->blob_into(0, there.id.bytes)) return db.refusal(SQLITE_CORRUPT);
            return there;
        }
        if (code != SQLITE_DONE) return db.refusal(code);
    }
    // Only now, so that a change that adds nothing leaves no empty chain.
    if (new_writer && writer_seq == 0) {
        auto made = insert_writer(db, writer);
        if (!made) return made.refusal();
        writer_seq = sqlite3_last_insert_rowid(db.handle());
    }
    const auto id = ids.next(job->clock->now_ms());
    if (!id) return no_entropy(job->path);
    fact.id = *id;
    fact.recorded_ms = id->time_ms();
    fact.position = position + 1;
    const Digest content = content_digest(fact);
    const Digest hash = chain_digest(head, fact);
    {
        auto ledger = db.use(
            "INSERT INTO fact (id, writer, position, kind, recorded_ms, document, revision, "
            "content, previous, hash) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)");
        if (!ledger) return ledger.refusal();
        Statement& at = **ledger;
        at.bind_blob(1, fact.id.bytes);
        at.bind(2, writer_seq);
        at.bind(3, fact.position);
        at.bind(4, std::string_view{fact.kind});
        at.bind(5, fact.recorded_ms);
        if (source.document) at.bind_blob(6, source.document->bytes);
        at.bind(7, std::string_view{source.revision});
        at.bind_blob(8, content.bytes);
        at.bind_blob(9, head.bytes);
        at.bind_blob(10, hash.bytes);
        auto done = run(db, *ledger);
        if (!done) return done.refusal();
    }
    auto said = db.use(kind_table(kind)->insert_sql);
    if (!said) return said.refusal();
    (*said)->bind(1, static_cast<std::int64_t>(sqlite3_last_insert_rowid(db.handle())));
    for (std::size_t i = 0; i < fact.row.size(); ++i) {
        (*said)->bind(static_cast<int>(i) + 2, fact.row[i]);
    }
    auto done = run(db, *said);
    if (!done) return done.refusal();
    position = fact.position;
    head = hash;
    return Added{fact.id, false};
}

Result<Done> Writing::State::finish() {
    Db& db = job->db;
    const bool anything = any_at_begin ? head != head_at_begin : position > 0;
    if (anything) {
        if (any_at_begin) {
            auto old = db.use("DELETE FROM head WHERE writer = ? AND hash = ?");
            if (!old) return old.refusal();
            (*old)->bind(1, writer_seq);
            (*old)->bind_blob(2, head_at_begin.bytes);
            auto done = run(db, *old);
            if (!done) return done;
        }
        auto now = db.use("INSERT INTO head (writer, position, hash) VALUES (?, ?, ?)");
        if (!now) return now.refusal();
        (*now)->bind(1, writer_seq);
        (*now)->bind(2, position);
        (*now)->bind_blob(3, head.bytes);
        auto done = run(db, *now);
        if (!done) return done;

        auto file = identity_of(job->path);
        if (!file) return file.refusal();
        auto mine = db.use(
            "UPDATE this_file SET writer = ?, position = ?, hash = ?, device = ?, inode = ? "
            "WHERE only = 1");
        if (!mine) return mine.refusal();
        (*mine)->bind(1, writer_seq);
        (*mine)->bind(2, position);
        (*mine)->bind_blob(3, head.bytes);
        (*mine)->bind(4, file->device);
        (*mine)->bind(5, file->inode);
        done = run(db, *mine);
        if (!done) return done;
    }
    return transaction.commit();
}

Writing::Writing(std::unique_ptr<State> state) : state_(std::move(state)) {}
Writing::Writing(Writing&&) noexcept = default;
Writing::~Writing() = default;

Result<AddedDocument> Writing::add_document(std::string_view name, std::string_view role,
                                            std::string_view note,
                                            std::span<const std::uint8_t> bytes) {
    if (state_->broken) return *state_->broken;
    Db& db = state_->job->db;
    if (name.empty()) return missing(db.shown(), "a document without a name", "a name");
    if (bytes.size() > kMostDocumentBytes) {
        return Refusal{ErrorCode::file_too_large, Place{std::string(name), 0, 0},
                       std::to_string(bytes.size()) + " bytes",
                       "at most " + std::to_string(kMostDocumentBytes) + " bytes"};
    }
    Document document{std::string(name), std::string(role), std::string(note),
                      static_cast<std::int64_t>(bytes.size()), sha256(bytes)};
    const auto broken = [&](const Refusal& why) {
        state_->broken = why;
        return why;
    };
    {
        auto known = db.use("SELECT 1 FROM content WHERE sha256 = ?");
        if (!known) return broken(known.refusal());
        (*known)->bind_blob(1, document.digest.bytes);
        const int code = (*known)->step();
        if (code != SQLITE_ROW && code != SQLITE_DONE) return broken(db.refusal(code));
        if (code == SQLITE_DONE) {
            auto keep = db.use("INSERT INTO content (sha256, bytes) VALUES (?, ?)");
            if (!keep) return broken(keep.refusal());
            (*keep)->bind_blob(1, document.digest.bytes);
            (*keep)->bind_blob(2, bytes);
            auto done = run(db, *keep);
            if (!done) return broken(done.refusal());
        }
    }
    ToRow to_row;
    Kind<Document>::fields(document, to_row);
    auto added =
        state_->put(Kind<Document>::kWord, std::move(to_row.row), Source{document.digest, {}});
    if (!added) return broken(added.refusal());
    return AddedDocument{added->id, document.digest, added->already_there};
}

template <class T>
Result<Added> Writing::add(const T& fact, const Source& source) {
    if (state_->broken) return *state_->broken;
    Db& db = state_->job->db;
    auto fine = check(db, fact);
    if (!fine) return fine.refusal();
    ToRow to_row;
    Kind<T>::fields(fact, to_row);
    if (to_row.bad_column != nullptr) {
        return Refusal{ErrorCode::not_finite, Place{db.shown(), 0, 0},
                       std::string(Kind<T>::kWord) + " with " + to_row.bad_column + " not finite",
                       "a number"};
    }
    if (source.document) {
        auto known = db.use("SELECT 1 FROM content WHERE sha256 = ?");
        if (!known) return known.refusal();
        (*known)->bind_blob(1, source.document->bytes);
        const int code = (*known)->step();
        if (code != SQLITE_ROW && code != SQLITE_DONE) return db.refusal(code);
        if (code == SQLITE_DONE) {
            return Refusal{ErrorCode::fact_unknown, Place{db.shown(), 0, 0},
                           "document " + source.document->to_text(), "a document in this job"};
        }
    }
    auto added = state_->put(Kind<T>::kWord, std::move(to_row.row), source);
    if (!added) state_->broken = added.refusal();
    return added;
}

template Result<Added> Writing::add(const frame::Mark&, const Source&);
template Result<Added> Writing::add(const station::Setup&, const Source&);
template Result<Added> Writing::add(const measure::Sight&, const Source&);
template Result<Added> Writing::add(const frame::DesignPoint&, const Source&);
template Result<Added> Writing::add(const Tolerance&, const Source&);
template Result<Added> Writing::add(const measure::Instrument&, const Source&);
template Result<Added> Writing::add(const ColumnMap&, const Source&);
template Result<Added> Writing::add(const Decision&, const Source&);
template Result<Added> Writing::add(const Setting&, const Source&);
template Result<Added> Writing::add(const network::Tape&, const Source&);
template Result<Added> Writing::add(const network::LevelRise&, const Source&);
template Result<Added> Writing::add(const DrawnMark&, const Source&);
template Result<Added> Writing::add(const network::LevelReading&, const Source&);

Result<Done> Writing::commit() {
    if (state_->broken) return *state_->broken;
    auto done = state_->finish();
    // Ended either way: what is not durable is rolled back with the state.
    state_->broken = done ? Refusal{ErrorCode::cannot_write, Place{state_->job->path, 0, 0},
                                    "a change that has ended", "a new change"}
                          : done.refusal();
    return done;
}

}  // namespace layproof::job

#include <fmt/format.h>

#include "job/job_internal.hpp"

namespace layproof::job {
namespace {

Result<Done> sound_or_refuse(Db& db) {
    auto report = verify_db(db, {});
    if (!report) return report.refusal();
    if (report->sound()) return Done{};
    return Refusal{ErrorCode::job_changed, Place{db.shown(), 0, 0},
                   fmt::format("a job file that does not verify: {}", report->findings[0].text),
                   "two files that verify; nothing was changed"};
}

class Merger {
public:
    Merger(Db& here, Db& there) : here_(here), there_(there) {}

    Result<MergeReport> run() {
        auto writers = match_writers();
        if (!writers) return writers.refusal();
        auto documents = take_documents();
        if (!documents) return documents.refusal();
        for (const auto& [seq_there, seq_here] : seqs_) {
            auto facts = take_facts(seq_there, seq_here);
            if (!facts) return facts.refusal();
            auto heads = renew_heads(seq_here);
            if (!heads) return heads.refusal();
        }
        for (auto& [kind, count] : counts_) report_.kinds_new.push_back(count);
        return std::move(report_);
    }

private:
    Refusal forged(const std::string& what) const {
        return {ErrorCode::job_changed, Place{there_.shown(), 0, 0},
                what + " that is another one in the job here", "the same " + what.substr(2)};
    }

    Result<Done> match_writers() {
        auto mine = writers_of(here_);
        if (!mine) return mine.refusal();
        auto theirs = writers_of(there_);
        if (!theirs) return theirs.refusal();
        for (const auto& [seq, writer] : *theirs) {
            bool known = false;
            for (const auto& [my_seq, my_writer] : *mine) {
                if (my_writer.id != writer.id) continue;
                if (my_writer != writer) return forged("a writer " + writer.id.to_text());
                seqs_[seq] = my_seq;
                known = true;
            }
            if (known) continue;
            auto row = here_.use(
                "INSERT INTO writer (id, job, name, started_ms, after_writer, after_position, "
                "after_hash) VALUES (?, ?, ?, ?, ?, ?, ?)");
            if (!row) return row.refusal();
            (*row)->bind_blob(1, writer.id.bytes);
            (*row)->bind_blob(2, writer.job.bytes);
            (*row)->bind(3, std::string_view{writer.name});
            (*row)->bind(4, writer.started_ms);
            if (writer.after_writer) (*row)->bind_blob(5, writer.after_writer->bytes);
            (*row)->bind(6, writer.after_position);
            if (writer.after_hash) (*row)->bind_blob(7, writer.after_hash->bytes);
            const int code = (*row)->step();
            if (code != SQLITE_DONE) return here_.refusal(code);
            seqs_[seq] = sqlite3_last_insert_rowid(here_.handle());
            ++report_.writers_new;
        }
        return Done{};
    }

    Result<Done> take_documents() {
        auto rows = there_.use("SELECT sha256, bytes FROM content");
        if (!rows) return rows.refusal();
        int code = 0;
        while ((code = (*rows)->step()) == SQLITE_ROW) {
            auto put = here_.use(
                "INSERT INTO content (sha256, bytes) SELECT ?1, ?2 "
                "WHERE NOT EXISTS (SELECT 1 FROM content WHERE sha256 = ?1)");
            if (!put) return put.refusal();
            (*put)->bind_blob(1, (*rows)->blob(0));
            (*put)->bind_blob(2, (*rows)->blob(1));
            const int put_code = (*put)->step();
            if (put_code != SQLITE_DONE) return here_.refusal(put_code);
        }
        if (code != SQLITE_DONE) return there_.refusal(code);
        return Done{};
    }

    Result<Done> take_facts(std::int64_t seq_there, std::int64_t seq_here) {
        auto rows = there_.use(
            "SELECT id, position, kind, recorded_ms, document, revision, content, previous, hash, "
            "seq FROM fact WHERE writer = ? ORDER BY position");
        if (!rows) return rows.refusal();
        (*rows)->bind(1, seq_there);
        int code = 0;
        while ((code = (*rows)->step()) == SQLITE_ROW) {
            auto done = take_fact(**rows, seq_here);
            if (!done) return done;
        }
        if (code != SQLITE_DONE) return there_.refusal(code);
        return Done{};
    }

    Result<Done> take_fact(const Statement& row, std::int64_t writer) {
        {
            auto known = here_.use("SELECT hash FROM fact WHERE id = ?");
            if (!known) return known.refusal();
            (*known)->bind(1, row.value(0));
            const int code = (*known)->step();
            if (code == SQLITE_ROW) {
                if ((*known)->value(0) != row.value(8)) {
                    return forged("a fact " + to_hex(row.blob(0)));
                }
                ++report_.facts_known;
                return Done{};
            }
            if (code != SQLITE_DONE) return here_.refusal(code);
        }
        bool said_before = false;
        {
            auto same = here_.use("SELECT 1 FROM fact WHERE content = ?");
            if (!same) return same.refusal();
            (*same)->bind(1, row.value(6));
            said_before = (*same)->step() == SQLITE_ROW;
        }
        const std::string kind = row.text(2);
        const KindTable* table = kind_table(kind);
        if (table == nullptr) return here_.refusal(SQLITE_CORRUPT);
        {
            auto ledger = here_.use(
                "INSERT INTO fact (writer, id, position, kind, recorded_ms, document, revision, "
                "content, previous, hash) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)");
            if (!ledger) return ledger.refusal();
            (*ledger)->bind(1, writer);
            for (int i = 0; i < 9; ++i) (*ledger)->bind(i + 2, row.value(i));
            const int code = (*ledger)->step();
            if (code != SQLITE_DONE) return here_.refusal(code);
        }
        auto said = there_.use(table->select_sql);
        if (!said) return said.refusal();
        (*said)->bind(1, row.integer(9));
        const int said_code = (*said)->step();
        if (said_code != SQLITE_ROW) {
            return there_.refusal(said_code == SQLITE_DONE ? SQLITE_CORRUPT : said_code);
        }
        auto put = here_.use(table->insert_sql);
        if (!put) return put.refusal();
        (*put)->bind(1, static_cast<std::int64_t>(sqlite3_last_insert_rowid(here_.handle())));
        for (int i = 0; i < (*said)->columns(); ++i) (*put)->bind(i + 2, (*said)->value(i));
        const int code = (*put)->step();
        if (code != SQLITE_DONE) return here_.refusal(code);

        ++report_.facts_new;
        if (said_before) ++report_.facts_same;
        KindCount& count = counts_[kind];
        count.kind = kind;
        ++count.facts;
        if (!said_before) ++count.different;
        return Done{};
    }

    /// The ends of a writer's chain: facts that no other follows.
    Result<Done> renew_heads(std::int64_t writer) {
        for (const char* sql :
             {"DELETE FROM head WHERE writer = ?1",
              "INSERT INTO head (writer, position, hash) SELECT writer, position, hash FROM fact "
              "AS f WHERE writer = ?1 AND NOT EXISTS (SELECT 1 FROM fact AS g WHERE g.writer = ?1 "
              "AND g.position = f.position + 1 AND g.previous = f.hash)"}) {
            auto statement = here_.use(sql);
            if (!statement) return statement.refusal();
            (*statement)->bind(1, writer);
            const int code = (*statement)->step();
            if (code != SQLITE_DONE) return here_.refusal(code);
        }
        return Done{};
    }

    Db& here_;
    Db& there_;
    std::map<std::int64_t, std::int64_t> seqs_;  // writers, there to here
    std::map<std::string, KindCount> counts_;
    MergeReport report_;
};

}  // namespace

Result<MergeReport> Job::merge_from(const std::string& other_path, const MergeOptions& options) {
    if (state_->mode == Mode::read) {
        return Refusal{ErrorCode::job_read_only, Place{state_->path, 0, 0},
                       "a job opened for reading only", "a job opened for writing"};
    }
    auto other = open(other_path, Mode::read, *state_->clock, *state_->entropy, state_->options);
    if (!other) return other.refusal();
    if (other->id() != id() && !options.other_job) {
        return Refusal{
            ErrorCode::other_job, Place{other_path, 0, 0}, "a file of job " + other->id().to_text(),
            "a file of job " + id().to_text() + ", or to be told to take another job in"};
    }
    auto sound = sound_or_refuse(other->state_->db);
    if (!sound) return sound.refusal();
    sound = sound_or_refuse(state_->db);
    if (!sound) return sound.refusal();

    auto here = identity_of(path());
    if (!here) return here.refusal();
    auto there = identity_of(other_path);
    if (!there) return there.refusal();

    MergeReport report;
    if (*here == *there) {
        auto count = state_->db.integer("SELECT count(*) FROM fact");
        if (!count) return count.refusal();
        report.facts_known = *count;
    } else {
        auto transaction = Transaction::begin(state_->db);
        if (!transaction) return transaction.refusal();
        auto merged = Merger(state_->db, other->state_->db).run();
        if (!merged) return merged.refusal();
        auto done = transaction->commit();
        if (!done) return done.refusal();
        report = std::move(*merged);
    }
    auto found = conflicts();
    if (!found) return found.refusal();
    report.conflicts = std::move(*found);
    return report;
}

}  // namespace layproof::job

#include <fmt/format.h>

#include <algorithm>

#include "job/job_internal.hpp"

namespace layproof::job {
namespace {

class Verifier {
public:
    Verifier(Db& db, std::span<const Digest> noted) : db_(db), noted_(noted.begin(), noted.end()) {}

    VerifyReport run() {
        check_file();
        check_schema();
        auto writers = writers_of(db_);
        if (writers) {
            auto heads = heads_of(db_);
            if (heads) report_.heads = std::move(*heads);
            if (!heads) damaged(heads.refusal());
            for (const auto& [seq, writer] : *writers) check_chain(seq, writer);
            check_continuations(*writers);
            check_unattached();
            check_rows_without_fact();
            check_documents();
            check_this_file();
            check_noted();
        } else {
            damaged(writers.refusal());
        }
        return std::move(report_);
    }

private:
    void find(Finding finding) {
        ++report_.findings_in_all;
        if (report_.findings.size() < VerifyReport::kMostFindings) {
            report_.findings.push_back(std::move(finding));
        }
    }
    void damaged(const Refusal& why) {
        find({FindingKind::file_damaged, {}, {}, 0, why.found + "."});
    }
    template <class Each>
    void rows(const std::string& sql, Each&& each) {
        auto statement = db_.use(sql);
        if (!statement) return damaged(statement.refusal());
        auto done = each_row(db_, **statement, each);
        if (!done) damaged(done.refusal());
    }

    void check_file() {
        rows("PRAGMA integrity_check(20)", [&](const Statement& row) {
            const std::string said = row.text(0);
            if (said != "ok") find({FindingKind::file_damaged, {}, {}, 0, said + "."});
        });
        rows("PRAGMA foreign_key_check", [&](const Statement& row) {
            find({FindingKind::fact_extra,
                  {},
                  {},
                  0,
                  fmt::format("Row {} of table {} refers to a row of {} that is not there.",
                              row.integer(1), row.text(0), row.text(2))});
        });
    }

    void check_schema() {
        auto differences = schema_differences(db_, migrations());
        if (!differences) return damaged(differences.refusal());
        for (const std::string& difference : *differences) {
            find({FindingKind::schema_changed, {}, {}, 0, difference + "."});
        }
    }

    /// One writer's facts in order of position. More than one fact at a position is a branch.
    void check_chain(std::int64_t seq, const WriterRecord& writer) {
        std::int64_t position = 0;
        std::vector<Digest> before{genesis_digest(writer)};  // hashes at position − 1
        std::vector<Digest> here;                            // hashes at position
        std::vector<Digest> leaves;                          // of `before`, not yet followed
        std::vector<std::pair<std::int64_t, Digest>> ends;
        const auto advance = [&] {
            for (const Digest& leaf : leaves) ends.emplace_back(position - 1, leaf);
            before = std::move(here);
            leaves = before;
            here.clear();
        };
        auto ledger = db_.use(
            "SELECT id, position, kind, recorded_ms, document, revision, content, previous, hash, "
            "seq FROM fact WHERE writer = ? ORDER BY position, hash");
        if (!ledger) return damaged(ledger.refusal());
        (*ledger)->bind(1, seq);
        auto done = each_row(db_, **ledger, [&](const Statement& row) {
            ++report_.facts;
            FactRecord fact;
            Digest content;
            Digest previous;
            Digest hash;
            bool good = row.blob_into(0, fact.id.bytes) && row.blob_into(6, content.bytes) &&
                        row.blob_into(7, previous.bytes) && row.blob_into(8, hash.bytes);
            fact.writer = writer.id;
            fact.position = row.integer(1);
            fact.kind = row.text(2);
            fact.recorded_ms = row.integer(3);
            if (!row.is_null(4)) {
                good = row.blob_into(4, fact.source.document.emplace().bytes) && good;
            }
            fact.source.revision = row.text(5);
            const auto finding = [&](FindingKind kind, std::string text) {
                find({kind, fact.id, writer.id, fact.position, std::move(text)});
            };
            if (!good || !read_row(row.integer(9), fact)) {
                finding(
                    FindingKind::fact_changed,
                    fmt::format("What the {} at place {} says is gone.", fact.kind, fact.position));
            } else if (content_digest(fact) != content || chain_digest(previous, fact) != hash ||
                       fact.recorded_ms != fact.id.time_ms()) {
                finding(FindingKind::fact_changed,
                        fmt::format("The {} at place {} is not as it was recorded.", fact.kind,
                                    fact.position));
            }
            if (fact.position != position) {
                if (fact.position > position + 1) {
                    finding(FindingKind::fact_missing,
                            fmt::format("Between places {} and {} of the chain {} facts are gone.",
                                        position, fact.position, fact.position - position - 1));
                    here.clear();
                    leaves.clear();
                    here.push_back(previous);  // goes on from what is there
                }
                if (position > 0 || !here.empty()) advance();
                position = fact.position;
            }
            if (std::find(before.begin(), before.end(), previous) == before.end()) {
                finding(FindingKind::chain_broken,
                        fmt::format("The {} at place {} does not follow the fact before it.",
                                    fact.kind, fact.position));
            }
            leaves.erase(std::remove(leaves.begin(), leaves.end(), previous), leaves.end());
            here.push_back(hash);
            noted_.erase(hash);
        });
        if (!done) damaged(done.refusal());
        advance();
        for (const Digest& leaf : leaves) ends.emplace_back(position, leaf);
        compare_ends(writer, std::move(ends));
    }

    bool read_row(std::int64_t seq, FactRecord& fact) {
        const KindTable* table = kind_table(fact.kind);
        if (table == nullptr) return false;
        auto said = db_.use(table->select_sql);
        if (!said) return false;
        (*said)->bind(1, seq);
        if ((*said)->step() != SQLITE_ROW) return false;
        fact.row.clear();
        for (int i = 0; i < (*said)->columns(); ++i) fact.row.push_back((*said)->value(i));
        return true;
    }

    void compare_ends(const WriterRecord& writer,
                      std::vector<std::pair<std::int64_t, Digest>> ends) {
        std::sort(ends.begin(), ends.end());
        std::vector<std::pair<std::int64_t, Digest>> heads;
        for (const ChainHead& head : report_.heads) {
            if (head.writer == writer.id) heads.emplace_back(head.position, head.hash);
        }
        std::sort(heads.begin(), heads.end());
        for (const auto& [position, hash] : heads) {
            if (std::find(ends.begin(), ends.end(), std::pair(position, hash)) == ends.end()) {
                find({FindingKind::fact_missing,
                      {},
                      writer.id,
                      position,
                      fmt::format("The chain should end at place {} and does not: facts at its end "
                                  "are gone or were added outside layproof.",
                                  position)});
            }
        }
        for (const auto& [position, hash] : ends) {
            if (std::find(heads.begin(), heads.end(), std::pair(position, hash)) == heads.end()) {
                find({FindingKind::fact_extra,
                      {},
                      writer.id,
                      position,
                      fmt::format("The fact at place {} ends no chain that layproof wrote.",
                                  position)});
            }
        }
        if (heads.empty() && ends.empty()) {
            find({FindingKind::fact_missing, {}, writer.id, 0, "The chain has no facts left."});
        }
    }

    /// A chain that goes on after another names a fact of it.
    void check_continuations(const std::map<std::int64_t, WriterRecord>& writers) {
        for (const auto& [seq, writer] : writers) {
            if (!writer.after_writer) continue;
            auto row = db_.use(
                "SELECT 1 FROM fact JOIN writer ON writer.seq = fact.writer "
                "WHERE writer.id = ? AND position = ? AND hash = ?");
            if (!row) return damaged(row.refusal());
            (*row)->bind_blob(1, writer.after_writer->bytes);
            (*row)->bind(2, writer.after_position);
            if (writer.after_hash) (*row)->bind_blob(3, writer.after_hash->bytes);
            if ((*row)->step() != SQLITE_ROW) {
                find({FindingKind::fact_missing,
                      {},
                      *writer.after_writer,
                      writer.after_position,
                      fmt::format("The chain of {} goes on after a fact that is gone.",
                                  writer.id.to_text())});
            }
        }
    }

    void check_unattached() {
        rows("SELECT count(*) FROM fact WHERE writer NOT IN (SELECT seq FROM writer)",
             [&](const Statement& row) {
                 if (row.integer(0) == 0) return;
                 find({FindingKind::fact_extra,
                       {},
                       {},
                       0,
                       fmt::format("{} facts belong to no writer.", row.integer(0))});
             });
        rows("SELECT count(*) FROM head WHERE writer NOT IN (SELECT seq FROM writer)",
             [&](const Statement& row) {
                 if (row.integer(0) == 0) return;
                 find({FindingKind::fact_missing,
                       {},
                       {},
                       0,
                       fmt::format("{} chains have lost their writer.", row.integer(0))});
             });
    }

    void check_rows_without_fact() {
        for (const KindTable& table : kind_tables()) {
            rows(fmt::format("SELECT count(*) FROM {0} WHERE seq NOT IN "
                             "(SELECT seq FROM fact WHERE kind = '{0}')",
                             table.word),
                 [&](const Statement& row) {
                     if (row.integer(0) == 0) return;
                     find({FindingKind::fact_extra,
                           {},
                           {},
                           0,
                           fmt::format("{} rows of table {} belong to no fact.", row.integer(0),
                                       table.word)});
                 });
        }
    }

    void check_documents() {
        rows("SELECT sha256, bytes FROM content", [&](const Statement& row) {
            Digest digest;
            if (!row.blob_into(0, digest.bytes) || sha256(row.blob(1)) != digest) {
                find({FindingKind::document_changed,
                      {},
                      {},
                      0,
                      fmt::format("The bytes kept under {} are not those that were imported.",
                                  to_hex(row.blob(0)))});
            }
        });
        rows("SELECT count(*) FROM content WHERE sha256 NOT IN (SELECT sha256 FROM document)",
             [&](const Statement& row) {
                 if (row.integer(0) == 0) return;
                 find({FindingKind::fact_extra,
                       {},
                       {},
                       0,
                       fmt::format("{} kept files belong to no document.", row.integer(0))});
             });
        rows(
            "SELECT fact.id, document.name FROM document JOIN fact ON fact.seq = document.seq "
            "LEFT JOIN content ON content.sha256 = document.sha256 "
            "WHERE content.bytes IS NULL OR length(content.bytes) <> document.size_bytes",
            [&](const Statement& row) {
                FactId id;
                (void)row.blob_into(0, id.bytes);
                find({FindingKind::document_changed,
                      id,
                      {},
                      0,
                      fmt::format("The bytes of {} are gone or cut.", row.text(1))});
            });
    }

    void check_this_file() {
        rows("SELECT count(*) FROM job", [&](const Statement& row) {
            if (row.integer(0) != 1) {
                find({FindingKind::fact_missing, {}, {}, 0, "The job's own id is gone."});
            }
        });
        rows("SELECT count(*) FROM writer WHERE job = (SELECT id FROM job WHERE only = 1)",
             [&](const Statement& row) {
                 if (row.integer(0) == 0) {
                     find({FindingKind::fact_changed,
                           {},
                           {},
                           0,
                           "The job's own id is not that of any chain in it."});
                 }
             });
    }

    void check_noted() {
        for (const Digest& digest : noted_) {
            find({FindingKind::note_missing,
                  {},
                  {},
                  0,
                  fmt::format("The fact with hash {}, noted earlier, is in no chain.",
                              digest.to_text())});
        }
    }

    Db& db_;
    DigestSet noted_;
    VerifyReport report_;
};

}  // namespace

Result<VerifyReport> verify_db(Db& db, std::span<const Digest> noted) {
    // One transaction: another program may be adding facts meanwhile.
    auto begun = db.exec("BEGIN");
    if (!begun) return begun.refusal();
    VerifyReport report = Verifier(db, noted).run();
    (void)db.exec("ROLLBACK");
    return report;
}

Result<VerifyReport> Job::verify(std::span<const Digest> noted) const {
    return verify_db(state_->db, noted);
}

}  // namespace layproof::job

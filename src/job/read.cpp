#include <algorithm>
#include <type_traits>
#include <unordered_map>

#include "job/job_internal.hpp"
#include "job/revision.hpp"

namespace layproof::job {

Result<std::map<std::int64_t, WriterRecord>> writers_of(Db& db) {
    std::map<std::int64_t, WriterRecord> out;
    auto rows = db.use(
        "SELECT seq, id, job, name, started_ms, after_writer, after_position, after_hash "
        "FROM writer");
    if (!rows) return rows.refusal();
    bool good = true;
    auto done = each_row(db, **rows, [&](const Statement& row) {
        WriterRecord writer;
        good = row.blob_into(1, writer.id.bytes) && row.blob_into(2, writer.job.bytes) && good;
        writer.name = row.text(3);
        writer.started_ms = row.integer(4);
        if (!row.is_null(5)) {
            good = row.blob_into(5, writer.after_writer.emplace().bytes) && good;
        }
        writer.after_position = row.integer(6);
        if (!row.is_null(7)) good = row.blob_into(7, writer.after_hash.emplace().bytes) && good;
        out.emplace(row.integer(0), writer);
    });
    if (!done) return done.refusal();
    if (!good) return sqlite_refusal(nullptr, SQLITE_CORRUPT, db.shown());
    return out;
}

template <class T>
Result<std::vector<Read<T>>> read_facts(Db& db, const AsOf& as_of, const std::string* station) {
    auto writers = writers_of(db);
    if (!writers) return writers.refusal();

    // The kind's own table leads: it is small and in order of arrival, mostly that of id.
    static const std::string kSelect =
        "SELECT fact.id, fact.writer, fact.recorded_ms, fact.document, fact.revision, "
        "fact.content, " +
        joined(columns_of<T>(), "k.") + " FROM " + Kind<T>::kWord +
        " AS k CROSS JOIN fact ON fact.seq = k.seq WHERE fact.id <= ?1";
    auto rows = db.use(station == nullptr ? kSelect : kSelect + " AND k.station = ?2");
    if (!rows) return rows.refusal();
    (*rows)->bind_blob(1, last_id(as_of).bytes);
    if (station != nullptr) (*rows)->bind(2, std::string_view{*station});

    std::vector<Read<T>> out;
    bool good = true;
    bool rising = true;
    auto done = each_row(db, **rows, [&](const Statement& row) {
        Read<T>& read = out.emplace_back();
        Kept<T>& kept = read.kept;
        good = row.blob_into(0, kept.id.bytes) && good;
        const auto writer = writers->find(row.integer(1));
        if (writer == writers->end()) {
            good = false;
        } else {
            kept.writer = writer->second.id;
        }
        kept.recorded_ms = row.integer(2);
        if (!row.is_null(3)) {
            good = row.blob_into(3, kept.source.document.emplace().bytes) && good;
        }
        kept.source.revision = row.text(4);
        good = row.blob_into(5, read.content.bytes) && good;
        FromStatement from{row, 6};
        Kind<T>::fields(kept.value, from);
        good = from.good && good;
        if (out.size() > 1 && !(out[out.size() - 2].kept.id < kept.id)) rising = false;
    });
    if (!done) return done.refusal();
    if (!good) return sqlite_refusal(nullptr, SQLITE_CORRUPT, db.shown());
    if (!rising) {
        std::sort(out.begin(), out.end(),
                  [](const Read<T>& a, const Read<T>& b) { return a.kept.id < b.kept.id; });
    }
    // One chain holds the same fact once already.
    if (writers->size() > 1) {
        DigestSet seen;
        seen.reserve(out.size());
        const auto again = [&](const Read<T>& read) { return !seen.insert(read.content).second; };
        out.erase(std::remove_if(out.begin(), out.end(), again), out.end());
    }
    return out;
}

Result<std::map<Digest, FactId>> accepted(Db& db, const AsOf& as_of) {
    std::map<Digest, FactId> out;
    auto rows = db.use(
        "SELECT about.content, made.id FROM decision CROSS JOIN fact AS made "
        "ON made.seq = decision.seq JOIN fact AS about ON about.id = decision.subject_fact "
        "WHERE decision.decision = 'accept' AND made.id <= ? ORDER BY made.id");
    if (!rows) return rows.refusal();
    (*rows)->bind_blob(1, last_id(as_of).bytes);
    bool good = true;
    auto done = each_row(db, **rows, [&](const Statement& row) {
        Digest content;
        FactId id;
        good = row.blob_into(0, content.bytes) && row.blob_into(1, id.bytes) && good;
        out[content] = id;
    });
    if (!done) return done.refusal();
    if (!good) return sqlite_refusal(nullptr, SQLITE_CORRUPT, db.shown());
    return out;
}

bool takes_place(const Source& now_source, const Digest& now, const Source& next_source,
                 const Digest& next, const std::map<Digest, FactId>& accepts) {
    const auto order = compare_revisions(now_source.revision, next_source.revision);
    if (order.has_value() && *order != std::strong_ordering::equal) {
        return *order == std::strong_ordering::less;
    }
    const auto accept_now = accepts.find(now);
    const auto accept_next = accepts.find(next);
    if (accept_now == accepts.end()) return true;
    return accept_next != accepts.end() && accept_now->second < accept_next->second;
}

namespace {

std::string key_of(const frame::Mark& fact) {
    return fact.name;
}
std::string key_of(const frame::DesignPoint& fact) {
    return fact.name;
}
std::string key_of(const station::Setup& fact) {
    return fact.station;
}
std::string key_of(const measure::Instrument& fact) {
    return fact.name;
}
std::string key_of(const ColumnMap& fact) {
    return fact.name;
}
std::string key_of(const Setting& fact) {
    return fact.name;
}
std::string key_of(const Tolerance& fact) {
    return std::to_string(fact.subject.size()) + ":" + fact.subject + fact.quantity;
}

template <class T>
inline constexpr bool kAllCount =
    std::is_same_v<T, measure::Sight> || std::is_same_v<T, Decision> ||
    std::is_same_v<T, Document> || std::is_same_v<T, network::Tape> ||
    std::is_same_v<T, network::LevelRise> || std::is_same_v<T, DrawnMark> ||
    std::is_same_v<T, network::LevelReading>;

template <class T>
std::vector<Kept<T>> kept_of(std::vector<Read<T>> reads) {
    std::vector<Kept<T>> out;
    out.reserve(reads.size());
    for (Read<T>& read : reads) out.push_back(std::move(read.kept));
    return out;
}

}  // namespace

template <class T>
Result<std::vector<Kept<T>>> Job::all(AsOf as_of) const {
    auto reads = read_facts<T>(state_->db, as_of);
    if (!reads) return reads.refusal();
    return kept_of(std::move(*reads));
}

template <class T>
Result<std::vector<Kept<T>>> Job::current(AsOf as_of) const {
    if constexpr (kAllCount<T>) {
        return all<T>(as_of);
    } else {
        auto reads = read_facts<T>(state_->db, as_of);
        if (!reads) return reads.refusal();
        auto accepts = accepted(state_->db, as_of);
        if (!accepts) return accepts.refusal();
        std::unordered_map<std::string, std::size_t> counts;
        counts.reserve(reads->size());
        std::vector<char> beaten(reads->size(), 0);
        for (std::size_t i = 0; i < reads->size(); ++i) {
            const Read<T>& next = (*reads)[i];
            const auto [at, first] = counts.emplace(key_of(next.kept.value), i);
            if (first) continue;
            const Read<T>& now = (*reads)[at->second];
            if (takes_place(now.kept.source, now.content, next.kept.source, next.content,
                            *accepts)) {
                beaten[at->second] = 1;
                at->second = i;
            } else {
                beaten[i] = 1;
            }
        }
        std::vector<Kept<T>> out;
        out.reserve(counts.size());
        for (std::size_t i = 0; i < reads->size(); ++i) {
            if (beaten[i] == 0) out.push_back(std::move((*reads)[i].kept));
        }
        return out;
    }
}

#define LAYPROOF_JOB_KIND(T)                                                                \
    template Result<std::vector<Read<T>>> read_facts(Db&, const AsOf&, const std::string*); \
    template Result<std::vector<Kept<T>>> Job::all(AsOf) const;                             \
    template Result<std::vector<Kept<T>>> Job::current(AsOf) const
LAYPROOF_JOB_KIND(Document);
LAYPROOF_JOB_KIND(frame::Mark);
LAYPROOF_JOB_KIND(station::Setup);
LAYPROOF_JOB_KIND(measure::Sight);
LAYPROOF_JOB_KIND(frame::DesignPoint);
LAYPROOF_JOB_KIND(Tolerance);
LAYPROOF_JOB_KIND(measure::Instrument);
LAYPROOF_JOB_KIND(ColumnMap);
LAYPROOF_JOB_KIND(Decision);
LAYPROOF_JOB_KIND(Setting);
LAYPROOF_JOB_KIND(network::Tape);
LAYPROOF_JOB_KIND(network::LevelRise);
LAYPROOF_JOB_KIND(DrawnMark);
LAYPROOF_JOB_KIND(network::LevelReading);
#undef LAYPROOF_JOB_KIND

Result<std::vector<Kept<measure::Sight>>> Job::sights_of(const std::string& station,
                                                         AsOf as_of) const {
    auto reads = read_facts<measure::Sight>(state_->db, as_of, &station);
    if (!reads) return reads.refusal();
    return kept_of(std::move(*reads));
}

Result<std::vector<FactId>> Job::set_aside(AsOf as_of) const {
    Db& db = state_->db;
    // By content: the same fact of two crews is set aside whichever of its ids was named.
    std::map<Digest, bool> aside;
    {
        auto rows = db.use(
            "SELECT about.content, decision.decision FROM decision CROSS JOIN fact AS made "
            "ON made.seq = decision.seq JOIN fact AS about ON about.id = decision.subject_fact "
            "WHERE decision.decision IN ('set-aside', 'put-back') AND made.id <= ? "
            "ORDER BY made.id");
        if (!rows) return rows.refusal();
        (*rows)->bind_blob(1, last_id(as_of).bytes);
        auto done = each_row(db, **rows, [&](const Statement& row) {
            Digest content;
            if (row.blob_into(0, content.bytes)) aside[content] = row.text(1) == "set-aside";
        });
        if (!done) return done.refusal();
    }
    std::vector<FactId> out;
    for (const auto& [content, is_aside] : aside) {
        if (!is_aside) continue;
        auto rows = db.use("SELECT id FROM fact WHERE content = ?");
        if (!rows) return rows.refusal();
        (*rows)->bind_blob(1, content.bytes);
        auto done = each_row(db, **rows, [&](const Statement& row) {
            FactId id;
            if (row.blob_into(0, id.bytes)) out.push_back(id);
        });
        if (!done) return done.refusal();
    }
    std::sort(out.begin(), out.end());
    return out;
}

Result<Bytes> Job::document_bytes(const Digest& digest) const {
    auto row = state_->db.use("SELECT bytes FROM content WHERE sha256 = ?");
    if (!row) return row.refusal();
    (*row)->bind_blob(1, digest.bytes);
    const int code = (*row)->step();
    if (code == SQLITE_DONE) {
        return Refusal{ErrorCode::fact_unknown, Place{state_->path, 0, 0},
                       "document " + digest.to_text(), "a document in this job"};
    }
    if (code != SQLITE_ROW) return state_->db.refusal(code);
    const auto bytes = (*row)->blob(0);
    return Bytes(bytes.begin(), bytes.end());
}

}  // namespace layproof::job

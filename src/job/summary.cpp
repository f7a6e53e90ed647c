#include <algorithm>
#include <array>

#include "job/job_internal.hpp"

namespace layproof::job {
namespace {

template <class E, std::size_t N>
std::string_view word_in(const std::array<std::pair<E, std::string_view>, N>& words, E kind) {
    for (const auto& [value, word] : words) {
        if (value == kind) return word;
    }
    return "unknown";
}

using C = ConflictKind;
constexpr std::array<std::pair<C, std::string_view>, 6> kConflictWords{{
    {C::mark_coordinates, "mark-coordinates"},
    {C::point_coordinates, "point-coordinates"},
    {C::revision_order, "revision-order"},
    {C::setup_name, "setup-name"},
    {C::station_name, "station-name"},
    {C::chain_branched, "chain-branched"},
}};

using F = FindingKind;
constexpr std::array<std::pair<F, std::string_view>, 8> kFindingWords{{
    {F::file_damaged, "file-damaged"},
    {F::schema_changed, "schema-changed"},
    {F::fact_changed, "fact-changed"},
    {F::chain_broken, "chain-broken"},
    {F::fact_missing, "fact-missing"},
    {F::fact_extra, "fact-extra"},
    {F::document_changed, "document-changed"},
    {F::note_missing, "note-missing"},
}};

/// How a line of the log names a fact of a kind, in SQL.
std::string few_words(const std::string& kind) {
    if (kind == "setup") return "station";
    if (kind == "sight") return "station || ' to ' || target";
    if (kind == "tolerance") return "trim(subject || ' ' || quantity)";
    if (kind == "decision") return "decision || ' ' || subject_name || ': ' || reason";
    if (kind == "tape" || kind == "level_rise") return "from_mark || ' to ' || to_mark";
    if (kind == "level_reading") return "trim(run || ' ' || point)";
    if (kind == "setting") return "name || ' = ' || value";
    return "name";
}

}  // namespace

std::string_view to_word(ConflictKind kind) {
    return word_in(kConflictWords, kind);
}
std::string_view to_word(FindingKind kind) {
    return word_in(kFindingWords, kind);
}

Result<std::vector<ChainHead>> heads_of(Db& db) {
    std::vector<ChainHead> out;
    auto rows = db.use(
        "SELECT writer.id, writer.name, head.position, head.hash FROM head "
        "JOIN writer ON writer.seq = head.writer");
    if (!rows) return rows.refusal();
    bool good = true;
    auto done = each_row(db, **rows, [&](const Statement& row) {
        ChainHead& head = out.emplace_back();
        good = row.blob_into(0, head.writer.bytes) && row.blob_into(3, head.hash.bytes) && good;
        head.writer_name = row.text(1);
        head.position = row.integer(2);
    });
    if (!done) return done.refusal();
    if (!good) return sqlite_refusal(nullptr, SQLITE_CORRUPT, db.shown());
    std::sort(out.begin(), out.end(), [](const ChainHead& a, const ChainHead& b) {
        return std::pair(a.writer, a.hash) < std::pair(b.writer, b.hash);
    });
    return out;
}

Result<std::vector<StationEntry>> Job::stations(AsOf as_of) const {
    Db& db = state_->db;
    std::map<std::string, StationEntry> out;
    const auto entry = [&](const Statement& row) -> StationEntry& {
        auto [at, first] = out.try_emplace(row.text(0));
        StationEntry& station = at->second;
        const std::int64_t from = row.integer(1);
        const std::int64_t to = row.integer(2);
        station.name = at->first;
        station.first_recorded_ms = first ? from : std::min(station.first_recorded_ms, from);
        station.last_recorded_ms = first ? to : std::max(station.last_recorded_ms, to);
        return station;
    };
    const FactId last = last_id(as_of);
    {
        auto rows = db.use(
            "SELECT station, min(recorded_ms), max(recorded_ms), count(DISTINCT content) "
            "FROM sight CROSS JOIN fact ON fact.seq = sight.seq WHERE fact.id <= ? "
            "GROUP BY station");
        if (!rows) return rows.refusal();
        (*rows)->bind_blob(1, last.bytes);
        auto done =
            each_row(db, **rows, [&](const Statement& row) { entry(row).sights = row.integer(3); });
        if (!done) return done.refusal();
    }
    auto rows = db.use(
        "SELECT station, min(recorded_ms), max(recorded_ms) FROM setup CROSS JOIN fact "
        "ON fact.seq = setup.seq WHERE fact.id <= ? GROUP BY station");
    if (!rows) return rows.refusal();
    (*rows)->bind_blob(1, last.bytes);
    auto done = each_row(db, **rows, [&](const Statement& row) { entry(row).has_setup = true; });
    if (!done) return done.refusal();
    std::vector<StationEntry> list;
    for (auto& [name, station] : out) list.push_back(std::move(station));
    return list;
}

Result<Summary> Job::summary(AsOf as_of) const {
    Db& db = state_->db;
    Summary out;
    out.job = state_->id;
    auto version = db.integer("PRAGMA user_version");
    if (!version) return version.refusal();
    out.schema = static_cast<int>(*version);
    auto settings = current<Setting>(as_of);
    if (!settings) return settings.refusal();
    for (const auto& setting : *settings) {
        if (setting.value.name == "title") out.title = setting.value.value;
    }
    auto heads = heads_of(db);
    if (!heads) return heads.refusal();
    out.heads = std::move(*heads);
    auto writers = writers_of(db);
    if (!writers) return writers.refusal();
    const FactId last = last_id(as_of);
    std::map<std::int64_t, std::int64_t> counts;
    {
        auto rows = db.use("SELECT writer, count(*) FROM fact WHERE id <= ? GROUP BY writer");
        if (!rows) return rows.refusal();
        (*rows)->bind_blob(1, last.bytes);
        auto done = each_row(
            db, **rows, [&](const Statement& row) { counts[row.integer(0)] = row.integer(1); });
        if (!done) return done.refusal();
    }
    for (const auto& [seq, writer] : *writers) {
        out.writers.push_back({writer.id, writer.job, writer.name, writer.started_ms,
                               writer.after_writer, counts[seq]});
    }
    std::sort(out.writers.begin(), out.writers.end(),
              [](const WriterEntry& a, const WriterEntry& b) { return a.id < b.id; });
    auto rows = db.use(
        "SELECT kind, count(*), count(DISTINCT content), min(recorded_ms), max(recorded_ms) "
        "FROM fact WHERE id <= ? GROUP BY kind ORDER BY kind");
    if (!rows) return rows.refusal();
    (*rows)->bind_blob(1, last.bytes);
    auto done = each_row(db, **rows, [&](const Statement& row) {
        out.kinds.push_back({row.text(0), row.integer(1), row.integer(2)});
        const std::int64_t from = row.integer(3);
        const std::int64_t to = row.integer(4);
        out.first_recorded_ms = std::min(out.first_recorded_ms.value_or(from), from);
        out.last_recorded_ms = std::max(out.last_recorded_ms.value_or(to), to);
    });
    if (!done) return done.refusal();
    return out;
}

Result<std::int64_t> Job::changes() const {
    return state_->db.integer("PRAGMA data_version");
}

Result<std::vector<LogLine>> Job::log(AsOf as_of, std::size_t most) const {
    Db& db = state_->db;
    auto writers = writers_of(db);
    if (!writers) return writers.refusal();
    std::vector<LogLine> out;
    bool good = true;
    {
        auto rows = db.use(
            "SELECT id, writer, position, kind, recorded_ms, seq FROM fact WHERE id <= ? "
            "ORDER BY id DESC LIMIT ?");
        if (!rows) return rows.refusal();
        (*rows)->bind_blob(1, last_id(as_of).bytes);
        (*rows)->bind(2, static_cast<std::int64_t>(
                             std::min<std::size_t>(most, static_cast<std::size_t>(INT64_MAX))));
        auto done = each_row(db, **rows, [&](const Statement& row) {
            LogLine& line = out.emplace_back();
            good = row.blob_into(0, line.id.bytes) && good;
            const auto writer = writers->find(row.integer(1));
            if (writer != writers->end()) line.writer = writer->second.id;
            line.position = row.integer(2);
            line.kind = row.text(3);
            line.recorded_ms = row.integer(4);
            if (kind_table(line.kind) == nullptr) {
                good = false;
                return;
            }
            auto what =
                db.use("SELECT " + few_words(line.kind) + " FROM " + line.kind + " WHERE seq = ?");
            if (!what) {
                good = false;
                return;
            }
            (*what)->bind(1, row.integer(5));
            if ((*what)->step() == SQLITE_ROW) line.what = (*what)->text(0);
        });
        if (!done) return done.refusal();
    }
    if (!good) return sqlite_refusal(nullptr, SQLITE_CORRUPT, db.shown());
    std::reverse(out.begin(), out.end());
    return out;
}

}  // namespace layproof::job

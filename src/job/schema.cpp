#include <fmt/format.h>

#include <array>
#include <map>

#include "job/schema_internal.hpp"

namespace layproof::job {
namespace {

// Schema 1. `fact` is the ledger: who, when, where in the chain, and the hashes. What a fact says
// stands in the table of its kind under the same seq. seq is the order of arrival in this file and
// means nothing elsewhere; ids do. `head` and `this_file` are the only tables that change.
constexpr std::string_view kTables1 = R"sql(
CREATE TABLE job (
    only INTEGER PRIMARY KEY CHECK (only = 1),
    id BLOB NOT NULL CHECK (length(id) = 16)
) STRICT;
CREATE TABLE writer (
    seq INTEGER PRIMARY KEY,
    id BLOB NOT NULL UNIQUE CHECK (length(id) = 16),
    job BLOB NOT NULL CHECK (length(job) = 16),
    name TEXT NOT NULL,
    started_ms INTEGER NOT NULL,
    after_writer BLOB,
    after_position INTEGER NOT NULL,
    after_hash BLOB
) STRICT;
CREATE TABLE content (
    sha256 BLOB PRIMARY KEY CHECK (length(sha256) = 32),
    bytes BLOB NOT NULL
) STRICT;
CREATE TABLE fact (
    seq INTEGER PRIMARY KEY,
    id BLOB NOT NULL UNIQUE CHECK (length(id) = 16),
    writer INTEGER NOT NULL REFERENCES writer (seq),
    position INTEGER NOT NULL CHECK (position > 0),
    kind TEXT NOT NULL,
    recorded_ms INTEGER NOT NULL,
    document BLOB REFERENCES content (sha256),
    revision TEXT NOT NULL,
    content BLOB NOT NULL CHECK (length(content) = 32),
    previous BLOB NOT NULL CHECK (length(previous) = 32),
    hash BLOB NOT NULL CHECK (length(hash) = 32)
) STRICT;
CREATE INDEX fact_chain ON fact (writer, position);
CREATE INDEX fact_content ON fact (content);
CREATE TABLE head (
    writer INTEGER NOT NULL REFERENCES writer (seq),
    position INTEGER NOT NULL,
    hash BLOB NOT NULL,
    PRIMARY KEY (writer, hash)
) STRICT;
CREATE TABLE this_file (
    only INTEGER PRIMARY KEY CHECK (only = 1),
    name TEXT NOT NULL,
    writer INTEGER REFERENCES writer (seq),
    position INTEGER NOT NULL,
    hash BLOB,
    device INTEGER NOT NULL,
    inode INTEGER NOT NULL
) STRICT;
CREATE TABLE document (
    seq INTEGER PRIMARY KEY REFERENCES fact (seq),
    name TEXT NOT NULL,
    role TEXT NOT NULL,
    note TEXT NOT NULL,
    size_bytes INTEGER NOT NULL,
    sha256 BLOB NOT NULL REFERENCES content (sha256)
) STRICT;
CREATE TABLE mark (
    seq INTEGER PRIMARY KEY REFERENCES fact (seq),
    name TEXT NOT NULL,
    east_m REAL,
    north_m REAL,
    height_m REAL,
    sd_east_m REAL NOT NULL,
    sd_north_m REAL NOT NULL,
    sd_height_m REAL NOT NULL,
    role TEXT NOT NULL,
    note TEXT NOT NULL,
    place_file TEXT NOT NULL,
    place_line INTEGER NOT NULL,
    place_column INTEGER NOT NULL
) STRICT;
CREATE TABLE setup (
    seq INTEGER PRIMARY KEY REFERENCES fact (seq),
    station TEXT NOT NULL,
    kind TEXT NOT NULL,
    mark TEXT NOT NULL,
    instrument_height_m REAL,
    time_s REAL,
    time_text TEXT NOT NULL,
    temperature_k REAL,
    pressure_hpa REAL,
    place_file TEXT NOT NULL,
    place_line INTEGER NOT NULL,
    place_column INTEGER NOT NULL
) STRICT;
CREATE TABLE sight (
    seq INTEGER PRIMARY KEY REFERENCES fact (seq),
    station TEXT NOT NULL,
    target TEXT NOT NULL,
    direction_rad REAL,
    zenith_rad REAL,
    slope_distance_m REAL,
    horizontal_distance_m REAL,
    target_height_m REAL NOT NULL,
    face TEXT NOT NULL,
    purpose TEXT NOT NULL,
    prism_constant_m REAL NOT NULL,
    temperature_k REAL,
    pressure_hpa REAL,
    time_s REAL,
    time_text TEXT NOT NULL,
    note TEXT NOT NULL,
    place_file TEXT NOT NULL,
    place_line INTEGER NOT NULL,
    place_column INTEGER NOT NULL
) STRICT;
CREATE INDEX sight_station ON sight (station);
CREATE TABLE point (
    seq INTEGER PRIMARY KEY REFERENCES fact (seq),
    name TEXT NOT NULL,
    east_m REAL NOT NULL,
    north_m REAL NOT NULL,
    height_m REAL,
    element TEXT NOT NULL,
    tolerance_plan_m REAL,
    tolerance_height_m REAL,
    note TEXT NOT NULL,
    place_file TEXT NOT NULL,
    place_line INTEGER NOT NULL,
    place_column INTEGER NOT NULL
) STRICT;
CREATE TABLE tolerance (
    seq INTEGER PRIMARY KEY REFERENCES fact (seq),
    subject TEXT NOT NULL,
    quantity TEXT NOT NULL,
    minus_m REAL NOT NULL,
    plus_m REAL NOT NULL,
    formula TEXT NOT NULL,
    original_text TEXT NOT NULL,
    standard TEXT NOT NULL,
    edition TEXT NOT NULL,
    clause TEXT NOT NULL,
    from_memory INTEGER NOT NULL,
    note TEXT NOT NULL,
    place_file TEXT NOT NULL,
    place_line INTEGER NOT NULL,
    place_column INTEGER NOT NULL
) STRICT;
CREATE TABLE instrument (
    seq INTEGER PRIMARY KEY REFERENCES fact (seq),
    angle_sd_rad REAL NOT NULL,
    distance_sd_m REAL NOT NULL,
    distance_ppm REAL NOT NULL,
    bubble_rad REAL NOT NULL,
    centring_m REAL NOT NULL,
    height_tape_m REAL NOT NULL,
    instrument_centring_m REAL NOT NULL,
    refraction_k REAL NOT NULL,
    refraction_k_sd REAL NOT NULL,
    marking_m REAL NOT NULL,
    wavelength_um REAL,
    reference_temperature_k REAL,
    reference_pressure_hpa REAL,
    stated INTEGER NOT NULL,
    name TEXT NOT NULL
) STRICT;
CREATE TABLE column_map (
    seq INTEGER PRIMARY KEY REFERENCES fact (seq),
    name TEXT NOT NULL,
    reads TEXT NOT NULL,
    toml TEXT NOT NULL
) STRICT;
CREATE TABLE decision (
    seq INTEGER PRIMARY KEY REFERENCES fact (seq),
    decision TEXT NOT NULL,
    subject_kind TEXT NOT NULL,
    subject_name TEXT NOT NULL,
    subject_fact BLOB,
    reason TEXT NOT NULL,
    time_s REAL NOT NULL,
    time_text TEXT NOT NULL,
    initials TEXT NOT NULL
) STRICT;
CREATE TABLE setting (
    seq INTEGER PRIMARY KEY REFERENCES fact (seq),
    name TEXT NOT NULL,
    value TEXT NOT NULL
) STRICT;
)sql";

/// A table whose rows stay as they are, and what makes a row of it the same as another.
struct Guarded {
    std::string_view table;
    std::string_view same;
};
constexpr std::array kGuarded1{
    Guarded{"job", "only = NEW.only"},         Guarded{"writer", "seq = NEW.seq OR id = NEW.id"},
    Guarded{"content", "sha256 = NEW.sha256"}, Guarded{"fact", "seq = NEW.seq OR id = NEW.id"},
    Guarded{"document", "seq = NEW.seq"},      Guarded{"mark", "seq = NEW.seq"},
    Guarded{"setup", "seq = NEW.seq"},         Guarded{"sight", "seq = NEW.seq"},
    Guarded{"point", "seq = NEW.seq"},         Guarded{"tolerance", "seq = NEW.seq"},
    Guarded{"instrument", "seq = NEW.seq"},    Guarded{"column_map", "seq = NEW.seq"},
    Guarded{"decision", "seq = NEW.seq"},      Guarded{"setting", "seq = NEW.seq"},
};

// The insert guard stops INSERT OR REPLACE, which deletes without asking the delete guard.
std::string with_guards(std::string_view tables, std::span<const Guarded> guarded) {
    std::string sql{tables};
    for (const auto& [table, same] : guarded) {
        constexpr std::string_view kStop = "BEGIN SELECT RAISE(ABORT, 'facts are only added'); END";
        sql +=
            fmt::format("CREATE TRIGGER {0}_keep_update BEFORE UPDATE ON {0} {1};\n", table, kStop);
        sql +=
            fmt::format("CREATE TRIGGER {0}_keep_delete BEFORE DELETE ON {0} {1};\n", table, kStop);
        sql += fmt::format(
            "CREATE TRIGGER {0}_keep_insert BEFORE INSERT ON {0} "
            "WHEN EXISTS (SELECT 1 FROM {0} WHERE {2}) {1};\n",
            table, kStop, same);
    }
    return sql;
}

/// Schema 2: what vetting measures besides sights, and marks as drawings have them.
constexpr std::string_view kTables2 = R"sql(
CREATE TABLE tape (
    seq INTEGER PRIMARY KEY REFERENCES fact (seq),
    from_mark TEXT NOT NULL,
    to_mark TEXT NOT NULL,
    distance_m REAL NOT NULL,
    sd_m REAL NOT NULL,
    is_slope INTEGER NOT NULL,
    place_file TEXT NOT NULL,
    place_line INTEGER NOT NULL,
    place_column INTEGER NOT NULL
) STRICT;
CREATE TABLE level_rise (
    seq INTEGER PRIMARY KEY REFERENCES fact (seq),
    from_mark TEXT NOT NULL,
    to_mark TEXT NOT NULL,
    rise_m REAL NOT NULL,
    sd_m REAL NOT NULL,
    place_file TEXT NOT NULL,
    place_line INTEGER NOT NULL,
    place_column INTEGER NOT NULL
) STRICT;
CREATE TABLE drawn_mark (
    seq INTEGER PRIMARY KEY REFERENCES fact (seq),
    name TEXT NOT NULL,
    east_m REAL,
    north_m REAL,
    height_m REAL,
    sd_east_m REAL NOT NULL,
    sd_north_m REAL NOT NULL,
    sd_height_m REAL NOT NULL,
    role TEXT NOT NULL,
    note TEXT NOT NULL,
    place_file TEXT NOT NULL,
    place_line INTEGER NOT NULL,
    place_column INTEGER NOT NULL
) STRICT;
)sql";
constexpr std::array kGuarded2{Guarded{"tape", "seq = NEW.seq"},
                               Guarded{"level_rise", "seq = NEW.seq"},
                               Guarded{"drawn_mark", "seq = NEW.seq"}};

/// Schema 3: levels as the level book has them.
constexpr std::string_view kTables3 = R"sql(
CREATE TABLE level_reading (
    seq INTEGER PRIMARY KEY REFERENCES fact (seq),
    run TEXT NOT NULL,
    point TEXT NOT NULL,
    backsight_m REAL,
    intermediate_m REAL,
    foresight_m REAL,
    backsight_distance_m REAL,
    foresight_distance_m REAL,
    sd_km_m REAL,
    sd_turn_m REAL,
    time_s REAL,
    time_text TEXT NOT NULL,
    note TEXT NOT NULL,
    place_file TEXT NOT NULL,
    place_line INTEGER NOT NULL,
    place_column INTEGER NOT NULL
) STRICT;
)sql";
constexpr std::array kGuarded3{Guarded{"level_reading", "seq = NEW.seq"}};

using Objects = std::map<std::string, std::string>;

Result<Objects> objects_of(Db& db) {
    Objects out;
    auto all = db.use("SELECT type || ' ' || name, coalesce(sql, '') FROM sqlite_master");
    if (!all) return all.refusal();
    int code = 0;
    while ((code = (*all)->step()) == SQLITE_ROW) out[(*all)->text(0)] = (*all)->text(1);
    if (code != SQLITE_DONE) return db.refusal(code);
    return out;
}

}  // namespace

std::span<const Migration> migrations() {
    static const std::array steps{Migration{1, with_guards(kTables1, kGuarded1)},
                                  Migration{2, with_guards(kTables2, kGuarded2)},
                                  Migration{3, with_guards(kTables3, kGuarded3)}};
    return steps;
}

Result<Done> migrate(Db& db, std::span<const Migration> steps) {
    const int newest = newest_version(steps);
    auto found = db.integer("PRAGMA user_version");
    if (!found) return found.refusal();
    if (*found == newest) return Done{};
    if (*found > newest) {
        return Refusal{
            ErrorCode::job_newer, Place{db.shown(), 0, 0},
            fmt::format("a job file of schema {}", *found),
            fmt::format("schema {} or older: use a newer layproof; nothing was changed", newest)};
    }
    auto transaction = Transaction::begin(db);
    if (!transaction) return transaction.refusal();
    // Read again: another program may have gone the same way while this one waited.
    found = db.integer("PRAGMA user_version");
    if (!found) return found.refusal();
    for (const Migration& step : steps) {
        if (step.to_version <= *found) continue;
        auto done = db.exec(step.sql);
        if (!done) return done;
        done = db.exec(fmt::format("PRAGMA user_version = {}", step.to_version));
        if (!done) return done;
    }
    return transaction->commit();
}

Result<std::vector<std::string>> schema_differences(Db& db, std::span<const Migration> steps) {
    Db fresh;
    auto opened = fresh.open(":memory:", SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, db.shown());
    if (!opened) return opened.refusal();
    auto made = migrate(fresh, steps);
    if (!made) return made.refusal();
    auto expected = objects_of(fresh);
    if (!expected) return expected.refusal();
    auto present = objects_of(db);
    if (!present) return present.refusal();

    std::vector<std::string> out;
    for (const auto& [name, sql] : *expected) {
        const auto at = present->find(name);
        if (at == present->end()) {
            out.push_back(name + " is missing");
        } else if (at->second != sql) {
            out.push_back(name + " is not as layproof made it");
        }
    }
    for (const auto& [name, sql] : *present) {
        // ANALYZE, run by hand, leaves statistics: no harm.
        if (name.find(" sqlite_stat") != std::string::npos) continue;
        if (!expected->contains(name)) out.push_back(name + " does not belong there");
    }
    return out;
}

}  // namespace layproof::job

#include "job/sqlite_internal.hpp"

#include <fmt/format.h>

namespace layproof::job {
namespace {

bool is_write_trouble(int extended) {
    switch (extended) {
        case SQLITE_IOERR_WRITE:
        case SQLITE_IOERR_FSYNC:
        case SQLITE_IOERR_DIR_FSYNC:
        case SQLITE_IOERR_TRUNCATE:
        case SQLITE_IOERR_SHMSIZE:
        case SQLITE_IOERR_SHMOPEN:
        case SQLITE_IOERR_SHMMAP:
        case SQLITE_IOERR_DELETE:
            return true;
        default:
            return false;
    }
}

}  // namespace

Refusal sqlite_refusal(sqlite3* db, int code, const std::string& path) {
    const int extended = db != nullptr ? sqlite3_extended_errcode(db) : code;
    const std::string said = db != nullptr ? sqlite3_errmsg(db) : sqlite3_errstr(code);
    const Place place{path, 0, 0};
    switch (code & 0xFF) {
        case SQLITE_BUSY:
        case SQLITE_LOCKED:
            return {ErrorCode::job_busy, place, "another program writing to this job",
                    "to be its only writer for a moment; nothing was changed, try again"};
        case SQLITE_FULL:
            return {ErrorCode::job_full, place, "no room left on the disk",
                    "room for what is to be added; what was in the job is unchanged"};
        case SQLITE_READONLY:
        case SQLITE_PERM:
            return {ErrorCode::job_read_only, place, "a file or folder that may not be written to",
                    "a job file in a folder that may be written to; nothing was changed"};
        case SQLITE_CORRUPT:
        case SQLITE_NOTADB:
            return {ErrorCode::job_damaged, place, fmt::format("a damaged file ({})", said),
                    "a whole job file; look for a copy of it"};
        case SQLITE_CANTOPEN:
            return {ErrorCode::cannot_read, place,
                    fmt::format("a file that cannot be opened ({})", said),
                    "a job file that can be read"};
        case SQLITE_IOERR:
            if (is_write_trouble(extended)) {
                return {ErrorCode::cannot_write, place,
                        fmt::format("a disk that did not take what was written ({})",
                                    sqlite3_errstr(extended)),
                        "a disk that can be written to; what was in the job is unchanged"};
            }
            return {ErrorCode::cannot_read, place,
                    fmt::format("a disk that could not be read ({})", sqlite3_errstr(extended)),
                    "a job file that can be read"};
        default:
            return {ErrorCode::cannot_read, place,
                    fmt::format("trouble in the job file ({})", said),
                    "a job file as layproof writes it"};
    }
}

void Statement::bind(int index, std::int64_t value) {
    sqlite3_bind_int64(stmt_, index, value);
}
void Statement::bind(int index, double value) {
    sqlite3_bind_double(stmt_, index, value);
}
void Statement::bind(int index, std::string_view text) {
    // An empty string_view may have no data; SQLite would then bind NULL.
    sqlite3_bind_text(stmt_, index, text.empty() ? "" : text.data(), static_cast<int>(text.size()),
                      SQLITE_TRANSIENT);
}
void Statement::bind_blob(int index, std::span<const std::uint8_t> bytes) {
    if (bytes.empty()) {
        sqlite3_bind_zeroblob(stmt_, index, 0);
    } else {
        sqlite3_bind_blob64(stmt_, index, bytes.data(), bytes.size(), SQLITE_TRANSIENT);
    }
}
void Statement::bind_null(int index) {
    sqlite3_bind_null(stmt_, index);
}
void Statement::bind(int index, const Value& value) {
    if (const auto* integer = std::get_if<std::int64_t>(&value)) {
        bind(index, *integer);
    } else if (const auto* real = std::get_if<double>(&value)) {
        bind(index, *real);
    } else if (const auto* text = std::get_if<std::string>(&value)) {
        bind(index, std::string_view{*text});
    } else if (const auto* bytes = std::get_if<Bytes>(&value)) {
        bind_blob(index, *bytes);
    } else {
        bind_null(index);
    }
}

int Statement::step() {
    return sqlite3_step(stmt_);
}
void Statement::reset() {
    sqlite3_reset(stmt_);
    sqlite3_clear_bindings(stmt_);
}

std::string Statement::text(int column) const {
    const auto* data = sqlite3_column_text(stmt_, column);
    if (data == nullptr) return {};
    return {reinterpret_cast<const char*>(data),
            static_cast<std::size_t>(sqlite3_column_bytes(stmt_, column))};
}

std::span<const std::uint8_t> Statement::blob(int column) const {
    const auto* data = static_cast<const std::uint8_t*>(sqlite3_column_blob(stmt_, column));
    return {data, static_cast<std::size_t>(sqlite3_column_bytes(stmt_, column))};
}

Value Statement::value(int column) const {
    switch (sqlite3_column_type(stmt_, column)) {
        case SQLITE_INTEGER:
            return integer(column);
        case SQLITE_FLOAT:
            return real(column);
        case SQLITE_TEXT:
            return text(column);
        case SQLITE_BLOB: {
            const auto bytes = blob(column);
            return Bytes(bytes.begin(), bytes.end());
        }
        default:
            return std::monostate{};
    }
}

Result<Done> Db::open(const std::string& name, int flags, const std::string& shown) {
    close();
    shown_ = shown;
    // One thread at a time uses a job, so SQLite need not lock its connection against others.
    const int code = sqlite3_open_v2(name.c_str(), &db_, flags | SQLITE_OPEN_NOMUTEX, nullptr);
    if (code != SQLITE_OK) {
        Refusal why = refusal(code);
        close();
        return why;
    }
    sqlite3_extended_result_codes(db_, 1);
    return Done{};
}

void Db::close() {
    prepared_.clear();
    if (db_ != nullptr) sqlite3_close(db_);
    db_ = nullptr;
}

void Db::swap(Db& other) noexcept {
    std::swap(db_, other.db_);
    std::swap(shown_, other.shown_);
    std::swap(prepared_, other.prepared_);
}

Result<Done> Db::exec(const char* sql) {
    const int code = sqlite3_exec(db_, sql, nullptr, nullptr, nullptr);
    if (code != SQLITE_OK) return refusal(code);
    return Done{};
}

Result<Db::Use> Db::use(const std::string& sql) {
    auto found = prepared_.find(sql);
    if (found == prepared_.end()) {
        sqlite3_stmt* stmt = nullptr;
        const int code =
            sqlite3_prepare_v3(db_, sql.c_str(), -1, SQLITE_PREPARE_PERSISTENT, &stmt, nullptr);
        if (code != SQLITE_OK) return refusal(code);
        Prepared prepared;
        prepared.owner.reset(stmt);
        prepared.statement = Statement(stmt);
        found = prepared_.emplace(sql, std::move(prepared)).first;
    }
    return Use(&found->second.statement);
}

Result<std::int64_t> Db::integer(const std::string& sql) {
    auto statement = use(sql);
    if (!statement) return statement.refusal();
    const int code = (*statement)->step();
    if (code != SQLITE_ROW) return refusal(code == SQLITE_DONE ? SQLITE_CORRUPT : code);
    return (*statement)->integer(0);
}

Result<Transaction> Transaction::begin(Db& db) {
    auto begun = db.exec("BEGIN IMMEDIATE");
    if (!begun) return begun.refusal();
    return Transaction(db);
}

Transaction::~Transaction() {
    // After some errors (disk full) SQLite has rolled back by itself.
    if (db_ != nullptr && sqlite3_get_autocommit(db_->handle()) == 0) (void)db_->exec("ROLLBACK");
}

Result<Done> Transaction::commit() {
    Db* db = db_;
    auto done = db->exec("COMMIT");
    if (!done) return done;  // still open: the destructor rolls back
    db_ = nullptr;
    return Done{};
}

}  // namespace layproof::job

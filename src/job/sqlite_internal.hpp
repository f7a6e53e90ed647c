#pragma once
// A thin owner for SQLite's handles. Not for other rooms.

#include <sqlite3.h>

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <unordered_map>

#include "base/result.hpp"
#include "job/canonical_internal.hpp"

namespace layproof::job {

/// What SQLite said, in words for the user. `path` goes into the place.
Refusal sqlite_refusal(sqlite3* db, int code, const std::string& path);

/// A prepared statement. Parameters count from 1, columns from 0, as in SQLite.
class Statement {
public:
    Statement() = default;
    explicit Statement(sqlite3_stmt* stmt) : stmt_(stmt) {}

    void bind(int index, std::int64_t value);
    void bind(int index, double value);
    void bind(int index, std::string_view text);
    void bind_blob(int index, std::span<const std::uint8_t> bytes);
    void bind_null(int index);
    void bind(int index, const Value& value);

    /// SQLITE_ROW, SQLITE_DONE or an error.
    int step();
    void reset();

    int columns() const { return sqlite3_column_count(stmt_); }
    bool is_null(int column) const { return sqlite3_column_type(stmt_, column) == SQLITE_NULL; }
    std::int64_t integer(int column) const { return sqlite3_column_int64(stmt_, column); }
    double real(int column) const { return sqlite3_column_double(stmt_, column); }
    std::string text(int column) const;
    std::span<const std::uint8_t> blob(int column) const;
    /// The column with the type it is stored with.
    Value value(int column) const;
    template <std::size_t N>
    bool blob_into(int column, std::array<std::uint8_t, N>& out) const {
        const auto bytes = blob(column);
        if (bytes.size() != N) return false;
        std::copy(bytes.begin(), bytes.end(), out.begin());
        return true;
    }

private:
    sqlite3_stmt* stmt_ = nullptr;
};

/// A connection with its prepared statements. use() gives a statement that is reset when it goes
/// out of scope; the same text is prepared once. A statement must not be used twice at the same
/// time.
class Db {
public:
    Db() = default;
    ~Db() { close(); }
    Db(const Db&) = delete;
    Db& operator=(const Db&) = delete;

    /// `name` as for sqlite3_open_v2 (may be a file: URI), `shown` for messages.
    Result<Done> open(const std::string& name, int flags, const std::string& shown);
    void close();
    void swap(Db& other) noexcept;

    Result<Done> exec(const char* sql);
    Result<Done> exec(const std::string& sql) { return exec(sql.c_str()); }

    class Use {
    public:
        explicit Use(Statement* statement) : statement_(statement) {}
        Use(Use&& other) noexcept : statement_(other.statement_) { other.statement_ = nullptr; }
        Use& operator=(Use&&) = delete;
        ~Use() {
            if (statement_ != nullptr) statement_->reset();
        }
        Statement* operator->() { return statement_; }
        Statement& operator*() { return *statement_; }

    private:
        Statement* statement_;
    };
    Result<Use> use(const std::string& sql);

    /// One integer from a statement without parameters.
    Result<std::int64_t> integer(const std::string& sql);

    Refusal refusal(int code) const { return sqlite_refusal(db_, code, shown_); }
    sqlite3* handle() const { return db_; }
    const std::string& shown() const { return shown_; }

private:
    struct Finalize {
        void operator()(sqlite3_stmt* stmt) const { sqlite3_finalize(stmt); }
    };
    struct Prepared {
        std::unique_ptr<sqlite3_stmt, Finalize> owner;
        Statement statement;
    };
    sqlite3* db_ = nullptr;
    std::string shown_;
    std::unordered_map<std::string, Prepared> prepared_;
};

/// Rolled back when it goes out of scope, unless committed.
class Transaction {
public:
    static Result<Transaction> begin(Db& db);
    Transaction(Transaction&& other) noexcept : db_(other.db_) { other.db_ = nullptr; }
    Transaction& operator=(Transaction&&) = delete;
    ~Transaction();
    Result<Done> commit();

private:
    explicit Transaction(Db& db) : db_(&db) {}
    Db* db_;
};

}  // namespace layproof::job

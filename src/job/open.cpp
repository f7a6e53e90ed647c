#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <memory>
#include <vector>

#include "job/kinds_internal.hpp"
#include "job/open_internal.hpp"

namespace layproof::job {
namespace {

Refusal refuse(ErrorCode code, const std::string& path, std::string found, std::string expected) {
    return {code, Place{path, 0, 0}, std::move(found), std::move(expected)};
}

struct Head {
    std::int64_t size = 0;
    std::array<std::uint8_t, 100> bytes{};

    std::uint32_t u32(std::size_t at) const {
        return (std::uint32_t{bytes[at]} << 24U) | (std::uint32_t{bytes[at + 1]} << 16U) |
               (std::uint32_t{bytes[at + 2]} << 8U) | std::uint32_t{bytes[at + 3]};
    }
};

std::int64_t file_size(const std::string& path) {
    struct stat about {};
    return stat(path.c_str(), &about) == 0 ? about.st_size : 0;
}

// Reads through SQLite's own file layer: closing a descriptor of our own would drop the locks that
// another connection of this process holds on the file (POSIX advisory locks).
Result<Head> read_head(const std::string& path) {
    sqlite3_vfs* vfs = sqlite3_vfs_find(nullptr);
    std::vector<char> full(static_cast<std::size_t>(vfs->mxPathname) + 1);
    const auto memory = std::make_unique<std::max_align_t[]>(
        static_cast<std::size_t>(vfs->szOsFile) / sizeof(std::max_align_t) + 1);
    auto* file = reinterpret_cast<sqlite3_file*>(memory.get());
    file->pMethods = nullptr;
    int out_flags = 0;
    if (vfs->xFullPathname(vfs, path.c_str(), vfs->mxPathname, full.data()) > SQLITE_OK_SYMLINK ||
        vfs->xOpen(vfs, full.data(), file, SQLITE_OPEN_READONLY | SQLITE_OPEN_MAIN_DB,
                   &out_flags) != SQLITE_OK) {
        return refuse(ErrorCode::cannot_read, path, "a file that cannot be opened",
                      "a job file that can be read");
    }
    // Not xFileSize, which calls a file of one byte empty.
    Head head;
    head.size = file_size(path);
    int code = SQLITE_OK;
    if (head.size > 0) {
        // A short read fills the rest with zeros, which is what is wanted of a file cut short.
        code =
            file->pMethods->xRead(file, head.bytes.data(), static_cast<int>(head.bytes.size()), 0);
        if (code == SQLITE_IOERR_SHORT_READ) code = SQLITE_OK;
    }
    file->pMethods->xClose(file);
    if (code != SQLITE_OK) {
        return refuse(ErrorCode::cannot_read, path, "a file that cannot be read",
                      "a job file that can be read");
    }
    return head;
}

// What the first 100 bytes say (SQLite file format, section 1.3). What stands in a write-ahead log
// next to the file may be newer, so that nothing is concluded from them then.
Result<Done> check_head(const std::string& path) {
    auto head = read_head(path);
    if (!head) return head.refusal();
    if (head->size == 0) {
        return refuse(ErrorCode::empty_file, path, "an empty file", "a job file");
    }
    constexpr std::string_view kMagic{"SQLite format 3\0", 16};
    const auto known = std::min<std::size_t>(kMagic.size(), static_cast<std::size_t>(head->size));
    if (std::memcmp(head->bytes.data(), kMagic.data(), known) != 0) {
        return refuse(ErrorCode::not_a_job, path, "a file of another kind", "a job file");
    }
    if (head->size < 100) {
        return refuse(
            ErrorCode::job_cut_short, path,
            fmt::format("only the first {} bytes of a file; still readable: nothing", head->size),
            "the whole job file; look for a copy of it");
    }
    if (file_size(path + "-wal") > 0) return Done{};
    if (head->u32(68) != kApplicationId) {
        return refuse(ErrorCode::not_a_job, path, "a database of another program",
                      "a job file; nothing was changed");
    }
    const std::int64_t page = head->u32(16) >> 16U == 1 ? 65536 : head->u32(16) >> 16U;
    const std::int64_t pages = head->u32(28);
    const bool pages_valid = head->u32(24) == head->u32(92);
    if (pages_valid && head->size < pages * page) {
        return refuse(ErrorCode::job_cut_short, path,
                      fmt::format("{} of {} bytes; still readable: {}", head->size, pages * page,
                                  readable_part(path)),
                      "the whole job file; look for a copy of it");
    }
    return Done{};
}

std::string immutable_uri(const std::string& path) {
    std::string out = "file:";
    // A URI's path must not begin with two slashes, which would name a host.
    std::size_t from = 0;
    while (from + 1 < path.size() && path[from] == '/' && path[from + 1] == '/') ++from;
    for (const char c : path.substr(from)) {
        const bool plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') ||
                           (c >= '0' && c <= '9') || c == '/' || c == '.' || c == '_' || c == '-';
        if (plain) {
            out += c;
        } else {
            out += fmt::format("%{:02X}", static_cast<unsigned char>(c));
        }
    }
    return out + "?immutable=1";
}

Result<Done> set_up(Db& db, int busy_ms) {
    sqlite3_busy_timeout(db.handle(), busy_ms);
    sqlite3_db_config(db.handle(), SQLITE_DBCONFIG_DEFENSIVE, 1, nullptr);
    sqlite3_db_config(db.handle(), SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, nullptr);
    return db.exec(
        "PRAGMA foreign_keys = ON; PRAGMA synchronous = FULL; PRAGMA cell_size_check = ON;"
        "PRAGMA cache_size = -64000; PRAGMA temp_store = MEMORY");
}

// The schema's version. Reading it is what makes SQLite look at the file at all.
Result<std::int64_t> set_up_and_look(Db& db, int busy_ms) {
    auto ready = set_up(db, busy_ms);
    if (!ready) return ready.refusal();
    return db.integer("PRAGMA user_version");
}

Result<Done> check_application(Db& db) {
    auto id = db.integer("PRAGMA application_id");
    if (!id) return id.refusal();
    if (*id != kApplicationId) {
        return refuse(ErrorCode::not_a_job, db.shown(), "a database of another program",
                      "a job file; nothing was changed");
    }
    return Done{};
}

Refusal read_only_refusal(const std::string& path) {
    return sqlite_refusal(nullptr, SQLITE_READONLY, path);
}

// An old file opened for reading is copied into memory and brought up to date there.
Result<Done> migrate_in_memory(Db& db, std::span<const Migration> steps) {
    Db memory;
    auto made = memory.open(":memory:", SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, db.shown());
    if (!made) return made;
    sqlite3_backup* backup = sqlite3_backup_init(memory.handle(), "main", db.handle(), "main");
    if (backup == nullptr) return memory.refusal(sqlite3_errcode(memory.handle()));
    sqlite3_backup_step(backup, -1);
    const int code = sqlite3_backup_finish(backup);
    if (code != SQLITE_OK) return memory.refusal(code);
    auto done = migrate(memory, steps);
    if (!done) return done;
    db.swap(memory);
    return Done{};
}

}  // namespace

bool path_exists(const std::string& path) {
    struct stat about {};
    return lstat(path.c_str(), &about) == 0;
}

Result<FileIdentity> identity_of(const std::string& path) {
    struct stat about {};
    if (stat(path.c_str(), &about) != 0) {
        return refuse(ErrorCode::cannot_read, path, std::strerror(errno), "a job file");
    }
    return FileIdentity{static_cast<std::int64_t>(about.st_dev),
                        static_cast<std::int64_t>(about.st_ino)};
}

Result<Done> open_job_db(Db& db, const std::string& path, bool write, int busy_ms,
                         std::span<const Migration> steps) {
    struct stat about {};
    if (stat(path.c_str(), &about) != 0) {
        return refuse(ErrorCode::cannot_read, path, std::strerror(errno), "a job file");
    }
    if (!S_ISREG(about.st_mode)) {
        return refuse(ErrorCode::cannot_read, path, "something that is not a file", "a job file");
    }
    auto head = check_head(path);
    if (!head) return head;

    // A reader, too, opens for writing where it may: only then does SQLite tidy its side files
    // away.
    auto opened = db.open(path, SQLITE_OPEN_READWRITE, path);
    if (!opened) opened = db.open(path, SQLITE_OPEN_READONLY, path);
    if (!opened) return opened;
    const bool locked_away = sqlite3_db_readonly(db.handle(), "main") == 1;
    if (write && locked_away) return read_only_refusal(path);
    auto version = set_up_and_look(db, busy_ms);
    if (!version) {
        const ErrorCode code = version.refusal().code;
        const bool side_files = code == ErrorCode::cannot_read || code == ErrorCode::cannot_write ||
                                code == ErrorCode::job_read_only;
        if (!side_files) return version.refusal();
        // The folder does not take the log's side files.
        if (write) return read_only_refusal(path);
        if (file_size(path + "-wal") > 0) {
            return refuse(ErrorCode::cannot_read, path,
                          "a job in a read-only folder with its newest facts in the -wal file",
                          "the job and its -wal file copied into a folder that may be written to");
        }
        opened = db.open(immutable_uri(path), SQLITE_OPEN_READONLY | SQLITE_OPEN_URI, path);
        if (!opened) return opened;
        version = set_up_and_look(db, busy_ms);
        if (!version) return version.refusal();
    }
    auto ours = check_application(db);
    if (!ours) return ours;
    if (*version < newest_version(steps) && !write) return migrate_in_memory(db, steps);
    auto migrated = migrate(db, steps);
    if (!migrated) return migrated;
    return write ? db.exec("PRAGMA journal_mode = WAL") : db.exec("PRAGMA query_only = ON");
}

Result<Done> create_job_db(Db& db, const std::string& path, int busy_ms,
                           std::span<const Migration> steps) {
    auto opened =
        db.open(path, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE | SQLITE_OPEN_EXCLUSIVE, path);
    if (!opened) {
        Refusal why = opened.refusal();
        if (why.code == ErrorCode::cannot_read) {
            why = refuse(ErrorCode::cannot_write, path, "a folder that takes no new file",
                         "a folder that may be written to");
        }
        return why;
    }
    auto ready = set_up(db, busy_ms);
    if (!ready) return ready;
    ready = db.exec(
        fmt::format("PRAGMA application_id = {}; PRAGMA journal_mode = WAL", kApplicationId));
    if (!ready) return ready;
    return migrate(db, steps);
}

void sync_folder(const std::string& path) {
    const auto slash = path.find_last_of('/');
    const std::string folder = slash == std::string::npos ? "." : path.substr(0, slash + 1);
    const int fd = ::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (fd < 0) return;  // some file systems cannot: then the name is as durable as they make it
    (void)fsync(fd);
    ::close(fd);
}

Result<Done> place_file(const std::string& from, const std::string& to) {
    if (link(from.c_str(), to.c_str()) == 0) {
        (void)unlink(from.c_str());
    } else if (errno == EEXIST) {
        return refuse(ErrorCode::job_exists, to, "a file of that name",
                      "a name that is still free; the file there was left alone");
    } else {
        // File systems without hard links (memory sticks): look, then rename.
        if (path_exists(to)) {
            return refuse(ErrorCode::job_exists, to, "a file of that name",
                          "a name that is still free; the file there was left alone");
        }
        if (std::rename(from.c_str(), to.c_str()) != 0) {
            return refuse(ErrorCode::cannot_write, to, std::strerror(errno),
                          "a folder that may be written to");
        }
    }
    sync_folder(to);
    return Done{};
}

std::string readable_part(const std::string& path) {
    Db db;
    // writable_schema is SQLite's own way into a file whose size does not fit its header.
    if (!db.open(immutable_uri(path), SQLITE_OPEN_READONLY | SQLITE_OPEN_URI, path) ||
        !db.exec("PRAGMA writable_schema = ON")) {
        return "nothing";
    }
    std::string out;
    for (const KindTable& table : kind_tables()) {
        // From both ends: the lost pages may lie in the middle of a table.
        const auto walk = [&](const char* order, std::int64_t stop, std::int64_t& last) {
            std::int64_t count = 0;
            auto rows = db.use("SELECT * FROM " + table.word + " ORDER BY seq " + order);
            if (!rows) return count;
            while ((*rows)->step() == SQLITE_ROW && (*rows)->integer(0) != stop) {
                last = (*rows)->integer(0);
                ++count;
            }
            return count;
        };
        std::int64_t forward_last = -1;
        std::int64_t backward_last = -1;
        const std::int64_t forward = walk("ASC", -1, forward_last);
        const std::int64_t backward = walk("DESC", forward_last, backward_last);
        if (forward + backward == 0) continue;
        if (!out.empty()) out += ", ";
        out += fmt::format("{} {}", forward + backward, table.word);
    }
    return out.empty() ? "nothing" : out;
}

}  // namespace layproof::job

#include "job/job.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include "job/job_internal.hpp"

namespace layproof::job {
namespace {

/// Removes a half-made file and its side files, unless kept.
class Scaffold {
public:
    explicit Scaffold(std::string path) : path_(std::move(path)) {}
    ~Scaffold() {
        for (const char* part : {"", "-wal", "-shm", "-journal"}) {
            (void)unlink((path_ + part).c_str());
        }
    }
    Scaffold(const Scaffold&) = delete;
    Scaffold& operator=(const Scaffold&) = delete;
    const std::string& path() const { return path_; }

private:
    std::string path_;
};

Result<std::string> scaffold_name(const std::string& path, Entropy& entropy) {
    std::array<std::uint8_t, 8> random{};
    if (!entropy.fill(random)) return no_entropy(path);
    return path + ".new-" + to_hex(random);
}

Refusal exists(const std::string& path) {
    return {ErrorCode::job_exists, Place{path, 0, 0}, "a file of that name",
            "a name that is still free; the file there was left alone"};
}

}  // namespace

Job::Job(std::unique_ptr<State> state) : state_(std::move(state)) {}
Job::Job(Job&&) noexcept = default;
Job& Job::operator=(Job&&) noexcept = default;
Job::~Job() = default;

const std::string& Job::path() const {
    return state_->path;
}
JobId Job::id() const {
    return state_->id;
}

Result<Job> Job::create(const std::string& path, const NewJob& what, Clock& clock, Entropy& entropy,
                        const OpenOptions& options) {
    if (path_exists(path)) return exists(path);
    auto name = scaffold_name(path, entropy);
    if (!name) return name.refusal();
    const Scaffold scaffold(*name);
    {
        auto state = std::make_unique<State>();
        state->path = scaffold.path();
        state->mode = Mode::write;
        state->clock = &clock;
        state->entropy = &entropy;
        auto made = create_job_db(state->db, state->path, options.busy_ms, migrations());
        if (!made) return made.refusal();

        if (what.same_job) {
            state->id = *what.same_job;
        } else {
            const auto id = IdMaker(entropy).next(clock.now_ms());
            if (!id) return no_entropy(path);
            state->id = *id;
        }
        Job job(std::move(state));
        auto writing = job.begin_new(what.writer_name);
        if (!writing) return writing.refusal();
        auto titled = writing->add(Setting{"title", what.title});
        if (!titled) return titled.refusal();
        auto done = writing->commit();
        if (!done) return done.refusal();
    }
    auto placed = place_file(scaffold.path(), path);
    if (!placed) return placed.refusal();
    return open(path, Mode::write, clock, entropy, options);
}

Result<Job> Job::open(const std::string& path, Mode mode, Clock& clock, Entropy& entropy,
                      const OpenOptions& options) {
    auto state = std::make_unique<State>();
    state->path = path;
    state->mode = mode;
    state->options = options;
    state->clock = &clock;
    state->entropy = &entropy;
    auto opened = open_job_db(state->db, path, mode == Mode::write, options.busy_ms, migrations());
    if (!opened) return opened.refusal();
    {
        auto row = state->db.use("SELECT id FROM job WHERE only = 1");
        if (!row) return row.refusal();
        const int code = (*row)->step();
        if (code != SQLITE_ROW || !(*row)->blob_into(0, state->id.bytes)) {
            return state->db.refusal(code == SQLITE_ROW || code == SQLITE_DONE ? SQLITE_CORRUPT
                                                                               : code);
        }
    }
    return Job(std::move(state));
}

Result<Writing> Job::begin_new(const std::string& writer_name) {
    Db& db = state_->db;
    auto transaction = Transaction::begin(db);
    if (!transaction) return transaction.refusal();
    {
        auto row = db.use("INSERT INTO job (only, id) VALUES (1, ?)");
        if (!row) return row.refusal();
        (*row)->bind_blob(1, state_->id.bytes);
        const int code = (*row)->step();
        if (code != SQLITE_DONE) return db.refusal(code);
    }
    {
        auto row = db.use(
            "INSERT INTO this_file (only, name, position, device, inode) VALUES (1, ?, 0, 0, 0)");
        if (!row) return row.refusal();
        (*row)->bind(1, std::string_view{writer_name});
        const int code = (*row)->step();
        if (code != SQLITE_DONE) return db.refusal(code);
    }
    auto writing = std::make_unique<Writing::State>(*state_, std::move(*transaction));
    auto chain = writing->take_chain();
    if (!chain) return chain.refusal();
    return Writing(std::move(writing));
}

Result<Writing> Job::begin() {
    if (state_->mode == Mode::read) {
        return Refusal{ErrorCode::job_read_only, Place{state_->path, 0, 0},
                       "a job opened for reading only", "a job opened for writing"};
    }
    auto transaction = Transaction::begin(state_->db);
    if (!transaction) return transaction.refusal();
    auto writing = std::make_unique<Writing::State>(*state_, std::move(*transaction));
    auto chain = writing->take_chain();
    if (!chain) return chain.refusal();
    return Writing(std::move(writing));
}

Result<AddedDocument> Job::add_document(std::string_view name, std::string_view role,
                                        std::string_view note,
                                        std::span<const std::uint8_t> bytes) {
    auto writing = begin();
    if (!writing) return writing.refusal();
    auto added = writing->add_document(name, role, note, bytes);
    if (!added) return added;
    auto done = writing->commit();
    if (!done) return done.refusal();
    return added;
}

template <class T>
Result<Added> Job::add(const T& fact, const Source& source) {
    auto writing = begin();
    if (!writing) return writing.refusal();
    auto added = writing->add(fact, source);
    if (!added) return added;
    auto done = writing->commit();
    if (!done) return done.refusal();
    return added;
}

template <class T>
Result<std::vector<Added>> Job::add_all(std::span<const T> facts, const Source& source) {
    auto writing = begin();
    if (!writing) return writing.refusal();
    std::vector<Added> out;
    out.reserve(facts.size());
    for (const T& fact : facts) {
        auto added = writing->add(fact, source);
        if (!added) return added.refusal();
        out.push_back(*added);
    }
    auto done = writing->commit();
    if (!done) return done.refusal();
    return out;
}

#define LAYPROOF_JOB_KIND(T)                                  \
    template Result<Added> Job::add(const T&, const Source&); \
    template Result<std::vector<Added>> Job::add_all(std::span<const T>, const Source&)
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

Result<Done> Job::copy_to(const std::string& path) const {
    if (path_exists(path)) return exists(path);
    auto name = scaffold_name(path, *state_->entropy);
    if (!name) return name.refusal();
    const Scaffold scaffold(*name);
    {
        Db copy;
        auto opened =
            copy.open(scaffold.path(),
                      SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE | SQLITE_OPEN_EXCLUSIVE, path);
        if (!opened) {
            return Refusal{ErrorCode::cannot_write, Place{path, 0, 0},
                           "a folder that takes no new file", "a folder that may be written to"};
        }
        auto ready = copy.exec("PRAGMA synchronous = FULL");
        if (!ready) return ready;
        sqlite3_backup* backup =
            sqlite3_backup_init(copy.handle(), "main", state_->db.handle(), "main");
        if (backup == nullptr) return copy.refusal(sqlite3_errcode(copy.handle()));
        sqlite3_backup_step(backup, -1);
        const int code = sqlite3_backup_finish(backup);
        if (code != SQLITE_OK) return copy.refusal(code);
    }
    return place_file(scaffold.path(), path);
}

}  // namespace layproof::job

#pragma once
// A clock and an entropy source that do the same every time, a folder that goes away, and a job
// with something of every kind in it.

#include <gtest/gtest.h>
#include <sqlite3.h>
#include <unistd.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <set>
#include <string>
#include <vector>

#include "base/random.hpp"
#include "job/job.hpp"

namespace layproof::job {

/// Goes on by a second at each look, unless told otherwise.
class StepClock final : public Clock {
public:
    std::int64_t now_ms() override { return time_ms += step_ms; }
    std::int64_t time_ms = 1'900'000'000'000;
    std::int64_t step_ms = 1000;
};

class SeededEntropy final : public Entropy {
public:
    explicit SeededEntropy(std::uint64_t seed) : random_(seed) {}
    bool fill(std::span<std::uint8_t> out) override {
        for (auto& byte : out) byte = static_cast<std::uint8_t>(random_.bits() & 0xFFU);
        return true;
    }

private:
    Random random_;
};

class Folder {
public:
    Folder() {
        std::string name =
            (std::filesystem::temp_directory_path() / "layproof-job-XXXXXX").string();
        if (mkdtemp(name.data()) == nullptr) std::abort();
        path_ = name;
    }
    ~Folder() {
        std::error_code ignored;
        std::filesystem::remove_all(path_, ignored);
    }
    Folder(const Folder&) = delete;
    Folder& operator=(const Folder&) = delete;
    std::string operator/(const std::string& name) const { return path_ + "/" + name; }
    const std::string& path() const { return path_; }

private:
    std::string path_;
};

inline std::string file_bytes(const std::string& path) {
    std::ifstream in(path, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
}

inline void write_bytes(const std::string& path, std::string_view bytes) {
    std::ofstream out(path, std::ios::binary | std::ios::trunc);
    out.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
}

/// A plain SQLite connection past everything layproof guards.
class RawDb {
public:
    explicit RawDb(const std::string& path) {
        if (sqlite3_open(path.c_str(), &db_) != SQLITE_OK) std::abort();
    }
    ~RawDb() { sqlite3_close(db_); }
    RawDb(const RawDb&) = delete;
    RawDb& operator=(const RawDb&) = delete;

    int run(const std::string& sql) {
        return sqlite3_exec(db_, sql.c_str(), nullptr, nullptr, nullptr);
    }
    std::string said() const { return sqlite3_errmsg(db_); }
    std::vector<std::vector<std::string>> rows(const std::string& sql) {
        std::vector<std::vector<std::string>> out;
        sqlite3_stmt* stmt = nullptr;
        if (sqlite3_prepare_v2(db_, sql.c_str(), -1, &stmt, nullptr) != SQLITE_OK) {
            ADD_FAILURE() << said() << ": " << sql;
            return out;
        }
        while (sqlite3_step(stmt) == SQLITE_ROW) {
            auto& row = out.emplace_back();
            for (int i = 0; i < sqlite3_column_count(stmt); ++i) {
                const auto* text = reinterpret_cast<const char*>(sqlite3_column_text(stmt, i));
                row.emplace_back(text == nullptr ? "" : text);
            }
        }
        sqlite3_finalize(stmt);
        return out;
    }
    /// From here on no trigger runs.
    void guards_off() { sqlite3_db_config(db_, SQLITE_DBCONFIG_ENABLE_TRIGGER, 0, nullptr); }

private:
    sqlite3* db_ = nullptr;
};

inline frame::Mark mark(const std::string& name, double east_m, double north_m, double height_m) {
    frame::Mark out;
    out.name = name;
    out.east_m = east_m;
    out.north_m = north_m;
    out.height_m = height_m;
    return out;
}

inline frame::DesignPoint point(const std::string& name, double east_m, double north_m) {
    frame::DesignPoint out;
    out.name = name;
    out.east_m = east_m;
    out.north_m = north_m;
    out.height_m = 10.0;
    out.element = "anchor rod";
    return out;
}

inline measure::Sight sight(const std::string& station, const std::string& target,
                            double direction_rad) {
    measure::Sight out;
    out.station = station;
    out.target = target;
    out.direction_rad = direction_rad;
    out.zenith_rad = 1.5;
    out.slope_distance_m = 40.0 + direction_rad;
    out.target_height_m = 1.3;
    return out;
}

inline station::Setup setup(const std::string& station) {
    station::Setup out;
    out.station = station;
    return out;
}

inline Decision decision(DecisionKind kind, SubjectKind about, const std::string& name,
                         std::optional<FactId> fact = {}) {
    return {kind, {about, name, fact}, "seen on site", 1.9e9, "2030-03-17T17:46:40Z", "AB"};
}

inline std::span<const std::uint8_t> bytes_of(std::string_view text) {
    return {reinterpret_cast<const std::uint8_t*>(text.data()), text.size()};
}

/// A test with a folder, a clock and an entropy source.
class JobTest : public ::testing::Test {
protected:
    Job create(const std::string& name, std::optional<JobId> same = {}) {
        auto made =
            Job::create(folder / name, {"Invented site", "crew " + name, same}, clock, entropy);
        if (!made) throw std::runtime_error(made.refusal().to_text());
        return std::move(*made);
    }
    Result<Job> try_open(const std::string& name, Mode mode = Mode::write) {
        return Job::open(folder / name, mode, clock, entropy, {.busy_ms = 50});
    }
    Job open(const std::string& name, Mode mode = Mode::write) {
        auto opened = try_open(name, mode);
        if (!opened) throw std::runtime_error(opened.refusal().to_text());
        return std::move(*opened);
    }

    /// Something of every kind.
    void fill(Job& job) {
        auto writing = job.begin();
        ASSERT_TRUE(writing) << writing.refusal().to_text();
        auto sheet =
            writing->add_document("marks.csv", "marks", "by mail",
                                  bytes_of("mark,east [m],north [m],height [m]\nH1,1,2,3\n"));
        ASSERT_TRUE(sheet);
        const Source from{sheet->digest, "A"};
        ASSERT_TRUE(writing->add(mark("H1", 1.0, 2.0, 3.0), from));
        ASSERT_TRUE(writing->add(mark("H2", 31.0, -0.0, 3.5), from));
        ASSERT_TRUE(writing->add(setup("S1")));
        auto first = writing->add(sight("S1", "H1", 0.25));
        ASSERT_TRUE(first);
        ASSERT_TRUE(writing->add(sight("S1", "H2", 1.75)));
        ASSERT_TRUE(writing->add(point("P1", 5.0, 6.0), {std::nullopt, "B"}));
        Tolerance tolerance;
        tolerance.subject = "anchor rod";
        tolerance.quantity = "plan";
        tolerance.minus_m = tolerance.plus_m = 0.0064;
        tolerance.from_memory = true;
        ASSERT_TRUE(writing->add(tolerance));
        measure::Instrument instrument;
        instrument.name = "invented 5 second";
        instrument.wavelength_um = 0.85;
        ASSERT_TRUE(writing->add(instrument));
        ASSERT_TRUE(writing->add(ColumnMap{"crew list", "marks", "mark = \"No\"\n"}));
        network::Tape tape;
        tape.from = "H1";
        tape.to = "H2";
        tape.distance_m = 30.5;
        ASSERT_TRUE(writing->add(tape, from));
        network::LevelRise level;
        level.from = "H1";
        level.to = "H2";
        level.rise_m = 0.5;
        ASSERT_TRUE(writing->add(level, from));
        network::LevelReading reading;
        reading.run = "R1";
        reading.point = "H1";
        reading.backsight_m = 1.234;
        ASSERT_TRUE(writing->add(reading, from));
        ASSERT_TRUE(writing->add(DrawnMark{mark("H1", 1.0, 2.0, 3.0)}, from));
        ASSERT_TRUE(writing->add(
            decision(DecisionKind::set_aside, SubjectKind::sight, "S1 to H1", first->id)));
        ASSERT_TRUE(writing->commit());
    }

    /// Ids and hashes of all facts, independent of the order of arrival.
    std::set<std::string> facts_in(const std::string& name) {
        std::set<std::string> out;
        RawDb raw(folder / name);
        for (const auto& row : raw.rows("SELECT hex(id) || hex(hash) FROM fact")) {
            out.insert(row[0]);
        }
        return out;
    }

    Folder folder;
    StepClock clock;
    SeededEntropy entropy{20300317};
};

inline std::string findings_text(const VerifyReport& report) {
    std::string out;
    for (const Finding& finding : report.findings) {
        out += std::string(to_word(finding.kind)) + ": " + finding.text + "\n";
    }
    return out;
}

}  // namespace layproof::job

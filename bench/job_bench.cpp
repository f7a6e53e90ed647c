// The job file against plain SQLite tables with the same rows, in one run: importing, opening and
// reading one station with all points, adding one sight durably. Prints medians and their ratio.
//
//     job_bench [FOLDER]        the folder decides which disk is measured; default: the current one

#include <fmt/format.h>
#include <sqlite3.h>

#include <algorithm>
#include <chrono>
#include <cstdlib>
#include <filesystem>
#include <string>
#include <vector>

#include "base/random.hpp"
#include "job/job.hpp"

namespace {

using namespace layproof;
using Clock = std::chrono::steady_clock;

constexpr int kStations = 500;
constexpr int kSightsPerStation = 200;
constexpr int kPoints = 20'000;

double ms_since(Clock::time_point begin) {
    return std::chrono::duration<double, std::milli>(Clock::now() - begin).count();
}

struct Spread {
    double median_ms = 0.0;
    double p95_ms = 0.0;
};

Spread spread_of(std::vector<double> times_ms) {
    std::sort(times_ms.begin(), times_ms.end());
    return {times_ms[times_ms.size() / 2], times_ms[times_ms.size() * 95 / 100]};
}

template <class T>
T must(Result<T> result) {
    if (!result) {
        fmt::print(stderr, "{}\n", result.refusal().to_text());
        std::exit(4);
    }
    return std::move(result).value();
}

measure::Sight sight_of(Random& random, int station, int line) {
    measure::Sight sight;
    sight.station = fmt::format("S{}", station);
    sight.target = fmt::format("P{}", random.below(kPoints));
    sight.direction_rad = random.uniform(0.0, measure::kTwoPi);
    sight.zenith_rad = random.uniform(1.4, 1.7);
    sight.slope_distance_m = random.uniform(5.0, 120.0);
    sight.target_height_m = 1.3;
    sight.purpose = measure::Purpose::lay;
    sight.time_s = 1.9e9 + line;
    sight.time_text = "2030-03-17T12:46:40-05:00";
    sight.place = {"sights.csv", line, 0};
    return sight;
}

frame::DesignPoint point_of(Random& random, int number) {
    frame::DesignPoint point;
    point.name = fmt::format("P{}", number);
    point.east_m = random.uniform(0.0, 300.0);
    point.north_m = random.uniform(0.0, 200.0);
    point.height_m = 10.0;
    point.element = "anchor rod";
    point.tolerance_plan_m = 0.0064;
    point.place = {"points.csv", number + 2, 0};
    return point;
}

/// The same rows in two tables, nothing else: no ids, no chain, no revisions.
class Plain {
public:
    explicit Plain(const std::string& path) {
        check(sqlite3_open(path.c_str(), &db_));
        run("PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; PRAGMA cache_size = -64000");
    }
    ~Plain() {
        sqlite3_finalize(insert_sight_);
        sqlite3_finalize(insert_point_);
        sqlite3_close(db_);
    }
    Plain(const Plain&) = delete;
    Plain& operator=(const Plain&) = delete;

    void run(const char* sql) { check(sqlite3_exec(db_, sql, nullptr, nullptr, nullptr)); }
    void create() {
        run("CREATE TABLE sight (seq INTEGER PRIMARY KEY, station TEXT, target TEXT, direction "
            "REAL, zenith REAL, slope REAL, target_height REAL, purpose INTEGER, time_s REAL, "
            "time_text TEXT, file TEXT, line INTEGER) STRICT;"
            "CREATE INDEX sight_station ON sight (station);"
            "CREATE TABLE point (seq INTEGER PRIMARY KEY, name TEXT, east REAL, north REAL, height "
            "REAL, element TEXT, tolerance REAL, file TEXT, line INTEGER) STRICT");
    }
    void add(const measure::Sight& sight) {
        if (insert_sight_ == nullptr) {
            prepare("INSERT INTO sight VALUES (NULL, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                    insert_sight_);
        }
        text(insert_sight_, 1, sight.station);
        text(insert_sight_, 2, sight.target);
        sqlite3_bind_double(insert_sight_, 3, *sight.direction_rad);
        sqlite3_bind_double(insert_sight_, 4, *sight.zenith_rad);
        sqlite3_bind_double(insert_sight_, 5, *sight.slope_distance_m);
        sqlite3_bind_double(insert_sight_, 6, sight.target_height_m);
        sqlite3_bind_int(insert_sight_, 7, static_cast<int>(sight.purpose));
        sqlite3_bind_double(insert_sight_, 8, *sight.time_s);
        text(insert_sight_, 9, sight.time_text);
        text(insert_sight_, 10, sight.place.file);
        sqlite3_bind_int(insert_sight_, 11, sight.place.line);
        finish(insert_sight_);
    }
    void add(const frame::DesignPoint& point) {
        if (insert_point_ == nullptr) {
            prepare("INSERT INTO point VALUES (NULL, ?, ?, ?, ?, ?, ?, ?, ?)", insert_point_);
        }
        text(insert_point_, 1, point.name);
        sqlite3_bind_double(insert_point_, 2, point.east_m);
        sqlite3_bind_double(insert_point_, 3, point.north_m);
        sqlite3_bind_double(insert_point_, 4, *point.height_m);
        text(insert_point_, 5, point.element);
        sqlite3_bind_double(insert_point_, 6, *point.tolerance_plan_m);
        text(insert_point_, 7, point.place.file);
        sqlite3_bind_int(insert_point_, 8, point.place.line);
        finish(insert_point_);
    }
    std::vector<measure::Sight> sights_of(const std::string& station) {
        sqlite3_stmt* stmt = nullptr;
        prepare("SELECT * FROM sight WHERE station = ?", stmt);
        text(stmt, 1, station);
        std::vector<measure::Sight> out;
        while (sqlite3_step(stmt) == SQLITE_ROW) {
            measure::Sight& sight = out.emplace_back();
            sight.station = column(stmt, 1);
            sight.target = column(stmt, 2);
            sight.direction_rad = sqlite3_column_double(stmt, 3);
            sight.zenith_rad = sqlite3_column_double(stmt, 4);
            sight.slope_distance_m = sqlite3_column_double(stmt, 5);
            sight.target_height_m = sqlite3_column_double(stmt, 6);
            sight.purpose = static_cast<measure::Purpose>(sqlite3_column_int(stmt, 7));
            sight.time_s = sqlite3_column_double(stmt, 8);
            sight.time_text = column(stmt, 9);
            sight.place = {column(stmt, 10), sqlite3_column_int(stmt, 11), 0};
        }
        sqlite3_finalize(stmt);
        return out;
    }
    std::vector<frame::DesignPoint> points() {
        sqlite3_stmt* stmt = nullptr;
        prepare("SELECT * FROM point", stmt);
        std::vector<frame::DesignPoint> out;
        while (sqlite3_step(stmt) == SQLITE_ROW) {
            frame::DesignPoint& point = out.emplace_back();
            point.name = column(stmt, 1);
            point.east_m = sqlite3_column_double(stmt, 2);
            point.north_m = sqlite3_column_double(stmt, 3);
            point.height_m = sqlite3_column_double(stmt, 4);
            point.element = column(stmt, 5);
            point.tolerance_plan_m = sqlite3_column_double(stmt, 6);
            point.place = {column(stmt, 7), sqlite3_column_int(stmt, 8), 0};
        }
        sqlite3_finalize(stmt);
        return out;
    }

private:
    void check(int code) {
        if (code == SQLITE_OK) return;
        fmt::print(stderr, "{}\n", sqlite3_errmsg(db_));
        std::exit(4);
    }
    void prepare(const char* sql, sqlite3_stmt*& stmt) {
        check(sqlite3_prepare_v2(db_, sql, -1, &stmt, nullptr));
    }
    static void text(sqlite3_stmt* stmt, int index, const std::string& value) {
        sqlite3_bind_text(stmt, index, value.data(), static_cast<int>(value.size()),
                          SQLITE_TRANSIENT);
    }
    static std::string column(sqlite3_stmt* stmt, int index) {
        return {reinterpret_cast<const char*>(sqlite3_column_text(stmt, index)),
                static_cast<std::size_t>(sqlite3_column_bytes(stmt, index))};
    }
    void finish(sqlite3_stmt* stmt) {
        if (sqlite3_step(stmt) != SQLITE_DONE) check(sqlite3_errcode(db_));
        sqlite3_reset(stmt);
    }

    sqlite3* db_ = nullptr;
    sqlite3_stmt* insert_sight_ = nullptr;
    sqlite3_stmt* insert_point_ = nullptr;
};

void line(const char* what, Spread ours, Spread plain) {
    fmt::print("{:<42} {:>9.2f} {:>9.2f} {:>11.2f} {:>11.2f} {:>7.2f}\n", what, ours.median_ms,
               ours.p95_ms, plain.median_ms, plain.p95_ms, ours.median_ms / plain.median_ms);
}

}  // namespace

int main(int argc, char** argv) {
    const std::string folder = argc > 1 ? argv[1] : ".";
    const std::string job_path = folder + "/job_bench.job";
    const std::string plain_path = folder + "/job_bench.sqlite";
    for (const auto& path : {job_path, plain_path}) {
        for (const char* part : {"", "-wal", "-shm"}) std::filesystem::remove(path + part);
    }
    job::SystemClock clock;
    job::SystemEntropy entropy;

    Random random(4);
    std::vector<measure::Sight> sights;
    for (int i = 0; i < kStations * kSightsPerStation; ++i) {
        sights.push_back(sight_of(random, i % kStations, i + 2));
    }
    std::vector<frame::DesignPoint> points;
    for (int i = 0; i < kPoints; ++i) points.push_back(point_of(random, i));

    fmt::print("{} sights at {} stations, {} points; milliseconds\n", sights.size(), kStations,
               points.size());
    fmt::print("{:<42} {:>9} {:>9} {:>11} {:>11} {:>7}\n", "", "job", "job p95", "plain",
               "plain p95", "ratio");

    {
        auto begin = Clock::now();
        {
            auto made = must(job::Job::create(job_path, {"bench", "bench", {}}, clock, entropy));
            auto writing = must(made.begin());
            const std::string_view bytes = "an imported file";
            const auto sheet = must(writing.add_document(
                "sights.csv", "sights", "",
                {reinterpret_cast<const std::uint8_t*>(bytes.data()), bytes.size()}));
            const job::Source from{sheet.digest, "A"};
            for (const auto& sight : sights) must(writing.add(sight, from));
            for (const auto& point : points) must(writing.add(point, from));
            must(writing.commit());
        }
        const double ours = ms_since(begin);
        begin = Clock::now();
        {
            Plain plain(plain_path);
            plain.create();
            plain.run("BEGIN");
            for (const auto& sight : sights) plain.add(sight);
            for (const auto& point : points) plain.add(point);
            plain.run("COMMIT");
        }
        const double theirs = ms_since(begin);
        line("import of all rows in one change", {ours, ours}, {theirs, theirs});
    }

    std::vector<double> ours;
    std::vector<double> theirs;
    std::size_t seen = 0;
    for (int i = 0; i < 41; ++i) {
        const std::string station = fmt::format("S{}", random.below(kStations));
        auto begin = Clock::now();
        {
            const auto job = must(job::Job::open(job_path, job::Mode::read, clock, entropy));
            seen += must(job.sights_of(station)).size();
            seen += must(job.current<frame::DesignPoint>()).size();
        }
        ours.push_back(ms_since(begin));
        begin = Clock::now();
        {
            Plain plain(plain_path);
            seen += plain.sights_of(station).size();
            seen += plain.points().size();
        }
        theirs.push_back(ms_since(begin));
    }
    if (seen != 41U * 2U * (kSightsPerStation + kPoints)) {
        fmt::print(stderr, "not all rows were read\n");
        return 1;
    }
    line("open, sights of one station, all points", spread_of(ours), spread_of(theirs));

    ours.clear();
    theirs.clear();
    {
        auto job = must(job::Job::open(job_path, job::Mode::write, clock, entropy));
        Plain plain(plain_path);
        for (int i = 0; i < 200; ++i) {
            const auto sight = sight_of(random, i, i);
            auto begin = Clock::now();
            must(job.add(sight));
            ours.push_back(ms_since(begin));
            begin = Clock::now();
            plain.add(sight);
            theirs.push_back(ms_since(begin));
        }
    }
    line("add one sight, durable", spread_of(ours), spread_of(theirs));

    const auto job = must(job::Job::open(job_path, job::Mode::read, clock, entropy));
    auto begin = Clock::now();
    const auto report = must(job.verify());
    fmt::print("verify: {:.0f} ms for {} facts, {}\n", ms_since(begin), report.facts,
               report.sound() ? "sound" : "NOT SOUND");
    begin = Clock::now();
    const auto stations = must(job.stations());
    fmt::print("stations: {:.0f} ms for {}\n", ms_since(begin), stations.size());
    begin = Clock::now();
    must(job.summary());
    fmt::print("summary: {:.0f} ms\n", ms_since(begin));
    fmt::print("size: {:.1f} MB, plain {:.1f} MB\n",
               static_cast<double>(std::filesystem::file_size(job_path)) / 1e6,
               static_cast<double>(std::filesystem::file_size(plain_path)) / 1e6);
    for (const auto& path : {job_path, plain_path}) std::filesystem::remove(path);
    return report.sound() ? 0 : 1;
}

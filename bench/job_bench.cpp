// The job file against plain SQLite tables with the same rows, in one run: importing, opening and
// reading one station with all points, laying from one station, adding one sight durably. Prints
// medians and their ratio. The rows are an invented job: 12 marks, 500 stations with 8 control, 184
// lay and 8 check sights each, 20,000 points.
//
//     job_bench [FOLDER [PROGRAM]]   the folder decides which disk is measured, default: the
//                                    current one; with layproof's path also the act as a process

#include <fmt/format.h>
#include <sqlite3.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <string>
#include <vector>

#include "acts/job/job.hpp"
#include "acts/lay/lay.hpp"
#include "base/random.hpp"
#include "job/job.hpp"

namespace {

using namespace layproof;
using Clock = std::chrono::steady_clock;

constexpr int kStations = 500;
constexpr int kSightsPerStation = 200;
constexpr int kPoints = 20'000;
constexpr int kMarks = 12;
constexpr int kControl = 8;
constexpr int kChecks = 4;  // in each of two rounds

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

/// Marks around, points between them, stations anywhere among the points.
struct Site {
    std::vector<frame::Mark> marks;
    std::vector<frame::DesignPoint> points;
    std::vector<Eigen::Vector2d> stations;
    std::vector<double> orientations_rad;

    explicit Site(Random& random) {
        for (int i = 0; i < kMarks; ++i) {
            frame::Mark& mark = marks.emplace_back();
            mark.name = fmt::format("H{}", i + 1);
            mark.east_m = 5000.0 + 100.0 * std::cos(i);
            mark.north_m = 9000.0 + 100.0 * std::sin(i);
            mark.height_m = random.uniform(99.0, 101.0);
            mark.place = {"marks.csv", i + 2, 0};
        }
        for (int i = 0; i < kPoints; ++i) {
            frame::DesignPoint& point = points.emplace_back();
            point.name = fmt::format("P{}", i);
            point.east_m = random.uniform(4940.0, 5060.0);
            point.north_m = random.uniform(8940.0, 9060.0);
            point.height_m = 100.0;
            point.tolerance_plan_m = 0.00635;
            point.tolerance_height_m = 0.0127;
            point.place = {"points.csv", i + 2, 0};
        }
        for (int i = 0; i < kStations; ++i) {
            stations.emplace_back(random.uniform(4970.0, 5030.0), random.uniform(8970.0, 9030.0));
            orientations_rad.push_back(random.uniform(0.0, measure::kTwoPi));
        }
    }

    /// The n-th sight of a station: control, half of the points, a round of checks, and again.
    measure::Sight sight(Random& random, int station, int n, int line) const {
        constexpr int kHalf = (kSightsPerStation - kControl) / 2;
        const int in_half = (n - kControl) % kHalf;
        measure::Sight out;
        out.station = fmt::format("S{}", station);
        Eigen::Vector3d to;
        if (n < kControl || in_half >= kHalf - kChecks) {
            const auto m = static_cast<std::size_t>((station + n) % kMarks);
            to = {*marks[m].east_m, *marks[m].north_m, *marks[m].height_m};
            out.target = marks[m].name;
            out.purpose = n < kControl ? measure::Purpose::control : measure::Purpose::check;
        } else {
            const auto p = static_cast<std::size_t>(random.below(kPoints));
            to = {points[p].east_m + 0.001 * random.normal(),
                  points[p].north_m + 0.001 * random.normal(), *points[p].height_m};
            out.target = points[p].name;
            out.purpose = measure::Purpose::lay;
        }
        const auto k = static_cast<std::size_t>(station);
        const Eigen::Vector2d by = to.head<2>() - stations[k];
        const double plan_m = std::max(by.norm(), 0.5);
        const double up_m = to.z() + 1.5 - 101.6;
        constexpr double kAngleSd_rad = 2.0 * measure::kRadPerArcsec;
        out.direction_rad = measure::wrap_0_2pi(std::atan2(by.x(), by.y()) - orientations_rad[k] +
                                                kAngleSd_rad * random.normal());
        out.zenith_rad = std::atan2(plan_m, up_m) + kAngleSd_rad * random.normal();
        out.slope_distance_m = std::hypot(plan_m, up_m) + 0.0015 * random.normal();
        out.target_height_m = 1.5;
        out.time_s = 1.9e9 + line;
        out.time_text = "2030-03-17T12:46:40-05:00";
        out.place = {"sights.csv", line, 0};
        return out;
    }
};

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
            "REAL, element TEXT, tolerance REAL, tolerance_height REAL, file TEXT, line INTEGER) "
            "STRICT;"
            "CREATE TABLE mark (name TEXT, east REAL, north REAL, height REAL) STRICT");
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
            prepare("INSERT INTO point VALUES (NULL, ?, ?, ?, ?, ?, ?, ?, ?, ?)", insert_point_);
        }
        text(insert_point_, 1, point.name);
        sqlite3_bind_double(insert_point_, 2, point.east_m);
        sqlite3_bind_double(insert_point_, 3, point.north_m);
        sqlite3_bind_double(insert_point_, 4, *point.height_m);
        text(insert_point_, 5, point.element);
        sqlite3_bind_double(insert_point_, 6, *point.tolerance_plan_m);
        sqlite3_bind_double(insert_point_, 7, *point.tolerance_height_m);
        text(insert_point_, 8, point.place.file);
        sqlite3_bind_int(insert_point_, 9, point.place.line);
        finish(insert_point_);
    }
    void add(const frame::Mark& mark) {
        sqlite3_stmt* stmt = nullptr;
        prepare("INSERT INTO mark VALUES (?, ?, ?, ?)", stmt);
        text(stmt, 1, mark.name);
        sqlite3_bind_double(stmt, 2, *mark.east_m);
        sqlite3_bind_double(stmt, 3, *mark.north_m);
        sqlite3_bind_double(stmt, 4, *mark.height_m);
        finish(stmt);
        sqlite3_finalize(stmt);
    }
    std::vector<frame::Mark> marks() {
        sqlite3_stmt* stmt = nullptr;
        prepare("SELECT * FROM mark", stmt);
        std::vector<frame::Mark> out;
        while (sqlite3_step(stmt) == SQLITE_ROW) {
            frame::Mark& mark = out.emplace_back();
            mark.name = column(stmt, 0);
            mark.east_m = sqlite3_column_double(stmt, 1);
            mark.north_m = sqlite3_column_double(stmt, 2);
            mark.height_m = sqlite3_column_double(stmt, 3);
        }
        sqlite3_finalize(stmt);
        return out;
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
            point.tolerance_height_m = sqlite3_column_double(stmt, 7);
            point.place = {column(stmt, 8), sqlite3_column_int(stmt, 9), 0};
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

/// The whole act for one station, every point set out, against reading the rows it needs.
void lay_from_one_station(const std::string& job_path, const std::string& plain_path,
                          const std::string& program, Random& random) {
    job::SystemClock clock;
    job::SystemEntropy entropy;
    std::vector<double> ours;
    std::vector<double> as_process;
    std::vector<double> theirs;
    for (int i = 0; i < 21; ++i) {
        const std::string station = fmt::format("S{}", random.below(kStations));
        auto begin = Clock::now();
        std::size_t points = 0;
        {
            const auto job = must(job::Job::open(job_path, job::Mode::read, clock, entropy));
            acts::LayRequest request;
            request.station.facts = must(acts::facts_of(job, {}, station));
            const auto answer = must(acts::run_lay(request));
            points = answer.stations.at(0).setting_out.size();
            if (acts::to_text(answer).empty()) points = 0;
        }
        ours.push_back(ms_since(begin));
        if (points != kPoints) {
            fmt::print(stderr, "not all points were set out\n");
            std::exit(1);
        }
        begin = Clock::now();
        {
            Plain plain(plain_path);
            points = plain.points().size() + plain.sights_of(station).size() + plain.marks().size();
        }
        theirs.push_back(ms_since(begin));
        if (program.empty()) continue;
        const std::string command =
            fmt::format("'{}' lay --job '{}' --station {} > /dev/null", program, job_path, station);
        begin = Clock::now();
        const int status = std::system(command.c_str());
        as_process.push_back(ms_since(begin));
        if (status == -1) std::exit(1);
    }
    line("open and lay from one station", spread_of(ours), spread_of(theirs));
    if (!program.empty()) line("the same as a process", spread_of(as_process), spread_of(theirs));
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
    const Site site(random);
    std::vector<measure::Sight> sights;
    for (int i = 0; i < kStations * kSightsPerStation; ++i)
        sights.push_back(site.sight(random, i % kStations, i / kStations, i + 2));
    const std::vector<frame::DesignPoint>& points = site.points;

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
            for (const auto& mark : site.marks) must(writing.add(mark, from));
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
            for (const auto& mark : site.marks) plain.add(mark);
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
    lay_from_one_station(job_path, plain_path, argc > 2 ? argv[2] : "", random);

    ours.clear();
    theirs.clear();
    {
        auto job = must(job::Job::open(job_path, job::Mode::write, clock, entropy));
        Plain plain(plain_path);
        for (int i = 0; i < 200; ++i) {
            const auto sight = site.sight(random, i, 20, i);
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

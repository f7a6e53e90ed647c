// Valid files with random damage: every one is read with finite numbers or refused with a place.

#include <gtest/gtest.h>

#include <cmath>
#include <string>

#include "base/random.hpp"
#include "exchange/exchange_support.hpp"
#include "exchange/tables/column_map.hpp"
#include "exchange/tables/instrument.hpp"
#include "exchange/tables/level_readers.hpp"
#include "exchange/tables/readers.hpp"

namespace layproof::exchange {
namespace {

using testing::file;

const char* const kMarks =
    "mark,east [ft],north [ft],height [ft],sd_east [mm],role,note\r\n"
    "H1,6'-0 1/2\",\"6'-0 1/2\"\"\",10.5,1.5,control,\"by gate, north\"\r\n"
    "H2,100.25,200.5,,,,\r\n# left out\r\nB1,,,31.25,,benchmark,\r\n";
const char* const kSights =
    "station;target;direction;zenith;slope_distance [m];target_height [m];time;face;purpose;"
    "temperature [°C]\n"
    "S1;H1;123°45'06,7\";90-00-36;52,125;1,5;2026-03-04T07:45:00-05:00;I;control;20,5\n"
    "S1;H2;10,5;91,25;20;1,5;;II;check;\n";
const char* const kSetups =
    "station,kind,mark,instrument_height [m],time,pressure [inHg]\n"
    "S1,free,,,,\nS2,occupied,H1,1.55,2026-03-04 07:45Z,29.92\n";
const char* const kPoints =
    "point\teast [m]\tnorth [m]\theight [m]\telement\ttolerance_plan [in]\n"
    "P1\t10.5\t20.25\t1\tanchor\t1/8\"\nP2\t11\t20\t\t\t\n";
const char* const kLevels =
    "run,point,backsight [ft],foresight [ft],intermediate,backsight_distance [m],sd_km [mm],time\n"
    "R1,BM1,4.32,,,31,1.5,2031-05-15T07:30-05:00\nR1,,5.10,3.17,,30,,\nR1,C4,,,2.96,,,\n"
    "R1,BM2,,4.4,,,,\n";
const char* const kInstrument =
    "name = \"x\"\nangle_sd_arcsec = 2.0\ndistance_sd_mm = 1.5 # of one\nrefraction_k = 0.13\n";
const char* const kMap =
    "table = \"points\"\nseparator = \"tab\"\nunit = \"m\"\n[columns]\npoint = \"point\"\n"
    "east = { from = 2, unit = \"ft\" }\nnorth = 3\n[words.element]\nanchor = \"bolt\"\n";

std::string damaged(const std::string& text, Random& random) {
    static const std::string kPieces = ",;\t\"\n\r[]#-.'0e9 ";
    std::string result = text;
    const int count = 1 + random.below(4);
    for (int i = 0; i < count && !result.empty(); ++i) {
        const auto at = static_cast<std::size_t>(random.below(static_cast<int>(result.size())));
        switch (random.below(6)) {
            case 0:
                result[at] = static_cast<char>(result[at] ^ (1 << random.below(8)));
                break;
            case 1:
                result[at] = kPieces[static_cast<std::size_t>(random.below(17))];
                break;
            case 2:
                result.erase(at, 1);
                break;
            case 3:
                result.insert(at, 1, kPieces[static_cast<std::size_t>(random.below(17))]);
                break;
            case 4:
                result.resize(at);
                break;
            default:
                result.insert(at, result.substr(at / 2, 20));
                break;
        }
    }
    return result;
}

bool finite(std::optional<double> value) {
    return !value || std::isfinite(*value);
}
bool sound(const frame::Mark& m) {
    return !m.name.empty() && finite(m.east_m) && finite(m.north_m) && finite(m.height_m) &&
           (m.has_plan() || m.has_height()) && m.east_m.has_value() == m.north_m.has_value() &&
           m.sd_east_m >= 0.0 && m.sd_east_m <= 100.0;
}
bool sound(const measure::Sight& s) {
    return !s.station.empty() && !s.target.empty() && finite(s.direction_rad) &&
           finite(s.zenith_rad) && s.slope_distance_m.value_or(1.0) > 0.0 &&
           std::isfinite(s.target_height_m) && finite(s.temperature_k) &&
           (s.direction_rad || s.zenith_rad || s.slope_distance_m || s.horizontal_distance_m);
}
bool sound(const station::Setup& s) {
    return !s.station.empty() && finite(s.instrument_height_m) && finite(s.time_s) &&
           (s.kind == station::SetupKind::free || !s.mark.empty());
}
bool sound(const frame::DesignPoint& p) {
    return !p.name.empty() && std::isfinite(p.east_m) && std::isfinite(p.north_m) &&
           p.tolerance_plan_m.value_or(1.0) > 0.0;
}

bool sound(const network::LevelReading& r) {
    return !r.run.empty() && finite(r.backsight_m) && finite(r.intermediate_m) &&
           finite(r.foresight_m) && r.backsight_distance_m.value_or(1.0) > 0.0 &&
           r.sd_km_m.value_or(1.0) > 0.0 && finite(r.time_s) &&
           (r.backsight_m || r.intermediate_m || r.foresight_m);
}

struct Counts {
    int read = 0;
    int refused = 0;
};

template <class T>
void count(const Result<Table<T>>& result, const std::string& bytes, Counts& counts) {
    if (result.ok()) {
        ++counts.read;
        for (const T& row : result->rows) EXPECT_TRUE(sound(row)) << bytes;
    } else {
        ++counts.refused;
        EXPECT_FALSE(result.refusal().found.empty()) << bytes;
        EXPECT_FALSE(result.refusal().place.file.empty()) << bytes;
        // Only a file without rows and a line that is none have no column.
        const ErrorCode code = result.refusal().code;
        if (code != ErrorCode::no_marks && code != ErrorCode::no_sights) {
            EXPECT_GT(result.refusal().place.column, 0) << result.refusal().to_text();
        }
    }
}

template <class Read>
Counts damage_and_read(const std::string& valid, std::uint64_t seed, int runs, Read read) {
    Random random(seed);
    Counts counts;
    for (int i = 0; i < runs; ++i) {
        const std::string bytes = damaged(valid, random);
        read(bytes, counts);
    }
    // Both happen, or the damage is not what it should be.
    EXPECT_GT(counts.read, runs / 50) << "seed " << seed;
    EXPECT_GT(counts.refused, runs / 50) << "seed " << seed;
    return counts;
}

void run_all(int runs) {
    damage_and_read(kMarks, 11, runs, [](const std::string& bytes, Counts& counts) {
        count(read_marks(file(bytes)), bytes, counts);
    });
    damage_and_read(kSights, 12, runs, [](const std::string& bytes, Counts& counts) {
        count(read_sights(file(bytes)), bytes, counts);
    });
    damage_and_read(kSetups, 13, runs, [](const std::string& bytes, Counts& counts) {
        count(read_setups(file(bytes)), bytes, counts);
    });
    damage_and_read(kPoints, 14, runs, [](const std::string& bytes, Counts& counts) {
        count(read_points(file(bytes)), bytes, counts);
    });
    damage_and_read(kLevels, 17, runs, [](const std::string& bytes, Counts& counts) {
        const auto levels = read_level_runs(file(bytes));
        count(levels, bytes, counts);
        if (!levels) return;
        for (const network::LevelRun& run : network::level_runs_of(levels->rows))
            for (const network::LevelLeg& leg : network::reduce_run(run).legs)
                EXPECT_TRUE(std::isfinite(leg.rise_m) && leg.sd_m > 0.0) << bytes;
    });
    damage_and_read(kInstrument, 15, runs, [](const std::string& bytes, Counts& counts) {
        const auto result = read_instrument(file(bytes));
        ++(result.ok() ? counts.read : counts.refused);
        if (result.ok()) {
            EXPECT_GT(result->instrument.angle_sd_rad, 0.0) << bytes;
            EXPECT_TRUE(std::isfinite(result->instrument.refraction_k)) << bytes;
        }
    });
    const Document points = file(kPoints);
    damage_and_read(kMap, 16, runs, [&](const std::string& bytes, Counts& counts) {
        const auto map = read_column_map({"map.toml", bytes});
        if (!map.ok()) {
            ++counts.refused;
            return;
        }
        const auto result = read_points(points, {std::nullopt, &*map});
        ++(result.ok() ? counts.read : counts.refused);
    });
}

TEST(Mutation, damaged_files_are_read_soundly_or_refused_with_a_place) {
    ASSERT_TRUE(read_marks(file(kMarks)).ok());
    ASSERT_TRUE(read_sights(file(kSights)).ok()) << read_sights(file(kSights)).refusal().to_text();
    ASSERT_TRUE(read_setups(file(kSetups)).ok());
    ASSERT_TRUE(read_points(file(kPoints)).ok());
    ASSERT_TRUE(read_level_runs(file(kLevels)).ok());
    ASSERT_TRUE(read_instrument(file(kInstrument)).ok());
    ASSERT_TRUE(read_column_map(file(kMap)).ok());
    run_all(3000);
}

TEST(Mutation, many_damaged_files_slow) {
    run_all(100000);
}

}  // namespace
}  // namespace layproof::exchange

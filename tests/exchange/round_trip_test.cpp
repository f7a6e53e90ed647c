// What is written reads back the same, for random tables.

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

#include "base/random.hpp"
#include "exchange/exchange_support.hpp"
#include "exchange/tables/readers.hpp"
#include "exchange/tables/writers.hpp"
#include "measure/angle.hpp"

namespace layproof::exchange {
namespace {

using measure::LengthUnit;
using testing::file;

constexpr LengthUnit kUnits[]{LengthUnit::metre, LengthUnit::foot, LengthUnit::us_foot,
                              LengthUnit::inch, LengthUnit::millimetre};
constexpr int kRuns = 40;

/// One division and one multiplication: two roundings, each half a unit in the last place.
void expect_length(std::optional<double> read_m, std::optional<double> written_m, LengthUnit unit) {
    ASSERT_EQ(read_m.has_value(), written_m.has_value());
    if (!read_m) return;
    if (unit == LengthUnit::metre) {
        EXPECT_EQ(*read_m, *written_m);
        return;
    }
    constexpr double kUlps = 2.0;
    EXPECT_NEAR(*read_m, *written_m,
                kUlps * std::numeric_limits<double>::epsilon() * std::abs(*written_m) + 1e-20);
}

void expect_angle(std::optional<double> read_rad, std::optional<double> written_rad) {
    ASSERT_EQ(read_rad.has_value(), written_rad.has_value());
    if (read_rad) {
        EXPECT_NEAR(*read_rad, *written_rad, 2e-15);
    }
}

/// Text with everything that quoting has to carry; never blank at its ends, since fields are
/// trimmed.
std::string random_text(Random& random) {
    static const std::string kPieces[]{"a", "Z", "7", ",", ";", "\"", "'",  "\n",
                                       "#", "°", "ß", " ", "=", "\t", "[m]"};
    std::string text = random.below(4) == 0 ? "#" : "x";
    const int count = random.below(8);
    for (int i = 0; i < count; ++i) text += kPieces[random.below(15)];
    return text + "y";
}

std::optional<double> maybe(Random& random, double low, double high) {
    if (random.below(3) == 0) return std::nullopt;
    return random.uniform(low, high);
}

TEST(RoundTrip, marks_read_back_the_same) {
    Random random(1);
    for (int run = 0; run < kRuns; ++run) {
        const LengthUnit unit = kUnits[run % 5];
        std::vector<frame::Mark> marks(static_cast<std::size_t>(1 + random.below(6)));
        for (std::size_t i = 0; i < marks.size(); ++i) {
            frame::Mark& mark = marks[i];
            mark.name = random_text(random) + std::to_string(i);
            mark.height_m = maybe(random, -50.0, 3000.0);
            if (!mark.height_m || random.below(2) == 0) {
                mark.east_m = random.uniform(-700000.0, 700000.0);
                mark.north_m = random.uniform(-700000.0, 700000.0);
            }
            mark.sd_east_m = random.uniform(0.0, 0.01);
            mark.sd_height_m = 0.0;
            mark.role = random.below(2) == 0 ? "" : random_text(random);
            mark.note = random_text(random);
        }
        LAYPROOF_READ(read, read_marks(file(write_marks(marks, unit))));
        ASSERT_EQ(read->rows.size(), marks.size());
        EXPECT_EQ(read->unit, unit);
        for (std::size_t i = 0; i < marks.size(); ++i) {
            EXPECT_EQ(read->rows[i].name, marks[i].name);
            expect_length(read->rows[i].east_m, marks[i].east_m, unit);
            expect_length(read->rows[i].north_m, marks[i].north_m, unit);
            expect_length(read->rows[i].height_m, marks[i].height_m, unit);
            expect_length(read->rows[i].sd_east_m, marks[i].sd_east_m, unit);
            expect_length(read->rows[i].sd_north_m, marks[i].sd_north_m, unit);
            expect_length(read->rows[i].sd_height_m, marks[i].sd_height_m, unit);
            EXPECT_EQ(read->rows[i].role, marks[i].role);
            EXPECT_EQ(read->rows[i].note, marks[i].note);
        }
    }
}

TEST(RoundTrip, sights_read_back_the_same) {
    Random random(2);
    for (int run = 0; run < kRuns; ++run) {
        const LengthUnit unit = kUnits[run % 5];
        std::vector<measure::Sight> sights(static_cast<std::size_t>(1 + random.below(6)));
        for (measure::Sight& sight : sights) {
            sight.station = random_text(random);
            sight.target = random_text(random);
            sight.direction_rad = random.uniform(-6.28, 6.28);
            if (random.below(2) == 0) {
                sight.zenith_rad = random.uniform(0.01, 6.28);
                sight.slope_distance_m = maybe(random, 0.5, 2000.0);
            } else {
                sight.horizontal_distance_m = maybe(random, 0.5, 2000.0);
            }
            sight.target_height_m = random.uniform(-3.0, 5.0);
            sight.face = static_cast<measure::Face>(random.below(3));
            sight.purpose = static_cast<measure::Purpose>(random.below(4));
            sight.prism_constant_m = random.uniform(-0.04, 0.04);
            sight.temperature_k = maybe(random, 250.0, 310.0);
            sight.pressure_hpa = maybe(random, 800.0, 1050.0);
            if (random.below(2) == 0) {
                sight.time_text = "2026-03-04 07:45:30-05:00";
                sight.time_s = 1772628330.0;
            }
            sight.note = random_text(random);
        }
        LAYPROOF_READ(read, read_sights(file(write_sights(sights, unit))));
        ASSERT_EQ(read->rows.size(), sights.size());
        for (std::size_t i = 0; i < sights.size(); ++i) {
            const measure::Sight& a = read->rows[i];
            const measure::Sight& b = sights[i];
            EXPECT_EQ(a.station, b.station);
            EXPECT_EQ(a.target, b.target);
            expect_angle(a.direction_rad, b.direction_rad);
            expect_angle(a.zenith_rad, b.zenith_rad);
            expect_length(a.slope_distance_m, b.slope_distance_m, unit);
            expect_length(a.horizontal_distance_m, b.horizontal_distance_m, unit);
            expect_length(a.target_height_m, b.target_height_m, unit);
            expect_length(a.prism_constant_m, b.prism_constant_m, LengthUnit::millimetre);
            EXPECT_EQ(a.face, b.face);
            EXPECT_EQ(a.purpose, b.purpose);
            EXPECT_EQ(a.temperature_k, b.temperature_k);
            EXPECT_EQ(a.pressure_hpa, b.pressure_hpa);
            EXPECT_EQ(a.time_s, b.time_s);
            EXPECT_EQ(a.time_text, b.time_text);
            EXPECT_EQ(a.note, b.note);
        }
    }
}

TEST(RoundTrip, setups_and_points_read_back_the_same) {
    Random random(3);
    for (int run = 0; run < kRuns; ++run) {
        const LengthUnit unit = kUnits[run % 5];
        station::Setup setup;
        setup.station = random_text(random);
        setup.kind = static_cast<station::SetupKind>(random.below(3));
        if (setup.kind != station::SetupKind::free) setup.mark = random_text(random);
        setup.instrument_height_m = maybe(random, 0.2, 2.0);
        setup.temperature_k = maybe(random, 250.0, 310.0);
        setup.pressure_hpa = maybe(random, 800.0, 1050.0);
        LAYPROOF_READ(setups, read_setups(file(write_setups({&setup, 1}, unit))));
        ASSERT_EQ(setups->rows.size(), 1U);
        EXPECT_EQ(setups->rows[0].station, setup.station);
        EXPECT_EQ(setups->rows[0].kind, setup.kind);
        EXPECT_EQ(setups->rows[0].mark, setup.mark);
        expect_length(setups->rows[0].instrument_height_m, setup.instrument_height_m, unit);
        EXPECT_EQ(setups->rows[0].temperature_k, setup.temperature_k);
        EXPECT_EQ(setups->rows[0].pressure_hpa, setup.pressure_hpa);

        frame::DesignPoint point;
        point.name = random_text(random);
        point.east_m = random.uniform(-1e6, 1e6);
        point.north_m = random.uniform(-1e6, 1e6);
        point.height_m = maybe(random, -20.0, 200.0);
        point.element = random_text(random);
        point.tolerance_plan_m = maybe(random, 0.001, 0.05);
        point.tolerance_height_m = maybe(random, 0.001, 0.05);
        point.note = random_text(random);
        LAYPROOF_READ(points, read_points(file(write_points({&point, 1}, unit))));
        ASSERT_EQ(points->rows.size(), 1U);
        const frame::DesignPoint& read = points->rows[0];
        EXPECT_EQ(read.name, point.name);
        expect_length(read.east_m, point.east_m, unit);
        expect_length(read.north_m, point.north_m, unit);
        expect_length(read.height_m, point.height_m, unit);
        EXPECT_EQ(read.element, point.element);
        expect_length(read.tolerance_plan_m, point.tolerance_plan_m, unit);
        expect_length(read.tolerance_height_m, point.tolerance_height_m, unit);
        EXPECT_EQ(read.note, point.note);
    }
}

}  // namespace
}  // namespace layproof::exchange

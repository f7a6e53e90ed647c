#include "exchange/tables/instrument.hpp"

#include <gtest/gtest.h>

#include "exchange/exchange_support.hpp"
#include "measure/angle.hpp"

namespace layproof::exchange {
namespace {

using testing::expect_refused;

Document toml(std::string bytes) {
    return {"instrument.toml", std::move(bytes)};
}

TEST(InstrumentFile, all_keys_are_read_in_inner_units) {
    LAYPROOF_READ(file, read_instrument(toml("name = \"invented 2-second instrument\"\n"
                                             "angle_sd_arcsec = 2\ndistance_sd_mm = 1.5\n"
                                             "distance_ppm = 2\nbubble_arcmin = 8\n"
                                             "centring_mm = 0.5\nheight_tape_mm = 1\n"
                                             "instrument_centring_mm = 0.7\nrefraction_k = 0.2\n"
                                             "refraction_k_sd = 0.1\nmarking_mm = 0.8\n"
                                             "wavelength_um = 0.85\nreference_temperature_c = 12\n"
                                             "reference_pressure_hpa = 1013.25\n")));
    const measure::Instrument& instrument = file->instrument;
    EXPECT_TRUE(instrument.stated);
    EXPECT_TRUE(file->notices.empty());
    EXPECT_EQ(instrument.name, "invented 2-second instrument");
    EXPECT_NEAR(instrument.angle_sd_rad, 2.0 * measure::kRadPerArcsec, 1e-18);
    EXPECT_NEAR(instrument.distance_sd_m, 0.0015, 1e-15);
    EXPECT_EQ(instrument.distance_ppm, 2.0);
    EXPECT_NEAR(instrument.bubble_rad, 8.0 * measure::kRadPerArcmin, 1e-15);
    EXPECT_NEAR(instrument.centring_m, 0.0005, 1e-15);
    EXPECT_NEAR(instrument.height_tape_m, 0.001, 1e-15);
    EXPECT_NEAR(instrument.instrument_centring_m, 0.0007, 1e-15);
    EXPECT_EQ(instrument.refraction_k, 0.2);
    EXPECT_EQ(instrument.refraction_k_sd, 0.1);
    EXPECT_NEAR(instrument.marking_m, 0.0008, 1e-15);
    EXPECT_EQ(instrument.wavelength_um, 0.85);
    EXPECT_NEAR(*instrument.reference_temperature_k, 285.15, 1e-12);
    EXPECT_EQ(instrument.reference_pressure_hpa, 1013.25);
}

TEST(InstrumentFile, missing_main_key_keeps_its_default_and_is_told) {
    LAYPROOF_READ(file, read_instrument(toml("angle_sd_arcsec = 3\ndistance_sd_mm = 2\n"
                                             "distance_ppm = 2\nbubble_arcmin = 8\n"
                                             "centring_mm = 0.5\n")));
    EXPECT_EQ(file->instrument.height_tape_m, measure::Instrument{}.height_tape_m);
    ASSERT_EQ(file->notices.size(), 1U);
    EXPECT_NE(file->notices[0].find("height_tape_mm; 1 is taken"), std::string::npos)
        << file->notices[0];
}

TEST(InstrumentFile, half_stated_air_is_told) {
    LAYPROOF_READ(file, read_instrument(toml("wavelength_um = 0.85\n")));
    EXPECT_NE(file->notices.back().find("some but not all"), std::string::npos);
}

TEST(InstrumentFile, bad_files_are_refused_at_their_place) {
    expect_refused(read_instrument(toml("")), ErrorCode::empty_file, 1, 1);
    expect_refused(read_instrument(toml("a = \xFF")), ErrorCode::not_utf8, 1, 5);
    expect_refused(read_instrument(toml(std::string((1U << 20U) + 1, ' '))),
                   ErrorCode::file_too_large, 0, 0);
    expect_refused(read_instrument(toml("\ndistance_ppm = \n")), ErrorCode::not_toml, 2, 16);
    expect_refused(read_instrument(toml("centring_mm = 1\ncentring_mm = 2\n")), ErrorCode::not_toml,
                   2, 15);
    expect_refused(read_instrument(toml("centring_mm = 1\n  bubble_arcmin = \"8\"\n")),
                   ErrorCode::not_a_number, 2, 3);
    expect_refused(read_instrument(toml("centring_mm = true\n")), ErrorCode::not_a_number, 1, 1);
    expect_refused(read_instrument(toml("distance_sd_mm = nan\n")), ErrorCode::not_finite, 1, 1);
    expect_refused(read_instrument(toml("distance_sd_mm = -inf\n")), ErrorCode::not_finite, 1, 1);
    expect_refused(read_instrument(toml("distance_sd_mm = -1\n")), ErrorCode::out_of_range, 1, 1);
    expect_refused(read_instrument(toml("distance_sd_mm = 1e300\n")), ErrorCode::out_of_range, 1,
                   1);
    expect_refused(read_instrument(toml("angle_sd_arcsec = 0\n")), ErrorCode::out_of_range, 1, 1);
    expect_refused(read_instrument(toml("name = 5\n")), ErrorCode::out_of_range, 1, 1);
    expect_refused(read_instrument(toml("[distance_sd_mm]\na = 1\n")), ErrorCode::not_a_number, 1,
                   2);
}

TEST(InstrumentFile, unknown_key_is_refused_with_the_nearest_known_one) {
    const auto file = read_instrument(toml("centering_mm = 1\n"));
    expect_refused(file, ErrorCode::key_unknown, 1, 1);
    EXPECT_EQ(file.refusal().expected, "centring_mm");
    const auto other = read_instrument(toml("colour = 1\n"));
    expect_refused(other, ErrorCode::key_unknown, 1, 1);
    EXPECT_NE(other.refusal().expected.find("angle_sd_arcsec"), std::string::npos);
}

}  // namespace
}  // namespace layproof::exchange

#include "measure/atmosphere.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <string>
#include <vector>

#include "measure/reduction.hpp"
#include "support/reference.hpp"

namespace layproof::measure {
namespace {

double kelvin(double celsius) {
    return celsius + kKelvinAtZeroCelsius;
}

TEST(Atmosphere, published_correction_at_850_nm) {
    const layproof::testing::Reference reference("edm-first-velocity-correction");
    const double wavelength = reference.number("case_1.wavelength_um");
    const double t = kelvin(reference.number("case_1.t_degC"));
    const double p = reference.number("case_1.p_hPa");
    const double n_ref = (reference.number("case_1.n_ref") - 1.0) * 1e6;
    const double e = vapour_pressure_hpa(t, p, reference.number("case_1.rh_percent"));
    const double ppm = first_velocity_correction_ppm(n_ref, refractivity_ppm(wavelength, t, p, e));
    reference.check("case_1.C", n_ref);
    reference.check("case_1.N_G", group_refractivity_ppm(wavelength));
    reference.check("case_1.D", refractivity_ppm(wavelength, t, 1.0, 0.0) * t);
    reference.check("case_1.e", e);
    reference.check("case_1.correction", ppm);
    reference.check("case_1.corrected_distance",
                    reference.number("case_1.distance_m") * (1.0 + ppm * 1e-6));
}

TEST(Atmosphere, published_correction_at_658_nm_and_reduction) {
    const layproof::testing::Reference reference("edm-first-velocity-correction");
    const double wavelength = reference.number("case_2.wavelength_um");
    const double t = kelvin(reference.number("case_2.t_degC"));
    const double p = reference.number("case_2.p_hPa");
    // Speed of light over twice unit length times modulation frequency.
    const double n_ref = (299792458.0 / (2.0 * reference.number("case_2.unit_length_m") *
                                         reference.number("case_2.modulation_frequency_Hz")) -
                          1.0) *
                         1e6;
    const double e = vapour_pressure_hpa(t, p, reference.number("case_2.rh_percent"));
    const double ppm = first_velocity_correction_ppm(n_ref, refractivity_ppm(wavelength, t, p, e));
    const double distance_m = reference.number("case_2.distance_m");
    const double corrected_m = distance_m * (1.0 + ppm * 1e-6);
    reference.check("case_2.C", n_ref);
    reference.check("case_2.D", refractivity_ppm(wavelength, t, 1.0, 0.0) * t);
    reference.check("case_2.correction", corrected_m - distance_m);
    reference.check("case_2.corrected_distance", corrected_m);
    const Slope slope =
        reduce_slope(corrected_m, reference.number("case_2.zenith_deg") * kRadPerDeg, 0.0, 0.0);
    reference.check("case_2.horizontal", slope.horizontal_m);
    reference.check("case_2.height_difference", slope.height_difference_m);
}

TEST(Atmosphere, published_sensitivities) {
    const layproof::testing::Reference reference("edm-first-velocity-correction");
    // The source gives n − 1 of standard air instead of a wavelength. All but the vapour term is in
    // proportion to it, so any wavelength serves after scaling:
    // K = N_g 273.15 p/(1013.25 T²) − 11.27 e/T², L = N_g 273.15/(1013.25 T), M = 11.27/T.
    const double t = kelvin(reference.number("case_3.t_degC"));
    const double p = reference.number("case_3.p_hPa");
    const double e = vapour_pressure_hpa(t, p, reference.number("case_3.rh_percent"));
    const double n = reference.number("case_3.n_minus_1") * 1e6;
    const double wavelength = 0.85;
    const double dry = refractivity_ppm(wavelength, t, p, 0.0);
    const auto derivative = [](auto function, double at, double step) {
        return (function(at + step) - function(at - step)) / (2.0 * step);
    };
    const auto of_pressure = [&](double x) { return refractivity_ppm(wavelength, t, x, e); };
    const auto of_vapour = [&](double x) { return refractivity_ppm(wavelength, t, p, x); };
    const auto of_temperature = [&](double x) { return refractivity_ppm(wavelength, x, p, e); };
    EXPECT_NEAR(derivative(of_temperature, t, 1e-3), -(dry - 11.27 * e / t) / t, 1e-8);
    const double ratio = n / group_refractivity_ppm(wavelength);
    reference.check("case_3.L_per_hPa", derivative(of_pressure, p, 1.0) * ratio);
    reference.check("case_3.M_per_hPa_vapour", -derivative(of_vapour, e, 1.0));
    reference.check("case_3.K_per_kelvin", (dry * ratio - 11.27 * e / t) / t);
}

/// Phase refractivity of dry standard air from the group refractivity under test:
/// N_g = d(σN)/dσ, so N = (1/σ)∫₀^σ N_g. N_g has degree 4 in σ: three Gauss points are exact.
double phase_refractivity_ppm(double wavelength_um) {
    const double sigma = 1.0 / wavelength_um;
    const double offset = std::sqrt(0.6);
    const auto group = [&](double x) {
        return group_refractivity_ppm(1.0 / (sigma * (1.0 + x) / 2.0));
    };
    return (5.0 * group(-offset) + 8.0 * group(0.0) + 5.0 * group(offset)) / 18.0;
}

/// Phase refractivity of given air by the closed formula.
double closed_phase_ppm(double wavelength_um, double t_k, double p_hpa, double e_hpa) {
    const double scale =
        phase_refractivity_ppm(wavelength_um) / group_refractivity_ppm(wavelength_um);
    return refractivity_ppm(wavelength_um, t_k, p_hpa, 0.0) * scale +
           (refractivity_ppm(wavelength_um, t_k, p_hpa, e_hpa) -
            refractivity_ppm(wavelength_um, t_k, p_hpa, 0.0));
}

/// One published phase index and the closed formula's difference from it.
struct Comparison {
    double wavelength_um = 0.633;
    double celsius = 0.0;
    double difference_ppm = 0.0;
};

std::vector<Comparison> compare_with_ciddor() {
    const layproof::testing::Reference reference("air-refractive-index-ciddor");
    std::vector<Comparison> comparisons;
    const auto add = [&](double wavelength_um, double celsius, double p_hpa, double e_hpa,
                         double published_ppm) {
        const double closed = closed_phase_ppm(wavelength_um, kelvin(celsius), p_hpa, e_hpa);
        comparisons.push_back({wavelength_um, celsius, closed - published_ppm});
    };
    for (const std::string set : {"nist", "table_1", "table_2", "table_3"}) {
        const auto& rows = *reference.input()[set]["rows"].as_array();
        for (std::size_t i = 0; i < rows.size(); ++i) {
            const auto& row = *rows[i].as_array();
            const auto number = [&](std::size_t c) { return row[c].value<double>().value_or(0.0); };
            const auto expected = reference.expected(set + "_" + std::to_string(i + 1));
            EXPECT_TRUE(expected.found);
            const double published =
                set == "nist" ? (expected.value - 1.0) * 1e6 : expected.value / 100.0;
            if (set == "table_2") {  // pressures in Pa, vapour pressure given
                add(0.633, number(0), number(1) / 100.0, number(2) / 100.0, published);
                continue;
            }
            const double p = number(1) * 10.0;
            const double humidity = row.size() > 2 ? number(2) : 0.0;
            const double wavelength = row.size() > 3 ? number(3) / 1000.0 : 0.633;
            add(wavelength, number(0), p, vapour_pressure_hpa(kelvin(number(0)), p, humidity),
                published);
        }
    }
    return comparisons;
}

TEST(Atmosphere, agrees_with_ciddor_within_its_stated_accuracy) {
    // An outside check on the closed formula: Ciddor's phase index is not used in the product.
    const auto comparisons = compare_with_ciddor();
    ASSERT_EQ(comparisons.size(), 34U);
    int counted = 0;
    for (const auto& c : comparisons) {
        const bool ultraviolet = c.wavelength_um < 0.5;
        const bool mild = c.celsius >= 5.0 && c.celsius <= 40.0;
        // Worst seen: 0.08 in mild air, 0.23 at -40 and +50 degrees, 0.73 in the ultraviolet.
        const double limit = ultraviolet ? 0.75 : mild ? 0.1 : 0.25;
        EXPECT_LT(std::abs(c.difference_ppm), limit) << c.celsius << " degC, " << c.wavelength_um;
        if (!ultraviolet && mild) ++counted;
    }
    EXPECT_GE(counted, 20);
}

TEST(Atmosphere, agrees_with_a_published_instrument_formula) {
    // 282.2 - 0.2908 p / (1 + 0.00366 t) of one infrared instrument: 0.2908 × 1013.25 is the
    // closed formula's N_g near 0.85 µm, so both must give the published millimetre.
    const layproof::testing::Reference reference("distance-reductions");
    const double distance_m = reference.number("task_24.distance_m");
    const double t = kelvin(reference.number("task_24.t_degC"));
    const double p = reference.number("task_24.p_hPa");
    const auto ppm = [&](double t_k, double p_hpa) {
        return first_velocity_correction_ppm(282.2, refractivity_ppm(0.85, t_k, p_hpa, 0.0));
    };
    const double correction_m = distance_m * ppm(t, p) * 1e-6;
    reference.check("task_24.correction", correction_m);
    reference.check("task_24.reduced", distance_m + correction_m);
    const double by_t = ppm(t + 1.0, p) - ppm(t, p);
    const double by_p = ppm(t, p + 1.0) - ppm(t, p);
    reference.check("task_24.sigma",
                    distance_m * 1e-6 *
                        std::hypot(by_t * reference.number("task_24.sigma_t_K"),
                                   by_p * reference.number("task_24.sigma_p_hPa")));
}

Instrument with_reference_air() {
    Instrument instrument;
    instrument.wavelength_um = 0.658;
    instrument.reference_temperature_k = 285.15;
    instrument.reference_pressure_hpa = 1013.25;
    return instrument;
}

TEST(DistanceCorrection, is_zero_in_the_reference_air_and_about_one_ppm_per_kelvin) {
    const Instrument instrument = with_reference_air();
    EXPECT_NEAR(*distance_correction_ppm(instrument, 285.15, 1013.25), 0.0, 1e-12);
    // Common rule: 1 ppm per kelvin and per 3.6 hPa; warm and thin air makes distances longer.
    EXPECT_NEAR(*distance_correction_ppm(instrument, 286.15, 1013.25), 1.0, 0.05);
    EXPECT_NEAR(*distance_correction_ppm(instrument, 285.15, 1009.65), 1.0, 0.05);
    EXPECT_LT(*distance_correction_ppm(instrument, 275.15, 1013.25), 0.0);
}

TEST(DistanceCorrection, is_absent_without_reference_air_or_a_usable_value) {
    constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
    EXPECT_FALSE(distance_correction_ppm(Instrument{}, 285.15, 1013.25));
    for (int missing = 0; missing < 3; ++missing) {
        Instrument instrument = with_reference_air();
        if (missing == 0) instrument.wavelength_um.reset();
        if (missing == 1) instrument.reference_temperature_k.reset();
        if (missing == 2) instrument.reference_pressure_hpa.reset();
        EXPECT_FALSE(distance_correction_ppm(instrument, 285.15, 1013.25));
    }
    for (const double bad : {0.0, -1.0, kNan, std::numeric_limits<double>::infinity()}) {
        EXPECT_FALSE(distance_correction_ppm(with_reference_air(), bad, 1013.25));
        EXPECT_FALSE(distance_correction_ppm(with_reference_air(), 285.15, bad));
        Instrument instrument = with_reference_air();
        instrument.wavelength_um = bad;
        EXPECT_FALSE(distance_correction_ppm(instrument, 285.15, 1013.25));
    }
}

TEST(VapourPressure, known_points_and_ends) {
    // Saturation over water at 20 degrees is 23.39 hPa (steam tables, from memory), 0.5 % more in
    // air of one atmosphere.
    EXPECT_NEAR(vapour_pressure_hpa(293.15, 1013.25, 100.0), 23.39 * 1.0045, 0.05);
    EXPECT_EQ(vapour_pressure_hpa(293.15, 1013.25, 0.0), 0.0);
    EXPECT_EQ(vapour_pressure_hpa(10.0, 1013.25, 50.0), 0.0);
    EXPECT_TRUE(std::isfinite(vapour_pressure_hpa(32.21, 1013.25, 50.0)));
}

}  // namespace
}  // namespace layproof::measure

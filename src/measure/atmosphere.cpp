#include "measure/atmosphere.hpp"

#include <cmath>

namespace layproof::measure {
namespace {

constexpr double kStandardPressure_hpa = 1013.25;

bool is_usable(double value) {
    return std::isfinite(value) && value > 0.0;
}

}  // namespace

double group_refractivity_ppm(double wavelength_um) {
    const double wavenumber2 = 1.0 / (wavelength_um * wavelength_um);
    return 287.6155 + 4.88660 * wavenumber2 + 0.06800 * wavenumber2 * wavenumber2;
}

double refractivity_ppm(double wavelength_um, double temperature_k, double pressure_hpa,
                        double vapour_hpa) {
    return group_refractivity_ppm(wavelength_um) * (kKelvinAtZeroCelsius / kStandardPressure_hpa) *
               pressure_hpa / temperature_k -
           11.27 * vapour_hpa / temperature_k;
}

double vapour_pressure_hpa(double temperature_k, double pressure_hpa, double humidity_percent) {
    const double celsius = temperature_k - kKelvinAtZeroCelsius;
    if (celsius <= -240.94) return 0.0;
    return humidity_percent / 100.0 * (1.0007 + 3.46e-6 * pressure_hpa) * 6.1121 *
           std::exp(17.502 * celsius / (240.94 + celsius));
}

double first_velocity_correction_ppm(double reference_ppm, double actual_ppm) {
    return reference_ppm - actual_ppm;
}

std::optional<double> distance_correction_ppm(const Instrument& instrument, double temperature_k,
                                              double pressure_hpa) {
    if (!instrument.wavelength_um || !instrument.reference_temperature_k ||
        !instrument.reference_pressure_hpa) {
        return std::nullopt;
    }
    for (const double value : {*instrument.wavelength_um, *instrument.reference_temperature_k,
                               *instrument.reference_pressure_hpa, temperature_k, pressure_hpa}) {
        if (!is_usable(value)) return std::nullopt;
    }
    return first_velocity_correction_ppm(
        refractivity_ppm(*instrument.wavelength_um, *instrument.reference_temperature_k,
                         *instrument.reference_pressure_hpa, 0.0),
        refractivity_ppm(*instrument.wavelength_um, temperature_k, pressure_hpa, 0.0));
}

}  // namespace layproof::measure

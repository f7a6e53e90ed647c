#pragma once
// What the air does to a distance: group refractivity, vapour pressure, first velocity correction.
//
// Source: resolution 3 of the International Association of Geodesy, IUGG General Assembly 1999
// (closed formulas), and J. M. Rüeger, Electronic Distance Measurement, 4th ed., eqs. 5.12, 5.27,
// 6.11 to 6.13; both seen at second hand. Refractivity N = (n − 1)·1e6.
//   N_g = 287.6155 + 4.88660/λ² + 0.06800/λ⁴        λ in µm; dry air at 273.15 K, 1013.25 hPa,
//                                                   0.0375 % CO₂
//   N   = N_g · (273.15/1013.25) · p/T − 11.27 e/T   p, e in hPa, T in kelvin
//
// Accuracy: against Ciddor's equations (Applied Optics 35, 1996; phase index, so with the formula
// turned into its phase form) at 633 and 1700 nm, 600 to 1200 hPa and any humidity, the worst
// difference is 0.08 ppm from 5 to 40 °C and 0.23 ppm from −40 to 50 °C; outside the range of use,
// at 300 nm, it is 0.73 ppm (tests/measure/atmosphere_test.cpp). 1 ppm is 1 K or 3.6 hPa, and 0.05
// mm at 50 m: on a building site the correction matters for long sights only.

#include <optional>

#include "measure/instrument.hpp"

namespace layproof::measure {

inline constexpr double kKelvinAtZeroCelsius = 273.15;

/// N_g of standard air. wavelength_um > 0.
double group_refractivity_ppm(double wavelength_um);

/// N of air of the given temperature, pressure and partial pressure of water vapour.
/// temperature_k > 0.
double refractivity_ppm(double wavelength_um, double temperature_k, double pressure_hpa,
                        double vapour_hpa);

/// Partial pressure of water vapour at a relative humidity in percent, over water:
///   e = (rh/100)(1.0007 + 3.46e-6 p)·6.1121·exp(17.502 t/(240.94 + t)), t in °C
/// (after A. L. Buck, J. Appl. Meteorol. 20, 1981, as given by the source above). At or below
/// −240.94 °C it is 0.
double vapour_pressure_hpa(double temperature_k, double pressure_hpa, double humidity_percent);

/// Correction of a distance in ppm: N of the air the instrument computes for, less N of the air of
/// the day. corrected = distance · (1 + ppm·1e-6).
double first_velocity_correction_ppm(double reference_ppm, double actual_ppm);

/// The same for an instrument that states its wavelength and its reference air; nothing when it
/// does not, or when a value is not finite or not above 0. Air is taken as dry on both sides:
/// vapour of 20 hPa (a muggy summer day) more than in the reference air is left out, 0.8 ppm.
std::optional<double> distance_correction_ppm(const Instrument& instrument, double temperature_k,
                                              double pressure_hpa);

}  // namespace layproof::measure

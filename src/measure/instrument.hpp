#pragma once
// How well an instrument and its rod measure. All figures are standard deviations.

#include <optional>
#include <string>

#include "measure/angle.hpp"

namespace layproof::measure {

/// The error figures of an instrument file. The defaults stand in when no file is given: an
/// ordinary building instrument and pole (engineering judgement after trade notes, no source);
/// callers must then say that they were assumed (`stated` is false). All finite and not negative.
struct Instrument {
    double angle_sd_rad = 5.0 * kRadPerArcsec;  ///< one pointing, direction and zenith each
    double distance_sd_m = 0.002;
    double distance_ppm = 2.0;                ///< added in quadrature
    double bubble_rad = 5.0 * kRadPerArcmin;  ///< rod out of plumb, per plan axis
    double centring_m = 0.001;                ///< target over mark, per plan axis
    double height_tape_m = 0.001;             ///< target height and instrument height, each
    double instrument_centring_m = 0.001;  ///< instrument over its mark, per plan axis (occupied)
    double refraction_k = 0.13;
    double refraction_k_sd = 0.0;  ///< standard deviation of k
    double marking_m = 0.0;        ///< marking a laid point by hand, per plan axis

    // Air the instrument's distances are computed for. Without it no correction is made.
    std::optional<double> wavelength_um;  ///< carrier, in vacuum
    std::optional<double> reference_temperature_k;
    std::optional<double> reference_pressure_hpa;

    bool stated = false;  ///< read from a file
    std::string name;

    bool operator==(const Instrument&) const = default;
};

}  // namespace layproof::measure

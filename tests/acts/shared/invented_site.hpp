#pragma once
// An invented site and the files a crew would bring from it. Readings are made by plain
// trigonometry from a known place; a seed adds errors of the sizes asked for.

#include <fmt/format.h>

#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include "acts/station/station.hpp"
#include "base/random.hpp"
#include "measure/angle.hpp"

namespace layproof::testing {

struct InventedMark {
    std::string name;
    double east_m = 0.0;
    double north_m = 0.0;
    double height_m = 0.0;
};

struct InventedSite {
    double east_m = 512.340;
    double north_m = 248.170;
    double height_m = 31.480;
    double orientation_deg = 217.3217;
    double rod_m = 1.500;
    double unit_m = 1.0;          ///< metres in one unit of the files
    std::string bracket = "[m]";  ///< in the headers
    std::vector<InventedMark> marks{{"A1", 540.120, 290.455, 32.105},
                                    {"A2", 470.805, 280.330, 30.950},
                                    {"A3", 481.260, 205.915, 31.720},
                                    {"A4", 549.915, 210.640, 33.015},
                                    {"A5", 520.030, 303.275, 31.210}};

    std::string marks_csv(bool with_height = true) const {
        std::string out = fmt::format("mark,east {0},north {0},height {0}\n", bracket);
        for (const InventedMark& m : marks) {
            out +=
                fmt::format("{},{:.6f},{:.6f},{}\n", m.name, m.east_m / unit_m, m.north_m / unit_m,
                            with_height ? fmt::format("{:.6f}", m.height_m / unit_m) : "");
        }
        return out;
    }

    static std::string header(const std::string& bracket, const std::string& more = "") {
        return fmt::format(
            "station,target,direction,zenith,slope_distance {0},target_height {0}{1}\n", bracket,
            more);
    }

    /// One row; `random` adds errors of 2" and 1 mm.
    std::string sight(const std::string& station, const InventedMark& m, Random* random = nullptr,
                      const std::string& more = "") const {
        const double e = m.east_m - east_m;
        const double n = m.north_m - north_m;
        const double d = std::hypot(e, n);
        const double v = m.height_m + rod_m - height_m - 0.87 * d * d / (2.0 * 6371000.0);
        const auto error = [&](double sd) { return random ? sd * random->normal() : 0.0; };
        constexpr double kAngleSd_rad = 2.0 * measure::kRadPerArcsec;
        const double direction =
            measure::wrap_0_2pi(std::atan2(e, n) - orientation_deg * measure::kRadPerDeg +
                                error(kAngleSd_rad)) /
            measure::kRadPerDeg;
        const double zenith = (std::atan2(d, v) + error(kAngleSd_rad)) / measure::kRadPerDeg;
        return fmt::format("{},{},{:.8f},{:.8f},{:.6f},{:.6f}{}\n", station, m.name, direction,
                           zenith, (std::hypot(d, v) + error(0.001)) / unit_m, rod_m / unit_m,
                           more);
    }

    std::string sights_csv(const std::string& station = "S1", Random* random = nullptr) const {
        std::string out = header(bracket);
        for (const InventedMark& m : marks) out += sight(station, m, random);
        return out;
    }

    acts::StationRequest request(Random* random = nullptr) const {
        acts::StationRequest out;
        out.marks = {"marks.csv", marks_csv()};
        out.sights = {"sights.csv", sights_csv("S1", random)};
        return out;
    }
};

inline exchange::Document good_instrument() {
    return {"instrument.toml",
            "angle_sd_arcsec = 2.0\ndistance_sd_mm = 1.0\ndistance_ppm = 1.5\n"
            "bubble_arcmin = 2.0\ncentring_mm = 0.5\nheight_tape_mm = 1.0\n"};
}

inline exchange::Document four_points(const std::string& tolerances = ",0.010,0.010") {
    std::string text =
        "point,east [m],north [m],height [m],tolerance_plan [m],tolerance_height [m]\n";
    for (const char* row : {"P1,505,255,30", "P2,519,255,30", "P3,519,241,30", "P4,505,241,30"})
        text += row + tolerances + "\n";
    return {"points.csv", text};
}

}  // namespace layproof::testing

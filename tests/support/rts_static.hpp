#pragma once
// Three instruments and eight targets of a real session (tests/data/rts-static-a), as set-ups of
// the second and third on the places the first gives.

#include <cmath>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

#include "measure/angle.hpp"
#include "station/prepared.hpp"

namespace layproof::testing::rts_static {

struct Row {
    int station = 0;
    std::string target;
    double direction_rad = 0.0;
    double zenith_rad = 0.0;
    double slope_m = 0.0;
};

inline std::vector<Row> read_rows() {
    std::ifstream in(std::string(LAYPROOF_SOURCE_DIR) + "/tests/data/rts-static-a/2022-03-14.csv");
    std::string line;
    std::getline(in, line);
    std::vector<Row> out;
    while (std::getline(in, line)) {
        std::stringstream cells(line);
        std::vector<std::string> cell;
        for (std::string part; std::getline(cells, part, ',');) cell.push_back(part);
        if (cell.size() < 6) continue;
        out.push_back({std::stoi(cell[1]), "T" + cell[2], std::stod(cell[3]), std::stod(cell[4]),
                       std::stod(cell[5])});
    }
    return out;
}

/// Assumed, since the session states none: an instrument of 5" and 2 mm + 2 ppm. Targets were
/// fixed, so no rod to hold out of plumb; one millimetre for the target itself.
inline measure::Instrument assumed_instrument() {
    measure::Instrument out;
    out.angle_sd_rad = 5.0 * measure::kRadPerArcsec;
    out.distance_sd_m = 0.002;
    out.distance_ppm = 2.0;
    out.bubble_rad = 0.0;
    out.centring_m = 0.0005;
    out.height_tape_m = 0.0;
    return out;
}

/// Station `number` free on the places station 1 gives.
inline station::StationInput free_on_first(const std::vector<Row>& rows, int number) {
    station::StationInput out;
    out.setup.station = std::to_string(number);
    out.instrument = assumed_instrument();
    for (const Row& row : rows) {
        if (row.station == 1) {
            const double plan = row.slope_m * std::sin(row.zenith_rad);
            frame::Mark mark;
            mark.name = row.target;
            mark.east_m = plan * std::sin(row.direction_rad);
            mark.north_m = plan * std::cos(row.direction_rad);
            mark.height_m = row.slope_m * std::cos(row.zenith_rad);
            // Its covariance has one figure per axis: the larger of along and across in plan.
            const double across = plan * out.instrument.angle_sd_rad;
            const double along = std::hypot(out.instrument.distance_sd_m,
                                            out.instrument.distance_ppm * 1e-6 * row.slope_m);
            const double s = std::sin(row.direction_rad);
            const double c = std::cos(row.direction_rad);
            mark.sd_east_m = std::hypot(along * s, across * c);
            mark.sd_north_m = std::hypot(along * c, across * s);
            mark.sd_height_m = std::hypot(row.slope_m * out.instrument.angle_sd_rad, 0.0005);
            out.marks.push_back(mark);
        } else if (row.station == number) {
            measure::Sight sight;
            sight.station = out.setup.station;
            sight.target = row.target;
            sight.direction_rad = row.direction_rad;
            sight.zenith_rad = row.zenith_rad;
            sight.slope_distance_m = row.slope_m;
            out.sights.push_back(sight);
        }
    }
    return out;
}

}  // namespace layproof::testing::rts_static

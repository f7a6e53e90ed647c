#pragma once
// Invented floors for planning: columns, wall pieces, marks at the edge and points to lay. The same
// floor for the same seed. Nothing in it is a real place.

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "base/random.hpp"
#include "frame/mark.hpp"
#include "plan/obstacle.hpp"
#include "station/lay_prediction.hpp"

namespace layproof::test_support {

struct FloorSize {
    double east_m = 60.0;
    double north_m = 90.0;
    int columns = 150;
    int walls = 400;
    int points = 2000;
    int marks = 12;
    double longest_wall_m = 2.4;  ///< a panel
};

struct InventedFloor {
    std::vector<plan::Prism> prisms;
    std::vector<frame::Mark> marks;
    std::vector<station::LayTarget> points;
};

inline InventedFloor invented_floor(const FloorSize& size, std::uint64_t seed) {
    Random random(seed);
    InventedFloor out;
    int number = 0;
    const int rows = std::max(1, static_cast<int>(std::sqrt(size.columns * 1.5)));
    const int lines = std::max(1, size.columns / rows);
    for (int i = 0; i < size.columns; ++i) {
        const Eigen::Vector2d at((i % lines + 0.5) * size.east_m / lines,
                                 (i / lines + 0.5) * size.north_m / (rows + 1));
        const plan::Reach reach{0.0, 4.0};
        if (i % 4 == 0) {
            // A column of 24 faces, so that a scene of triangles can hold the same one.
            std::vector<Eigen::Vector2d> outline;
            for (int k = 0; k < 24; ++k)
                outline.push_back(at + 0.3 * Eigen::Vector2d(std::cos(k * 0.2617993877991494),
                                                             std::sin(k * 0.2617993877991494)));
            for (auto& p : plan::prisms_of_outline(outline, reach, number)) out.prisms.push_back(p);
        } else {
            out.prisms.push_back(*plan::rectangle(at, 0.5, 0.5, 0.0, reach, number));
        }
        ++number;
    }
    // Of five wall pieces two stand full height in the cores; forms, kickers and parapets, which
    // are looked over, are the rest.
    std::vector<Eigen::Vector2d> cores;
    const int core_count = std::max(1, static_cast<int>(size.east_m * size.north_m / 900.0));
    for (int i = 0; i < core_count; ++i)
        cores.emplace_back(random.uniform(0.15, 0.85) * size.east_m,
                           random.uniform(0.1, 0.9) * size.north_m);
    for (int i = 0; i < size.walls; ++i) {
        Eigen::Vector2d at(random.uniform(0.5, size.east_m - 0.5),
                           random.uniform(0.5, size.north_m - 0.5));
        if (i % 5 < 2) {
            const Eigen::Vector2d& core = cores[static_cast<std::size_t>(i / 5 % core_count)];
            at = core + Eigen::Vector2d(random.uniform(-4.0, 4.0), random.uniform(-5.0, 5.0));
        }
        const double length = random.uniform(0.6, size.longest_wall_m);
        const double turn = random.uniform() < 0.5 ? 0.0 : 1.5707963267948966;
        const plan::Reach reach{0.0, i % 5 < 2 ? 3.0 : random.uniform(0.2, 1.2)};
        out.prisms.push_back(*plan::rectangle(at, 0.2, length, turn, reach, number++));
    }
    for (int i = 0; i < size.marks; ++i) {
        // Every other one around the floor, some way outside its edge; the others on it.
        const double around = (i + random.uniform(0.2, 0.8)) / size.marks * 2.0;
        const double half = size.east_m / (size.east_m + size.north_m);
        const double u = std::fmod(around, 1.0);
        const bool back = around >= 1.0;
        Eigen::Vector2d at =
            u < half ? Eigen::Vector2d(u / half * size.east_m, -2.0)
                     : Eigen::Vector2d(size.east_m + 2.0, (u - half) / (1.0 - half) * size.north_m);
        if (back) at = Eigen::Vector2d(size.east_m, size.north_m) - at;
        if (i % 2 == 1)
            for (int tries = 0; tries < 50; ++tries) {
                at = {random.uniform(0.1, 0.9) * size.east_m,
                      (i + random.uniform(-0.5, 0.5)) / size.marks * size.north_m};
                bool is_clear = true;
                for (const plan::Prism& p : out.prisms)
                    is_clear = is_clear && plan::plan_distance(p, at) > 0.6;
                if (is_clear) break;
            }
        frame::Mark mark;
        mark.name = "M" + std::to_string(i + 1);
        mark.east_m = at.x();
        mark.north_m = at.y();
        mark.height_m = random.uniform(-0.1, 0.4);
        out.marks.push_back(mark);
    }
    for (int i = 0; i < size.points; ++i) {
        station::LayTarget target;
        target.name = "P" + std::to_string(i + 1);
        for (int tries = 0; tries < 50; ++tries) {
            target.east_m = random.uniform(0.0, size.east_m);
            target.north_m = random.uniform(0.0, size.north_m);
            bool is_clear = true;
            for (const plan::Prism& p : out.prisms)
                is_clear =
                    is_clear && plan::plan_distance(p, {target.east_m, target.north_m}) > 0.05;
            if (is_clear) break;
        }
        target.height_m = 0.0;
        target.tolerance_plan_m = 0.00635;
        target.tolerance_height_m = 0.0127;
        out.points.push_back(target);
    }
    return out;
}

}  // namespace layproof::test_support

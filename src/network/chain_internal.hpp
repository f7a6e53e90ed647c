#pragma once
// What is placed so far in one frame, and the spreading of heights.

#include <queue>
#include <utility>
#include <vector>

#include "network/chain.hpp"

namespace layproof::network::internal {

/// Placed points and set-ups of one frame. Sized for the whole job; clear() costs only what was
/// touched, so that many small frames are cheap.
struct ChainWorld {
    explicit ChainWorld(const ChainInput& input)
        : points(input.points.size()),
          setups(input.setups.size()),
          polars(input.setups.size(), 0),
          is_reached(input.setups.size(), 0) {}

    void place_point(int point, const Eigen::Vector2d& place) {
        if (!points[static_cast<std::size_t>(point)]) touched_points.push_back(point);
        points[static_cast<std::size_t>(point)] = place;
    }
    void place_setup(int setup, const ChainPose& pose) {
        if (!setups[static_cast<std::size_t>(setup)]) touched_setups.push_back(setup);
        setups[static_cast<std::size_t>(setup)] = pose;
        touch_setup(setup);
    }
    void touch_setup(int setup) {
        if (is_reached[static_cast<std::size_t>(setup)] != 0) return;
        is_reached[static_cast<std::size_t>(setup)] = 1;
        reached_setups.push_back(setup);
    }
    void clear() {
        for (const int p : touched_points) points[static_cast<std::size_t>(p)].reset();
        for (const int s : touched_setups) setups[static_cast<std::size_t>(s)].reset();
        for (const int s : reached_setups) {
            polars[static_cast<std::size_t>(s)] = 0;
            is_reached[static_cast<std::size_t>(s)] = 0;
        }
        touched_points.clear();
        touched_setups.clear();
        reached_setups.clear();
        queue = {};
    }

    std::vector<std::optional<Eigen::Vector2d>> points;
    std::vector<std::optional<ChainPose>> setups;
    std::vector<int> polars;       ///< per set-up: sights with direction and distance to placed
    std::vector<char> is_reached;  ///< per set-up: sights something that is placed
    std::vector<int> touched_points, touched_setups, reached_setups;
    std::priority_queue<std::pair<int, int>> queue;  ///< polars, −set-up
};

/// Heights along zenith angles, level differences and instrument heights, from those given; without
/// any, from the first set-up at 0.
void chain_heights(const ChainInput& input, const std::vector<ChainSight>& sights,
                   const std::vector<std::vector<int>>& over, Chained& out);

/// Height of the target's mark above the instrument's axes by one sight, from plan places or from
/// its own distance; nothing without a zenith angle or a distance.
std::optional<double> rise_of(const ChainInput& input, const ChainSight& sight,
                              const Chained& plan);

}  // namespace layproof::network::internal

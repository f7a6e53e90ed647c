#pragma once
// What the part layproof_maps.so hands over: PROJ behind ProjectedFrame.

#include <Eigen/Core>
#include <cstddef>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.hpp"
#include "exchange/frames/geographic.hpp"

namespace layproof::exchange::internal {

struct Projection {
    virtual ~Projection() = default;
    /// As of ProjectedFrame.
    virtual Result<Eigen::Vector2d> to_grid(const Geographic& position) const = 0;
    virtual Result<Geographic> to_geographic(const Eigen::Vector2d& grid_m) const = 0;

    std::string name;
    double metres_per_unit = 1.0;
    double semi_major_m = 0.0;
    double inverse_flattening = 0.0;
};

struct MapsPart {
    Result<std::unique_ptr<Projection>> (*open)(std::string_view definition);
    std::vector<std::string> (*systems_at)(const Geographic& place, std::size_t most);
};

}  // namespace layproof::exchange::internal

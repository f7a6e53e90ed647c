#pragma once
// A point to be laid, as the acts that place points hold it.

#include <string>

#include "frame/mark.hpp"
#include "lay/tolerances.hpp"

namespace layproof::acts {

/// A point of the points file.
struct LayPoint {
    frame::DesignPoint design;
    std::string group;  ///< behind the colon of its element
    lay::PointTolerance tolerance;
};

}  // namespace layproof::acts

#pragma once
// A position on the ellipsoid of a coordinate system: longitude east and latitude north positive.

namespace layproof::exchange {

struct Geographic {
    double longitude_rad = 0.0;
    double latitude_rad = 0.0;
};

}  // namespace layproof::exchange

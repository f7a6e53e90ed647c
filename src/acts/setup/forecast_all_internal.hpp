#pragma once
// station::forecast for many points: shared among the processor's cores, the same answer to the
// last digit however many there are.

#include <vector>

#include "station/lay_prediction.hpp"

namespace layproof::acts::internal {

station::Forecast forecast_all(const station::Pose& pose,
                               const std::vector<station::LayTarget>& targets,
                               const measure::Instrument& instrument, double rod_height_m,
                               const std::vector<station::Belief>& beliefs, double confidence);

}  // namespace layproof::acts::internal

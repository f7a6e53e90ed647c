#pragma once
// A verdict's word as drawings have it.

#include "drawing/svg_plan.hpp"
#include "station/lay_prediction.hpp"

namespace layproof::acts::internal {

drawing::PlanWord plan_word(station::Word word);

}  // namespace layproof::acts::internal

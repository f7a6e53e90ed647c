#pragma once
// A verdict as every act gives it, and the tolerances taken where nobody stated one.

#include <string>

#include "measure/length.hpp"
#include "station/lay_prediction.hpp"

namespace layproof::acts {

inline constexpr double kDefaultTolerancePlan_m = 0.25 * measure::kMetresPerInch;
inline constexpr double kDefaultToleranceHeight_m = 0.5 * measure::kMetresPerInch;

struct Verdict {
    station::Word word = station::Word::in_doubt;
    double probability = 0.0;  ///< of the weakest point
    std::string because;
    std::string next;
};

}  // namespace layproof::acts

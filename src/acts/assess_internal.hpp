#pragma once
// The one place where what may be wrong meets the verdict: probable causes, what is believed about
// the station's state, and the next sight worth taking.

#include <optional>
#include <vector>

#include "acts/station.hpp"
#include "station/aids.hpp"

namespace layproof::acts::internal {

struct Assessment {
    std::vector<CauseReport> causes;
    std::vector<station::Belief> beliefs;  ///< weights sum to one
    std::optional<NextSightReport> next_sight;
    /// The beliefs already hold what the misfit and the missing checks mean. While false, the
    /// verdict of a set-up that misfits or that nothing checks is at best "in doubt".
    bool weighs_causes = false;
};

Assessment assess(const station::Prepared& setup, const station::Solved& solved);

/// The sight that helps most among the aids, when it helps.
std::optional<NextSightReport> next_sight_of(const station::Aids& aids, int points);

}  // namespace layproof::acts::internal

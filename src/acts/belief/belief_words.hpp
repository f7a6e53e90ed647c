#pragma once
// The sentences about what may be wrong in a job, the same in every act.

#include <string>
#include <vector>

#include "measure/length.hpp"
#include "network/site_network_causes.hpp"

namespace layproof::acts::internal {

/// What the sentences are about.
struct BeliefWords {
    const network::NetworkInput& input;
    const network::SiteNetwork& network;
    const network::NetworkDiagnosis& diagnosis;
    const measure::LengthStyle& style;
    const std::vector<std::string>& level_by;  ///< per level of the input: "run R1"
    /// All sights that have a time are of one day of the calendar.
    bool is_one_day = all_of_one_day();

    std::string point(int number) const;
    std::string setup(int number) const;
    /// The set-ups a suspect is about: "S1", "the 5 set-ups from S2 to S6", "every set-up".
    std::string setups(const network::NetworkSuspect& suspect) const;
    /// "10:02" or, where days differ, "2031-05-15 10:02"; the set-up's name without a time.
    std::string when(int sight) const;
    /// "2031-05-15 10:02" always; the set-up's name without a time.
    std::string dated_when(int sight) const;
    /// With date and offset; empty without a time.
    std::string full_when(int sight) const;

    /// "H4 moved 12.1 mm south-west between S1 and S2".
    std::string clause(int suspect, const Eigen::VectorXd& amount) const;
    /// All members of an explanation.
    std::string sentence(const network::NetworkExplanation& explanation) const;
    std::vector<std::string> subjects(const network::NetworkExplanation& explanation) const;
    /// What would split it or put it right, with a full stop.
    std::string remedy(const network::NetworkExplanation& explanation) const;
    /// "the level from BM1 to H2 (run R1) is 30.4 mm too high, near 0.1 ft: a rod misread".
    std::string line_clause(const network::NetworkSuspect& suspect, double amount_m) const;
    /// The gap in words: "between S1 and S2", "before it was first sighted".
    std::string gap(const network::NetworkSuspect& suspect) const;

    bool all_of_one_day() const;
    const measure::Sight& booked(const network::NetworkSight& sight) const;
};

}  // namespace layproof::acts::internal

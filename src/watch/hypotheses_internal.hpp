#pragma once
// The explanations in words-ready form: sizes and starts joined, those that the data cannot split
// together.

#include <vector>

#include "watch/scenario_internal.hpp"

namespace layproof::watch::internal {

struct Listed {
    std::vector<HypothesisGroup> groups;
    double others = 0.0;
};

Listed list_hypotheses(const Day& day, const Evidence& evidence,
                       const std::vector<Scenario>& scenarios);

}  // namespace layproof::watch::internal

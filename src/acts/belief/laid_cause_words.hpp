#pragma once
// Causes over laid points as a crew reads them.

#include <string>
#include <vector>

#include "lay/laid_causes.hpp"
#include "measure/length.hpp"

namespace layproof::acts::internal {

/// A sentence each.
struct LaidCauseWords {
    std::string says, to_do;
};

/// `names`: of the cause's points.
LaidCauseWords laid_cause_words(const lay::LaidCause& cause, const std::vector<std::string>& names,
                                const measure::LengthStyle& style);

}  // namespace layproof::acts::internal

#pragma once
// The sentences of the whole job.

#include <string>

#include "acts/prove/prove.hpp"

namespace layproof::acts::internal {

/// "fits: the misfits are 1.02 times what was stated"
std::string fit_words(const adjust::GlobalTest& test);
Verdict prove_verdict(const ProveAnswer& answer);

}  // namespace layproof::acts::internal

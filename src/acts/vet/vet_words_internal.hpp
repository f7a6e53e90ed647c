#pragma once
// The sentences of a vetting.

#include <string>

#include "acts/vet/vet.hpp"

namespace layproof::acts::internal {

/// Fills the words of explanations, traps, marks and the verdict from the figures.
void put_into_words(VetAnswer& answer);

}  // namespace layproof::acts::internal

#pragma once
// Every way of reading the lists that is tried.

#include <vector>

#include "vet/network_internal.hpp"

namespace layproof::vet::internal {

/// Without "nothing wrong"; frequencies shared evenly inside each trap. For each choice among
/// doubled names once.
std::vector<Variant> variants_of(const Gathered& all);

/// "Nothing wrong" once for each choice among doubled names (at most eight choices).
std::vector<Variant> plain_variants(const Gathered& all);

}  // namespace layproof::vet::internal

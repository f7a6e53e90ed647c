#pragma once
// All choices of so many places, cut off by the bound.
//
// A part that the bound leaves open is split: points are gathered whose loss alone would bring the
// bound below what is needed, so that one of the candidates that hold any of them must be chosen;
// each is tried in turn and left out for those after it. Points with few holders make few branches.
//
// Parts are taken in lots from the end of a list and worked at beside each other; what comes of a
// part does not depend on another of its lot, and the work is counted after the lot, so that the
// outcome is the same for any number of threads.

#include "plan/choice_bound_internal.hpp"
#include "plan/choice_seek_internal.hpp"

namespace layproof::plan::internal {

struct BranchOutcome {
    enum class Kind { found, none, gave_up } kind = Kind::gave_up;
    Picks found;
};

/// Is there a choice of at most `places` that proves `needed` points? `root`: the whole problem
/// with what the bound has left of it; `work`: numbers that may be read, lowered by those read.
BranchOutcome try_all(const Reduced& reduced, const Part& root, std::size_t places,
                      std::size_t needed, Workers* workers, std::int64_t& work);

}  // namespace layproof::plan::internal

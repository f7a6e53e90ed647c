#pragma once
// One thing that may be wrong in a job, as every act that speaks of it says it.

#include <string>
#include <vector>

namespace layproof::acts {

class Fields;

struct JobCause {
    std::string cause;  ///< a word of the causes, or of what is wrong with a list or a level
    std::vector<std::string> subjects;
    double probability = 0.0;  ///< over all explanations that it is part of
    std::string from, to;      ///< it happened between these times; empty: not known, or no moment
    std::string says, next;
    /// It must be put right before anything else: until then no point is proven, none is moved, and
    /// nothing is set out.
    bool is_gross = false;
};
void describe(Fields& f, const JobCause& cause);

}  // namespace layproof::acts

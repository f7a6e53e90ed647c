#pragma once
// Which laid point or mark to sight next, so that the doubt is cleared soonest.
//
// For every candidate the new figures are predicted under each explanation of the day, a bump in a
// stretch of layings split into "before" and "after" the candidate; the mixture is spread over the
// cubature points of each member (degree three, 2n points; Arasaratnam and Haykin, 2009, from
// memory) and the explanations are weighed anew for each. The score is the expected reduction of
// the summed entropy of "within tolerance or not" over all points, in bits. What the new figures
// say about the amount of a bump is counted for the candidate itself only. Points whose verdict the
// sight cannot change add nothing, so that the candidate which halves a stretch comes first.

#include <vector>

#include "watch/watch.hpp"

namespace layproof::watch {

struct NextResight {
    bool is_mark = false;
    int index = -1;  ///< into Day::points, or Start::marks
    std::string name;
    double gain_bits = 0.0;  ///< expected reduction
    double left_bits = 0.0;  ///< summed entropy now
};

struct ResightOptions {
    std::vector<Check> marks;  ///< planned checks; empty: the marks checked so far, the same way
    int most_points = 48;      ///< candidates, spread evenly over those in doubt
};

/// Best first. Empty where no point is in doubt because of a move.
std::vector<NextResight> rank_resights(const Day& day, const WatchOptions& options,
                                       const DayReport& report, const ResightOptions& how = {});

}  // namespace layproof::watch

#pragma once
// Closures of levels: what the rises round a closed loop sum to, and what the rises between two
// marks of known height differ by from the sheet.
//
// Loops. Of a net of links there are (links − points + parts) independent loops. Those that one run
// closes by itself are taken first, as the crew closed them; then the shortest (J. D. Horton 1987,
// SIAM J. Comput. 16(2): candidates are the shortest paths from each point to both ends of each
// link; a greedy choice of independent ones is a minimum basis). "Short" is by variance, which
// grows with length. Above 300 points or links beyond the tree in one part, the loops that each
// link closes on one tree of shortest paths are taken.
//
// Ties. In each connected part the marks of known height are tied to each other by the links: for
// n such marks n − 1 ties, the shortest.
//
// Closures: levelled less what should be, 0 round a loop and the sheet's difference in a tie. The
// standard deviation is of independent rises, and in a tie the sheet's of both ends with it.

#include <optional>
#include <string>
#include <vector>

#include "frame/mark.hpp"

namespace layproof::network {

struct LevelLink {
    std::string from, to;  ///< the same: it closes on itself
    double rise_m = 0.0;
    double sd_m = 0.0;
    std::optional<double> length_m;
    std::optional<int> turns;
    int run = -1;  ///< links of one run follow each other, end to start; −1: of none
};

struct LevelClosure {
    struct Member {
        std::size_t link = 0;
        bool is_forward = true;
    };
    std::vector<Member> members;  ///< in order
    std::vector<std::string>
        points;  ///< of a loop each once, from its first; of a tie both ends too
    bool is_tie = false;
    double closure_m = 0.0;
    double sd_m = 0.0;
    std::optional<double> length_m;  ///< if that of each member is known
    std::optional<int> turns;        ///< if those of each member are known
};

std::vector<LevelClosure> level_loops(const std::vector<LevelLink>& links);

/// Marks without a height, or that no link touches, take no part.
std::vector<LevelClosure> level_ties(const std::vector<LevelLink>& links,
                                     const std::vector<frame::Mark>& marks);

/// What practice lets a closure be, and by what rule.
///   12 mm · √km, at least 5 mm   with lengths: third order of the US federal standards of 1984;
///                                bench levels between marks of a site (BS 5606), both from memory
///   5 mm · √set-ups              with set-ups alone (common practice on building sites, no source)
///   3 sd                         else (no source)
struct AllowedClosure {
    double amount_m = 0.0;
    std::string rule;    ///< in few words
    std::string source;  ///< where it comes from
};
AllowedClosure allowed_closure(const LevelClosure& closure);

}  // namespace layproof::network

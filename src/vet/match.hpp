#pragma once
// Which mark of one list is which of another, told from geometry alone: for lists without names, or
// with other names.
//
// Model: some places of `other` are places of `first`, moved by a shift and turn and, where
// allowed, a mirror and a scale; the rest do not belong. Every pair of the first is laid on every
// pair of the other whose length agrees (a distance does not change by shift, turn and mirror); the
// transform that brings most places within the tolerance wins, then the one with the smaller
// misfit. Scale is tried at 1, and at the feet-for-metres ratios, and, if wished, free within 1 %.
// A second assignment that brings as many places in, and fits no worse than three times the
// tolerance allows, makes the answer ambiguous: it is given too.
//
// Limits: at most 400 places a list (beyond, nothing is matched); pairs shorter than 5 tolerances
// are not used to start from.

#include <Eigen/Core>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace layproof::vet {

struct MatchOptions {
    double tolerance_m = 0.030;
    bool may_mirror = true;
    bool may_scale = true;
    int least = 3;  ///< places that must fit to be believed
};

struct Assignment {
    std::vector<std::pair<int, int>> pairs;  ///< into first, into other
    bool mirrored = false;                   ///< east of the other counts the other way
    double scale = 1.0;                      ///< first = scale · turned other
    double turn_rad = 0.0;                   ///< clockwise
    double rms_m = 0.0;
};

enum class MatchState {
    matched,    ///< one assignment stands out
    ambiguous,  ///< several fit alike
    none,
};
std::string_view to_word(MatchState state);

struct ListMatch {
    MatchState state = MatchState::none;
    Assignment best;
    std::vector<Assignment> rivals;  ///< at most three
};

ListMatch match_places(const std::vector<Eigen::Vector2d>& first_m,
                       const std::vector<Eigen::Vector2d>& other_m,
                       const MatchOptions& options = {});

}  // namespace layproof::vet

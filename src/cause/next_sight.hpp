#pragma once
// Which sight would tell the most: about the cause, and about the pose the points are laid from.
//
// For every mark and way of sighting the new figures z are predicted under each explanation k held
// by diagnose(): normal with mean m_k and covariance V_k (the universal-kriging predictor: pose
// flat, the sheet's errors and the amount of the cause carried over from the sights already taken).
// The gain is the mutual information between z and (cause, pose), in bits:
//     gain = H(Σ w_k N(m_k, V_k)) − Σ w_k H(N(·, V_k | pose)),
// V_k | pose being what is left of V_k when the pose is known. The entropy of the mixture has no
// closed form; the pairwise estimate −Σ w_i ln Σ w_j e^(−KL(i‖j)) is used, which lies between the
// known bounds (Kolchinsky and Tracey, "Estimating mixture entropy with pairwise distances",
// Entropy 19(7), 2017). Costs of the ways are not weighed; of ways within 2 % the plainer one is
// named first.

#include <string>
#include <string_view>
#include <vector>

#include "cause/diagnose.hpp"

namespace layproof::cause {

enum class Way {
    again,       ///< the same way as before, the rod set up anew
    other_face,  ///< in the face not read yet
    rod_turned,  ///< twice, the rod turned by half a turn between
    bipod,       ///< rod on a bipod: plumb to a quarter (engineering judgement, no source)
    short_rod,   ///< prism 0.1 m over the mark
    tape,        ///< a tape between two marks, 2 mm (common practice, no source)
    new_mark,    ///< a mark of the job not sighted yet
};

struct NextSight {
    Way way = Way::again;
    std::string target;
    std::string second;  ///< tape: the other mark
    double gain_bits = 0.0;
};

/// All candidates, best first. `others` as given to diagnose(). `among`: only the members of this
/// entry count, which tells what would split them; null: all explanations.
std::vector<NextSight> rank_next_sights(const station::Prepared& setup, const Diagnosis& diagnosis,
                                        const std::vector<station::UsedMark>& others = {},
                                        const Entry* among = nullptr);

}  // namespace layproof::cause

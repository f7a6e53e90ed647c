#pragma once
// Is the station still where it was, and if not, since when? And what became of the points?
//
// Model: the pose wanders as a random walk (ground.hpp) and may jump: a bump in some gap between
// events, normal with the sizes of the causes table's tripod-disturbed (the plan size also for
// height: a kicked leg drops the head as it shifts it). Instead of the instrument a mark may have
// moved since its last sight, or the rod of one sight have leaned or been booked at a wrong height.
// Every change is rare and independent: the odds of a bump in a gap are rate × duration + a floor
// per gap, a pair's odds are the product; at most two changes in a day.
//
// Marginal likelihoods are closed form (the batch form of the chain, covariance V of all checks and
// re-sight differences): ln BF = ½ gᵀ(S⁻¹ + G)⁻¹g − ½ ln det(I + S G), g = BᵀV⁻¹(z − m),
// G = BᵀV⁻¹B (Koch, "Introduction to Bayesian Statistics", 2007, ch. 4; from memory). Each
// explanation that counts is then smoothed (smoother.hpp), and every laid point is judged by the
// mixture of the pose at the time it was laid. Between two moments that carry information a random
// walk is a bridge; a bump between them lies before or after a point in proportion to the odds of
// the gaps, for nothing measured splits them.
//
// The start is a mixture too (cause/joint_belief.hpp): its most probable members are kept, the rest
// joined into one normal of the same mean and covariance. Exchanged names at the set-up
// (Start::elsewhere) prove nothing: every point's probability is multiplied by what remains.
//
// Refuses (place empty): a time, misfit, deviation or covariance that is not finite
// (not_finite); a check without rows or with a mark, or a re-sight with a point, that the day does
// not hold (target_unknown); own errors that are not positive definite, a re-sight before its
// point was laid, an event before the set-up or after the end, options out of range
// (out_of_range); a start without beliefs or of another size (setup_incomplete).
// Cost: a day of 20 checks and 300 points some tens of milliseconds (docs/studies/watch.md).

#include <Eigen/Core>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "base/result.hpp"
#include "cause/cause_table.hpp"
#include "infer/most_at_once.hpp"
#include "station/lay_prediction.hpp"
#include "watch/day.hpp"

namespace layproof::watch {

/// How often things happen in a day, and how large they are. Engineering judgement, no source.
struct Odds {
    double bump_per_hour = 0.03;
    double bump_per_gap = 1e-4;    ///< floor: somebody walked past between two events
    double mark_per_hour = 0.004;  ///< each mark, in plan; a quarter as often in height
    double mark_per_gap = 1e-3;
    double new_mark = 0.05;    ///< a mark not sighted at the set-up was off before
    double rod_leaned = 0.01;  ///< each check or re-sight
    double rod_height = 0.01;
};

struct WatchOptions {
    cause::CauseTable sizes;  ///< only the sizes count
    DriftRate drift = drift_rate(Ground::slab);
    Odds odds;
    int most_changes = infer::kMostAtOnceInPairs;  ///< or fewer
    double confidence = 0.95;
    double check_every_s = 3600.0;  ///< common practice, no source
    int most_starts = 3;
};

enum class EventKind { setup_finished, check, resight, laying, end_of_day };
/// "set-up finished", "check", "re-sight", "laying", "end of day".
std::string_view to_word(EventKind kind);

/// Order east, north, orientation, height, against the nominal pose.
using PoseVector = Eigen::Vector4d;

struct EventReport {
    EventKind kind = EventKind::setup_finished;
    int index = -1;  ///< into Day::checks, points or resights
    double time_s = 0.0;
    std::string name;  ///< mark or point
    PoseVector pose = PoseVector::Zero();
    PoseVector sd = PoseVector::Zero();
    double probability_moved = 0.0;  ///< of a bump before this event
    /// Check or re-sight: how surprising its misfit is if nothing had happened that day, given all
    /// before it: chi-square and its degrees of freedom.
    double statistic = 0.0;
    int dof = 0;
    bool is_good = true;  ///< the statistic is below its 99.9 % value
};

enum class Change {
    nothing,
    bump,
    mark_moved,
    mark_height_changed,
    rod_not_plumb,
    rod_height_wrong
};
/// The causes' words: nothing-wrong, tripod-disturbed, mark-moved and so on.
std::string_view to_word(Change change);

/// One change. It happened between two events (indices into DayReport::events), or at one sight.
struct ChangeReport {
    Change change = Change::nothing;
    std::string subject;  ///< mark, or the mark or point whose rod it was
    int from_event = -1;
    int to_event = -1;  ///< a sight with a wrong rod: both are its event
    PoseVector amount =
        PoseVector::Zero();  ///< bump: the pose; else east, north, –, height of shift
    PoseVector amount_sd = PoseVector::Zero();
};

struct Hypothesis {
    std::vector<ChangeReport> changes;  ///< none: nothing wrong; two: both happened
    double probability = 0.0;
    double log_evidence = 0.0;  ///< mean likelihood against nothing: what the data alone say
};

/// Explanations that the data cannot split (evidence within 3.2 to 1, infer/grouping.hpp) and that
/// show at the same sights first.
struct HypothesisGroup {
    std::vector<Hypothesis> members;  ///< most probable first
    double probability = 0.0;
};

/// When the instrument moved, if it did: between two moments that carry information.
struct MoveTime {
    int from_event = -1;
    int to_event = -1;                      ///< end of day's event where nothing measured follows
    double probability = 0.0;               ///< of a bump there; several bumps count each
    PoseVector shift = PoseVector::Zero();  ///< mean, if it was there
    PoseVector shift_sd = PoseVector::Zero();
    std::vector<int> layings_between;  ///< points laid in it, in order of time
};

struct PointReport {
    Eigen::Vector3d deviation_m = Eigen::Vector3d::Zero();  ///< corrected, mean
    Eigen::Matrix3d covariance = Eigen::Matrix3d::Zero();
    double probability = 0.0;  ///< of being within tolerance
    station::Word word = station::Word::in_doubt;
    double probability_moved = 0.0;  ///< laid after a bump
    /// Where a bump took the point (true place less where it would be without), mean if it was laid
    /// after one; zero if that is impossible.
    Eigen::Vector3d displacement_m = Eigen::Vector3d::Zero();
    /// Of being within tolerance, had the instrument only wandered since the set-up. A point that
    /// is not proven and then would be is in doubt because of a move.
    double probability_unmoved = 0.0;
    bool in_doubt_by_move = false;
    int resights = 0;
};

struct NextCheck {
    double due_s = 0.0;
    bool by_drift = false;  ///< sooner than check_every_s because the tolerance is used up
    int point = -1;  ///< by_drift: the point (or upcoming target) with the lowest probability
    double probability = 0.0;  ///< of that point if laid when the check is due
};

struct DayState;

struct DayReport {
    std::vector<EventReport> events;  ///< in order of time
    /// Most probable first; always holds nothing; with `others` they sum to one.
    std::vector<HypothesisGroup> hypotheses;
    double others = 0.0;                 ///< probability of all explanations too small to be listed
    double probability_bump = 0.0;       ///< of at least one, at any time up to the end of day
    double probability_bump_seen = 0.0;  ///< of one before the last check or re-sight
    std::vector<MoveTime> moves;         ///< most probable first
    std::vector<PointReport> points;     ///< as Day::points
    int proven = 0, in_doubt = 0, failing = 0;
    double left_out = 0.0;  ///< probability of explanations too small to be smoothed
    std::shared_ptr<const DayState> state;  ///< for resight.hpp and next_check.hpp
};

Result<DayReport> watch(const Day& day, const WatchOptions& options);

/// How many times `direction` a bump at this time must be to be found by the sights of the day with
/// 80 % power at a significance of 0.001 (Baarda's √λ₀ = 4.1321 over the root of its
/// non-centrality); infinity where nothing measured later shows it.
double detectable_bump(const DayReport& report, double time_s, const PoseVector& direction);

}  // namespace layproof::watch

#pragma once
// What may be wrong in a whole job, with the probability of each explanation: the causes of
// cause/catalogue.hpp and marks that moved, on the linear form of the adjusted network.
//
// Suspects
//   mark-moved, mark-height-changed   a mark is not where its sheet says; or a mark, or a point
//   that
//                         was laid, moved between two of its sightings: one suspect for each gap
//   rod-not-plumb, rod-height-wrong, gross-*   one sight
//   rod-height-wrong-on-all, prism-constant-wrong, distance-scale-wrong, vertical-index-wrong
//                         one set-up, or one tool from one set-up to another: one cause with one
//                         amount for all of them (a prism is told by the constant booked for it);
//                         a rod also from one sight of a set-up on
//   tripod-disturbed      one set-up, between two sights that are checked
//   a tape or level wrong one taped or levelled difference that something else checks: a tape or
//                         rod misread. Not of the table: odds and sizes kMisread…; its `cause` is
//                         then that of a distance or of a rod height
// A frequency of the causes table is a chance per set-up, shared among its subjects, taken as odds
// against "nothing wrong" there; that a mark moved later shares the same odds among its gaps.
//
// Once a set-up is finished its tripod is disturbed by the hour: kBumpPerHour of the time between
// two sights and kBumpPerGap for each sight in between. What was laid between two checked sights
// was laid before or after the change, in proportion to the time; after the last checked sight
// nothing shows a change, and its odds alone stand. Both are in the places that beliefs() gives.
//
// Exchanged names are found by the screening of the network (they land metres away), not here.
// Several things at once are weighed as sets: infer/change_sets.hpp. First order at the adjusted
// places: right for what moves things by centimetres, of use up to half a metre.
//
// When a job holds more suspects than can be weighed in sets, those that explain most are; each of
// the others is weighed alone.

#include <Eigen/Core>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "cause/cause_table.hpp"
#include "infer/change_sets.hpp"
#include "network/site_network.hpp"
#include "station/lay_prediction.hpp"

namespace layproof::network {

/// A tape or rod misread: chance and standard deviations (engineering judgement, no source), from a
/// wrong centimetre to a wrong metre.
inline constexpr double kMisreadOdds = 0.01;
inline constexpr double kMisreadSizes_m[] = {0.02, 0.1, 0.5};

/// How much the causes table is believed about marks that move (engineering judgement, no source;
/// what each does: docs/studies/movement.md). The odds of a site are the table's times a rate that
/// is Gamma distributed with mean one and this shape; a tenth of the moves is a third of the
/// table's smallest size.
inline constexpr double kRateShape = 1.0;
inline constexpr double kSmallerShare = 0.1;
inline constexpr double kSmallerBy = 3.0;

/// A tripod is kicked or sinks once in 33 hours, and whenever somebody walks past with one chance
/// in 10,000 (engineering judgement, no source).
inline constexpr double kBumpPerHour = 0.03;
inline constexpr double kBumpPerGap = 1e-4;

struct NetworkSuspect {
    cause::Cause cause = cause::Cause::nothing_wrong;
    int point = -1;         ///< into SiteNetwork::points
    int setup = -1;         ///< of one set-up or sight
    int sight = -1;         ///< into SiteNetwork::sights
    int after_sight = -1;   ///< it happened after this sight; −1: before the first
    int before_sight = -1;  ///< and before this one
    // Then the rest is −1:
    int level = -1;  ///< into SiteNetwork::levels: that one is wrong
    int tape = -1;   ///< into SiteNetwork::tapes
    /// A tool wrong at several set-ups, in the order of time; `setup` is then −1.
    std::vector<int> setups = {};
};

struct NetworkExplanation {
    std::vector<int> members;  ///< into suspects; together; empty: nothing wrong
    double probability = 0.0;
    double log_evidence = 0.0;
    Eigen::VectorXd amount;  ///< of the members in turn: m, rad or ratio
    Eigen::MatrixXd amount_covariance;
};

struct MemberAmount {
    Eigen::VectorXd mean;
    Eigen::VectorXd sd;  ///< zero where the explanation has no covariance
};

/// A point's place under one explanation, against the adjusted one.
struct PlaceBelief {
    double weight = 1.0;
    Eigen::Vector3d shift_m = Eigen::Vector3d::Zero();
    Eigen::Matrix3d added = Eigen::Matrix3d::Zero();  ///< to its covariance
    /// Into NetworkDiagnosis::explanations; −1: nothing wrong that touches the point.
    int explanation = -1;
    /// The set-up that laid it was disturbed before; by `bump_m` the point was taken along.
    bool is_after_bump = false;
    Eigen::Vector3d bump_m = Eigen::Vector3d::Zero();
};

namespace internal {
struct NetworkColumns;
}

struct NetworkDiagnosis {
    bool is_usable = false;  ///< false: nothing checks anything, or the job is too large
    std::vector<NetworkSuspect> suspects;
    std::vector<double> probability;               ///< per suspect, over all explanations
    std::vector<NetworkExplanation> explanations;  ///< most probable first
    double nothing_wrong = 1.0;
    double more_at_once = 0.0;  ///< probability that more is wrong than is weighed at once
    std::shared_ptr<const internal::NetworkColumns> columns;

    /// Weights sum to one. Where a point that moved among its sightings is meant: its place now.
    std::vector<PlaceBelief> beliefs(int point) const;
    /// What is believed of a set-up's state at its last sight, against the pose that its crew works
    /// from; weights sum to one. What stays wrong on all its sights is in it.
    std::vector<station::Belief> states(const SiteNetwork& network, int setup,
                                        const station::Pose& nominal) const;
    int amount_offset(const NetworkExplanation& explanation, int member) const;
    /// A member's own part of an explanation; nothing where its amounts are not told.
    std::optional<MemberAmount> amount_in(const NetworkExplanation& explanation, int member) const;
    /// Set-ups that a suspect is about: its own, or those that sighted its point.
    std::vector<int> setups_of(const SiteNetwork& network, int suspect) const;
    int columns_of(int suspect) const;
    /// Odds that a set-up was disturbed after the last sight that would show it, until its last.
    double unseen_bump_odds(int setup) const;
    /// Share of a suspect's probability that it happened before a sight of its set-up, which has a
    /// column in it: 1 after the gap, 0 before it.
    double share_before(int suspect, int sight) const;
};

struct NetworkDiagnoseOptions {
    bool only_movement = false;  ///< marks alone are suspects
    int most_in_sets = 130;      ///< suspects weighed in sets
    infer::SearchOptions search;
};

NetworkDiagnosis diagnose_network(const SiteNetwork& network, const cause::CauseTable& table,
                                  const NetworkDiagnoseOptions& options = {});

}  // namespace layproof::network

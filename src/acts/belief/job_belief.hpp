#pragma once
// What is known of a job at a moment: where marks, set-ups and laid points are, and what may be
// wrong. The acts that speak of these ask it, so that a point has one word in all of them.
//
// In: the sights of all set-ups of the job or of the files (of one station alone where files hold
// no more), marks, tapes and levels. Every control and check sight counts, and every lay sight to a
// point of the points file; sights with purpose other to such a point give the ground there, not
// its mark. Model: network/site_network.hpp and network/site_network_causes.hpp.

#include <Eigen/Core>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "acts/belief/solved_jobs.hpp"
#include "acts/points/places.hpp"
#include "acts/setup/setup_inputs.hpp"
#include "acts/setup/setup_work.hpp"
#include "acts/shared/job_cause.hpp"
#include "acts/shared/levelled.hpp"
#include "acts/shared/verdict.hpp"
#include "base/result.hpp"
#include "exchange/text/document.hpp"
#include "lay/building_grid.hpp"
#include "lay/report.hpp"
#include "prove/places.hpp"
#include "watch/ground.hpp"

namespace layproof::acts::internal {

struct BeliefQuestion {
    const StationRequest& request;
    const StationInputs& inputs;
    const std::vector<LayPoint>& points;
    const PointIndex& index;
    const lay::BuildingGrid& grid;
    measure::LengthStyle style;
    watch::Ground ground = watch::Ground::slab;
    /// Beside those of the job.
    const std::vector<exchange::Document>* tapes = nullptr;
    const std::vector<exchange::Document>* levels = nullptr;
};

/// One point that was laid.
struct BelievedPoint {
    std::size_t point = 0;            ///< into the points of the file
    int number = -1;                  ///< into the network's points
    std::vector<std::size_t> sights;  ///< into the network's: those that laid it, in order of time
    /// The verdict over everything that may be wrong, with the words and the place.
    lay::PointReport report;
    double probability_moved = 0.0;  ///< its set-up was disturbed before it was laid
    Eigen::Vector3d moved_by_m = Eigen::Vector3d::Zero();
    double probability_unmoved = 0.0;
    std::string
        in_doubt_by;       ///< what takes most of its probability, a sentence; empty: no one thing
    int moved_setup = -1;  ///< a disturbance of this set-up does; −1: something else
};

/// A disturbance of a set-up between two sights.
struct BelievedBump {
    int suspect = -1;  ///< into the diagnosis
    double probability = 0.0;
    Eigen::Vector4d amount = Eigen::Vector4d::Zero();  ///< east, north, turn, height
    Eigen::Vector4d sd = Eigen::Vector4d::Zero();
};

struct BelievedSetup {
    /// Some sight after the set-up was finished tells whether it stood still.
    bool is_checked = false;
    double holds = 1.0;               ///< it stood still until the last sight that tells
    double holds_on = 1.0;            ///< and until the last sight of all
    std::vector<BelievedBump> bumps;  ///< most probable first
};

/// A sight that took no part, by set-up and number in its sights, and why.
using AsideReasons = std::map<std::pair<int, int>, std::string>;

struct JobBelief {
    /// Shared with other acts: the next three are its parts.
    explicit JobBelief(std::shared_ptr<const SolvedJob> of)
        : solved(std::move(of)),
          input(solved->input),
          network(solved->network),
          diagnosis(solved->diagnosis) {}

    std::shared_ptr<const SolvedJob> solved;
    const network::NetworkInput& input;
    const network::SiteNetwork& network;
    const network::NetworkDiagnosis& diagnosis;
    AsideReasons aside;
    Levelled levelled;
    std::vector<BelievedPoint> laid;    ///< in the order of the points file
    std::vector<BelievedSetup> setups;  ///< as the network's
    std::vector<int> laid_of_point;     ///< per point of the file, into laid; −1
    double reading_probability = 1.0;   ///< of the reading of lists and names that all is from
    std::vector<JobCause> causes;       ///< a gross one first, then likeliest first
    std::vector<std::vector<int>> cause_setups;  ///< as causes: the set-ups that one touches

    /// The causes that touch a set-up; a gross one touches all.
    std::vector<JobCause> causes_at(int setup) const;
    /// For work_of: what is believed of the state of a set-up by name. Null when it is not known.
    StateBeliefs states_of(const std::string& station) const;

    /// What must be put right first; null.
    const JobCause* gross() const;

    const BelievedPoint* of_point(std::size_t point) const;
    /// Is a mark of the sheet where it says? Nothing for one that was not sighted.
    std::optional<prove::MarkChance> chance_of(const std::string& mark,
                                               const prove::MarkTolerance& tolerance,
                                               double confidence) const;
    /// Into the network's set-ups; −1.
    int setup_named(const std::string& station) const;
};

/// The word of a set-up: whether it stood still until the last sight that tells. Nothing tells: it
/// is not judged, and counts as proven.
station::Word word_of(const BelievedSetup& setup, double confidence);

/// An act's word is the worst among its points and the set-ups that laid them. Takes the set-ups
/// into a verdict about points; numbers below 0 are passed over.
void heed_setups(const JobBelief& belief, const std::vector<int>& setups,
                 const measure::LengthStyle& style, double confidence, Verdict& verdict);

/// While a gross cause stands, an act fails for it and says nothing else. False: none stands.
bool heed_gross(const JobBelief& belief, Verdict& verdict);

/// May one lay on from here? Not more surely than the set-up stands: lowers the verdict of a report
/// to its word, and says what all that is known of the job says about it.
void heed_own_setup(const JobBelief& belief, const measure::LengthStyle& style, double confidence,
                    StationReport& report);

/// "The tripod of S1 was disturbed between 10:02 and 11:02 (7.1 mm north-east, turned 61\")": the
/// likeliest disturbance; empty without one.
std::string bump_sentence(const JobBelief& belief, const BelievedSetup& setup,
                          const measure::LengthStyle& style);

/// The same for those who need neither its points nor a grid.
Result<JobBelief> believe_alone(const StationRequest& request, const StationInputs& inputs,
                                measure::LengthStyle style,
                                const std::vector<exchange::Document>* tapes = nullptr,
                                const std::vector<exchange::Document>* levels = nullptr);

/// Refuses as the readers of tapes and levels and adjust_network do; target_unknown for a lay sight
/// to a point that the points file does not hold (where there is one).
Result<JobBelief> believe(const BeliefQuestion& question);

}  // namespace layproof::acts::internal

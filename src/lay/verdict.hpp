#pragma once
// Is a laid point, or a figure between points, within its tolerance?
//
// Rule: conformance probability of JCGM 106:2012, over all that is believed of the set-ups
// (mixture.hpp): p = Σ weight · P(within | component). Proven when p reaches the required
// confidence, fails when 1 − p does (what was left out counts for neither), else in doubt
// (station::judge). Nothing but the sights is assumed about where the point is; a crew that works
// well is right more often than p says.
//
//   figure   P(−minus ≤ q ≤ plus), one side or both
//   point    P(plan deviation within its radius and height within −minus … plus)

#include <Eigen/Core>
#include <optional>
#include <span>
#include <string>

#include "frame/mark.hpp"
#include "lay/as_laid.hpp"
#include "lay/mixture.hpp"
#include "lay/tolerances.hpp"
#include "station/lay_prediction.hpp"

namespace layproof::lay {

inline constexpr double kUsualConfidence = 0.95;
inline constexpr std::string_view kRuleWords =
    "probability of being within tolerance (JCGM 106), over all that may be wrong with the set-up";

/// P(−minus ≤ deviation ≤ plus) of a normal deviation. No limit at all gives 1; input that is not
/// finite 0; always in [0, 1].
double probability_within(double mean_m, double sd_m, const Limits& limits);

/// The measured deviations that would be proven with this standard deviation: from … to. Nothing
/// when none would. JCGM 106, 8.3: the acceptance interval; for ± T and a standard deviation well
/// below T it is ± (T − z·sd), z = 1.645 at 95 %. Its ends are good to 0.1 µm, inwards.
struct AcceptanceInterval {
    std::optional<double> from_m;  ///< nothing: no end on that side
    std::optional<double> to_m;
};
std::optional<AcceptanceInterval> acceptance_interval(double sd_m, const Limits& limits,
                                                      double confidence);

/// One figure judged: a distance, an offset, a height.
struct FigureVerdict {
    double deviation_m = 0.0;  ///< as sighted, from the reported poses
    double expected_m = 0.0;   ///< mean over all beliefs
    double sd_m = 0.0;         ///< over all beliefs
    Limits limits;
    double probability = 0.0;
    double confidence = kUsualConfidence;
    station::Word word = station::Word::in_doubt;
    std::optional<AcceptanceInterval> accepted;  ///< at this sd
    bool is_widened = false;                     ///< a link between set-ups was not known
};
/// The quantity's first figure is its deviation. In doubt with probability 0 when it is not finite.
FigureVerdict judge_figure(const Quantity& deviation, const SetupSet& setups, const Limits& limits,
                           double confidence = kUsualConfidence);

/// One point judged. Order east, north, height.
struct PointVerdict {
    Eigen::Vector3d deviation_m = Eigen::Vector3d::Zero();  ///< as sighted minus design
    Eigen::Vector3d expected_m = Eigen::Vector3d::Zero();   ///< mean over all beliefs
    Eigen::Matrix3d covariance = Eigen::Matrix3d::Zero();   ///< of the deviation, over all beliefs
    bool has_height = false;                                ///< design, station and sight have one
    double along_m = 0.0;    ///< plan deviation along the sight, outwards
    double across_m = 0.0;   ///< to the right as the instrument looks
    double sd_plan_m = 0.0;  ///< in the weakest direction
    std::optional<double> sd_height_m;
    PointTolerance tolerance;
    bool is_judged = false;       ///< there is a limit that could be looked at
    bool height_is_open = false;  ///< a height limit stands, but no height was measured
    double probability = 0.0;     ///< of all limits together
    std::optional<double> probability_plan, probability_height;  ///< each limit alone
    double confidence = kUsualConfidence;
    station::Word word = station::Word::in_doubt;
    /// How far off in plan it could look, in the direction of its deviation, and still be proven.
    std::optional<double> accepted_plan_m;
    std::optional<AcceptanceInterval> accepted_height;
    double station_share = 0.0;  ///< of the plan variance that comes from the set-up, 0 … 1
    bool is_widened = false;
};

/// A place that hangs on no set-up, against its limits. Order east, north, height.
struct PlaceChance {
    Eigen::Vector3d deviation_m = Eigen::Vector3d::Zero();  ///< from the design place
    Eigen::Matrix3d covariance = Eigen::Matrix3d::Zero();
    double probability = 0.0;  ///< of all limits together
    std::optional<double> plan, height;
};

/// What judge_point says of a place without shares, without what would be accepted: for those who
/// weigh many places of one point. Zero probability when the place is not finite or there is no
/// limit.
PlaceChance chance_of(const LaidPlace& place, const frame::DesignPoint& design,
                      const PointTolerance& tolerance);

/// Without any limit the word is in doubt and is_judged false. With a height limit but no height
/// measured a point that would be proven stays in doubt.
PointVerdict judge_point(const LaidPlace& laid, const frame::DesignPoint& design,
                         const PointTolerance& tolerance, const SetupSet& setups,
                         double confidence = kUsualConfidence);

}  // namespace layproof::lay

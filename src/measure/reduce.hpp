#pragma once
// From what was booked to what was measured: face, air, prism constant, and the covariance; and two
// faces of one target put together. Repeats of one target: repeats.hpp.

#include <optional>

#include "measure/instrument.hpp"
#include "measure/repeats.hpp"
#include "measure/sight.hpp"
#include "measure/sight_model.hpp"

namespace layproof::measure {

/// A plumb error is a length: where no distance was measured, its angle needs one. A caller that
/// knows the target's place should give the distance from there.
inline constexpr double kAssumedDistance_m = 30.0;

/// One sight, reduced:
///   face      two (told by the zenith angle, else as booked) is turned into one; unknown counts
///             as one
///   distance  read · (1 + ppm·1e-6) + prism constant, ppm only when the instrument states its
///             reference air and temperature and pressure are known, the sight's own before the
///             ones given. A horizontal distance with a zenith angle becomes a slope distance;
///             without one it stays horizontal and is treated as level
///   covariance sight_covariance at the reduced distance and zenith angle, `assumed_distance_m`
///             (horizontal without a zenith angle) and 90° standing in for what is not observed
/// A part that is not finite, a distance that is not above 0 before or after reduction, and a
/// length above 1e7 m are left out (readers refuse such input with its place; this is the last
/// net). A target height of that kind leaves nothing: size() == 0. The result holds no NaN for any
/// sight and any finite instrument.
ReducedSight reduce(const Sight& sight, const Instrument& instrument,
                    std::optional<double> temperature_k = std::nullopt,
                    std::optional<double> pressure_hpa = std::nullopt,
                    double assumed_distance_m = kAssumedDistance_m);

/// Two faces of one target, the rod standing once.
struct ReducedPair {
    ReducedSight sight;                     ///< pointings 2, face_balance 0
    std::optional<double> collimation_rad;  ///< c of face.hpp; when both hold a direction
    std::optional<double> index_rad;        ///< i of face.hpp; when both hold a zenith angle
    /// Distance of face two less that of face one; when both hold one.
    std::optional<double> distance_difference_m;
};

/// Means of what both faces hold; what one face alone holds is taken from it. The angle variance is
/// halved when every angle present is in both faces, the distance variance when the distance is;
/// the rod's part stays whole, since both faces see the same lean. Given in either order. An angle
/// present in one face only keeps that face's instrument error, and face_balance is then that
/// face's. Nothing when the sights are not one of each face, when their target heights differ, or
/// when their distances are of different kinds.
std::optional<ReducedPair> reduce_pair(const Sight& face_one, const Sight& face_two,
                                       const Instrument& instrument,
                                       std::optional<double> temperature_k = std::nullopt,
                                       std::optional<double> pressure_hpa = std::nullopt,
                                       double assumed_distance_m = kAssumedDistance_m);

}  // namespace layproof::measure

#pragma once
// The two faces of a circle: which face a reading is, one face turned into the other, and what a
// reading in both faces of one target says about the instrument.
//
// Model: face two reads a direction 180° away and the zenith angle from the other side of the
// vertical circle (z₂ = 360° − z₁). What is left is twice the instrument's error:
//   collimation  c = (R₂ − R₁ − 180°)/2, folded into ±90°
//   index        i = (360° − z₁ − z₂)/2
//   means        direction R₁ + c, zenith z₁ + i
// (standard geometry of the two faces, e.g. Ghilani and Wolf, Elementary Surveying, on direct and
// reverse readings, cited from memory). Both are corrections: they are ADDED to a face-one reading;
// a face-two reading turned into face one needs them subtracted.
//
// c is what shows in the direction. The line of sight's own error is c·sin z for sights near the
// horizon; a tilted trunnion axis adds its part · cot z, so only flat sights tell the line of sight
// alone. The mean of both faces is free of all three. It is not free of a vertical axis out of
// plumb, of centring, or of a leaning rod.

#include <optional>
#include <span>

#include "measure/sight.hpp"

namespace layproof::measure {

/// Face one when the zenith angle, wrapped to [0°, 360°), is at most 180°; face two above; unknown
/// when not finite.
Face face_of_zenith(double zenith_rad);

/// The face of a booked sight. The zenith angle decides where there is one (a file may hold angles
/// already turned into face one); else the face as booked.
Face face_of(const Sight& sight);

struct CircleReading {
    double direction_rad = 0.0;
    double zenith_rad = 0.0;
};

/// A reading of either face, told by its zenith angle, as face one: direction in [0, 2π), zenith in
/// [0, π]. Finite input only.
CircleReading to_face_one(const CircleReading& reading);

struct FaceDirection {
    double direction_rad = 0.0;    ///< mean as face one, [0, 2π)
    double collimation_rad = 0.0;  ///< c, in (−π/2, π/2]
};

struct FaceZenith {
    double zenith_rad = 0.0;  ///< mean as face one, [0, π] for |i| that make sense
    double index_rad = 0.0;   ///< i, in (−π/2, π/2]
};

/// One target's directions as read in face one and face two. Finite input only.
FaceDirection mean_of_faces_direction(double face_one_rad, double face_two_rad);
/// One target's zenith angles as read in face one (0 to 180°) and face two (180° to 360°).
FaceZenith mean_of_faces_zenith(double face_one_rad, double face_two_rad);

struct TwoFace {
    FaceDirection direction;
    FaceZenith zenith;
};

TwoFace reduce_two_face(const CircleReading& face_one, const CircleReading& face_two);

/// Collimation and index error over the pairs of a session.
struct FaceSession {
    int pairs = 0;
    double collimation_rad = 0.0;  ///< mean; 0 without pairs
    double index_rad = 0.0;
    /// Standard deviation of one pair's value, divisor n − 1. Nothing below two pairs.
    std::optional<double> collimation_sd_rad;
    std::optional<double> index_sd_rad;
};

FaceSession summarise_faces(std::span<const TwoFace> pairs);

}  // namespace layproof::measure

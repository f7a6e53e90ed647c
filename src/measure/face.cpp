#include "measure/face.hpp"

#include <cmath>
#include <vector>

#include "measure/angle.hpp"
#include "measure/spread.hpp"

namespace layproof::measure {

Face face_of_zenith(double zenith_rad) {
    if (!std::isfinite(zenith_rad)) return Face::unknown;
    return wrap_0_2pi(zenith_rad) > kPi ? Face::two : Face::one;
}

Face face_of(const Sight& sight) {
    if (sight.zenith_rad && std::isfinite(*sight.zenith_rad)) {
        return face_of_zenith(*sight.zenith_rad);
    }
    return sight.face;
}

CircleReading to_face_one(const CircleReading& reading) {
    const double zenith_rad = wrap_0_2pi(reading.zenith_rad);
    if (zenith_rad > kPi) {
        return {wrap_0_2pi(reading.direction_rad + kPi), kTwoPi - zenith_rad};
    }
    return {wrap_0_2pi(reading.direction_rad), zenith_rad};
}

FaceDirection mean_of_faces_direction(double face_one_rad, double face_two_rad) {
    const double collimation_rad = wrap_pi(face_two_rad - face_one_rad - kPi) / 2.0;
    return {wrap_0_2pi(face_one_rad + collimation_rad), collimation_rad};
}

FaceZenith mean_of_faces_zenith(double face_one_rad, double face_two_rad) {
    const double index_rad = wrap_pi(kTwoPi - face_one_rad - face_two_rad) / 2.0;
    return {face_one_rad + index_rad, index_rad};
}

TwoFace reduce_two_face(const CircleReading& face_one, const CircleReading& face_two) {
    return {mean_of_faces_direction(face_one.direction_rad, face_two.direction_rad),
            mean_of_faces_zenith(face_one.zenith_rad, face_two.zenith_rad)};
}

FaceSession summarise_faces(std::span<const TwoFace> pairs) {
    std::vector<double> collimations;
    std::vector<double> indices;
    for (const auto& pair : pairs) {
        collimations.push_back(pair.direction.collimation_rad);
        indices.push_back(pair.zenith.index_rad);
    }
    const Spread collimation = spread_of(collimations);
    const Spread index = spread_of(indices);
    return {static_cast<int>(pairs.size()), collimation.mean, index.mean, collimation.sd, index.sd};
}

}  // namespace layproof::measure

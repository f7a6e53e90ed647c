#pragma once
// Simulated set-ups: what an instrument at a known place would read. Written from the geometry, not
// from the code under test: the rod is a stick that leans exactly, the errors are drawn one by one.

#include <Eigen/Core>
#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <numbers>
#include <string>
#include <utility>
#include <vector>

#include "base/random.hpp"
#include "station/prepared.hpp"

namespace layproof::testing {

/// Where the instrument really is and what stays wrong on every sight.
struct TruePose {
    Eigen::Vector3d axes_m = Eigen::Vector3d::Zero();
    double orientation_rad = 0.0;
    double collimation_rad = 0.0;  ///< correction of face one (face two: its negative)
    double index_rad = 0.0;
    double prism_m = 0.0;  ///< distances read too long by this
    double scale = 0.0;    ///< distances read too long by this share
    double tilt_east_rad = 0.0;
    double tilt_north_rad = 0.0;
};

inline double modulo_turn(double angle_rad) {
    constexpr double kTurn = 2.0 * std::numbers::pi;
    const double rest = std::fmod(angle_rad, kTurn);
    return rest < 0.0 ? rest + kTurn : rest;
}

/// Top of a rod of this length that stands at `tip` and leans by two small angles.
inline Eigen::Vector3d rod_top(const Eigen::Vector3d& tip, double length_m, double lean_east_rad,
                               double lean_north_rad) {
    const double lean = std::hypot(lean_east_rad, lean_north_rad);
    if (lean == 0.0) return tip + Eigen::Vector3d(0.0, 0.0, length_m);
    const double out = length_m * std::sin(lean) / lean;
    return tip +
           Eigen::Vector3d(out * lean_east_rad, out * lean_north_rad, length_m * std::cos(lean));
}

struct Reading {
    double direction_rad = 0.0;
    double zenith_rad = 0.0;
    double distance_m = 0.0;
};

/// What the instrument reads, without its own noise, in face one.
/// Grid distances are `scale_factor` times those on the ground.
inline Reading read_exactly(const TruePose& pose, const Eigen::Vector3d& prism, double refraction_k,
                            double scale_factor = 1.0) {
    constexpr double kEarth_m = 6371000.0;
    const double east = prism.x() - pose.axes_m.x();
    const double north = prism.y() - pose.axes_m.y();
    const double ground = std::sqrt(east * east + north * north) / scale_factor;
    const double up =
        prism.z() - pose.axes_m.z() - (1.0 - refraction_k) * ground * ground / (2.0 * kEarth_m);
    const double azimuth = std::atan2(east, north);
    // A vertical axis leaning by a small vector t turns the whole frame: the target's vector in the
    // instrument's frame is rotated by −t (exact rotation about the axis across the lean).
    Eigen::Vector3d v(ground * std::sin(azimuth), ground * std::cos(azimuth), up);
    const double lean = std::hypot(pose.tilt_east_rad, pose.tilt_north_rad);
    if (lean > 0.0) {
        const Eigen::Vector3d h(pose.tilt_east_rad / lean, pose.tilt_north_rad / lean, 0.0);
        const Eigen::Vector3d axis(-h.y(), h.x(), 0.0);  // turns up towards h
        const double c = std::cos(lean);
        const double s = std::sin(lean);
        // Rotation by −lean about the axis (Rodrigues).
        v = v * c - axis.cross(v) * s + axis * axis.dot(v) * (1.0 - c);
    }
    Reading out;
    out.direction_rad = modulo_turn(std::atan2(v.x(), v.y()) - pose.orientation_rad);
    out.zenith_rad = std::atan2(std::hypot(v.x(), v.y()), v.z());
    out.distance_m = v.norm() * (1.0 + pose.scale) + pose.prism_m;
    return out;
}

/// The errors of one standing of the rod.
struct RodErrors {
    double lean_east_rad = 0.0;
    double lean_north_rad = 0.0;
    double centring_east_m = 0.0;
    double centring_north_m = 0.0;
    double length_m = 0.0;  ///< true length less booked length
    double refraction_k = 0.0;
};

inline RodErrors draw_rod(Random& random, const measure::Instrument& instrument) {
    RodErrors out;
    out.lean_east_rad = instrument.bubble_rad * random.normal();
    out.lean_north_rad = instrument.bubble_rad * random.normal();
    out.centring_east_m = instrument.centring_m * random.normal();
    out.centring_north_m = instrument.centring_m * random.normal();
    out.length_m = instrument.height_tape_m * random.normal();
    out.refraction_k = instrument.refraction_k + instrument.refraction_k_sd * random.normal();
    return out;
}

/// No errors at all: exact readings.
inline RodErrors perfect_rod(const measure::Instrument& instrument) {
    RodErrors out;
    out.refraction_k = instrument.refraction_k;
    return out;
}

struct SightPlan {
    std::string target;
    Eigen::Vector3d tip = Eigen::Vector3d::Zero();  ///< true place of the mark
    double rod_m = 1.5;                             ///< as booked
    bool two_faces = false;
    bool horizontal_distance = false;  ///< booked without zenith angle
    bool has_direction = true;
    bool has_zenith = true;
    bool has_distance = true;
};

/// One pointing (or two, face one and face two). `random` null: no noise.
inline void sight_to(Random* random, const TruePose& pose, const measure::Instrument& instrument,
                     const SightPlan& plan, double scale_factor,
                     std::vector<measure::Sight>& booked) {
    const RodErrors rod =
        random != nullptr ? draw_rod(*random, instrument) : perfect_rod(instrument);
    const Eigen::Vector3d tip =
        plan.tip + Eigen::Vector3d(rod.centring_east_m, rod.centring_north_m, 0.0);
    const Eigen::Vector3d prism =
        rod_top(tip, plan.rod_m + rod.length_m, rod.lean_east_rad, rod.lean_north_rad);
    const Reading exact = read_exactly(pose, prism, rod.refraction_k, scale_factor);
    const auto noise = [&](double sd) { return random != nullptr ? sd * random->normal() : 0.0; };
    const double distance_sd =
        std::hypot(instrument.distance_sd_m, instrument.distance_ppm * 1e-6 * exact.distance_m);
    for (int face = 0; face < (plan.two_faces ? 2 : 1); ++face) {
        const double direction = exact.direction_rad + noise(instrument.angle_sd_rad);
        const double zenith = exact.zenith_rad + noise(instrument.angle_sd_rad);
        measure::Sight sight;
        sight.station = "S";
        sight.target = plan.target;
        sight.target_height_m = plan.rod_m;
        sight.face = face == 0 ? measure::Face::one : measure::Face::two;
        // Face two looks from the other side; instrument errors change their sign.
        const double read_direction = face == 0
                                          ? direction - pose.collimation_rad
                                          : direction + std::numbers::pi + pose.collimation_rad;
        const double read_zenith =
            face == 0 ? zenith - pose.index_rad : 2.0 * std::numbers::pi - zenith - pose.index_rad;
        const double distance = exact.distance_m + noise(distance_sd);
        if (plan.has_direction) sight.direction_rad = modulo_turn(read_direction);
        if (plan.has_distance && plan.horizontal_distance)
            sight.horizontal_distance_m = distance * std::sin(exact.zenith_rad);
        if (plan.has_distance && !plan.horizontal_distance) sight.slope_distance_m = distance;
        if (plan.has_zenith && !plan.horizontal_distance) sight.zenith_rad = read_zenith;
        booked.push_back(std::move(sight));
    }
}

struct SiteOptions {
    int marks = 5;
    int rounds = 1;
    bool two_faces = false;
    bool noise = true;
    double rod_low_m = 0.1;
    double rod_high_m = 2.0;
    double reach_m = 60.0;  ///< marks lie within this distance of the middle
    double mark_sd_m = 0.0015;
    double scale_factor = 1.0;
    station::SetupKind kind = station::SetupKind::free;
    measure::Instrument instrument;
    /// Per mark, over and over: what is booked. Empty: everything.
    std::vector<SightPlan> parts;
};

struct SimulatedSite {
    station::StationInput input;
    TruePose pose;
    std::vector<Eigen::Vector3d> marks_m;  ///< true places
};

/// A random site around (512, 248, 31): marks on all sides, the station somewhere among them.
inline SimulatedSite simulate_site(Random& random, const SiteOptions& options) {
    SimulatedSite out;
    const Eigen::Vector3d middle(512.0, 248.0, 31.0);
    out.input.setup.station = "S";
    out.input.setup.kind = options.kind;
    out.input.instrument = options.instrument;
    out.input.scale_factor = options.scale_factor;
    const bool occupied = options.kind != station::SetupKind::free;
    Random* noise = options.noise ? &random : nullptr;
    const auto draw = [&](double sd) { return options.noise ? sd * random.normal() : 0.0; };

    const double first = random.uniform(0.0, 2.0 * std::numbers::pi);
    for (int i = 0; i < options.marks + (occupied ? 1 : 0); ++i) {
        const double azimuth = first + 2.0 * std::numbers::pi * (i + random.uniform(-0.4, 0.4)) /
                                           std::max(options.marks, 1);
        const double reach = options.reach_m * random.uniform(0.35, 1.0);
        const bool under = occupied && i == options.marks;
        const Eigen::Vector3d given =
            under ? Eigen::Vector3d(middle +
                                    Eigen::Vector3d(random.uniform(-0.2, 0.2) * options.reach_m,
                                                    random.uniform(-0.2, 0.2) * options.reach_m,
                                                    random.uniform(-1.0, 1.0)))
                  : Eigen::Vector3d(middle + Eigen::Vector3d(reach * std::sin(azimuth),
                                                             reach * std::cos(azimuth),
                                                             random.uniform(-0.08, 0.08) * reach));
        frame::Mark mark;
        mark.name = under ? "U" : "M" + std::to_string(i + 1);
        mark.east_m = given.x();
        mark.north_m = given.y();
        mark.height_m = given.z();
        mark.sd_east_m = mark.sd_north_m = mark.sd_height_m = options.mark_sd_m;
        out.input.marks.push_back(mark);
        out.marks_m.emplace_back(given + Eigen::Vector3d(draw(options.mark_sd_m),
                                                         draw(options.mark_sd_m),
                                                         draw(options.mark_sd_m)));
    }
    out.pose.orientation_rad = random.uniform(0.0, 2.0 * std::numbers::pi);
    if (occupied) {
        const double height = random.uniform(1.4, 1.8);
        out.input.setup.mark = "U";
        out.input.setup.instrument_height_m = height + draw(options.instrument.height_tape_m);
        out.pose.axes_m = out.marks_m.back() +
                          Eigen::Vector3d(draw(options.instrument.instrument_centring_m),
                                          draw(options.instrument.instrument_centring_m), height);
    } else {
        out.pose.axes_m = middle + Eigen::Vector3d(random.uniform(-0.25, 0.25) * options.reach_m,
                                                   random.uniform(-0.25, 0.25) * options.reach_m,
                                                   random.uniform(0.5, 2.5));
    }
    if (options.two_faces) {
        out.pose.collimation_rad = draw(5e-5);
        out.pose.index_rad = draw(5e-5);
    }
    for (int round = 0; round < options.rounds; ++round) {
        for (int i = 0; i < options.marks; ++i) {
            const auto at = static_cast<std::size_t>(i);
            SightPlan plan =
                options.parts.empty() ? SightPlan{} : options.parts[at % options.parts.size()];
            plan.target = out.input.marks[at].name;
            plan.tip = out.marks_m[at];
            plan.rod_m = random.uniform(options.rod_low_m, options.rod_high_m);
            plan.two_faces = options.two_faces;
            sight_to(noise, out.pose, options.instrument, plan, options.scale_factor,
                     out.input.sights);
        }
    }
    return out;
}

}  // namespace layproof::testing

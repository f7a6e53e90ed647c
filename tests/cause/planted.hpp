#pragma once
// Set-ups without noise in which one or two things are wrong by a stated amount, and their
// diagnosis. Read with the exact forward model of site_simulator.hpp.

#include <gtest/gtest.h>

#include <Eigen/Eigenvalues>
#include <string>
#include <utility>
#include <vector>

#include "cause/diagnose.hpp"
#include "cause/shipped.hpp"
#include "measure/angle.hpp"
#include "station/solution.hpp"
#include "support/site_simulator.hpp"

namespace layproof::cause::testing {

using layproof::testing::shipped_table;

/// One thing that is wrong. `amount`: metres or radians or a ratio, as many as the cause has.
struct Plant {
    Cause cause = Cause::nothing_wrong;
    int mark = -1;
    int sight = -1;  ///< or the first after a disturbance
    Eigen::Vector3d amount = Eigen::Vector3d::Zero();
    int other = -1;  ///< the other mark of exchanged names
};

struct Site {
    std::vector<Eigen::Vector3d> marks;
    Eigen::Vector3d at{0.0, 0.0, 1.6};
    double orientation_rad = 0.7;
    int rounds = 2;
    double rod_m = 1.5;
    bool occupied = false;              ///< over a mark "U" with its instrument height booked
    Eigen::Vector3d moved_to{0, 0, 0};  ///< the whole site, for coordinates of other sizes
    std::vector<std::string> names;     ///< H1, H2, … where empty
};

/// Marks all around at 12 to 95 m, one of them steep.
inline Site around() {
    Site site;
    site.marks = {{5, 40, 0.3},  {35, -20, -0.8}, {-30, -25, 0.5},
                  {-12, 8, 4.0}, {60, 70, -1.2},  {-80, 45, 2.0}};
    return site;
}
/// Marks in front only.
inline Site one_sided() {
    Site site;
    site.marks = {{-30, 40, 0.2}, {-5, 62, -0.5}, {18, 38, 0.4}, {35, 75, 1.0}, {8, 22, 3.0}};
    return site;
}
/// Three marks on a small site.
inline Site small() {
    Site site;
    site.marks = {{-7, 6, 0.1}, {8, 5, -0.2}, {1, -9, 0.3}};
    return site;
}

inline measure::Instrument planted_instrument() {
    measure::Instrument out;
    out.angle_sd_rad = 2.0 * measure::kRadPerArcsec;
    out.distance_sd_m = 0.0015;
    out.distance_ppm = 2.0;
    out.bubble_rad = 2.0 * 60.0 * measure::kRadPerArcsec;
    out.centring_m = 0.0007;
    out.stated = true;
    return out;
}

inline station::StationInput book(const Site& site, const std::vector<Plant>& plants,
                                  Random* noise = nullptr) {
    using layproof::testing::RodErrors;
    station::StationInput out;
    out.setup.station = "S";
    out.instrument = planted_instrument();
    const auto name = [&](std::size_t m) {
        return m < site.names.size() ? site.names[m] : "H" + std::to_string(m + 1);
    };
    std::vector<Eigen::Vector3d> true_place;
    for (std::size_t m = 0; m < site.marks.size(); ++m) {
        const Eigen::Vector3d place = site.marks[m] + site.moved_to;
        frame::Mark mark;
        mark.name = name(m);
        mark.east_m = place.x();
        mark.north_m = place.y();
        mark.height_m = place.z();
        out.marks.push_back(mark);
        true_place.push_back(place);
    }
    layproof::testing::TruePose pose;
    pose.axes_m = site.at + site.moved_to;
    pose.orientation_rad = site.orientation_rad;
    if (site.occupied) {
        frame::Mark under;
        under.name = "U";
        under.east_m = pose.axes_m.x();
        under.north_m = pose.axes_m.y();
        under.height_m = pose.axes_m.z() - 1.6;
        out.marks.push_back(under);
        out.setup.kind = station::SetupKind::occupied;
        out.setup.mark = "U";
        out.setup.instrument_height_m = 1.6;
    }
    for (const Plant& plant : plants) {
        if (plant.cause == Cause::mark_moved)
            true_place[static_cast<std::size_t>(plant.mark)].head<2>() += plant.amount.head<2>();
        if (plant.cause == Cause::mark_height_changed)
            true_place[static_cast<std::size_t>(plant.mark)].z() += plant.amount[0];
        if (plant.cause == Cause::prism_constant_wrong) pose.prism_m = plant.amount[0];
        if (plant.cause == Cause::distance_scale_wrong) pose.scale = plant.amount[0];
        if (plant.cause == Cause::out_of_level) {
            pose.tilt_east_rad = plant.amount[0];
            pose.tilt_north_rad = plant.amount[1];
        }
    }
    const int marks = static_cast<int>(site.marks.size());
    for (int s = 0; s < marks * site.rounds; ++s) {
        const int m = s % marks;
        int booked = m;
        double rod = site.rod_m;
        const RodErrors errors = noise != nullptr
                                     ? layproof::testing::draw_rod(*noise, out.instrument)
                                     : layproof::testing::perfect_rod(out.instrument);
        Eigen::Vector3d prism = true_place[static_cast<std::size_t>(m)];
        Eigen::Vector3d gross = Eigen::Vector3d::Zero();
        for (const Plant& plant : plants) {
            const bool here = plant.sight == s;
            switch (plant.cause) {
                case Cause::rod_not_plumb:
                    if (here) prism.head<2>() += plant.amount.head<2>();
                    break;
                case Cause::rod_height_wrong:
                    if (here) rod += plant.amount[0];
                    break;
                case Cause::rod_height_wrong_on_all:
                    rod += plant.amount[0];
                    break;
                case Cause::names_swapped:
                    if (booked == plant.mark) {
                        booked = plant.other;
                    } else if (booked == plant.other) {
                        booked = plant.mark;
                    }
                    break;
                case Cause::wrong_name:  // the sight was to `other`, booked as planned
                    if (here) prism = true_place[static_cast<std::size_t>(plant.other)];
                    break;
                case Cause::tripod_disturbed:
                    if (here) {
                        pose.axes_m.head<2>() += plant.amount.head<2>();
                        pose.orientation_rad += plant.amount[2];
                    }
                    break;
                case Cause::vertical_index_wrong:
                    gross[1] += plant.amount[0];
                    break;
                case Cause::gross_direction:
                    if (here) gross[0] += plant.amount[0];
                    break;
                case Cause::gross_zenith:
                    if (here) gross[1] += plant.amount[0];
                    break;
                case Cause::gross_distance:
                    if (here) gross[2] += plant.amount[0];
                    break;
                default:
                    break;
            }
        }
        prism += Eigen::Vector3d(errors.centring_east_m, errors.centring_north_m, 0.0);
        prism = layproof::testing::rod_top(prism, rod + errors.length_m, errors.lean_east_rad,
                                           errors.lean_north_rad);
        const auto reading =
            layproof::testing::read_exactly(pose, prism, out.instrument.refraction_k);
        const auto random = [&](double sd) {
            return noise != nullptr ? sd * noise->normal() : 0.0;
        };
        measure::Sight sight;
        sight.station = "S";
        sight.target = name(static_cast<std::size_t>(booked));
        sight.target_height_m = site.rod_m;
        sight.direction_rad = layproof::testing::modulo_turn(reading.direction_rad + gross[0] +
                                                             random(out.instrument.angle_sd_rad));
        sight.zenith_rad = reading.zenith_rad + gross[1] + random(out.instrument.angle_sd_rad);
        sight.slope_distance_m =
            reading.distance_m + gross[2] + random(out.instrument.distance_sd_m);
        out.sights.push_back(sight);
    }
    return out;
}

struct Answer {
    station::Prepared setup;
    station::Solution solution;
    Diagnosis diagnosis;
    const Entry& top() const { return diagnosis.entries.front(); }
};

inline Answer answer(const station::StationInput& input, const CauseTable& table = shipped_table(),
                     const DiagnoseOptions& options = {}) {
    Answer out;
    const auto setup = station::prepare(input);
    EXPECT_TRUE(setup.ok()) << setup.refusal().to_text();
    const auto solved = station::solve_station(*setup);
    EXPECT_TRUE(solved.ok()) << solved.refusal().to_text();
    out.setup = *setup;
    out.solution = solved->best;
    out.diagnosis = diagnose(out.setup, out.solution, table, {}, options);
    return out;
}

inline std::string words(const Entry& entry) {
    std::string out = entry.is_pair ? "pair" : "";
    for (const Explanation& e : entry.members) {
        out += (out.empty() ? "" : " | ") + std::string(to_word(e.cause));
        for (const auto& s : e.subjects) out += " " + s;
    }
    return out + " " + std::to_string(entry.probability);
}
inline std::string words(const Diagnosis& d) {
    std::string out;
    for (const Entry& entry : d.entries) out += words(entry) + "\n";
    return out;
}

/// The member of the top entry with this cause and subjects, or nothing.
inline const Explanation* named(const Diagnosis& d, Cause cause,
                                const std::vector<std::string>& subjects) {
    for (const Explanation& e : d.entries.front().members)
        if (e.cause == cause && e.subjects == subjects) return &e;
    return nullptr;
}

/// What every diagnosis must be, whatever is wrong.
inline void expect_sound(const Diagnosis& d) {
    double sum = 0.0;
    bool has_nothing = false;
    double last = 2.0;
    for (const Entry& entry : d.entries) {
        EXPECT_GE(entry.probability, 0.0);
        EXPECT_LE(entry.probability, last + 1e-12);
        last = entry.probability;
        sum += entry.probability;
        ASSERT_FALSE(entry.members.empty());
        EXPECT_LE(entry.members.size(), 3U);
        double members = 0.0;
        for (const Explanation& e : entry.members) {
            members += e.probability;
            has_nothing = has_nothing || (!entry.is_pair && e.cause == Cause::nothing_wrong);
            EXPECT_TRUE(std::isfinite(e.log_evidence));
            EXPECT_TRUE(e.pose_change.allFinite());
            for (const auto& v :
                 {e.estimate.east_m, e.estimate.north_m, e.estimate.height_m, e.estimate.length_m,
                  e.estimate.ratio, e.estimate.angle_rad, e.estimate.sd_m, e.estimate.sd_angle_rad})
                if (v) {
                    EXPECT_TRUE(std::isfinite(*v)) << to_word(e.cause);
                }
        }
        EXPECT_NEAR(members, entry.is_pair ? 2.0 * entry.probability : entry.probability, 1e-9);
    }
    EXPECT_NEAR(sum, 1.0, 1e-9);
    EXPECT_TRUE(has_nothing);
    double weights = 0.0;
    ASSERT_FALSE(d.beliefs.empty());
    for (const station::Belief& b : d.beliefs) {
        weights += b.weight;
        EXPECT_GE(b.weight, 0.0);
        EXPECT_TRUE(b.mean.allFinite());
        ASSERT_TRUE(b.covariance.allFinite());
        // Scaled: metres, radians and ratios differ by orders of magnitude.
        const station::State scale =
            b.covariance.diagonal().cwiseMax(1e-24).cwiseSqrt().cwiseInverse();
        const station::StateCovariance scaled =
            scale.asDiagonal() * b.covariance * scale.asDiagonal();
        EXPECT_LT((scaled - scaled.transpose()).cwiseAbs().maxCoeff(), 1e-6);
        const Eigen::SelfAdjointEigenSolver<station::StateCovariance> eigen(scaled);
        EXPECT_GT(eigen.eigenvalues().minCoeff(), -1e-6);
    }
    EXPECT_NEAR(weights, 1.0, 1e-9);
    EXPECT_TRUE(d.best_state.allFinite());
    EXPECT_GE(d.pairs_left_out, 0.0);
}

}  // namespace layproof::cause::testing

#pragma once
// Invented jobs with one trap planted: true marks, lists written from them, tapes, levels and
// sights by a forward model of its own. The same seed with `noise` 0 gives the same job without
// measuring error.

#include <algorithm>
#include <cmath>
#include <string>
#include <utility>
#include <vector>

#include "base/random.hpp"
#include "measure/angle.hpp"
#include "measure/length.hpp"
#include "network/evidence.hpp"
#include "vet/trap.hpp"

namespace layproof::testing {

struct VetJob {
    network::Evidence evidence;
    vet::Trap truth = vet::Trap::nothing_wrong;
    std::vector<std::string> subjects;  ///< marks
    int list = -1;
    double amount = 0.0;  ///< size of what was planted, m, rad or a ratio less 1
    /// Ground less what the first list says, read as it was meant, per mark.
    std::vector<Eigen::Vector3d> off_m;
};

struct VetJobOptions {
    int least_marks = 4;
    int most_marks = 12;
    double noise = 1.0;
};

inline const std::vector<vet::Trap>& planted_traps() {
    using vet::Trap;
    static const std::vector<Trap> kTraps{
        Trap::nothing_wrong,  Trap::mark_off,        Trap::mark_height_off, Trap::entry_wrong,
        Trap::other_revision, Trap::names_exchanged, Trap::duplicate_name,  Trap::one_place,
        Trap::axes_exchanged, Trap::mirrored,        Trap::turned,          Trap::shifted,
        Trap::wrong_unit,     Trap::foot_kind,       Trap::grid_for_ground};
    return kTraps;
}

/// One of them as often as the table has it.
inline vet::Trap draw_trap(Random& random) {
    double total = 0.0;
    for (const vet::Trap t : planted_traps()) total += vet::prior_of(t).frequency;
    double u = random.uniform() * total;
    for (const vet::Trap t : planted_traps()) {
        u -= vet::prior_of(t).frequency;
        if (u < 0.0) return t;
    }
    return vet::Trap::nothing_wrong;
}

inline VetJob draw_vet_job(std::uint64_t seed, vet::Trap truth, const VetJobOptions& options = {}) {
    using Eigen::Vector2d;
    using Eigen::Vector3d;
    using vet::Trap;
    Random random(seed);
    const double noise = options.noise;
    VetJob job;
    job.truth = truth;
    const int n = options.least_marks + random.below(options.most_marks - options.least_marks + 1);
    const double site = 20.0 * std::exp(random.uniform() * std::log(8.0));
    const Vector3d corner(random.uniform(1000.0, 650000.0), random.uniform(1000.0, 650000.0),
                          random.uniform(0.0, 300.0));
    std::vector<Vector3d> meant;
    while (static_cast<int>(meant.size()) < n) {
        const Vector3d p = corner + Vector3d(random.uniform() * site, random.uniform() * site,
                                             random.uniform(-1.0, 1.0));
        if (std::all_of(meant.begin(), meant.end(),
                        [&](const Vector3d& q) { return (p - q).head<2>().norm() > 0.08 * site; }))
            meant.push_back(p);
    }
    std::vector<Vector3d> ground;
    for (const Vector3d& p : meant)
        ground.push_back(p + noise * frame::kDefaultMarkSd_m *
                                 Vector3d(random.normal(), random.normal(), random.normal()));
    const auto name = [](int m) { return "M" + std::to_string(m + 1); };
    const bool second = random.uniform() < 0.6;
    const int lists = second || truth == Trap::other_revision ? 2 : 1;
    const bool sights = random.uniform() < 0.8;
    const bool tapes = !sights || random.uniform() < 0.4;
    const bool levels = random.uniform() < 0.4;
    const int a = random.below(n);
    const int b = (a + 1 + random.below(n - 1)) % n;
    const int list = random.below(lists);
    job.list = list;
    const auto size_of = [&] {
        const auto sizes = vet::prior_of(truth).sizes;
        return sizes[static_cast<std::size_t>(random.below(static_cast<int>(sizes.size())))];
    };
    if (truth == Trap::mark_off) {
        const double size = size_of();
        const Vector2d off(size * random.normal(), size * random.normal());
        ground[static_cast<std::size_t>(a)].head<2>() += off;
        job.amount = off.norm();
        job.subjects = {name(a)};
    } else if (truth == Trap::mark_height_off) {
        job.amount = size_of() * random.normal();
        ground[static_cast<std::size_t>(a)].z() += job.amount;
        job.subjects = {name(a)};
    }
    double ground_scale = 1.0;  // of measured lengths
    double list_scale = 1.0;
    if (truth == Trap::grid_for_ground) {
        job.amount = size_of() * random.normal();
        // All lists are in grid, or one of two is.
        if (lists == 1 || random.uniform() < 0.5) {
            ground_scale = 1.0 + job.amount;
            job.list = -1;
        } else {
            list_scale = 1.0 + job.amount;
        }
    }

    for (int l = 0; l < lists; ++l) {
        network::MarkList out;
        out.name = l == 0 ? "sheet" : "drawing";
        out.is_drawing = l == 1;
        std::vector<Vector3d> written = meant;
        const bool here = l == list;
        if (here && truth == Trap::entry_wrong) {
            const double size = size_of();
            const Vector2d off(size * random.normal(), size * random.normal());
            written[static_cast<std::size_t>(a)].head<2>() += off;
            job.amount = off.norm();
            job.subjects = {name(a)};
        }
        if (here && truth == Trap::other_revision) {
            const double size = size_of();
            const int many = 2 + random.below(std::max(1, n / 2 - 1));
            job.amount = 1e9;
            for (int k = 0; k < many; ++k) {
                const int m = (a + k) % n;
                const Vector3d off(size * random.normal(), size * random.normal(), 0.0);
                written[static_cast<std::size_t>(m)] += off;
                job.amount = std::min(job.amount, off.norm());
                job.subjects.push_back(name(m));
            }
        }
        if (here && truth == Trap::one_place) {
            written[static_cast<std::size_t>(b)] = written[static_cast<std::size_t>(a)];
            job.subjects = {name(a), name(b)};
        }
        for (int m = 0; m < n; ++m) {
            Vector3d& p = written[static_cast<std::size_t>(m)];
            const bool copied = here && truth == Trap::one_place && m == b;
            const Vector3d slip(random.normal(), random.normal(), random.normal());
            if (!copied) p += noise * network::kListRounding_m * slip;
        }
        if (here && truth == Trap::one_place)
            written[static_cast<std::size_t>(b)] = written[static_cast<std::size_t>(a)];
        if (l == 0)
            for (int m = 0; m < n; ++m) {
                const bool other = here && truth == Trap::names_exchanged && (m == a || m == b);
                const int at = other ? (m == a ? b : a) : m;
                job.off_m.push_back(ground[static_cast<std::size_t>(m)] -
                                    written[static_cast<std::size_t>(at)]);
            }
        if (here) {
            const double turn =
                random.uniform(-1.0, 1.0) * measure::kPi * (random.uniform() < 0.5 ? 1.0 : 0.01);
            const Vector2d shift =
                std::exp(random.uniform(std::log(0.05), std::log(1e4))) *
                Vector2d(std::cos(7.0 * random.uniform()), std::sin(7.0 * random.uniform()));
            const double feet =
                random.uniform() < 0.5 ? measure::kMetresPerFoot : 1.0 / measure::kMetresPerFoot;
            for (Vector3d& p : written) {
                Vector2d q = p.head<2>();
                if (truth == Trap::axes_exchanged) q = Vector2d(q.y(), q.x());
                if (truth == Trap::mirrored) q.x() = -q.x();
                if (truth == Trap::turned) {
                    const Vector2d r = q - corner.head<2>();
                    q = corner.head<2>() + shift +
                        Vector2d(std::cos(turn) * r.x() + std::sin(turn) * r.y(),
                                 std::cos(turn) * r.y() - std::sin(turn) * r.x());
                    job.amount = std::abs(turn);
                }
                if (truth == Trap::shifted) {
                    q += shift;
                    job.amount = shift.norm();
                }
                if (truth == Trap::wrong_unit) q *= feet;
                if (truth == Trap::foot_kind) {
                    q *= measure::kMetresPerUsFoot / measure::kMetresPerFoot;
                    job.amount = 2e-6 * q.norm();
                }
                if (truth == Trap::grid_for_ground)
                    q = corner.head<2>() + list_scale * (q - corner.head<2>());
                p.head<2>() = q;
            }
        }
        for (int m = 0; m < n; ++m) {
            frame::Mark mark;
            int at = m;
            if (here && truth == Trap::names_exchanged && (m == a || m == b)) {
                at = m == a ? b : a;
                job.subjects = {name(std::min(a, b)), name(std::max(a, b))};
            }
            mark.name = name(m);
            const Vector3d& p = written[static_cast<std::size_t>(at)];
            mark.east_m = p.x();
            mark.north_m = p.y();
            mark.height_m = p.z();
            out.entries.push_back(mark);
        }
        if (here && truth == Trap::duplicate_name) {
            // A second row under one name: an old place.
            frame::Mark twin = out.entries[static_cast<std::size_t>(a)];
            *twin.east_m += 0.05 + random.uniform();
            out.entries.insert(out.entries.begin() + random.below(n), twin);
            job.subjects = {name(a)};
        }
        job.evidence.lists.push_back(std::move(out));
    }

    const measure::Instrument instrument;
    if (tapes) {
        for (int m = 0; m < n; ++m)
            for (int k = m + 1; k < n; ++k) {
                if (random.uniform() > 5.0 / n) continue;
                const double d =
                    (ground[static_cast<std::size_t>(m)] - ground[static_cast<std::size_t>(k)])
                        .head<2>()
                        .norm();
                network::Tape tape;
                tape.from = name(m);
                tape.to = name(k);
                tape.distance_m = d * ground_scale + noise * tape.sd_m * random.normal();
                job.evidence.tapes.push_back(tape);
            }
    }
    if (levels)
        for (int m = 1; m < n; ++m) {
            network::LevelRise level;
            level.from = name(m - 1);
            level.to = name(m);
            level.rise_m = ground[static_cast<std::size_t>(m)].z() -
                           ground[static_cast<std::size_t>(m - 1)].z() +
                           noise * level.sd_m * random.normal();
            job.evidence.levels.push_back(level);
        }
    const int setups = sights ? 1 + random.below(3) : 0;
    for (int s = 0; s < setups; ++s) {
        station::StationInput input;
        input.setup.station = "S" + std::to_string(s + 1);
        input.instrument = instrument;
        const Vector3d at = corner + Vector3d(random.uniform() * site, random.uniform() * site,
                                              random.uniform(1.4, 1.7));
        const double orientation = random.uniform(0.0, measure::kTwoPi);
        for (int m = 0; m < n; ++m) {
            if (random.uniform() < 0.2) continue;
            const double rod = 1.5;
            Vector3d prism = ground[static_cast<std::size_t>(m)];
            prism.head<2>() += noise *
                               std::hypot(rod * instrument.bubble_rad, instrument.centring_m) *
                               Vector2d(random.normal(), random.normal());
            prism.z() += rod + noise * instrument.height_tape_m * random.normal();
            const Vector3d to = prism - at;
            const double d = to.head<2>().norm();
            if (d < 2.0) continue;
            const double v = to.z() - (1.0 - instrument.refraction_k) * d * d / (2.0 * 6371000.0);
            const double slope = std::hypot(d, v);
            measure::Sight sight;
            sight.station = input.setup.station;
            sight.target = name(m);
            sight.direction_rad =
                measure::wrap_0_2pi(std::atan2(to.x(), to.y()) - orientation +
                                    noise * instrument.angle_sd_rad * random.normal());
            sight.zenith_rad = std::atan2(d, v) + noise * instrument.angle_sd_rad * random.normal();
            sight.slope_distance_m =
                slope * ground_scale +
                noise *
                    std::hypot(instrument.distance_sd_m, 1e-6 * instrument.distance_ppm * slope) *
                    random.normal();
            sight.target_height_m = rod;
            input.sights.push_back(sight);
        }
        job.evidence.setups.push_back(std::move(input));
    }
    return job;
}

}  // namespace layproof::testing

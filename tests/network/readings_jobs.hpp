#pragma once
// Jobs with one thing planted in list or book, or a small thing that is none of them.

#include <algorithm>
#include <cmath>
#include <string>
#include <utility>
#include <vector>

#include "network/readings.hpp"
#include "network/site_jobs.hpp"

namespace layproof::testing {

enum class Planted {
    none,
    axes,
    feet_list,       ///< the list is in feet and was read as metres
    feet_distances,  ///< the other way round
    swapped_on_sheet,
    swapped_in_field,
    wrong_name,
    revision,
    mistyped,
    mistyped_height,
    // Small things: nothing is to be read otherwise.
    mark_kicked,  ///< 20 to 60 mm
    prism,        ///< 30 mm, in all set-ups
    bump,
    leaned,
    rod_height,  ///< 0.3 m, one sight
    scale,       ///< 300 ppm
};

struct ReadingJob {
    SiteJob job;
    Planted planted = Planted::none;
    std::vector<std::string> names;  ///< what is concerned
    int setup = -1;
    std::vector<int> marks;
    Eigen::Vector3d shift_m = Eigen::Vector3d::Zero();  ///< to be added to the list
};

inline std::size_t at_random(Random& random, std::size_t count) {
    return static_cast<std::size_t>(random.below(static_cast<int>(count)));
}

/// `least_marks` sighted from each set-up, up to 10 marks, up to 8 set-ups.
inline ReadingJob draw_reading_job(std::uint64_t seed, Planted planted, int least_marks = 4,
                                   int least_setups = 1, int most_setups = 8) {
    Random random(seed ^ 0x5EAD1265ULL);
    SiteJobOptions options;
    options.marks = least_marks + random.below(11 - least_marks);
    options.setups = least_setups + random.below(most_setups - least_setups + 1);
    options.sights_each = least_marks + random.below(options.marks - least_marks + 1);
    options.points_each = random.below(3);
    options.site_m = random.uniform(25.0, 150.0);
    ReadingJob out;
    out.planted = planted;
    out.job = draw_site_job(seed, options);
    network::NetworkInput& input = out.job.input;
    const std::size_t s = at_random(random, input.setups.size());
    out.setup = static_cast<int>(s);
    auto& sights = input.setups[s].sights;
    const std::vector<int>& sighted = out.job.sighted[s];
    const std::size_t i = at_random(random, sighted.size());
    const std::size_t j = (i + 1 + at_random(random, sighted.size() - 1)) % sighted.size();
    frame::Mark& a = input.marks[static_cast<std::size_t>(sighted[i])];
    frame::Mark& b = input.marks[static_cast<std::size_t>(sighted[j])];
    const auto sign = [&] { return random.uniform() < 0.5 ? -1.0 : 1.0; };
    switch (planted) {
        case Planted::none:
            break;
        case Planted::axes:
            for (frame::Mark& mark : input.marks) std::swap(mark.east_m, mark.north_m);
            break;
        case Planted::feet_list:
        case Planted::feet_distances: {
            const double k = planted == Planted::feet_list ? 1.0 / measure::kMetresPerFoot
                                                           : measure::kMetresPerFoot;
            for (frame::Mark& mark : input.marks) {
                *mark.east_m *= k;
                *mark.north_m *= k;
                *mark.height_m *= k;
            }
            break;
        }
        case Planted::swapped_on_sheet:
            std::swap(a.name, b.name);
            out.names = {a.name, b.name};
            break;
        case Planted::swapped_in_field:
            std::swap(sights[i].target, sights[j].target);
            out.names = {a.name, b.name};
            break;
        case Planted::wrong_name: {
            out.names = {sights[i].target, ""};
            std::size_t other = at_random(random, input.marks.size());
            while (input.marks[other].name == out.names[0])
                other = (other + 1) % input.marks.size();
            sights[i].target = out.names[1] = input.marks[other].name;
            std::swap(out.names[0], out.names[1]);  // as booked, as meant
            break;
        }
        case Planted::revision: {
            const double turn = random.uniform(0.0, measure::kTwoPi);
            const double size = std::exp(random.uniform(std::log(0.07), std::log(5.0)));
            out.shift_m << size * std::sin(turn), size * std::cos(turn), 0.0;
            const auto most = static_cast<std::size_t>(sighted.size() / 2);
            const std::size_t count = 2 + (most > 2 ? at_random(random, most - 1) : 0);
            for (std::size_t k = 0; k < count; ++k) {
                const int m = sighted[(i + k) % sighted.size()];
                out.marks.push_back(m);
                *input.marks[static_cast<std::size_t>(m)].east_m -= out.shift_m.x();
                *input.marks[static_cast<std::size_t>(m)].north_m -= out.shift_m.y();
            }
            std::sort(out.marks.begin(), out.marks.end());
            break;
        }
        case Planted::mistyped:
        case Planted::mistyped_height: {
            out.marks = {sighted[i]};
            const double off = sign() * (1.0 + random.below(9)) * std::pow(10.0, random.below(3));
            if (planted == Planted::mistyped_height) {
                *a.height_m -= out.shift_m.z() = off;
            } else if (random.uniform() < 0.5) {
                *a.east_m -= out.shift_m.x() = off;
            } else {
                *a.north_m -= out.shift_m.y() = off;
            }
            out.names = {a.name};
            break;
        }
        case Planted::mark_kicked: {
            const double turn = random.uniform(0.0, measure::kTwoPi);
            const double size = random.uniform(0.02, 0.06);
            *a.east_m += size * std::sin(turn);
            *a.north_m += size * std::cos(turn);
            break;
        }
        case Planted::prism:
            for (auto& setup : input.setups)
                for (measure::Sight& sight : setup.sights) *sight.slope_distance_m += 0.03;
            break;
        case Planted::scale:
            for (auto& setup : input.setups)
                for (measure::Sight& sight : setup.sights) *sight.slope_distance_m *= 1.0003;
            break;
        case Planted::bump: {
            // From the middle on all readings are from a place 15 mm away, turned by 3 minutes.
            const double turn = random.uniform(0.0, measure::kTwoPi);
            const double twist = sign() * 180.0 * measure::kRadPerArcsec;
            for (std::size_t k = sights.size() / 2; k < sights.size(); ++k) {
                measure::Sight& sight = sights[k];
                const double d = *sight.slope_distance_m;
                *sight.direction_rad =
                    measure::wrap_0_2pi(*sight.direction_rad + twist +
                                        0.015 / d * std::sin(*sight.direction_rad - turn));
                *sight.slope_distance_m -= 0.015 * std::cos(*sight.direction_rad - turn);
            }
            break;
        }
        case Planted::leaned:
            *sights[i].slope_distance_m += sign() * 0.02;
            *sights[i].direction_rad = measure::wrap_0_2pi(
                *sights[i].direction_rad + sign() * 0.02 / *sights[i].slope_distance_m);
            break;
        case Planted::rod_height:
            sights[i].target_height_m += sign() * 0.3;
            break;
    }
    return out;
}

/// Whether these readings, and no others, say what was planted.
inline bool says_planted(const ReadingJob& job, const network::ReadingAlternative& told) {
    using network::ReadingKind;
    const auto& readings = told.readings;
    if (job.planted == Planted::none || job.planted >= Planted::mark_kicked)
        return readings.empty();
    if (readings.size() != 1) return false;
    const network::Reading& one = readings.front();
    const auto names = [&] {
        return job.names.size() == 2 &&
               ((one.booked == job.names[0] && one.meant == job.names[1]) ||
                (one.booked == job.names[1] && one.meant == job.names[0]));
    };
    switch (job.planted) {
        case Planted::axes:
            return one.kind == ReadingKind::axes_exchanged;
        case Planted::feet_list:
            return one.kind == ReadingKind::lengths_in_feet && one.ratio == measure::kMetresPerFoot;
        case Planted::feet_distances:
            return one.kind == ReadingKind::lengths_in_feet &&
                   one.ratio == 1.0 / measure::kMetresPerFoot;
        case Planted::swapped_on_sheet:
            return one.kind == ReadingKind::names_swapped && one.setup < 0 && names();
        case Planted::swapped_in_field: {
            // With one set-up the sheet says it as well; so when no other sights the two.
            bool elsewhere = false;
            for (std::size_t s = 0; s < job.job.input.setups.size(); ++s)
                for (const measure::Sight& sight : job.job.input.setups[s].sights)
                    elsewhere = elsewhere ||
                                (static_cast<int>(s) != job.setup &&
                                 (sight.target == job.names[0] || sight.target == job.names[1]));
            return one.kind == ReadingKind::names_swapped &&
                   (one.setup == job.setup || (!elsewhere && one.setup < 0)) && names();
        }
        case Planted::wrong_name:
            return one.kind == ReadingKind::wrong_name && one.setup == job.setup &&
                   one.booked == job.names[0] && one.meant == job.names[1];
        case Planted::revision: {
            const bool as_planted =
                one.marks == job.marks && (one.shift_m - job.shift_m).norm() < 0.02;
            // Or the other group, the other way.
            const bool the_other = (one.shift_m + job.shift_m).norm() < 0.02;
            return one.kind == ReadingKind::older_revision && (as_planted || the_other);
        }
        case Planted::mistyped:
        case Planted::mistyped_height:
            return one.kind == ReadingKind::mark_mistyped && one.marks == job.marks &&
                   (one.shift_m - job.shift_m).norm() < 0.03;
        default:
            return false;
    }
}

}  // namespace layproof::testing

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "measure/face.hpp"
#include "measure/reduce.hpp"
#include "station/observations.hpp"
#include "station/prepared.hpp"

namespace layproof::station {
namespace {

using measure::Face;
using measure::Purpose;
using measure::Sight;

bool is_control(const Sight& sight) {
    return measure::is_to_mark(sight.purpose);
}

bool makes_pair(const Sight& first, const Sight& second) {
    const Face a = measure::face_of(first);
    const Face b = measure::face_of(second);
    const bool opposite = (a == Face::one && b == Face::two) || (a == Face::two && b == Face::one);
    return opposite && first.target == second.target && first.purpose == second.purpose &&
           first.target_height_m == second.target_height_m &&
           first.direction_rad.has_value() == second.direction_rad.has_value() &&
           first.zenith_rad.has_value() && second.zenith_rad.has_value() &&
           first.slope_distance_m.has_value() == second.slope_distance_m.has_value();
}

class Preparation {
public:
    explicit Preparation(const StationInput& input) : input_(input) {}

    Result<Prepared> run() {
        out_.setup = input_.setup;
        out_.instrument = input_.instrument;
        out_.scale_factor = input_.scale_factor;
        for (std::size_t i = 0; i < input_.marks.size(); ++i)
            by_name_.emplace(input_.marks[i].name, static_cast<int>(i));
        if (auto refusal = take_setup()) return *refusal;
        if (auto refusal = take_sights()) return *refusal;
        if (out_.sights.empty()) {
            return Refusal{ErrorCode::no_sights, input_.setup.place,
                           fmt::format("no control sight from station {}", input_.setup.station),
                           "at least two control sights to different marks"};
        }
        decide_height();
        drop_what_says_nothing();
        if (auto refusal = count_marks()) return *refusal;
        centre();
        return std::move(out_);
    }

private:
    std::optional<Refusal> take_setup() {
        const Setup& setup = input_.setup;
        if (setup.kind == SetupKind::free ||
            (setup.kind == SetupKind::baseline && setup.mark.empty()))
            return std::nullopt;
        if (setup.mark.empty()) {
            return Refusal{ErrorCode::setup_incomplete, setup.place,
                           fmt::format("no mark for station {}", setup.station),
                           "the mark that the instrument stands over"};
        }
        const auto found = by_name_.find(setup.mark);
        if (found == by_name_.end()) {
            return Refusal{ErrorCode::setup_unknown, setup.place,
                           fmt::format("mark \"{}\" under station {}", setup.mark, setup.station),
                           "a mark of the marks file"};
        }
        if (!input_.marks[static_cast<std::size_t>(found->second)].has_plan()) {
            return Refusal{ErrorCode::setup_incomplete, setup.place,
                           fmt::format("mark \"{}\" without east and north", setup.mark),
                           "a mark known in plan to stand over"};
        }
        out_.occupied_mark = use_mark(found->second);
        return std::nullopt;
    }

    std::optional<Refusal> take_sights() {
        const std::set<int> aside(input_.set_aside.begin(), input_.set_aside.end());
        std::vector<bool> taken(input_.sights.size(), false);
        double collimation_sum = 0.0;
        double index_sum = 0.0;
        for (std::size_t i = 0; i < input_.sights.size(); ++i) {
            const Sight& sight = input_.sights[i];
            if (taken[i] || !is_control(sight)) continue;
            const auto found = by_name_.find(sight.target);
            if (found == by_name_.end()) {
                return Refusal{ErrorCode::target_unknown, sight.place,
                               fmt::format("target \"{}\"", sight.target),
                               "a mark of the marks file (or purpose lay or other)"};
            }
            ControlSight control;
            control.mark = use_mark(found->second);
            control.booked.push_back(static_cast<int>(i));
            const bool is_aside = aside.contains(static_cast<int>(i));
            // The other face of the same pointing is the next sight booked to the same target.
            std::size_t j = i + 1;
            while (j < input_.sights.size() &&
                   (taken[j] || input_.sights[j].target != sight.target))
                ++j;
            std::optional<measure::ReducedPair> both;
            if (j < input_.sights.size() && makes_pair(sight, input_.sights[j]) &&
                aside.contains(static_cast<int>(j)) == is_aside) {
                both = measure::reduce_pair(sight, input_.sights[j], input_.instrument,
                                            input_.setup.temperature_k, input_.setup.pressure_hpa);
            }
            if (both) {
                taken[j] = true;
                control.booked.push_back(static_cast<int>(j));
                control.reduced = both->sight;
                collimation_sum += both->collimation_rad.value_or(0.0);
                index_sum += both->index_rad.value_or(0.0);
                ++out_.face_pairs;
            } else {
                control.reduced =
                    measure::reduce(sight, input_.instrument, input_.setup.temperature_k,
                                    input_.setup.pressure_hpa);
            }
            if (is_aside) {
                control.used = false;
                control.why_not_used = "set aside";
            } else if (sight.purpose == Purpose::check) {
                control.used = false;
                control.why_not_used = "check sight, kept out of the solution";
            }
            out_.sights.push_back(std::move(control));
        }
        if (out_.face_pairs > 0) {
            out_.collimation_rad = collimation_sum / out_.face_pairs;
            out_.index_error_rad = index_sum / out_.face_pairs;
        }
        return std::nullopt;
    }

    void decide_height() {
        const bool from_below = out_.occupied_mark >= 0 && input_.setup.instrument_height_m &&
                                out_.marks[static_cast<std::size_t>(out_.occupied_mark)].has_height;
        out_.has_height =
            from_below || std::any_of(out_.sights.begin(), out_.sights.end(), [&](const auto& s) {
                const UsedMark& mark = out_.marks[static_cast<std::size_t>(s.mark)];
                return s.used && s.reduced.has_zenith && mark.has_height &&
                       (mark.has_plan || (s.reduced.has_direction && s.reduced.has_distance));
            });
        if (!out_.has_height) {
            for (ControlSight& sight : out_.sights) make_horizontal(sight);
            out_.notices.emplace_back(
                "No height can be found for this station: no zenith angle to a mark of known "
                "height.");
        }
    }

    /// Without a height of the station only horizontal distances mean anything.
    void make_horizontal(ControlSight& sight) {
        measure::ReducedSight& r = sight.reduced;
        if (r.has_distance && !r.distance_is_horizontal && !r.has_zenith && !said_level_) {
            said_level_ = true;
            out_.notices.emplace_back(
                "Slope distances without zenith angles are taken as horizontal ones.");
        }
        r = level_part(r);
    }

    /// A part that meets as many new unknowns as it brings figures cannot help and would leave the
    /// solution open.
    void drop_what_says_nothing() {
        for (ControlSight& sight : out_.sights) {
            measure::ReducedSight& r = sight.reduced;
            const UsedMark& mark = out_.marks[static_cast<std::size_t>(sight.mark)];
            if (!sight.used) continue;
            const bool blind_plan = !mark.has_plan && !(out_.has_height && r.has_direction &&
                                                        r.has_zenith && r.has_distance);
            const bool blind_slope = mark.has_plan && !mark.has_height && r.has_distance &&
                                     !r.distance_is_horizontal && !r.has_zenith;
            if (blind_slope) r.has_distance = false;
            if (mark.has_plan && !mark.has_height && r.has_zenith && !r.has_distance)
                r.has_zenith = false;
            if (blind_plan || r.size() == 0) {
                sight.used = false;
                sight.why_not_used = "what is known of the mark and what was measured do not meet";
            }
        }
    }

    std::optional<Refusal> count_marks() const {
        std::set<int> with_plan;
        for (const ControlSight& sight : out_.sights) {
            const bool placed = out_.marks[static_cast<std::size_t>(sight.mark)].has_plan &&
                                (sight.reduced.has_direction || sight.reduced.has_distance);
            if (sight.used && placed && sight.mark != out_.occupied_mark)
                with_plan.insert(sight.mark);
        }
        const std::size_t needed = out_.occupied_mark >= 0 ? 1U : 2U;
        if (with_plan.size() >= needed) return std::nullopt;
        std::string names;
        for (const int mark : with_plan)
            names +=
                (names.empty() ? " (" : ", ") + out_.marks[static_cast<std::size_t>(mark)].name;
        if (!names.empty()) names += ")";
        const Place& place =
            input_.sights.empty() ? input_.setup.place : input_.sights.front().place;
        return Refusal{ErrorCode::too_few_marks, place,
                       fmt::format("control sights from station {} to {} mark{} known in plan{}",
                                   input_.setup.station, with_plan.size(),
                                   with_plan.size() == 1 ? "" : "s", names),
                       needed == 2 ? "at least two different marks, three or more to see an error"
                                   : "at least one other mark for the orientation"};
    }

    void centre() {
        Eigen::Vector3d sum = Eigen::Vector3d::Zero();
        Eigen::Vector3d count = Eigen::Vector3d::Zero();
        for (const UsedMark& mark : out_.marks) {
            if (mark.has_plan) {
                sum.head<2>() += mark.given_m.head<2>();
                count.head<2>().array() += 1.0;
            }
            if (mark.has_height) {
                sum.z() += mark.given_m.z();
                count.z() += 1.0;
            }
        }
        for (int i = 0; i < 3; ++i) out_.origin_m[i] = count[i] > 0 ? sum[i] / count[i] : 0.0;
        for (UsedMark& mark : out_.marks) {
            if (mark.has_plan) mark.given_m.head<2>() -= out_.origin_m.head<2>();
            if (mark.has_height) mark.given_m.z() -= out_.origin_m.z();
        }
    }

    int use_mark(int input_index) {
        const auto [found, is_new] =
            used_.emplace(input_index, static_cast<int>(out_.marks.size()));
        if (is_new) {
            const frame::Mark& given = input_.marks[static_cast<std::size_t>(input_index)];
            UsedMark mark;
            mark.name = given.name;
            mark.has_plan = given.has_plan();
            mark.has_height = given.has_height();
            if (mark.has_plan) mark.given_m.head<2>() << *given.east_m, *given.north_m;
            if (mark.has_height) mark.given_m.z() = *given.height_m;
            mark.sd_m << given.sd_east_m, given.sd_north_m, given.sd_height_m;
            mark.input_index = input_index;
            out_.marks.push_back(std::move(mark));
        }
        return found->second;
    }

    const StationInput& input_;
    Prepared out_;
    std::map<std::string, int, std::less<>> by_name_;
    std::map<int, int> used_;
    bool said_level_ = false;
};

}  // namespace

Result<Prepared> prepare(const StationInput& input) {
    return Preparation(input).run();
}

}  // namespace layproof::station

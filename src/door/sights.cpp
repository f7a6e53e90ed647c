#include "door/sights.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>
#include <utility>

#include "acts/shared/json.hpp"
#include "exchange/text/text.hpp"
#include "measure/angle.hpp"

namespace layproof::acts {
namespace {

using internal::fixed;
using internal::Json;

Json face_json(measure::Face face) {
    if (face == measure::Face::unknown) return nullptr;
    return face == measure::Face::one ? "one" : "two";
}

bool is_for_pose(const measure::Sight& sight) {
    return measure::is_to_mark(sight.purpose);
}

Json booked_json(const BookedSight& booked) {
    const measure::Sight& s = booked.sight.value;
    const double degree = 1.0 / measure::kRadPerDeg;
    Json out{{"fact", booked.sight.id.to_text()},
             {"target", s.target},
             {"which", booked.which},
             {"purpose", measure::to_word(s.purpose)},
             {"face", face_json(s.face)},
             {"time", s.time_text.empty() ? Json(nullptr) : Json(s.time_text)},
             {"direction_deg", fixed(s.direction_rad, degree, 8)},
             {"zenith_deg", fixed(s.zenith_rad, degree, 8)},
             {"slope_distance_m", fixed(s.slope_distance_m)},
             {"horizontal_distance_m", fixed(s.horizontal_distance_m)},
             {"target_height_m", fixed(s.target_height_m)},
             {"note", s.note}};
    out["set_aside"] = booked.aside ? Json{{"reason", booked.aside->reason},
                                           {"initials", booked.aside->initials},
                                           {"time", booked.aside->time_text}}
                                    : Json(nullptr);
    return out;
}

}  // namespace

Result<BookedSights> sights_at(const job::Job& job, const std::string& station,
                               const job::AsOf& as_of) {
    auto sights = job.sights_of(station, as_of);
    if (!sights) return sights.refusal();
    if (sights->empty()) {
        const auto stations = job.stations(as_of);
        if (!stations) return stations.refusal();
        if (std::none_of(stations->begin(), stations->end(),
                         [&](const job::StationEntry& s) { return s.name == station; }))
            return Refusal{ErrorCode::target_unknown,
                           {job.path(), 0, 0},
                           "no station " + exchange::in_quotes(station),
                           "a station of the job"};
    }
    const auto aside_ids = job.set_aside(as_of);
    if (!aside_ids) return aside_ids.refusal();
    const std::set<job::FactId> aside(aside_ids->begin(), aside_ids->end());
    const auto decisions = job.all<job::Decision>(as_of);
    if (!decisions) return decisions.refusal();

    if (std::all_of(sights->begin(), sights->end(),
                    [](const auto& s) { return s.value.time_s.has_value(); }))
        std::stable_sort(sights->begin(), sights->end(), [](const auto& a, const auto& b) {
            return *a.value.time_s < *b.value.time_s;
        });
    BookedSights out;
    out.station = station;
    std::map<std::pair<std::string, bool>, int> counts;
    for (auto& kept : *sights) {
        BookedSight booked;
        booked.which = ++counts[{kept.value.target, is_for_pose(kept.value)}];
        if (aside.contains(kept.id)) {
            for (const auto& decision : *decisions)
                if (decision.value.kind == job::DecisionKind::set_aside &&
                    decision.value.subject.fact == kept.id)
                    booked.aside = decision.value;
            // Set aside under the id it has in another crew's chain.
            if (!booked.aside) booked.aside = job::Decision{};
        }
        booked.sight = std::move(kept);
        out.sights.push_back(std::move(booked));
    }
    return out;
}

std::string to_json(const BookedSights& sights) {
    Json out{{"act", "sights"}, {"station", sights.station}};
    out["sights"] = internal::list(sights.sights, booked_json);
    return out.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace layproof::acts

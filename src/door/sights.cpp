#include "door/sights.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>
#include <utility>

#include "acts/shared/describe_shared.hpp"
#include "exchange/text/text.hpp"

namespace layproof::acts {
namespace {

bool is_for_pose(const measure::Sight& sight) {
    return measure::is_to_mark(sight.purpose);
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

void describe(Fields& f, const job::Decision& aside) {
    f.is("AsideNote");
    f.text("reason", aside.reason);
    f.text("initials", aside.initials);
    f.text("time", aside.time_text);
}

void describe(Fields& f, const BookedSight& booked) {
    const measure::Sight& s = booked.sight.value;
    f.is("BookedSight");
    f.text("fact", booked.sight.id.to_text());
    f.text("target", s.target);
    f.whole("which", booked.which, "the n-th pointing to that target");
    f.word("purpose", measure::to_word(s.purpose), kPurposeWords);
    f.or_null(s.face != measure::Face::unknown)
        .word("face", s.face == measure::Face::one ? "one" : "two", {"one", "two"});
    f.text_or_null("time", s.time_text, "as written");
    f.number_or_null("direction_deg", in_deg(s.direction_rad), kDegreeDecimals);
    f.number_or_null("zenith_deg", in_deg(s.zenith_rad), kDegreeDecimals);
    f.number_or_null("slope_distance_m", s.slope_distance_m);
    f.number_or_null("horizontal_distance_m", s.horizontal_distance_m);
    f.number_or_null("target_height_m", s.target_height_m);
    f.text("note", s.note);
    f.record_or_null("set_aside", booked.aside);
}

void describe(Fields& f, const BookedSights& sights) {
    f.is("SightsAnswer");
    f.word("act", "sights", {"sights"});
    f.text("station", sights.station);
    f.records("sights", sights.sights);
}

std::string to_json(const BookedSights& sights) {
    return json_document(sights);
}

}  // namespace layproof::acts

#pragma once
// The act "watch": is the station still where it was, and if not, since when, and which points are
// in doubt?
//
// In: what the act "station" takes. Each set-up is one day of its own: it begins with its last
// control sight used (or, where these have no time, with the time of its set-up), sights with
// purpose check test it, the first lay sight to a point is its laying, later ones are re-sights of
// the same mark. Checks and lay sights need times; one before the set-up was finished is refused.
// Tolerances and elements are those of the act "lay".
//
// The day's verdict: proven when nothing moved with the required confidence (up to the last check
// or re-sight; without one, up to the last event) and every point laid is proven; fails when a move
// is that sure or any point fails; else in doubt.

#include <optional>
#include <string>
#include <vector>

#include "acts/station/station.hpp"
#include "cause/catalogue.hpp"
#include "watch/day.hpp"
#include "watch/ground.hpp"
#include "watch/resight.hpp"
#include "watch/watch.hpp"

namespace layproof::acts {

struct WatchRequest {
    StationRequest station;
    watch::Ground ground = watch::Ground::slab;
    double check_every_s = 3600.0;  ///< 60 to 86400; common practice, no source
};

/// One thing that happened, or is wrong, in an explanation.
struct DayChange {
    cause::Cause cause = cause::Cause::nothing_wrong;
    std::string subject;   ///< mark, point or set-up
    std::string from, to;  ///< times of the sights between which it happened; empty: not in the day
    /// East, north, turn, height; nothing where the amount is not a shift or is not known.
    std::optional<watch::PoseVector> amount, sd;
};

/// One explanation of the day.
struct DayCause {
    double probability = 0.0;
    std::string says;                ///< "The tripod moved between 10:02 and 11:02."
    std::vector<DayChange> changes;  ///< all of them happened; none: nothing did
    double log_evidence = 0.0;       ///< ln of what the data say against nothing
};

struct WatchStation {
    StationReport station;
    Verdict verdict;
    double holds = 0.0;     ///< probability that nothing moved
    double offset_s = 0.0;  ///< of the site's clock from UTC
    watch::Day day;
    watch::DayReport report;
    std::vector<DayCause> causes;  ///< most probable first; always holds nothing
    double others = 0.0;           ///< probability of what is too improbable to be listed
    std::vector<watch::NextResight> resights;  ///< best first
    watch::NextCheck next_check;
    bool has_checks = false;  ///< or re-sights
    std::vector<std::string> notices;
};

struct WatchAnswer {
    measure::LengthUnit unit = measure::LengthUnit::metre;
    measure::LengthStyle style;
    double confidence = 0.95;
    bool explain = false;
    watch::Ground ground = watch::Ground::slab;
    double check_every_s = 3600.0;
    std::vector<JobCause> causes;  ///< of the whole job: a gross one first, then likeliest first
    std::vector<WatchStation> stations;
    std::vector<std::string> notices;
};

/// Refuses as run_station does; target_unknown for a point laid that the points file does not hold;
/// value_missing for a check or lay sight without a time; out_of_range for one before its set-up
/// was finished, and what watch::watch refuses.
Result<WatchAnswer> run_watch(const WatchRequest& request);

/// One JSON document with a line end: docs/watch.md. What is not known is null.
std::string to_json(const WatchAnswer& answer);
void describe(Fields& f, const WatchAnswer& answer);
/// Plain text, verdicts first.
std::string to_text(const WatchAnswer& answer);
/// The points of all days as CSV.
std::string day_csv(const WatchAnswer& answer);
/// The day of each station as a strip, in the order of the answer.
std::vector<std::string> to_svg(const WatchAnswer& answer);

/// Every day is.
bool is_proven(const WatchAnswer& answer);

}  // namespace layproof::acts

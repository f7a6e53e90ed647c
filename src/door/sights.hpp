#pragma once
// The act "sights": what was booked at a station, as booked, and what was decided about it.

#include <optional>
#include <string>
#include <vector>

#include "base/result.hpp"
#include "job/job.hpp"

namespace layproof::acts {

class Fields;

struct BookedSight {
    job::Kept<measure::Sight> sight;
    int which = 0;  ///< the n-th to its target among sights of its manner, as "decide" counts them
    std::optional<job::Decision> aside;  ///< the decision by which it is set aside
};

struct BookedSights {
    std::string station;
    std::vector<BookedSight> sights;  ///< in order of time when all have one, else of recording
};

/// Refuses target_unknown when the job has no sight and no set-up of that station.
Result<BookedSights> sights_at(const job::Job& job, const std::string& station,
                               const job::AsOf& as_of = {});

/// The record SightsAnswer.
std::string to_json(const BookedSights& sights);
void describe(Fields& f, const BookedSights& sights);

}  // namespace layproof::acts

#pragma once
// Requests as JSON, already checked against their shapes, as the acts take them.

#include <string>
#include <vector>

#include "acts/job/job.hpp"
#include "acts/lay/lay.hpp"
#include "acts/prove/prove.hpp"
#include "acts/vet/vet.hpp"
#include "acts/watch/watch.hpp"
#include "door/json_internal.hpp"
#include "door/preview.hpp"

namespace layproof::acts::internal {

/// Refuses time_not_read.
Result<job::AsOf> as_of_in(const Json& request);

/// Text of a field; empty when it is not there.
std::string text_in(const Json& request, const char* field);
std::optional<measure::LengthUnit> unit_in(const Json& request);
ColumnChoice map_in(const Json& request);

/// All four without the facts.
StationRequest station_request(const Json& request);
LayRequest lay_request(const Json& request);
ProveRequest prove_request(const Json& request);
WatchRequest watch_request(const Json& request);
/// Without what the job holds.
VetRequest vet_request(const Json& request);

}  // namespace layproof::acts::internal

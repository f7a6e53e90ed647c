#include "acts/shared/job_facts.hpp"

#include <fmt/format.h>

namespace layproof::acts::internal {

Refusal no_such_station(const std::string& station, const std::string& where) {
    return {ErrorCode::target_unknown,
            {where, 0, 0},
            fmt::format("no sight from station \"{}\"", station),
            "the name of a station that sights were taken from"};
}

}  // namespace layproof::acts::internal

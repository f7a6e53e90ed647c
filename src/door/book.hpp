#pragma once
// The act "book": one fact by hand, as typed. It is put into a table of one row and read by the
// reader of that table, so that what is booked by hand is held to the rules of the files.

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "acts/job/open_job.hpp"
#include "acts/shared/refusal_json.hpp"
#include "base/result.hpp"
#include "job/job.hpp"
#include "measure/length.hpp"

namespace layproof::acts {

class Fields;

struct BookRequest {
    std::string what;                          ///< sight, setup, mark or point
    std::map<std::string, std::string> typed;  ///< field -> text; empty ones count as not typed
    measure::LengthUnit unit = measure::LengthUnit::metre;
};

struct BookAnswer {
    std::string fact;
    std::string says;
    std::vector<std::string> notices;
};

/// The answer, or the refusal with the field it is about.
struct Booked {
    std::optional<BookAnswer> answer;
    RefusedRequest refused;
};

/// Refuses as read_typed, the readers and the job's writing do. The first unit booked becomes that
/// of a job that has none.
Booked book(OpenJob& job, const BookRequest& request);

/// The record BookAnswer.
std::string to_json(const BookAnswer& answer);
void describe(Fields& f, const BookAnswer& answer);

}  // namespace layproof::acts

#pragma once
// What every act takes and gives as JSON, declared once: requests here, answers by the functions
// that describe them (acts/shared/describe.hpp). From it come the TypeScript types of the page, the
// refusal of a request that does not fit, and the tests that hold every answer against it, so that
// none of the three drifts.

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "acts/shared/shape.hpp"
#include "base/result.hpp"

namespace layproof::acts {

struct ActShape {
    std::string act;
    std::string request;  ///< names of records
    std::string answer;
};

/// The acts that the page can ask for.
const std::vector<ActShape>& act_shapes();

/// Every record, in the order in which the types are written.
const std::vector<ShapeRecord>& shape_records();

/// Nothing when `json` fits the request of the act. Refuses: act_unknown, request_not_json,
/// request_field_unknown, request_field_missing, request_type_wrong. The place's file is the path
/// of the value, such as "set_aside[0].which".
std::optional<Refusal> check_request(std::string_view act, std::string_view json);

/// The same for a record of any name: answers, events.
std::optional<Refusal> check_record(std::string_view record, std::string_view json);

/// web/src/generated/acts.ts.
std::string typescript();

}  // namespace layproof::acts

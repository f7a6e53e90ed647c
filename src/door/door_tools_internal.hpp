#pragma once
// The field checks of instrument and rod as a page asks for them: files that were sent, or rows as
// they were typed. A typed row is read by the reader of the file it would stand in, so that both
// ways give one answer.

#include <functional>
#include <optional>
#include <string>

#include "acts/vet/vet_tools.hpp"
#include "door/json_internal.hpp"

namespace layproof::acts::internal {

struct ToolsDefaults {
    std::optional<measure::LengthUnit> unit;  ///< of lengths that state none
    std::optional<measure::LengthStyle> show;
    std::optional<measure::Instrument> stated;  ///< the figures of the job's instrument
};

/// Refuses as the act "vet" does for its tools, and request_field_missing or request_type_wrong
/// when a check is not one of the tool, comes twice, or has neither file nor rows.
Result<ToolAnswer> run_tools(
    const Json& request, const ToolsDefaults& defaults,
    const std::function<Result<exchange::Document>(const std::string& digest)>& kept_file);

}  // namespace layproof::acts::internal

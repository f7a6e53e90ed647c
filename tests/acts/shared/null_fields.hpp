#pragma once
// A JSON writer writes a number that is none as null, so no search for words finds it: where null
// stands has to be known.

#include <nlohmann/json.hpp>
#include <set>
#include <string>

namespace layproof::testing {

/// The fields that are null somewhere, each once: "marks.height", whatever the place in a list.
inline std::set<std::string> null_fields(const nlohmann::json& json,
                                         const std::string& name = std::string()) {
    if (json.is_null()) return {name};
    std::set<std::string> out;
    for (const auto& item : json.items()) {
        if (!json.is_structured()) break;
        const std::string more = json.is_object() ? (name.empty() ? "" : ".") + item.key() : "";
        out.merge(null_fields(item.value(), name + more));
    }
    return out;
}

}  // namespace layproof::testing

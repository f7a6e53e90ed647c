#pragma once
// What every act takes and gives as JSON, declared once: names, types, what may be left out and
// what may be null. From it come the TypeScript types of the page, the refusal of a request that
// does not fit, and the tests that hold every answer against it, so that none of the three drifts.
//
// A field of a request that may be left out may also be null, which means the same. A field of an
// answer is always there unless it says otherwise.

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.hpp"

namespace layproof::acts {

enum class ShapeKind {
    text,
    number,   ///< finite
    whole,    ///< without decimals
    flag,     ///< true or false
    word,     ///< one of a few texts
    list,     ///< of one shape
    record,   ///< named fields
    by_name,  ///< any names, values of one shape
    pair,     ///< a list of exactly two
};

struct Shape {
    ShapeKind kind = ShapeKind::text;
    bool may_be_null = false;
    std::vector<std::string> words;  ///< of a word
    std::string record;              ///< name in shape_records()
    std::vector<Shape> of;           ///< the one shape of a list, pair or by_name
};

struct ShapeField {
    std::string name;
    Shape shape;
    bool may_be_absent = false;
    std::string says = {};  ///< a comment in the types; may be empty
};

struct ShapeRecord {
    std::string name;
    std::vector<ShapeField> fields = {};
    bool is_request = false;  ///< absent and null mean the same in it
};

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

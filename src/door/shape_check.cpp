#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "door/shape_check_internal.hpp"
#include "exchange/text/text.hpp"

namespace layproof::acts {
namespace {

using internal::Json;

const ShapeRecord* record_named(std::string_view name) {
    const auto& records = shape_records();
    const auto found = std::find_if(records.begin(), records.end(),
                                    [&](const ShapeRecord& r) { return r.name == name; });
    return found == records.end() ? nullptr : &*found;
}

const ActShape* act_named(std::string_view name) {
    const auto& acts = act_shapes();
    const auto found =
        std::find_if(acts.begin(), acts.end(), [&](const ActShape& a) { return a.act == name; });
    return found == acts.end() ? nullptr : &*found;
}

/// Cut so that a refusal stays readable, whatever was sent.
std::string shown(const Json& value) {
    constexpr std::size_t kMostShown = 60;
    if (value.is_string()) return exchange::in_quotes(value.get_ref<const std::string&>());
    if (value.is_object()) return "an object";
    if (value.is_array()) return fmt::format("a list of {}", value.size());
    std::string text = value.dump();
    if (text.size() > kMostShown) text = text.substr(0, kMostShown) + "…";
    return text;
}

std::string kind_words(const Shape& shape) {
    switch (shape.kind) {
        case ShapeKind::text:
            return "a text";
        case ShapeKind::number:
            return "a number";
        case ShapeKind::whole:
            return "a whole number";
        case ShapeKind::flag:
            return "true or false";
        case ShapeKind::word: {
            std::vector<std::string> quoted;
            for (const std::string& word : shape.words) quoted.push_back('"' + word + '"');
            return quoted.size() == 1 ? quoted.front() : "one of " + exchange::listed(quoted);
        }
        case ShapeKind::list:
            return "a list";
        case ShapeKind::pair:
            return "a list of two";
        case ShapeKind::record:
        case ShapeKind::by_name:
            return "an object";
    }
    return "a value";
}

class Check {
public:
    std::optional<Refusal> run(const Json& value, const ShapeRecord& record,
                               const std::string& path) {
        if (!value.is_object())
            return refuse(ErrorCode::request_type_wrong, path, shown(value), "an object");
        for (const auto& [name, inner] : value.items())
            if (field_of(record, name) == nullptr)
                return refuse(ErrorCode::request_field_unknown, below(path, name), "this field",
                              expected_fields(record, name));
        for (const ShapeField& field : record.fields) {
            const auto at = value.find(field.name);
            if (at == value.end()) {
                if (field.may_be_absent) continue;
                return refuse(ErrorCode::request_field_missing, below(path, field.name), "nothing",
                              kind_words(field.shape));
            }
            if (record.is_request && field.may_be_absent && at->is_null()) continue;
            if (auto refusal = run(*at, field.shape, below(path, field.name))) return refusal;
        }
        return std::nullopt;
    }

private:
    static std::string below(const std::string& path, const std::string& name) {
        std::string shown_name = name.size() > 40 ? name.substr(0, 40) + "…" : name;
        return path.empty() ? shown_name : path + "." + shown_name;
    }

    static Refusal refuse(ErrorCode code, const std::string& path, std::string found,
                          std::string expected) {
        return {code, {path, 0, 0}, std::move(found), std::move(expected)};
    }

    static const ShapeField* field_of(const ShapeRecord& record, const std::string& name) {
        const auto found =
            std::find_if(record.fields.begin(), record.fields.end(),
                         [&](const ShapeField& field) { return field.name == name; });
        return found == record.fields.end() ? nullptr : &*found;
    }

    static std::string expected_fields(const ShapeRecord& record, const std::string& name) {
        std::vector<std::string> names;
        for (const ShapeField& field : record.fields) names.push_back(field.name);
        if (names.empty()) return "no field at all";
        if (const auto guess = exchange::nearest(name, names)) return "perhaps " + *guess;
        return "one of " + exchange::listed(names);
    }

    static bool fits(const Json& value, const Shape& shape) {
        switch (shape.kind) {
            case ShapeKind::text:
                return value.is_string();
            case ShapeKind::number:
                return value.is_number() && std::isfinite(value.get<double>());
            case ShapeKind::whole:
                return value.is_number_integer();
            case ShapeKind::flag:
                return value.is_boolean();
            case ShapeKind::word:
                return value.is_string() &&
                       std::find(shape.words.begin(), shape.words.end(),
                                 value.get_ref<const std::string&>()) != shape.words.end();
            case ShapeKind::list:
                return value.is_array();
            case ShapeKind::pair:
                return value.is_array() && value.size() == 2;
            case ShapeKind::record:
            case ShapeKind::by_name:
                return value.is_object();
        }
        return false;
    }

    std::optional<Refusal> run(const Json& value, const Shape& shape, const std::string& path) {
        if (value.is_null() && shape.may_be_null) return std::nullopt;
        if (!fits(value, shape))
            return refuse(ErrorCode::request_type_wrong, path, shown(value),
                          kind_words(shape) + (shape.may_be_null ? " or null" : ""));
        if (shape.kind == ShapeKind::record) {
            const ShapeRecord* record = record_named(shape.record);
            return record == nullptr ? refuse(ErrorCode::request_type_wrong, path, shape.record,
                                              "a record that is declared")
                                     : run(value, *record, path);
        }
        if (shape.of.empty()) return std::nullopt;
        if (value.is_array()) {
            for (std::size_t i = 0; i < value.size(); ++i)
                if (auto refusal = run(value[i], shape.of.front(), fmt::format("{}[{}]", path, i)))
                    return refusal;
        } else {
            for (const auto& [name, inner] : value.items())
                if (auto refusal = run(inner, shape.of.front(), below(path, name))) return refusal;
        }
        return std::nullopt;
    }
};

Refusal no_json(std::string_view path) {
    return {ErrorCode::request_not_json,
            {std::string(path), 0, 0},
            "something that is no JSON object",
            fmt::format("one JSON object in UTF-8, at most {} deep", internal::kDeepestJson)};
}

void drop_nulls(Json& value, const ShapeRecord& record);

void drop_nulls(Json& value, const Shape& shape) {
    if (shape.kind == ShapeKind::record && value.is_object()) {
        if (const ShapeRecord* record = record_named(shape.record)) drop_nulls(value, *record);
    } else if (shape.kind == ShapeKind::list && value.is_array()) {
        for (Json& item : value) drop_nulls(item, shape.of.front());
    }
}

void drop_nulls(Json& value, const ShapeRecord& record) {
    for (const ShapeField& field : record.fields) {
        const auto at = value.find(field.name);
        if (at == value.end()) continue;
        if (at->is_null() && field.may_be_absent) {
            value.erase(at);
        } else {
            drop_nulls(*at, field.shape);
        }
    }
}

}  // namespace

namespace internal {

std::optional<Json> parse_json(std::string_view text) {
    bool too_deep = false;
    const auto depth = [&](int level, Json::parse_event_t event, Json&) {
        if (event == Json::parse_event_t::object_start || event == Json::parse_event_t::array_start)
            too_deep = too_deep || level >= kDeepestJson;
        return !too_deep;
    };
    Json value = Json::parse(text.begin(), text.end(), depth, false);
    if (too_deep || value.is_discarded()) return std::nullopt;
    return value;
}

Result<Json> read_request(std::string_view act, std::string_view text) {
    const ActShape* shape = act_named(act);
    if (shape == nullptr) {
        std::vector<std::string> names;
        for (const ActShape& known : act_shapes()) names.push_back(known.act);
        return Refusal{ErrorCode::act_unknown,
                       {},
                       exchange::in_quotes(act),
                       "one of " + exchange::listed(names)};
    }
    const ShapeRecord* record = record_named(shape->request);
    auto value = parse_json(text);
    if (!value || record == nullptr) return no_json(act);
    if (auto refusal = Check().run(*value, *record, {})) return *refusal;
    drop_nulls(*value, *record);
    return *std::move(value);
}

}  // namespace internal

std::optional<Refusal> check_request(std::string_view act, std::string_view json) {
    const auto request = internal::read_request(act, json);
    if (request) return std::nullopt;
    return request.refusal();
}

std::optional<Refusal> check_record(std::string_view record, std::string_view json) {
    const ShapeRecord* shape = record_named(record);
    const auto value = internal::parse_json(json);
    if (!value || shape == nullptr) return no_json(record);
    return Check().run(*value, *shape, std::string(record));
}

}  // namespace layproof::acts

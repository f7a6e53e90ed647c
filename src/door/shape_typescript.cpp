#include <fmt/format.h>

#include "door/shapes.hpp"

namespace layproof::acts {
namespace {

std::string type_of(const Shape& shape) {
    std::string out;
    bool is_union = shape.may_be_null;
    switch (shape.kind) {
        case ShapeKind::text:
            out = "string";
            break;
        case ShapeKind::number:
        case ShapeKind::whole:
            out = "number";
            break;
        case ShapeKind::flag:
            out = "boolean";
            break;
        case ShapeKind::word:
            for (const std::string& word : shape.words)
                out += (out.empty() ? "\"" : " | \"") + word + "\"";
            is_union = is_union || shape.words.size() > 1;
            break;
        case ShapeKind::record:
            out = shape.record;
            break;
        case ShapeKind::list: {
            const Shape& of = shape.of.front();
            const bool is_plain =
                !of.may_be_null && (of.kind != ShapeKind::word || of.words.size() == 1);
            out = is_plain ? type_of(of) + "[]" : "(" + type_of(of) + ")[]";
            break;
        }
        case ShapeKind::by_name:
            out = "Record<string, " + type_of(shape.of.front()) + ">";
            break;
        case ShapeKind::pair:
            out = "[" + type_of(shape.of.front()) + ", " + type_of(shape.of.front()) + "]";
            break;
    }
    return shape.may_be_null ? out + " | null" : out;
}

std::string field_line(const ShapeField& field, bool is_request) {
    std::string out;
    if (!field.says.empty()) out += fmt::format("    /** {} */\n", field.says);
    std::string type = type_of(field.shape);
    if (is_request && field.may_be_absent && !field.shape.may_be_null) type += " | null";
    out += fmt::format("    {}{}: {};\n", field.name, field.may_be_absent ? "?" : "", type);
    return out;
}

}  // namespace

std::string typescript() {
    std::string out =
        "// Made by `layproof types` from what describes requests (src/door) and answers "
        "(src/acts, src/door). Not to be edited: make it anew.\n";
    for (const ShapeRecord& record : shape_records()) {
        if (record.fields.empty()) {
            out += fmt::format("\nexport type {} = Record<string, never>;\n", record.name);
            continue;
        }
        out += fmt::format("\nexport interface {} {{\n", record.name);
        for (const ShapeField& field : record.fields) out += field_line(field, record.is_request);
        out += "}\n";
    }
    out += "\n/** What each act takes and gives. */\nexport interface Acts {\n";
    for (const ActShape& act : act_shapes())
        out += fmt::format("    {}: {{ request: {}; answer: {} }};\n", act.act, act.request,
                           act.answer);
    out += "}\n\nexport type ActName = keyof Acts;\n";
    return out;
}

}  // namespace layproof::acts

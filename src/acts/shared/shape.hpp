#pragma once
// The shape of JSON: names, types, what may be left out and what may be null.
//
// A field of a request that may be left out may also be null, which means the same. A field of an
// answer is always there unless it says otherwise.

#include <string>
#include <vector>

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

}  // namespace layproof::acts

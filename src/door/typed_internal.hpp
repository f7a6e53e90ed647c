#pragma once
// Which kind of value a typed field holds, and rows of our tables made from typed cells.

#include <map>
#include <optional>
#include <string>
#include <string_view>

#include "door/typed.hpp"
#include "exchange/text/document.hpp"

namespace layproof::acts::internal {

enum class TypedKind { angle, length, time, temperature, pressure };

/// Nothing for what is no field that can be typed.
std::optional<TypedKind> typed_kind(std::string_view field);

/// A table of one row: the cells with their units in the header, and columns of plain text.
exchange::Document one_row(const std::map<std::string, TypedCell>& cells);

}  // namespace layproof::acts::internal

#pragma once
// Short names in which the shapes are written down.

#include <string>
#include <utility>
#include <vector>

#include "acts/shared/shapes.hpp"

namespace layproof::acts::internal::shape {

inline Shape of_kind(ShapeKind kind) {
    Shape out;
    out.kind = kind;
    return out;
}
inline Shape text() {
    return of_kind(ShapeKind::text);
}
inline Shape number() {
    return of_kind(ShapeKind::number);
}
inline Shape whole() {
    return of_kind(ShapeKind::whole);
}
inline Shape flag() {
    return of_kind(ShapeKind::flag);
}
inline Shape word(std::vector<std::string> words) {
    Shape out = of_kind(ShapeKind::word);
    out.words = std::move(words);
    return out;
}
inline Shape record(std::string name) {
    Shape out = of_kind(ShapeKind::record);
    out.record = std::move(name);
    return out;
}
inline Shape list(Shape of) {
    Shape out = of_kind(ShapeKind::list);
    out.of.push_back(std::move(of));
    return out;
}
inline Shape by_name(Shape of) {
    Shape out = of_kind(ShapeKind::by_name);
    out.of.push_back(std::move(of));
    return out;
}
inline Shape pair(Shape of) {
    Shape out = of_kind(ShapeKind::pair);
    out.of.push_back(std::move(of));
    return out;
}
inline Shape or_null(Shape shape) {
    shape.may_be_null = true;
    return shape;
}
inline ShapeField absent(std::string name, Shape shape, std::string says = {}) {
    return {std::move(name), std::move(shape), true, std::move(says)};
}

inline Shape unit_word() {
    return word({"m", "ft", "us-ft"});
}
inline Shape verdict_word() {
    return word({"proven", "in doubt", "fails"});
}

using Records = std::vector<ShapeRecord>;

// The tables, one function for each group of acts.
void add_common_shapes(Records& out);
void add_station_shapes(Records& out);
void add_lay_shapes(Records& out);
void add_watch_shapes(Records& out);
void add_vet_shapes(Records& out);
void add_prove_shapes(Records& out);
void add_record_shapes(Records& out);
void add_plan_shapes(Records& out);
void add_tools_shapes(Records& out);
void add_job_shapes(Records& out);
void add_sheet_shapes(Records& out);
void add_page_shapes(Records& out);

}  // namespace layproof::acts::internal::shape

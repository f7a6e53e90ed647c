#include "door/typed.hpp"

#include <fmt/format.h>

#include <cmath>

#include "acts/shared/describe.hpp"
#include "acts/shared/words.hpp"
#include "door/typed_internal.hpp"
#include "exchange/tables/readers.hpp"
#include "exchange/text/csv_writer.hpp"
#include "exchange/text/text.hpp"
#include "measure/angle.hpp"

namespace layproof::acts {

namespace internal {

exchange::Document one_row(const std::map<std::string, TypedCell>& cells) {
    exchange::CsvWriter writer;
    for (const auto& [name, cell] : cells)
        writer.text(cell.unit.empty() ? name : fmt::format("{} [{}]", name, cell.unit));
    writer.end_row();
    for (const auto& [name, cell] : cells) writer.text(cell.text);
    writer.end_row();
    return {"typed", writer.str()};
}

}  // namespace internal

namespace {

using internal::TypedKind;
using measure::LengthUnit;

/// The value of one cell, through the reader of the table it stands in.
Result<double> value_of(const std::string& field, const TypedCell& cell) {
    std::map<std::string, TypedCell> row;
    const auto add = [&](const char* name, const char* text, const char* unit = "") {
        row.try_emplace(name, TypedCell{text, unit});
    };
    row.emplace(field, cell);
    if (field == "east" || field == "north" || field == "height") {
        add("mark", "typed");
        add("east", field == "height" ? "" : "0", "m");
        add("north", field == "height" ? "" : "0", "m");
        add("height", "", "m");
        const auto marks = exchange::read_marks(internal::one_row(row));
        if (!marks) return marks.refusal();
        const frame::Mark& mark = marks->rows.front();
        if (field == "east") return mark.east_m.value_or(0.0);
        if (field == "north") return mark.north_m.value_or(0.0);
        return mark.height_m.value_or(0.0);
    }
    if (field == "instrument_height" || field == "temperature" || field == "pressure" ||
        field == "time") {
        add("station", "typed");
        add("kind", "free");
        const auto setups = exchange::read_setups(internal::one_row(row));
        if (!setups) return setups.refusal();
        const station::Setup& setup = setups->rows.front();
        if (field == "instrument_height") return setup.instrument_height_m.value_or(0.0);
        if (field == "temperature") return setup.temperature_k.value_or(0.0);
        if (field == "pressure") return setup.pressure_hpa.value_or(0.0);
        return setup.time_s.value_or(0.0);
    }
    add("station", "typed");
    add("target", "typed");
    add("direction", field == "target_height" ? "0" : "");
    add("zenith", "");
    add("slope_distance", "", "m");
    add("target_height", "0", "m");
    const auto sights = exchange::read_sights(internal::one_row(row));
    if (!sights) return sights.refusal();
    const measure::Sight& sight = sights->rows.front();
    if (field == "direction") return sight.direction_rad.value_or(0.0);
    if (field == "zenith") return sight.zenith_rad.value_or(0.0);
    if (field == "slope_distance") return sight.slope_distance_m.value_or(0.0);
    if (field == "horizontal_distance") return sight.horizontal_distance_m.value_or(0.0);
    return sight.target_height_m;
}

std::string angle_text(double angle_rad) {
    const double seconds = angle_rad / measure::kRadPerArcsec;
    const bool is_whole = std::abs(seconds - std::round(seconds)) < 1e-4;
    return measure::format_dms(angle_rad, is_whole ? 0 : 1);
}

/// As typed, and in the unit of the job when that is another one.
std::string length_text(double length_m, const TypedCell& cell, std::optional<LengthUnit> unit) {
    const LengthUnit typed = measure::length_unit_from_word(cell.unit).value_or(LengthUnit::metre);
    measure::LengthStyle style;
    style.unit = typed;
    std::string shown;
    if (cell.text.find_first_of("'\"/") != std::string::npos) {
        style.feet_and_inches = true;
        style.denominator = 64;
    }
    shown = measure::format_length(length_m, style);
    if (unit && *unit != typed) {
        style = {};
        style.unit = *unit;
        shown += " = " + measure::format_length(length_m, style);
    }
    return shown;
}

std::string shown_text(TypedKind kind, double value, const TypedCell& cell,
                       std::optional<LengthUnit> unit) {
    switch (kind) {
        case TypedKind::angle:
            return angle_text(value);
        case TypedKind::length:
            return length_text(value, cell, unit);
        case TypedKind::temperature:
        case TypedKind::pressure:
            return cell.text + " " + cell.unit;
        case TypedKind::time:
            break;
    }
    return cell.text;
}

}  // namespace

Result<TypedValue> read_typed(std::string_view field, std::string_view text,
                              std::optional<LengthUnit> unit) {
    const auto cell = typed_cell(field, text, unit);
    if (!cell) return cell.refusal();
    auto value = value_of(std::string(field), *cell);
    if (!value) {
        Refusal refusal = std::move(value).refusal();
        refusal.place = {};
        return refusal;
    }
    return TypedValue{*value, shown_text(*internal::typed_kind(field), *value, *cell, unit)};
}

ReadField read_field(std::string_view field, std::string_view text,
                     std::optional<LengthUnit> unit) {
    ReadField out;
    out.field = field;
    out.hint = typed_hint(field, unit);
    if (exchange::trimmed(text).empty()) return out;
    const auto typed = read_typed(field, text, unit);
    if (!typed) {
        out.says = internal::capital(fmt::format("{} is not taken: {} is expected.",
                                                 typed.refusal().found, typed.refusal().expected));
        return out;
    }
    out.ok = true;
    out.value = typed->value;
    out.shown = typed->shown;
    return out;
}

void describe(Fields& f, const ReadField& field) {
    f.is("ReadField");
    f.flag("ok", field.ok);
    f.or_null(field.ok).number("value", field.value, kAllDecimals,
                               "radians, metres, seconds, K, hPa");
    f.text("shown", field.shown, "as it was understood");
    f.text("says", field.says, "why not");
    f.text("hint", field.hint, "what would be taken");
}

void describe(Fields& f, const ReadAnswer& answer) {
    f.is("ReadAnswer");
    f.word("act", "read", {"read"});
    f.by_name("fields", answer.fields.size(), [&](std::size_t i) {
        const ReadField& field = item(answer.fields, i);
        f.record(field.field, field);
    });
}

std::string to_json(const ReadAnswer& answer) {
    return json_document(answer);
}

}  // namespace layproof::acts

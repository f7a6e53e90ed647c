#include "exchange/tables/writers.hpp"

#include <fmt/format.h>

#include <optional>

#include "exchange/tables/table.hpp"
#include "exchange/text/csv_writer.hpp"
#include "measure/angle.hpp"

namespace layproof::exchange {
namespace {

using measure::LengthUnit;

std::string unit_of(const ColumnSpec& column, LengthUnit unit) {
    switch (column.kind) {
        case CellKind::length:
            return fmt::format(
                " [{}]",
                measure::to_word(column.name == "prism_constant" ? LengthUnit::millimetre : unit));
        case CellKind::angle:
            return " [deg]";
        case CellKind::temperature:
            return " [K]";
        case CellKind::pressure:
            return " [hPa]";
        case CellKind::text:
        case CellKind::time:
            break;
    }
    return {};
}

/// One table being written: its header first, then cells in the order of its columns.
class TableWriter {
public:
    TableWriter(std::string_view table, LengthUnit unit) : unit_(unit) {
        for (const ColumnSpec& column : table_spec(table)->columns) {
            csv_.text(std::string(column.name) + unit_of(column, unit));
        }
        csv_.end_row();
    }

    TableWriter& text(std::string_view field) {
        csv_.text(field);
        return *this;
    }
    TableWriter& number(std::optional<double> value) {
        value ? csv_.number(*value) : csv_.blank();
        return *this;
    }
    TableWriter& length(std::optional<double> length_m) { return length_in(length_m, unit_); }
    TableWriter& length_in(std::optional<double> length_m, LengthUnit unit) {
        if (!length_m) return number(std::nullopt);
        return number(unit == LengthUnit::metre ? *length_m
                                                : *length_m / measure::metres_per(unit));
    }
    TableWriter& angle(std::optional<double> angle_rad) {
        if (!angle_rad) return number(std::nullopt);
        return number(*angle_rad / measure::kRadPerDeg);
    }
    void end_row() { csv_.end_row(); }

    const std::string& str() const { return csv_.str(); }

private:
    LengthUnit unit_;
    CsvWriter csv_;
};

std::string_view to_word(measure::Face face) {
    if (face == measure::Face::one) return "1";
    return face == measure::Face::two ? "2" : "";
}

std::string_view to_word(station::SetupKind kind) {
    if (kind == station::SetupKind::free) return "free";
    return kind == station::SetupKind::occupied ? "occupied" : "baseline";
}

}  // namespace

std::string write_marks(std::span<const frame::Mark> marks, LengthUnit unit) {
    TableWriter table("marks", unit);
    for (const frame::Mark& mark : marks) {
        table.text(mark.name).length(mark.east_m).length(mark.north_m).length(mark.height_m);
        table.length(mark.sd_east_m).length(mark.sd_north_m).length(mark.sd_height_m);
        table.text(mark.role).text(mark.note).end_row();
    }
    return table.str();
}

std::string write_sights(std::span<const measure::Sight> sights, LengthUnit unit) {
    TableWriter table("sights", unit);
    for (const measure::Sight& sight : sights) {
        table.text(sight.station).text(sight.target);
        table.angle(sight.direction_rad).angle(sight.zenith_rad);
        table.length(sight.slope_distance_m).length(sight.target_height_m);
        table.length(sight.horizontal_distance_m);
        table.text(sight.time_text).text(to_word(sight.face)).text(measure::to_word(sight.purpose));
        table.length_in(sight.prism_constant_m, LengthUnit::millimetre);
        table.number(sight.temperature_k).number(sight.pressure_hpa);
        table.text(sight.note).end_row();
    }
    return table.str();
}

std::string write_setups(std::span<const station::Setup> setups, LengthUnit unit) {
    TableWriter table("setups", unit);
    for (const station::Setup& setup : setups) {
        table.text(setup.station).text(to_word(setup.kind)).text(setup.mark);
        table.length(setup.instrument_height_m).text(setup.time_text);
        table.number(setup.temperature_k).number(setup.pressure_hpa).end_row();
    }
    return table.str();
}

std::string write_points(std::span<const frame::DesignPoint> points, LengthUnit unit) {
    TableWriter table("points", unit);
    for (const frame::DesignPoint& point : points) {
        table.text(point.name).length(point.east_m).length(point.north_m).length(point.height_m);
        table.text(point.element);
        table.length(point.tolerance_plan_m).length(point.tolerance_height_m);
        table.text(point.note).end_row();
    }
    return table.str();
}

std::string write_grid_lines(std::span<const frame::GridLine> lines, LengthUnit unit) {
    TableWriter out("grid_lines", unit);
    for (const frame::GridLine& line : lines) {
        out.text(line.name)
            .length(line.start_m.x())
            .length(line.start_m.y())
            .length(line.end_m.x())
            .length(line.end_m.y())
            .text(line.family);
        out.end_row();
    }
    return out.str();
}

}  // namespace layproof::exchange

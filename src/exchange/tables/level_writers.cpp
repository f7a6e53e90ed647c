// Tapes and levels as CSV text.

#include <fmt/format.h>

#include <initializer_list>
#include <optional>
#include <string_view>

#include "exchange/tables/writers.hpp"
#include "exchange/text/csv_writer.hpp"

namespace layproof::exchange {
namespace {

using measure::LengthUnit;

class LineWriter {
public:
    explicit LineWriter(LengthUnit unit) : unit_(unit) {}

    /// Lengths in the unit end with a star, those in mm with an m behind it.
    void header(std::initializer_list<std::string_view> names) {
        for (const std::string_view name : names) {
            if (name.ends_with("*m"))
                csv_.text(fmt::format("{} [mm]", name.substr(0, name.size() - 2)));
            else if (name.ends_with("*"))
                csv_.text(fmt::format("{} [{}]", name.substr(0, name.size() - 1),
                                      measure::to_word(unit_)));
            else
                csv_.text(name);
        }
        csv_.end_row();
    }
    LineWriter& text(std::string_view field) {
        csv_.text(field);
        return *this;
    }
    LineWriter& length(std::optional<double> length_m) { return number(length_m, unit_); }
    LineWriter& millimetres(std::optional<double> length_m) {
        return number(length_m, LengthUnit::millimetre);
    }
    void end_row() { csv_.end_row(); }
    const std::string& str() const { return csv_.str(); }

private:
    LineWriter& number(std::optional<double> length_m, LengthUnit unit) {
        if (length_m)
            csv_.number(unit == LengthUnit::metre ? *length_m
                                                  : *length_m / measure::metres_per(unit));
        else
            csv_.blank();
        return *this;
    }

    LengthUnit unit_;
    CsvWriter csv_;
};

}  // namespace

std::string write_tapes(std::span<const network::Tape> tapes, LengthUnit unit) {
    LineWriter out(unit);
    out.header({"from", "to", "distance*", "sd*m", "held"});
    for (const network::Tape& tape : tapes) {
        out.text(tape.from).text(tape.to).length(tape.distance_m).millimetres(tape.sd_m);
        out.text(tape.is_slope ? "slope" : "level").end_row();
    }
    return out.str();
}

std::string write_levels(std::span<const network::LevelRise> levels, LengthUnit unit) {
    LineWriter out(unit);
    out.header({"from", "to", "rise*", "sd*m"});
    for (const network::LevelRise& level : levels) {
        out.text(level.from).text(level.to).length(level.rise_m).millimetres(level.sd_m);
        out.end_row();
    }
    return out.str();
}

std::string write_level_runs(std::span<const network::LevelRun> runs, LengthUnit unit) {
    LineWriter out(unit);
    out.header({"run", "point", "backsight*", "intermediate*", "foresight*", "backsight_distance*",
                "foresight_distance*", "sd_km*m", "sd_turn*m", "time", "note"});
    for (const network::LevelRun& run : runs)
        for (const network::LevelReading& r : run.readings) {
            out.text(run.name).text(r.point);
            out.length(r.backsight_m).length(r.intermediate_m).length(r.foresight_m);
            out.length(r.backsight_distance_m).length(r.foresight_distance_m);
            out.millimetres(r.sd_km_m).millimetres(r.sd_turn_m);
            out.text(r.time_text).text(r.note).end_row();
        }
    return out.str();
}

}  // namespace layproof::exchange

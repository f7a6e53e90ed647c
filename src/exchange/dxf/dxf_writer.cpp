#include <fmt/format.h>

#include <cmath>
#include <cstdint>
#include <string_view>
#include <utility>

#include "base/text/utf8.hpp"
#include "exchange/dxf/dxf_writer.hpp"
#include "exchange/text/csv_writer.hpp"

namespace layproof::exchange {
namespace {

using measure::LengthUnit;

/// Sizes on the ground that read well in a plan of a site.
constexpr double kCross_m = 0.10;
constexpr double kText_m = 0.15;
constexpr const char* kBlock = "LP_POINT";

/// R12 text: ASCII, the rest as \U+; what lies beyond four digits becomes a question mark. Line
/// breaks would break the file.
std::string dxf_string(std::string_view text) {
    std::string out;
    for (const char32_t c : code_points(text)) {
        if (c < 0x80)
            out += c < 0x20 ? ' ' : static_cast<char>(c);
        else if (c < 0x10000)
            out += fmt::format("\\U+{:04X}", static_cast<std::uint32_t>(c));
        else
            out += '?';
    }
    return out;
}

int insunits(LengthUnit unit) {
    switch (unit) {
        case LengthUnit::metre:
            return 6;
        case LengthUnit::millimetre:
            return 4;
        case LengthUnit::foot:
            return 2;
        case LengthUnit::us_foot:
            return 21;
        case LengthUnit::inch:
            break;
    }
    return 1;
}

bool is_metric(LengthUnit unit) {
    return unit == LengthUnit::metre || unit == LengthUnit::millimetre;
}

struct Attribute {
    const char* tag;
    std::string value;
    bool is_shown = false;
};

class DxfWriter {
public:
    explicit DxfWriter(const Outgoing& out) : out_(out), unit_m_(measure::metres_per(out.unit)) {}

    Written write();

private:
    void group(int code, std::string_view value) {
        text_ += fmt::format("{:3}\n{}\n", code, value);
    }
    void group(int code, int value) { group(code, fmt::format("{}", value)); }
    void length(int code, double value_m) {
        group(code, plain_number(out_.unit == LengthUnit::metre ? value_m : value_m / unit_m_));
    }
    void place(int code, double east_m, double north_m, double height_m) {
        length(code, east_m);
        length(code + 10, north_m);
        length(code + 20, height_m);
    }
    void header();
    void tables();
    void block();
    void insert(const std::string& layer, double east_m, double north_m,
                std::optional<double> height_m, const std::vector<Attribute>& attributes);
    void grid_line(const frame::GridLine& line);
    void lose(std::size_t count, const char* what) {
        if (count > 0) written_.lost.push_back(fmt::format("{} {}", count, what));
    }

    const Outgoing& out_;
    double unit_m_;
    std::string text_;
    Written written_;
};

void DxfWriter::header() {
    group(0, "SECTION");
    group(2, "HEADER");
    group(9, "$ACADVER");
    group(1, "AC1009");
    group(9, "$INSUNITS");
    group(70, insunits(out_.unit));
    group(9, "$MEASUREMENT");
    group(70, is_metric(out_.unit) ? 1 : 0);
    group(0, "ENDSEC");
}

void DxfWriter::tables() {
    struct Layer {
        const char* name;
        int colour;
    };
    const Layer kLayers[] = {{"LP-MARK", 5},        {"LP-DESIGN", 7},        {"LP-LAID", 4},
                             {"LP-LAID-PROVEN", 3}, {"LP-LAID-IN-DOUBT", 2}, {"LP-LAID-FAILS", 1},
                             {"LP-GRID", 8}};
    group(0, "SECTION");
    group(2, "TABLES");
    group(0, "TABLE");
    group(2, "LAYER");
    group(70, static_cast<int>(std::size(kLayers)));
    for (const Layer& layer : kLayers) {
        group(0, "LAYER");
        group(2, layer.name);
        group(70, 0);
        group(62, layer.colour);
        group(6, "CONTINUOUS");
    }
    group(0, "ENDTAB");
    group(0, "ENDSEC");
}

void DxfWriter::block() {
    group(0, "SECTION");
    group(2, "BLOCKS");
    group(0, "BLOCK");
    group(8, "0");
    group(2, kBlock);
    group(70, 2);
    place(10, 0.0, 0.0, 0.0);
    group(3, kBlock);
    group(1, "");
    for (const bool is_east : {true, false}) {
        const double e = is_east ? kCross_m : 0.0;
        const double n = is_east ? 0.0 : kCross_m;
        group(0, "LINE");
        group(8, "0");
        place(10, -e, -n, 0.0);
        place(11, e, n, 0.0);
    }
    group(0, "ENDBLK");
    group(8, "0");
    group(0, "ENDSEC");
}

void DxfWriter::insert(const std::string& layer, double east_m, double north_m,
                       std::optional<double> height_m, const std::vector<Attribute>& attributes) {
    group(0, "INSERT");
    group(8, layer);
    group(66, 1);
    group(2, kBlock);
    place(10, east_m, north_m, height_m.value_or(0.0));
    int row = 0;
    for (const Attribute& a : attributes) {
        group(0, "ATTRIB");
        group(8, layer);
        place(10, east_m + kCross_m, north_m + kCross_m - kText_m * 1.5 * row++,
              height_m.value_or(0.0));
        length(40, kText_m);
        group(1, dxf_string(a.value));
        group(2, a.tag);
        group(70, a.is_shown ? 0 : 1);
    }
    group(0, "SEQEND");
    group(8, layer);
}

void DxfWriter::grid_line(const frame::GridLine& line) {
    group(0, "LINE");
    group(8, "LP-GRID");
    place(10, line.start_m.x(), line.start_m.y(), 0.0);
    place(11, line.end_m.x(), line.end_m.y(), 0.0);
    const Eigen::Vector2d before = line.start_m - 1.5 * kText_m * frame::direction_of(line);
    group(0, "TEXT");
    group(8, "LP-GRID");
    place(10, before.x(), before.y(), 0.0);
    length(40, kText_m);
    group(1, dxf_string(line.name));
    group(72, 1);
    place(11, before.x(), before.y(), 0.0);
}

Written DxfWriter::write() {
    header();
    tables();
    block();
    group(0, "SECTION");
    group(2, "ENTITIES");
    std::size_t no_plan = 0;
    const auto height_text = [&](std::optional<double> height_m) {
        return height_m ? measure::format_length(*height_m, {out_.unit, false, 16}) : std::string();
    };
    for (const frame::Mark& mark : out_.marks) {
        if (!mark.has_plan()) {
            ++no_plan;
            continue;
        }
        insert("LP-MARK", *mark.east_m, *mark.north_m, mark.height_m,
               {{"NAME", mark.name, true}, {"HEIGHT", height_text(mark.height_m)}});
    }
    for (const frame::DesignPoint& point : out_.points) {
        insert("LP-DESIGN", point.east_m, point.north_m, point.height_m,
               {{"NAME", point.name, true},
                {"HEIGHT", height_text(point.height_m)},
                {"ELEMENT", point.element}});
    }
    for (const LaidPoint& point : out_.laid) {
        std::string layer = "LP-LAID";
        if (point.word == "proven") layer += "-PROVEN";
        if (point.word == "in doubt") layer += "-IN-DOUBT";
        if (point.word == "fails") layer += "-FAILS";
        const auto off = [](std::optional<double> value_m) {
            return value_m ? fmt::format("{:.1f}", 1000.0 * *value_m) : std::string("-");
        };
        insert(layer, point.east_m, point.north_m, point.height_m,
               {{"NAME", point.name + kLaidSuffix, true},
                {"WORD", point.word},
                {"HEIGHT", height_text(point.height_m)},
                {"OFF", off(point.off_east_m) + ' ' + off(point.off_north_m) + ' ' +
                            off(point.off_height_m)}});
    }
    for (const frame::GridLine& line : out_.grid_lines) grid_line(line);
    group(0, "ENDSEC");
    group(0, "EOF");
    lose(no_plan, "marks known in height only");
    lose(out_.sights.size(), "sights have no place in a drawing");
    lose(out_.setups.size(), "set-ups have no place in a drawing");
    lose(out_.setting_out.size(), "setting-out figures have no place in a drawing");
    written_.text = std::move(text_);
    return std::move(written_);
}

}  // namespace

Written write_dxf(const Outgoing& out) {
    return DxfWriter(out).write();
}

}  // namespace layproof::exchange

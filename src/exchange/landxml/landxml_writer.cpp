#include <fmt/format.h>

#include <cmath>
#include <map>
#include <string_view>
#include <utility>

#include "base/text/xml.hpp"
#include "exchange/landxml/landxml_writer.hpp"
#include "exchange/text/csv_writer.hpp"
#include "measure/angle.hpp"

namespace layproof::exchange {
namespace {

using measure::LengthUnit;

class Xml {
public:
    Xml& open(std::string_view name) {
        indent();
        text += '<';
        text += name;
        open_.emplace_back(name);
        return *this;
    }
    Xml& attribute(std::string_view name, std::string_view value) {
        text += fmt::format(" {}=\"{}\"", name, escape_xml(value));
        return *this;
    }
    Xml& attribute(std::string_view name, std::optional<double> value) {
        if (value && std::isfinite(*value)) attribute(name, plain_number(*value));
        return *this;
    }
    Xml& attribute_if(std::string_view name, std::string_view value) {
        return value.empty() ? *this : attribute(name, value);
    }
    Xml& children() {
        text += ">\n";
        return *this;
    }
    /// Ends an element that has no children.
    void close_empty() {
        text += "/>\n";
        open_.pop_back();
    }
    void close_text(std::string_view content) {
        text += fmt::format(">{}</{}>\n", escape_xml(content), open_.back());
        open_.pop_back();
    }
    void close() {
        const std::string name = open_.back();
        open_.pop_back();
        indent();
        text += fmt::format("</{}>\n", name);
    }

    std::string text;

private:
    void indent() { text.append(open_.size() * 2, ' '); }
    std::vector<std::string> open_;
};

class LandxmlWriter {
public:
    explicit LandxmlWriter(const Outgoing& out) : out_(out) {
        const bool is_foot = out.unit == LengthUnit::foot || out.unit == LengthUnit::us_foot;
        unit_ = is_foot ? out.unit : LengthUnit::metre;
        if (unit_ != out.unit) {
            written_.lost.push_back(
                fmt::format("LandXML is written in metres: it has no place for {}",
                            measure::to_word(out.unit)));
        }
    }

    Written write();

private:
    std::optional<double> length(std::optional<double> value_m) const {
        if (!value_m || unit_ == LengthUnit::metre) return value_m;
        return *value_m / measure::metres_per(unit_);
    }
    static std::optional<double> degrees(std::optional<double> angle_rad) {
        if (!angle_rad) return angle_rad;
        return *angle_rad / measure::kRadPerDeg;
    }
    std::string position(double east_m, double north_m, std::optional<double> height_m) const {
        std::string text = plain_number(*length(north_m)) + ' ' + plain_number(*length(east_m));
        if (height_m) text += ' ' + plain_number(*length(*height_m));
        return text;
    }
    void lose(std::size_t count, std::string_view what) {
        if (count > 0) written_.lost.push_back(fmt::format("{} {}", count, what));
    }

    void write_units();
    void write_marks();
    void write_points();
    void write_laid();
    void write_survey();
    void write_sight(const measure::Sight& sight, const station::Setup* setup);
    void word(std::string_view label, std::string_view value);
    void property(std::string_view label, std::optional<double> value_m);

    const Outgoing& out_;
    LengthUnit unit_;
    Xml xml_;
    Written written_;
    std::map<std::string, std::string> setup_ids_;
    std::map<double, std::string> target_setups_;
    std::size_t lost_air_ = 0;
    std::size_t lost_notes_ = 0;
};

void LandxmlWriter::write_units() {
    xml_.open("Units").children();
    if (unit_ == LengthUnit::metre) {
        xml_.open("Metric").attribute("areaUnit", "squareMeter").attribute("linearUnit", "meter");
        xml_.attribute("volumeUnit", "cubicMeter").attribute("temperatureUnit", "celsius");
        xml_.attribute("pressureUnit", "HPA");
    } else {
        const bool is_us = unit_ == LengthUnit::us_foot;
        xml_.open("Imperial").attribute("areaUnit", "squareFoot");
        xml_.attribute("linearUnit", is_us ? "USSurveyFoot" : "foot");
        xml_.attribute("volumeUnit", "cubicFeet").attribute("temperatureUnit", "fahrenheit");
        xml_.attribute("pressureUnit", "inHG");
    }
    xml_.attribute("angularUnit", "decimal degrees").attribute("directionUnit", "decimal degrees");
    xml_.close_empty();
    xml_.close();
}

void LandxmlWriter::write_marks() {
    if (out_.marks.empty()) return;
    std::size_t lost = 0;
    xml_.open("CgPoints").attribute("name", "control").children();
    for (const frame::Mark& mark : out_.marks) {
        if (!mark.has_plan()) {
            ++lost;
            continue;
        }
        xml_.open("CgPoint").attribute("name", mark.name).attribute_if("desc", mark.note);
        xml_.attribute("role", "control point").attribute("pntSurv", "control");
        xml_.attribute("northingStdError", length(mark.sd_north_m));
        xml_.attribute("eastingStdError", length(mark.sd_east_m));
        if (mark.has_height()) xml_.attribute("elevationStdError", length(mark.sd_height_m));
        xml_.close_text(position(*mark.east_m, *mark.north_m, mark.height_m));
    }
    xml_.close();
    lose(lost, "marks known in height only");
}

void LandxmlWriter::write_points() {
    if (out_.points.empty()) return;
    xml_.open("CgPoints").attribute("name", "design").children();
    for (const frame::DesignPoint& point : out_.points) {
        xml_.open("CgPoint").attribute("name", point.name);
        xml_.attribute_if("desc", point.note).attribute_if("code", point.element);
        xml_.attribute("role", "to stake out");
        xml_.close_text(position(point.east_m, point.north_m, point.height_m));
    }
    for (const frame::DesignPoint& point : out_.points) {
        if (!point.tolerance_plan_m && !point.tolerance_height_m) continue;
        xml_.open("Feature").attribute("code", "tolerance").children();
        word("point", point.name);
        property("tolerance plan", point.tolerance_plan_m);
        property("tolerance height", point.tolerance_height_m);
        xml_.close();
    }
    xml_.close();
}

void LandxmlWriter::word(std::string_view label, std::string_view value) {
    if (value.empty()) return;
    xml_.open("Property").attribute("label", label).attribute("value", value).close_empty();
}

void LandxmlWriter::property(std::string_view label, std::optional<double> value_m) {
    if (!value_m || !std::isfinite(*value_m)) return;
    word(label, plain_number(*length(value_m)));
}

void LandxmlWriter::write_laid() {
    if (out_.laid.empty()) return;
    xml_.open("CgPoints").attribute("name", "as laid").children();
    for (const LaidPoint& point : out_.laid) {
        xml_.open("CgPoint").attribute("name", point.name + kLaidSuffix);
        xml_.attribute_if("desc", point.word).attribute("role", "staked out");
        xml_.attribute("northingStdError", length(point.sd_north_m));
        xml_.attribute("eastingStdError", length(point.sd_east_m));
        xml_.attribute("elevationStdError", length(point.sd_height_m));
        xml_.close_text(position(point.east_m, point.north_m, point.height_m));
    }
    for (const LaidPoint& point : out_.laid) {
        xml_.open("Feature").attribute("code", "as laid").children();
        word("point", point.name);
        word("station", point.stations);
        word("verdict", point.word);
        if (point.probability) word("probability", plain_number(*point.probability));
        property("off east", point.off_east_m);
        property("off north", point.off_north_m);
        property("off height", point.off_height_m);
        property("tolerance plan", point.tolerance_plan_m);
        property("tolerance height", point.tolerance_height_m);
        xml_.close();
    }
    xml_.close();
}

void LandxmlWriter::write_sight(const measure::Sight& s, const station::Setup* setup) {
    xml_.open("RawObservation").attribute("setupID", setup_ids_.at(s.station));
    if (s.prism_constant_m != 0.0) {
        xml_.attribute("targetSetupID", target_setups_.at(s.prism_constant_m));
    }
    const bool is_free = setup == nullptr || setup->kind == station::SetupKind::free;
    switch (s.purpose) {
        case measure::Purpose::control:
            xml_.attribute("purpose", is_free ? "resection" : "backsight");
            break;
        case measure::Purpose::check:
            xml_.attribute("purpose", "check");
            break;
        case measure::Purpose::lay:
            xml_.attribute("purpose", "asbuilt");
            break;
        case measure::Purpose::other:
            xml_.attribute("purpose", "sideshot");
            break;
    }
    xml_.attribute("targetHeight", length(s.target_height_m));
    xml_.attribute("horizAngle", degrees(s.direction_rad));
    xml_.attribute("slopeDistance", length(s.slope_distance_m));
    xml_.attribute("zenithAngle", degrees(s.zenith_rad));
    xml_.attribute("horizDistance", length(s.horizontal_distance_m));
    if (s.face != measure::Face::unknown) {
        xml_.attribute("directFace", s.face == measure::Face::one ? "true" : "false");
    }
    xml_.attribute_if("timeStamp", s.time_text);
    xml_.children();
    xml_.open("TargetPoint").attribute("pntRef", s.target).close_empty();
    xml_.close();
    if (s.temperature_k || s.pressure_hpa) ++lost_air_;
    if (!s.note.empty()) ++lost_notes_;
}

void LandxmlWriter::write_survey() {
    std::vector<std::string> stations;
    std::map<std::string, const station::Setup*> setups;
    const auto add = [&](const std::string& station) {
        if (setup_ids_.emplace(station, fmt::format("setup-{}", setup_ids_.size() + 1)).second) {
            stations.push_back(station);
        }
    };
    for (const station::Setup& setup : out_.setups) {
        add(setup.station);
        setups.emplace(setup.station, &setup);
    }
    for (const measure::Sight& sight : out_.sights) add(sight.station);
    for (const SettingOutRow& row : out_.setting_out) add(row.station);
    if (stations.empty()) return;

    xml_.open("Survey").children();
    const std::string title = out_.title.empty() ? "layout" : out_.title;
    xml_.open("SurveyHeader").attribute("name", title).close_empty();
    for (const measure::Sight& sight : out_.sights) {
        if (sight.prism_constant_m == 0.0) continue;
        const std::string id = fmt::format("target-{}", target_setups_.size() + 1);
        if (!target_setups_.emplace(sight.prism_constant_m, id).second) continue;
        xml_.open("TargetSetup").attribute("id", id);
        xml_.attribute("prismConstant", length(sight.prism_constant_m)).close_empty();
    }
    for (const std::string& station : stations) {
        const auto found = setups.find(station);
        const station::Setup* setup = found == setups.end() ? nullptr : found->second;
        xml_.open("InstrumentSetup").attribute("id", setup_ids_.at(station));
        xml_.attribute("stationName", station);
        const double height_m = setup == nullptr ? 0.0 : setup->instrument_height_m.value_or(0.0);
        xml_.attribute("instrumentHeight", length(height_m)).children();
        const bool is_free = setup == nullptr || setup->kind == station::SetupKind::free;
        xml_.open("InstrumentPoint");
        xml_.attribute(is_free ? "name" : "pntRef", is_free ? station : setup->mark).close_empty();
        for (const measure::Sight& sight : out_.sights) {
            if (sight.station == station) write_sight(sight, setup);
        }
        bool is_open = false;
        for (const SettingOutRow& row : out_.setting_out) {
            if (row.station != station) continue;
            if (!is_open) {
                xml_.open("ObservationGroup").attribute("id", "lay-" + setup_ids_.at(station));
                xml_.attribute("purpose", "cutSheets");
                xml_.attribute("setupID", setup_ids_.at(station)).children();
                is_open = true;
            }
            xml_.open("ReducedObservation").attribute("purpose", "cutSheets");
            xml_.attribute("setupID", setup_ids_.at(station));
            xml_.attribute("targetHeight", length(row.rod_height_m));
            xml_.attribute("azimuth", degrees(row.azimuth_rad));
            xml_.attribute("horizDistance", length(row.horizontal_m));
            xml_.attribute("vertDistance", length(row.height_difference_m));
            xml_.attribute("horizAngle", degrees(row.direction_rad));
            xml_.attribute("slopeDistance", length(row.slope_m));
            xml_.attribute("zenithAngle", degrees(row.zenith_rad)).children();
            xml_.open("TargetPoint").attribute("pntRef", row.point).close_empty();
            xml_.close();
        }
        if (is_open) xml_.close();
        xml_.close();
    }
    xml_.close();
}

Written LandxmlWriter::write() {
    xml_.text = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n";
    xml_.open("LandXML").attribute("xmlns", "http://www.landxml.org/schema/LandXML-1.2");
    xml_.attribute("version", "1.2").attribute("date", out_.date).attribute("time", out_.time);
    xml_.children();
    write_units();
    if (!out_.frame.empty()) {
        xml_.open("CoordinateSystem").attribute("name", out_.frame).close_empty();
    }
    xml_.open("Project").attribute("name", out_.title.empty() ? "layout" : out_.title);
    xml_.close_empty();
    xml_.open("Application").attribute("name", "layproof").close_empty();
    write_marks();
    write_points();
    write_laid();
    write_survey();
    xml_.close();
    lose(lost_air_, "sights lose their temperature and pressure");
    lose(lost_notes_, "sights lose their note");
    lose(out_.grid_lines.size(), "grid lines have no place in LandXML");
    written_.text = std::move(xml_.text);
    return std::move(written_);
}

}  // namespace

Written write_landxml(const Outgoing& out) {
    return LandxmlWriter(out).write();
}

}  // namespace layproof::exchange

#include <array>
#include <cmath>

#include "exchange/landxml/landxml_units_internal.hpp"
#include "exchange/text/number.hpp"
#include "exchange/text/text.hpp"
#include "measure/angle.hpp"

namespace layproof::exchange {
namespace {

struct LinearUnit {
    std::string_view word;
    double metres;
    std::optional<measure::LengthUnit> unit;
};

const std::array<LinearUnit, 8>& linear_units() {
    using measure::LengthUnit;
    static const std::array<LinearUnit, 8> units{
        LinearUnit{"meter", 1.0, LengthUnit::metre},
        {"millimeter", 0.001, LengthUnit::millimetre},
        {"centimeter", 0.01, std::nullopt},
        {"kilometer", 1000.0, std::nullopt},
        {"foot", measure::kMetresPerFoot, LengthUnit::foot},
        {"USSurveyFoot", measure::kMetresPerUsFoot, LengthUnit::us_foot},
        {"inch", measure::kMetresPerInch, LengthUnit::inch},
        {"mile", 5280.0 * measure::kMetresPerFoot, std::nullopt},
    };
    return units;
}

std::optional<LandXmlAngle> angle_from_word(std::string_view word) {
    if (word == "radians") return LandXmlAngle::radians;
    if (word == "grads") return LandXmlAngle::grads;
    if (word == "decimal degrees") return LandXmlAngle::decimal_degrees;
    if (word == "decimal dd.mm.ss") return LandXmlAngle::packed_dms;
    return std::nullopt;
}

int digit_at(std::string_view text, std::size_t i) {
    return i < text.size() ? text[i] - '0' : 0;
}

std::optional<double> packed(std::string_view text) {
    double sign = 1.0;
    if (!text.empty() && (text.front() == '-' || text.front() == '+')) {
        if (text.front() == '-') sign = -1.0;
        text.remove_prefix(1);
    }
    if (text.empty() || text.find_first_not_of("0123456789.") != std::string_view::npos) {
        return std::nullopt;
    }
    const std::size_t point = text.find('.');
    const std::string_view whole = text.substr(0, point);
    const std::string_view rest =
        point == std::string_view::npos ? std::string_view{} : text.substr(point + 1);
    if (rest.find('.') != std::string_view::npos || whole.size() > 3) return std::nullopt;
    if (whole.empty() && rest.empty()) return std::nullopt;
    double degrees = 0.0;
    for (const char c : whole) degrees = 10.0 * degrees + (c - '0');
    const int minutes = 10 * digit_at(rest, 0) + digit_at(rest, 1);
    double seconds = 10 * digit_at(rest, 2) + digit_at(rest, 3);
    double place = 0.1;
    for (std::size_t i = 4; i < rest.size() && i < 20; ++i, place *= 0.1) {
        seconds += place * digit_at(rest, i);
    }
    if (minutes > 60 || seconds > 60.0) return std::nullopt;
    return sign * (degrees + (minutes + seconds / 60.0) / 60.0) * measure::kRadPerDeg;
}

}  // namespace

Result<LandXmlUnits> landxml_units(const XmlTag& tag, const Place& place) {
    LandXmlUnits out;
    const auto linear = tag.find("linearUnit");
    if (!linear) {
        return Refusal{ErrorCode::unit_missing, place, "no linearUnit in Units",
                       "linearUnit=\"meter\", \"foot\" or \"USSurveyFoot\""};
    }
    for (const LinearUnit& u : linear_units()) {
        if (u.word != *linear) continue;
        out.metres_per_unit = u.metres;
        out.unit = u.unit;
        out.linear_word = u.word;
    }
    if (out.linear_word.empty()) {
        return Refusal{
            ErrorCode::unit_unknown, place, "linearUnit " + in_quotes(*linear),
            "meter, millimeter, centimeter, kilometer, foot, USSurveyFoot, inch or mile"};
    }
    for (const auto& [attribute, unit] :
         {std::pair{"angularUnit", &out.angle}, std::pair{"directionUnit", &out.direction}}) {
        const auto word = tag.find(attribute);
        if (!word) continue;
        *unit = angle_from_word(*word);
        if (*unit) continue;
        return Refusal{ErrorCode::unit_unknown, place,
                       std::string(attribute) + ' ' + in_quotes(*word),
                       "radians, grads, decimal degrees or decimal dd.mm.ss"};
    }
    return out;
}

std::optional<double> landxml_angle(std::string_view text, LandXmlAngle unit) {
    std::optional<double> angle;
    if (unit == LandXmlAngle::packed_dms) {
        angle = packed(trimmed(text));
    } else {
        angle = plain_double(text);
        if (angle && unit == LandXmlAngle::grads) *angle *= measure::kRadPerGon;
        if (angle && unit == LandXmlAngle::decimal_degrees) *angle *= measure::kRadPerDeg;
    }
    constexpr double kMost_rad = 2.0 * measure::kTwoPi + 1e-9;
    if (angle && std::abs(*angle) > kMost_rad) return std::nullopt;
    return angle;
}

}  // namespace layproof::exchange

#include "exchange/text/units.hpp"

#include <string>

#include "exchange/text/number.hpp"
#include "exchange/text/text.hpp"
#include "measure/angle.hpp"

namespace layproof::exchange {
namespace {

constexpr double kCelsiusZero_k = 273.15;
constexpr double kHpaPerMmHg = 1.333224;
constexpr double kHpaPerInHg = 33.86389;

/// "-123.45067" as "-123-45-06.7"; nothing when it is not digits with at most one point.
std::string unpacked(std::string_view text) {
    std::string result;
    if (!text.empty() && (text[0] == '-' || text[0] == '+')) {
        if (text[0] == '-') result += '-';
        text.remove_prefix(1);
    }
    const std::size_t point = text.find('.');
    const std::string_view degrees = text.substr(0, point);
    std::string rest(point == std::string_view::npos ? std::string_view{} : text.substr(point + 1));
    const auto is_digits = [](std::string_view s) {
        return s.find_first_not_of("0123456789") == std::string_view::npos;
    };
    if (degrees.empty() || !is_digits(degrees) || !is_digits(rest)) return {};
    if (rest.size() < 4) rest.append(4 - rest.size(), '0');
    result += degrees;
    result += '-' + rest.substr(0, 2) + '-' + rest.substr(2, 2);
    if (rest.size() > 4) result += '.' + rest.substr(4);
    return result;
}

}  // namespace

CellUnit unit_from_word(CellKind kind, std::string_view word) {
    const std::string name = lower(trimmed(word));
    switch (kind) {
        case CellKind::length:
            if (const auto unit = measure::length_unit_from_word(name)) return *unit;
            break;
        case CellKind::angle:
            if (name == "deg" || name == "dms" || name == "°") return AngleFormat::degrees;
            if (name == "gon") return AngleFormat::gon;
            if (name == "packed-dms") return AngleFormat::packed_dms;
            break;
        case CellKind::temperature:
            if (name == "c" || name == "°c" || name == "degc") return TemperatureUnit::celsius;
            if (name == "f" || name == "°f" || name == "degf") return TemperatureUnit::fahrenheit;
            if (name == "k") return TemperatureUnit::kelvin;
            break;
        case CellKind::pressure:
            if (name == "hpa" || name == "mbar") return PressureUnit::hectopascal;
            if (name == "mmhg") return PressureUnit::mm_mercury;
            if (name == "inhg") return PressureUnit::inch_mercury;
            break;
        case CellKind::text:
        case CellKind::time:
            break;
    }
    return {};
}

std::string_view known_units(CellKind kind) {
    switch (kind) {
        case CellKind::length:
            return "m, mm, ft, us-ft or in";
        case CellKind::angle:
            return "deg, dms, gon or packed-dms";
        case CellKind::temperature:
            return "C, F or K";
        case CellKind::pressure:
            return "hPa, mbar, mmHg or inHg";
        case CellKind::text:
        case CellKind::time:
            break;
    }
    return "no unit";
}

Result<double> read_length(std::string_view text, measure::LengthUnit unit, const Place& place) {
    auto length = measure::parse_length(text, unit, place);
    if (length || unit != measure::LengthUnit::inch) return length;
    // Feet-and-inches in the international foot hold the same inch; the mark may be left out,
    // because the column says inches.
    for (const std::string_view mark : {"", "\""}) {
        const std::string marked = std::string(text) + std::string(mark);
        auto fraction = measure::parse_length(marked, measure::LengthUnit::foot, place);
        const bool is_marked = marked.find_first_of("'\"/") != std::string::npos;
        if (fraction && is_marked) return fraction;
    }
    return length;
}

Result<double> read_angle(std::string_view text, AngleFormat format, const Place& place) {
    switch (format) {
        case AngleFormat::degrees:
            return measure::parse_angle(text, measure::AngleUnit::degree, place);
        case AngleFormat::gon:
            return measure::parse_angle(text, measure::AngleUnit::gon, place);
        case AngleFormat::packed_dms:
            break;
    }
    const std::string dms = unpacked(text);
    if (dms.empty()) {
        return Refusal{ErrorCode::not_an_angle, place, in_quotes(text),
                       "degrees, minutes and seconds as 123.45067 for 123°45'06.7\""};
    }
    return measure::parse_angle(dms, measure::AngleUnit::degree, place);
}

Result<double> read_temperature(std::string_view text, TemperatureUnit unit, const Place& place) {
    const auto number = parse_number(text, place);
    if (!number) return number;
    double kelvin = *number;
    if (unit == TemperatureUnit::celsius) kelvin = *number + kCelsiusZero_k;
    if (unit == TemperatureUnit::fahrenheit) kelvin = (*number - 32.0) / 1.8 + kCelsiusZero_k;
    if (kelvin < kCelsiusZero_k - 60.0 || kelvin > kCelsiusZero_k + 70.0) {
        return Refusal{ErrorCode::out_of_range, place, in_quotes(text),
                       "a temperature from -60 to 70 °C"};
    }
    return kelvin;
}

Result<double> read_pressure(std::string_view text, PressureUnit unit, const Place& place) {
    const auto number = parse_number(text, place);
    if (!number) return number;
    double pressure_hpa = *number;
    if (unit == PressureUnit::mm_mercury) pressure_hpa = *number * kHpaPerMmHg;
    if (unit == PressureUnit::inch_mercury) pressure_hpa = *number * kHpaPerInHg;
    if (pressure_hpa < 300.0 || pressure_hpa > 1200.0) {
        return Refusal{ErrorCode::out_of_range, place, in_quotes(text),
                       "an air pressure from 300 to 1200 hPa"};
    }
    return pressure_hpa;
}

}  // namespace layproof::exchange

#pragma once
// The units a LandXML file states, and numbers read in them.

#include <optional>
#include <string>
#include <string_view>

#include "base/result.hpp"
#include "exchange/text/xml_events.hpp"
#include "measure/length.hpp"

namespace layproof::exchange {

enum class LandXmlAngle { radians, grads, decimal_degrees, packed_dms };

struct LandXmlUnits {
    double metres_per_unit = 1.0;
    std::optional<measure::LengthUnit> unit;  ///< when it is one of ours
    std::string linear_word;
    std::optional<LandXmlAngle> angle;      ///< angularUnit
    std::optional<LandXmlAngle> direction;  ///< directionUnit, for azimuths

    friend bool operator==(const LandXmlUnits&, const LandXmlUnits&) = default;
};

/// From the tag Metric or Imperial. Error codes: unit_missing, unit_unknown.
Result<LandXmlUnits> landxml_units(const XmlTag& tag, const Place& place);

/// Radians, not wrapped; nothing when it is no angle of at most two turns. Seconds and minutes of
/// 60 are taken, as the schema allows.
std::optional<double> landxml_angle(std::string_view text, LandXmlAngle unit);

}  // namespace layproof::exchange

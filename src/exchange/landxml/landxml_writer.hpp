#pragma once

#include "exchange/tables/outgoing.hpp"

namespace layproof::exchange {

/// LandXML 1.2. Points go out as CgPoints "control", "design" and "as laid" (named "P1 laid", with
/// deviation, tolerance, verdict and probability as Feature properties), setting-out figures as
/// ReducedObservation with purpose cutSheets, sights as RawObservation, angles as decimal degrees.
/// Numbers have all their digits. Lost: marks known in height only, air and notes of sights, the
/// verdict's covariance. The unit is metre, foot or USSurveyFoot; any other becomes metre.
Written write_landxml(const Outgoing& out);

}  // namespace layproof::exchange

#pragma once
// Descriptions of what several answers hold, and the units that their fields are told in.

#include <cmath>
#include <optional>

#include "acts/shared/describe.hpp"
#include "adjust/tests.hpp"
#include "measure/angle.hpp"
#include "measure/length.hpp"
#include "station/lay_prediction.hpp"
#include "station/pose.hpp"
#include "station/setup.hpp"
#include "station/solution.hpp"

namespace layproof::acts {

struct Verdict;

inline const Words kVerdictWords{"proven", "in doubt", "fails"};
inline const Words kUnitWords{"m", "ft", "us-ft"};
inline const Words kGroundWords{"slab", "soil", "deck", "steel"};
inline const Words kDecisionWords{"set-aside", "put-back", "accept", "mark-moved"};
/// What a file can be taken as.
inline const Words kRoleWords{"marks", "sights", "setups", "points", "instrument",
                              "grid",  "causes", "tapes",  "levels", "drawing"};
inline const Words kPurposeWords{"control", "check", "lay", "other"};

inline const Words kSetupWords{"free", "occupied", "baseline"};
std::string_view setup_word(station::SetupKind kind);

/// Decimals of an angle in degrees: 0.04 mm at a kilometre.
inline constexpr int kDegreeDecimals = 8;

inline double in_mm(double metres) {
    return metres * 1000.0;
}
inline double in_deg(double radians) {
    return radians / measure::kRadPerDeg;
}
inline double in_arcsec(double radians) {
    return radians / measure::kRadPerArcsec;
}
inline std::optional<double> in_mm(const std::optional<double>& metres) {
    return metres ? std::optional<double>(in_mm(*metres)) : std::nullopt;
}
inline std::optional<double> in_deg(const std::optional<double>& radians) {
    return radians ? std::optional<double>(in_deg(*radians)) : std::nullopt;
}
inline std::optional<double> in_arcsec(const std::optional<double>& radians) {
    return radians ? std::optional<double>(in_arcsec(*radians)) : std::nullopt;
}

/// Nothing unless it is known.
inline std::optional<double> known(bool is_known, double value) {
    return is_known ? std::optional<double>(value) : std::nullopt;
}

/// Also says the unit of what follows.
void unit_field(Fields& f, measure::LengthUnit unit, std::string_view says = {});
/// Says it only.
void unit_or_null_field(Fields& f, const std::optional<measure::LengthUnit>& unit,
                        std::string_view says = {});

void describe(Fields& f, const Verdict& verdict);
void describe(Fields& f, const station::Pose& pose);

/// What something is off by, or its standard deviation.
struct OffMm {
    std::optional<double> east_m, north_m, height_m;
    int decimals = kDecimals;
};
void describe(Fields& f, const OffMm& off);
OffMm off_mm(const Eigen::Vector3d& off_m, bool has_height, int decimals = kDecimals);

/// Adjusted less observed.
struct SightResidual {
    const station::PartFigures& of;
};
void describe(Fields& f, const SightResidual& residual);

/// Figures without a unit.
struct SightFigures {
    const station::PartFigures& of;
};
void describe(Fields& f, const SightFigures& figures);

struct GlobalTestRow {
    const adjust::GlobalTest& test;
    int decimals = kDecimals;
};
void describe(Fields& f, const GlobalTestRow& row);

}  // namespace layproof::acts

#pragma once
// The checks of the tools in the act "vet": is the instrument, and is the rod, fit for today's
// work? Every finding says what it does to a laid point at the working radius.
//
// Words: a finding is proven when it is, with the required confidence, less than a third of the
// plan tolerance at the working radius (the share is engineering judgement, no source), fails when
// it is more, else in doubt. A scatter is proven when it passes its test, else it fails.
//
// Defaults, said in the answer: radius 30 m, tolerance 1/4 in (6.35 mm), instrument figures of
// measure/instrument.hpp.

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "acts/shared/verdict.hpp"
#include "base/result.hpp"
#include "exchange/text/document.hpp"
#include "job/job.hpp"
#include "measure/instrument.hpp"
#include "measure/length.hpp"
#include "vet/instrument_checks.hpp"
#include "vet/rod_checks.hpp"

namespace layproof::acts {

class Fields;

struct ToolRequest {
    std::optional<exchange::Document> instrument;
    std::optional<measure::Instrument> stated;  ///< where no file is given, such as a job's
    std::optional<measure::LengthUnit> unit;
    std::optional<measure::LengthStyle> show;
    double radius_m = 30.0;  ///< 0.5 to 1000
    double tolerance_plan_m = kDefaultTolerancePlan_m;
    double confidence = 0.95;
};

struct InstrumentRequest {
    ToolRequest tool;
    std::optional<exchange::Document> faces;  ///< sights in both faces
    std::optional<exchange::Document> sets;   ///< series, set, target, direction, zenith
    std::optional<exchange::Document> line;   ///< from, to, distance between points in one line
    std::optional<exchange::Document> base;   ///< known, measured
    double base_sd_m = 0.0005;                ///< of a known base
};

struct RodRequest {
    ToolRequest tool;
    exchange::Document turns;  ///< turn, direction, zenith, slope_distance, target_height
};

/// One number found, or one scatter tested.
struct Finding {
    std::string what;  ///< "collimation", "trunnion-axis", "vertical-index", "prism-constant",
                       ///< "rod-lean", "pole-bend", "pointing-scatter", "direction-scatter", …
    station::Word word = station::Word::in_doubt;
    std::optional<double> probability;  ///< of being within its share; nothing for scatters
    double value = 0.0;                 ///< rad or m
    double sd = 0.0;
    bool is_angle = true;
    int dof = 0;
    std::optional<double> limit;      ///< of a scatter
    std::optional<double> at_radius;  ///< m: what it does to a point laid there
    bool is_real = false;             ///< it differs from 0
    std::string says;
    std::string next;
};

struct ToolAnswer {
    std::string tool;  ///< "instrument" or "rod"
    measure::LengthUnit unit = measure::LengthUnit::metre;
    measure::LengthStyle style;
    double confidence = 0.95;
    double radius_m = 0.0;
    double tolerance_plan_m = 0.0;
    Verdict verdict;
    std::vector<Finding> findings;
    std::vector<std::string> notices;
};

/// Refuses as the readers do; value_missing when no check is given or its rows do not make one.
Result<ToolAnswer> run_vet_instrument(const InstrumentRequest& request);
Result<ToolAnswer> run_vet_rod(const RodRequest& request);

std::string to_json(const ToolAnswer& answer);
void describe(Fields& f, const ToolAnswer& answer);
std::string to_text(const ToolAnswer& answer);
bool is_proven(const ToolAnswer& answer);

/// How the names of the settings begin that keep() writes.
inline constexpr std::string_view kCheckedNote = "checked ";

/// Keeps every number found as a setting of the job, "checked WHAT", with its standard deviation
/// and the time: "collimation 4.1 arcsec, sd 0.8, 2031-05-14 12:30:00Z".
Result<int> keep(job::Job& job, const ToolAnswer& answer, std::int64_t time_ms);

}  // namespace layproof::acts

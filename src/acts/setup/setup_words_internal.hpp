#pragma once
// The sentences of a station's answer.

#include <string>

#include "acts/setup/assess_internal.hpp"
#include "acts/setup/setup_report.hpp"
#include "station/aids.hpp"

namespace layproof::acts::internal {

/// What the words need besides the report.
struct WordContext {
    measure::LengthStyle style;
    double confidence = 0.95;
};

std::string fit_sentence(const StationReport& report);
std::string weakness_sentence(const station::WeakDirection& weak,
                              const measure::LengthStyle& style);
std::string remark_sentence(const station::Remark& remark, const StationReport& report,
                            const measure::LengthStyle& style);
/// `points`: how many it was tried on, "40 points".
std::string aid_sentence(const station::Aid& aid, const station::Aid& now,
                         const std::string& points, const measure::LengthStyle& style);

/// Word, probability and sentences from what the report holds already: points, test, rivals,
/// remarks, aids.
/// `sound`: the forecast if nothing were wrong.
Verdict verdict_of(const StationReport& report, const station::Forecast& forecast,
                   const station::Forecast& sound, const Assessment& assessment,
                   const WordContext& context);

/// "With that put right, the station lies 3.1 mm north of here and 40 of 40 points can be proven."
std::string explained_sentence(const StationReport& report, const measure::LengthStyle& style);

}  // namespace layproof::acts::internal

#pragma once
// The act "station": may I start laying from here?
//
// In: the files as bytes, and what was chosen. Out: for each set-up its pose, what the sights say
// about the marks, and a verdict about the points to be laid. Metres and radians inside; units
// appear only in the words, in JSON and in the text.
//
// Sights are grouped by station in the order of the file, and put in the order of their times when
// all sights of a station have one. A station without a row in the set-ups file is a free set-up.
// The rod height for laying is the median target height of the sights booked as lay, else of the
// control sights used. Every point of the points file is judged from every station; without a
// points file, sixteen places on a circle of the working radius are.
//
// Defaults (said in the answer): instrument figures of measure/instrument.hpp; tolerance in plan
// 1/4 in (6.35 mm), on the circle also 1/2 in (12.7 mm) in height; radius: the mean plan distance
// to the marks used.

#include <optional>
#include <string>
#include <vector>

#include "acts/setup/setup_report.hpp"
#include "acts/setup/station_request.hpp"
#include "base/result.hpp"
#include "measure/length.hpp"

namespace layproof::acts {

class Fields;

struct StationAnswer {
    measure::LengthUnit unit = measure::LengthUnit::metre;  ///< of the job: coordinates in JSON
    measure::LengthStyle style;                             ///< of the words
    double confidence = 0.95;
    bool explain = false;
    std::vector<StationReport> stations;
    std::vector<std::string> notices;  ///< about the files and what was assumed
};

/// Refuses as the readers, prepare and solve_station do; out_of_range for a figure of the request
/// that makes no sense; target_unknown for something set aside that is not there.
Result<StationAnswer> run_station(const StationRequest& request);

/// One JSON document with a line end, the contract of docs/station.md. What is not known is null.
std::string to_json(const StationAnswer& answer);
void describe(Fields& f, const StationAnswer& answer);

/// Plain text: verdicts first, then one screen per station.
std::string to_text(const StationAnswer& answer);

/// The plan of each station as SVG, in the order of the answer.
std::vector<std::string> to_svg(const StationAnswer& answer);

/// proven: every station is.
bool is_proven(const StationAnswer& answer);

}  // namespace layproof::acts

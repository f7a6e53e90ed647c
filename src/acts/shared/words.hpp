#pragma once
// Figures as a crew reads them.

#include <Eigen/Core>
#include <string>
#include <string_view>
#include <vector>

#include "base/text/percent.hpp"
#include "measure/length.hpp"
#include "station/lay_prediction.hpp"

namespace layproof::acts::internal {

/// Stands under every text.
inline constexpr std::string_view kCaution =
    "Contractor's layout record, not a survey. Contract documents, local codes and the licensed "
    "surveyor decide.";

/// "PROVEN", "IN DOUBT", "FAILS".
std::string_view shouted(station::Word word);

using layproof::percent;

/// "1 point", "3 points".
std::string count(int number, std::string_view noun);

/// "A", "A and B", "A, B and C"; after `most` names "and 4 more".
std::string listed(const std::vector<std::string>& names, std::size_t most = 6);

/// "  and 4 more points; --explain lists all", a line; empty when nothing is left out. `what`: with
/// its blank or comma before it, or empty.
std::string and_more(std::size_t shown, std::size_t total, std::string_view what);

/// Without the folders before it.
std::string file_name(const std::string& path);

/// One of eight: "north", "north-east", …
std::string compass(double azimuth_rad);
/// A line: "north to south", "north-east to south-west", …
std::string compass_line(double azimuth_rad);

/// A standard deviation or misfit; metric in mm.
std::string small(double length_m, const measure::LengthStyle& style);
/// With its sign always: "+1.2 mm".
std::string signed_small(double length_m, const measure::LengthStyle& style);
/// A tolerance as it was agreed: "6.35 mm", "1/4 in".
std::string tolerance(double length_m, const measure::LengthStyle& style);
/// A distance on the site, to the tenth of a metre or the foot.
std::string rough(double length_m, const measure::LengthStyle& style);

/// "12.1 mm south-west".
std::string toward(const Eigen::Vector2d& plan_m, const measure::LengthStyle& style);

/// First letter in upper case.
std::string capital(std::string text);

}  // namespace layproof::acts::internal

#pragma once
// Probabilities as people read them. Rounded down to a tenth of a percent, so that 94.99 % never
// reads as the 95 % that is asked for; never 0 or 100 %, which no sight can show.

#include <string>

namespace layproof {

/// In sentences and lists: "95 %", "94.9 %"; below 0.1 % and above 99.9 % in words. Values outside
/// 0 to 1 count as the nearer of these.
std::string percent(double probability);

/// Where room is short, always with its tenth: "95.0 %", "99.9 %", at the ends "under 0.1 %" and
/// "over 99.9 %".
std::string short_percent(double probability);

}  // namespace layproof

#pragma once
// The colour space that the record's colours are meant in, as an ICC profile.

#include <string>

namespace layproof::paper {

/// sRGB (IEC 61966-2-1) as a display profile of ICC version 2.1: primaries adapted to D50, the tone
/// curve in 1024 steps. About 2.6 kB, always the same bytes.
std::string srgb_profile();

}  // namespace layproof::paper

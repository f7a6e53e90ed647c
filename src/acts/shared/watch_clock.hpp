#pragma once
// Times as the site's clock shows them.

#include <string>
#include <string_view>

namespace layproof::acts::internal {

/// Seconds that the clock of a time's text is ahead of UTC: "…-05:00" gives −18000. 0 where the
/// text states none.
double clock_offset_s(std::string_view time_text);

/// "10:02"; with seconds where they are not zero.
std::string clock(double utc_s, double offset_s);
/// "2031-05-15".
std::string calendar_day(double utc_s, double offset_s);
/// "2031-05-15T10:02:00-05:00".
std::string full_time(double utc_s, double offset_s);
/// "UTC-05:00".
std::string offset_words(double offset_s);

}  // namespace layproof::acts::internal

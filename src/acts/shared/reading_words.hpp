#pragma once
// Readings of lists and booked names as a crew reads them.

#include <optional>
#include <string>

#include "measure/length.hpp"
#include "network/readings.hpp"

namespace layproof::acts::internal {

/// What the files are called, and the units they were read in.
struct ReadingFiles {
    std::string marks = "the list of marks";
    std::string points = "the list of points";
    std::optional<measure::LengthUnit> marks_unit, points_unit;
};

/// One sentence each, the first with its full stop; the second as what follows "Do this:", with
/// what to type.
struct ReadingWords {
    std::string says;
    std::string to_do;
};

/// `input` is the one that was read; indices that do not fit it are left out.
ReadingWords reading_words(const network::Reading& reading, const network::NetworkInput& input,
                           const ReadingFiles& files, const measure::LengthStyle& style);

}  // namespace layproof::acts::internal

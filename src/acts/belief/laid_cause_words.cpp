#include "acts/belief/laid_cause_words.hpp"

#include <fmt/format.h>

#include <cmath>

#include "acts/shared/words.hpp"

namespace layproof::acts::internal {

LaidCauseWords laid_cause_words(const lay::LaidCause& cause, const std::vector<std::string>& names,
                                const measure::LengthStyle& style) {
    const std::string points =
        fmt::format("{} ({})", count(static_cast<int>(names.size()), "point"), listed(names, 4));
    switch (cause.kind) {
        case lay::LaidCauseKind::on_anothers_place:
            return {fmt::format("{0} lies where {1} belongs: the rod stood at {1} and the name was "
                                "booked wrong, or {0} was laid on the place of {1}.",
                                names.front(), cause.other),
                    fmt::format("Look what is marked at {}, and sight {} again.", cause.other,
                                names.front())};
        case lay::LaidCauseKind::off_in_height: {
            const double off = cause.amount_m.z();
            return {fmt::format("{} in a row are all {} too {}: the rod was another length than "
                                "booked while they were sighted, or they were laid from a wrong "
                                "benchmark.",
                                points, small(std::abs(off), style), off < 0.0 ? "low" : "high"),
                    fmt::format("Read the rod, and sight {} and the benchmark again before any is "
                                "moved.",
                                names.front())};
        }
        case lay::LaidCauseKind::shifted_in_plan:
            break;
    }
    const std::string where =
        cause.along.empty() ? points : fmt::format("{} of {}", points, cause.along);
    return {fmt::format("{} lie {} of their places, all alike: laid from a wrong line or a wrong "
                        "offset.",
                        where, toward(cause.amount_m.head<2>(), style)),
            "Look up the line and the offset that they were laid from; then move them together and "
            "sight them again."};
}

}  // namespace layproof::acts::internal

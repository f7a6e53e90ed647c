#include "acts/shared/reading_words.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <set>
#include <vector>

#include "acts/shared/words.hpp"
#include "base/index.hpp"

namespace layproof::acts::internal {
namespace {

using measure::LengthUnit;
using network::NetworkInput;
using network::Reading;
using network::ReadingKind;

std::vector<std::string> names_of(const Reading& reading, const NetworkInput& input) {
    std::vector<std::string> out;
    for (const int m : reading.marks)
        if (m >= 0 && at(m) < input.marks.size()) out.push_back(input.marks[at(m)].name);
    return out;
}

std::string station_of(const Reading& reading, const NetworkInput& input) {
    if (reading.setup < 0 || at(reading.setup) >= input.setups.size()) return "its set-up";
    return input.setups[at(reading.setup)].setup.station;
}

/// "1.243 m north-east", "2.000 m higher".
std::string shift_in_words(const Eigen::Vector3d& shift, const measure::LengthStyle& style) {
    const Eigen::Vector2d plan = shift.head<2>();
    if (plan.isZero())
        return fmt::format("{} {}", measure::format_length(std::abs(shift.z()), style),
                           shift.z() > 0.0 ? "higher" : "lower");
    return fmt::format("{} {}", measure::format_length(plan.norm(), style),
                       compass(std::atan2(plan.x(), plan.y())));
}

/// The unit whose metres are these, to a hundredth: either foot is told as ft.
std::optional<LengthUnit> unit_of(double metres) {
    constexpr double kNear = 0.01;
    for (const LengthUnit unit :
         {LengthUnit::metre, LengthUnit::foot, LengthUnit::inch, LengthUnit::millimetre})
        if (std::abs(metres / measure::metres_per(unit) - 1.0) < kNear) return unit;
    return std::nullopt;
}

std::string unit_to_type(LengthUnit unit) {
    if (unit == LengthUnit::foot) return "--unit ft (or us-ft, as the sheet says)";
    return fmt::format("--unit {}", measure::to_word(unit));
}

ReadingWords unit_words(const Reading& reading, const ReadingFiles& files) {
    ReadingWords out;
    out.says = fmt::format(
        "Distances measured are {:.4g} times those of {}: the two are in different units.",
        reading.ratio, files.marks);
    // The list times the ratio is right: it was read in a unit that is too large or too small by
    // it.
    const double read_in = measure::metres_per(files.marks_unit.value_or(LengthUnit::metre));
    if (const auto unit = unit_of(read_in * reading.ratio)) {
        out.to_do = fmt::format(
            "read {} with {} if its numbers are in that unit; else state the "
            "unit of the sights",
            files.marks, unit_to_type(*unit));
    } else {
        out.to_do = fmt::format("state the unit of the sights; {} was read in {}", files.marks,
                                measure::to_word(files.marks_unit.value_or(LengthUnit::metre)));
    }
    return out;
}

bool several_setups_sight(const Reading& reading, const NetworkInput& input) {
    std::set<std::size_t> setups;
    for (std::size_t s = 0; s < input.setups.size(); ++s)
        for (const measure::Sight& sight : input.setups[s].sights)
            if (sight.target == reading.booked || sight.target == reading.meant) setups.insert(s);
    return setups.size() > 1;
}

ReadingWords exchange_words(const Reading& reading, const NetworkInput& input,
                            const ReadingFiles& files) {
    if (reading.setup >= 0) {
        const std::string station = station_of(reading, input);
        return {fmt::format("The names of {} and {} are exchanged in the sights of {}.",
                            reading.booked, reading.meant, station),
                fmt::format("exchange the two names in the sights of {}", station)};
    }
    if (several_setups_sight(reading, input))
        return {fmt::format("The names of {} and {} are exchanged in {}.", reading.booked,
                            reading.meant, files.marks),
                fmt::format("exchange the two names in {}, and tell who made it", files.marks)};
    return {fmt::format("The names of {} and {} are exchanged, in {} or in the sights.",
                        reading.booked, reading.meant, files.marks),
            fmt::format("look which of the two is where, then exchange the names in {} or in the "
                        "sights",
                        files.marks)};
}

ReadingWords name_words(const Reading& reading, const NetworkInput& input) {
    const std::string station = station_of(reading, input);
    if (reading.sights.empty())
        return {fmt::format("{} does not stand over {} but over {}.", station, reading.booked,
                            reading.meant),
                fmt::format("book {} as the mark under {}", reading.meant, station)};
    return {fmt::format("A sight of {} booked to {} was to {}.", station, reading.booked,
                        reading.meant),
            fmt::format("book it to {}", reading.meant)};
}

ReadingWords foot_words(const Reading& reading, const ReadingFiles& files,
                        const measure::LengthStyle& style) {
    const LengthUnit marks = files.marks_unit.value_or(LengthUnit::foot);
    const LengthUnit points = files.points_unit.value_or(
        marks == LengthUnit::foot ? LengthUnit::us_foot : LengthUnit::foot);
    return {
        fmt::format("Of the two files {} is in {} and {} in {}: at these coordinates the two feet "
                    "lie {} apart, "
                    "which no sight here can show.",
                    files.marks, measure::to_word(marks), files.points, measure::to_word(points),
                    small(reading.shift_m.x(), style)),
        fmt::format("ask which foot the sheet is in, then read {} with --unit {} or {} with "
                    "--unit {}",
                    files.marks, measure::to_word(points), files.points, measure::to_word(marks))};
}

ReadingWords revision_words(const Reading& reading, const NetworkInput& input,
                            const ReadingFiles& files, const measure::LengthStyle& style) {
    return {fmt::format("{} do not belong with the other marks of {}: against these all of "
                        "them lie {} of their coordinates.",
                        listed(names_of(reading, input)), files.marks,
                        shift_in_words(reading.shift_m, style)),
            "ask for the latest revision of the sheet: which of the two groups is the older one no "
            "sight can tell"};
}

/// Which coordinate, as it is and as it should be.
struct Digit {
    std::string axis;
    double was_m = 0.0, is_m = 0.0;
};
std::optional<Digit> digit_of(const Reading& reading, const frame::Mark& mark) {
    const std::array<std::optional<double>, 3> given{mark.east_m, mark.north_m, mark.height_m};
    constexpr std::array<const char*, 3> kAxes{"east", "north", "height"};
    for (std::size_t i = 0; i < kAxes.size(); ++i) {
        const double shift = reading.shift_m[static_cast<Eigen::Index>(i)];
        if (shift != 0.0 && given[i]) return Digit{kAxes[i], *given[i], *given[i] + shift};
    }
    return std::nullopt;
}

ReadingWords mistyped_words(const Reading& reading, const NetworkInput& input,
                            const ReadingFiles& files, const measure::LengthStyle& style) {
    const std::vector<std::string> names = names_of(reading, input);
    const std::string name = names.empty() ? "A mark" : names.front();
    if (reading.is_one_digit && !names.empty())
        if (const auto digit = digit_of(reading, input.marks[at(reading.marks.front())]))
            return {fmt::format("The {} of {} in {} is mistyped: {} for {}.", digit->axis, name,
                                files.marks, measure::format_length(digit->was_m, style),
                                measure::format_length(digit->is_m, style)),
                    fmt::format("look at the sheet and write {} there",
                                measure::format_length(digit->is_m, style))};
    return {fmt::format("{} is not where {} has it: all sights put it {}.", name, files.marks,
                        shift_in_words(reading.shift_m, style)),
            fmt::format("read {} again from the sheet; until then leave it out", name)};
}

}  // namespace

ReadingWords reading_words(const Reading& reading, const NetworkInput& input,
                           const ReadingFiles& files, const measure::LengthStyle& style) {
    switch (reading.kind) {
        case ReadingKind::axes_exchanged:
            return {fmt::format("East and north are exchanged in {}: the marks fit as a mirror "
                                "image and not as given.",
                                files.marks),
                    fmt::format("exchange the two columns of {}", files.marks)};
        case ReadingKind::lengths_in_feet:
            return unit_words(reading, files);
        case ReadingKind::names_swapped:
            return exchange_words(reading, input, files);
        case ReadingKind::wrong_name:
            return name_words(reading, input);
        case ReadingKind::foot_kinds_mixed:
            return foot_words(reading, files, style);
        case ReadingKind::mirror_possible:
            return {fmt::format("With the names of {} and {} exchanged the sights would fit as "
                                "well.",
                                reading.booked, reading.meant),
                    "sight one more mark, or look which of the two is where"};
        case ReadingKind::older_revision:
            return revision_words(reading, input, files, style);
        case ReadingKind::mark_mistyped:
            return mistyped_words(reading, input, files, style);
    }
    return {};
}

}  // namespace layproof::acts::internal

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "acts/shared/words.hpp"
#include "measure/angle.hpp"

namespace layproof::acts::internal {

std::string_view shouted(station::Word word) {
    switch (word) {
        case station::Word::proven:
            return "PROVEN";
        case station::Word::in_doubt:
            return "IN DOUBT";
        case station::Word::fails:
            return "FAILS";
    }
    return "IN DOUBT";
}

std::string count(int number, std::string_view noun) {
    return fmt::format("{} {}{}", number, noun, number == 1 ? "" : "s");
}

std::string listed(const std::vector<std::string>& names, std::size_t most) {
    std::string out;
    const std::size_t shown = names.size() <= most ? names.size() : most;
    for (std::size_t i = 0; i < shown; ++i) {
        if (i > 0) out += i + 1 == names.size() ? " and " : ", ";
        out += names[i];
    }
    if (shown < names.size()) out += fmt::format(" and {} more", names.size() - shown);
    return out;
}

std::string and_more(std::size_t shown, std::size_t total, std::string_view what) {
    if (shown >= total) return "";
    return fmt::format("  and {} more{}; --explain lists all\n", total - shown, what);
}

std::string file_name(const std::string& path) {
    const std::size_t slash = path.find_last_of('/');
    return slash == std::string::npos ? path : path.substr(slash + 1);
}

std::string compass(double azimuth_rad) {
    constexpr std::array<const char*, 8> kWords{"north", "north-east", "east", "south-east",
                                                "south", "south-west", "west", "north-west"};
    const double eighths = measure::wrap_0_2pi(azimuth_rad) / (measure::kPi / 4.0);
    return kWords[static_cast<std::size_t>(std::lround(eighths)) % 8];
}

std::string compass_line(double azimuth_rad) {
    double a = std::fmod(measure::wrap_0_2pi(azimuth_rad), measure::kPi);
    if (a > 7.0 * measure::kPi / 8.0) a -= measure::kPi;
    return compass(a) + " to " + compass(a + measure::kPi);
}

std::string small(double length_m, const measure::LengthStyle& style) {
    return measure::format_small(length_m, style);
}

std::string signed_small(double length_m, const measure::LengthStyle& style) {
    std::string text = small(length_m, style);
    const bool is_plain = !text.empty() && text.front() >= '1' && text.front() <= '9';
    const bool is_zero = text.starts_with("0 ") || text.starts_with("0.0 ") ||
                         text.starts_with("0.00 ") || text.starts_with("0.000 ");
    if (length_m > 0.0 && !is_zero && (is_plain || text.starts_with("0."))) text.insert(0, "+");
    return text;
}

std::string tolerance(double length_m, const measure::LengthStyle& style) {
    if (style.feet_and_inches || style.unit != measure::LengthUnit::metre)
        return measure::format_small(length_m, style);
    std::string text = fmt::format("{:.2f}", length_m * 1000.0);
    text.erase(text.find_last_not_of('0') + 1);
    if (text.back() == '.') text.pop_back();
    return text + " mm";
}

std::string rough(double length_m, const measure::LengthStyle& style) {
    if (style.feet_and_inches || style.unit == measure::LengthUnit::foot ||
        style.unit == measure::LengthUnit::inch)
        return fmt::format("{:.0f} ft", length_m / measure::kMetresPerFoot);
    if (style.unit == measure::LengthUnit::us_foot)
        return fmt::format("{:.0f} us-ft", length_m / measure::kMetresPerUsFoot);
    return fmt::format("{:.1f} m", length_m);
}

std::string toward(const Eigen::Vector2d& plan_m, const measure::LengthStyle& style) {
    return fmt::format("{} {}", small(plan_m.norm(), style),
                       compass(std::atan2(plan_m.x(), plan_m.y())));
}

std::string capital(std::string text) {
    if (!text.empty() && text.front() >= 'a' && text.front() <= 'z')
        text.front() = static_cast<char>(text.front() - 'a' + 'A');
    return text;
}

}  // namespace layproof::acts::internal

#include "acts/shared/describe.hpp"

#include <cmath>

namespace layproof::acts {

double rounded(double value, int decimals) {
    if (!std::isfinite(value) || decimals == kAllDecimals) return value;
    // Dividing by a power of ten gives the double nearest to the decimal number, so that no noise
    // digits are printed.
    const double scale = std::pow(10.0, decimals);
    const double scaled = std::round(value * scale);
    constexpr double kMostWhole = 9e15;  // whole numbers beyond it have gaps
    if (std::abs(scaled) > kMostWhole) return value;
    return scaled / scale + 0.0;
}

Fields& Fields::only_if(bool is_there) {
    next_.may_be_absent = true;
    next_.is_absent = !is_there;
    return *this;
}

Fields& Fields::or_null(bool has_value) {
    next_.may_be_null = true;
    next_.is_null = next_.is_null || !has_value;
    return *this;
}

Fields::Field Fields::next(std::string_view name, ShapeKind kind, std::string_view says) {
    Field out = next_;
    next_ = {};
    out.name = name;
    out.kind = kind;
    out.says = says;
    return out;
}

bool Fields::open(std::string_view name, ShapeKind kind, std::string_view says) {
    return open(next(name, kind, says));
}

void Fields::text(std::string_view name, std::string_view value, std::string_view says) {
    put(next(name, ShapeKind::text, says), value);
}

void Fields::text_or_null(std::string_view name, std::string_view value, std::string_view says) {
    or_null(!value.empty()).text(name, value, says);
}

void Fields::word(std::string_view name, std::string_view value, Words words,
                  std::string_view says) {
    Field field = next(name, ShapeKind::word, says);
    field.words = words;
    put(field, value);
}

void Fields::flag(std::string_view name, bool value, std::string_view says) {
    put(next(name, ShapeKind::flag, says), value);
}

void Fields::put_whole(std::string_view name, std::int64_t value, std::string_view says) {
    put(next(name, ShapeKind::whole, says), value);
}

void Fields::number(std::string_view name, double value, int decimals, std::string_view says) {
    put(next(name, ShapeKind::number, says), rounded(value, decimals));
}

void Fields::number_or_null(std::string_view name, const std::optional<double>& value, int decimals,
                            std::string_view says) {
    or_null(value.has_value()).number(name, value.value_or(0.0), decimals, says);
}

void Fields::length_or_null(std::string_view name, const std::optional<double>& metres,
                            int decimals, std::string_view says) {
    or_null(metres.has_value()).length(name, metres.value_or(0.0), decimals, says);
}

void Fields::texts(std::string_view name, const std::vector<std::string>& values,
                   std::string_view says) {
    list(
        name, values, [this](const std::string& value) { text({}, value); }, says);
}

}  // namespace layproof::acts

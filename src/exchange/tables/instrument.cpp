#include "exchange/tables/instrument.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <utility>

#include "base/text/utf8.hpp"
#include "exchange/text/text.hpp"
#include "exchange/text/toml_text.hpp"

namespace layproof::exchange {
namespace {

using measure::Instrument;

struct Key {
    std::string_view name;
    double low;
    double high;
    double per_unit;  ///< inside = file × per_unit
    double Instrument::*field;
    bool is_main;  ///< a missing one is worth a notice
};

constexpr double kMetresPerMm = 1e-3;

constexpr std::array kKeys{
    Key{"angle_sd_arcsec", 0.01, 600.0, measure::kRadPerArcsec, &Instrument::angle_sd_rad, true},
    Key{"distance_sd_mm", 0.0, 1000.0, kMetresPerMm, &Instrument::distance_sd_m, true},
    Key{"distance_ppm", 0.0, 1000.0, 1.0, &Instrument::distance_ppm, true},
    Key{"bubble_arcmin", 0.0, 120.0, measure::kRadPerArcmin, &Instrument::bubble_rad, true},
    Key{"centring_mm", 0.0, 100.0, kMetresPerMm, &Instrument::centring_m, true},
    Key{"height_tape_mm", 0.0, 100.0, kMetresPerMm, &Instrument::height_tape_m, true},
    Key{"instrument_centring_mm", 0.0, 100.0, kMetresPerMm, &Instrument::instrument_centring_m,
        false},
    Key{"refraction_k", -10.0, 10.0, 1.0, &Instrument::refraction_k, false},
    Key{"refraction_k_sd", 0.0, 10.0, 1.0, &Instrument::refraction_k_sd, false},
    Key{"marking_mm", 0.0, 100.0, kMetresPerMm, &Instrument::marking_m, false},
};

struct AirKey {
    std::string_view name;
    double low;
    double high;
    double zero;  ///< inside = file + zero
    std::optional<double> Instrument::*field;
};

constexpr std::array kAirKeys{
    AirKey{"wavelength_um", 0.3, 2.0, 0.0, &Instrument::wavelength_um},
    AirKey{"reference_temperature_c", -60.0, 70.0, 273.15, &Instrument::reference_temperature_k},
    AirKey{"reference_pressure_hpa", 300.0, 1200.0, 0.0, &Instrument::reference_pressure_hpa},
};

std::vector<std::string> key_names() {
    std::vector<std::string> names{"name"};
    for (const Key& key : kKeys) names.emplace_back(key.name);
    for (const AirKey& key : kAirKeys) names.emplace_back(key.name);
    return names;
}

Result<double> number_of(const toml::node& node, std::string_view key, double low, double high,
                         const Place& place) {
    const auto value = node.value<double>();
    if (!node.is_number() || !value) {
        return Refusal{ErrorCode::not_a_number, place, fmt::format("{} without a number", key),
                       fmt::format("{} = a number from {} to {}", key, low, high)};
    }
    if (!std::isfinite(*value)) {
        return Refusal{ErrorCode::not_finite, place, fmt::format("{} = {}", key, *value),
                       fmt::format("a number from {} to {}", low, high)};
    }
    if (*value < low || *value > high) {
        return Refusal{ErrorCode::out_of_range, place, fmt::format("{} = {}", key, *value),
                       fmt::format("a number from {} to {}", low, high)};
    }
    return *value;
}

Result<Done> take(const std::string& file, std::string_view name, const toml::key& at,
                  const toml::node& node, Instrument& instrument) {
    const Place place = place_of(file, at.source());
    for (const Key& key : kKeys) {
        if (key.name != name) continue;
        const auto value = number_of(node, name, key.low, key.high, place);
        if (!value) return value.refusal();
        instrument.*key.field = *value * key.per_unit;
        return Done{};
    }
    for (const AirKey& key : kAirKeys) {
        if (key.name != name) continue;
        const auto value = number_of(node, name, key.low, key.high, place);
        if (!value) return value.refusal();
        instrument.*key.field = *value + key.zero;
        return Done{};
    }
    if (name == "name") {
        const auto text = node.value<std::string>();
        if (!text || !node.is_string() || character_count(*text) > 100) {
            return Refusal{ErrorCode::out_of_range, place, "a name that is no short text",
                           "name = \"text of at most 100 characters\""};
        }
        instrument.name = *text;
        return Done{};
    }
    const auto names = key_names();
    const auto guess = nearest(normal_name(name), names);
    return Refusal{ErrorCode::key_unknown, place, in_quotes(name),
                   guess ? *guess : fmt::format("one of {}", listed(names))};
}

}  // namespace

Result<InstrumentFile> read_instrument(const Document& document) {
    const auto parsed = parse_toml(document);
    if (!parsed) return parsed.refusal();
    InstrumentFile file;
    for (const auto& [key, node] : *parsed) {
        const auto done = take(document.name, key.str(), key, node, file.instrument);
        if (!done) return done.refusal();
    }
    for (const Key& key : kKeys) {
        if (!key.is_main || parsed->contains(key.name)) continue;
        file.notices.push_back(fmt::format("{} does not state {}; {:.4g} is taken.", document.name,
                                           key.name, file.instrument.*key.field / key.per_unit));
    }
    const int air_keys = int{file.instrument.wavelength_um.has_value()} +
                         int{file.instrument.reference_temperature_k.has_value()} +
                         int{file.instrument.reference_pressure_hpa.has_value()};
    if (air_keys > 0 && air_keys < 3) {
        file.notices.push_back(
            fmt::format("{} states some but not all of wavelength_um, reference_temperature_c and "
                        "reference_pressure_hpa; distances are not corrected for the air.",
                        document.name));
    }
    file.instrument.stated = true;
    return file;
}

}  // namespace layproof::exchange

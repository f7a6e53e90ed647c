#include "acts/job/place_store.hpp"

#include <cstring>
#include <string_view>
#include <type_traits>

#include "job/digest.hpp"

namespace layproof::acts {
namespace {

class Fingerprint {
public:
    Fingerprint& add(std::string_view text) {
        const std::uint64_t size = text.size();
        bytes(&size, sizeof size);
        bytes(text.data(), text.size());
        return *this;
    }
    template <class T>
    requires(std::is_arithmetic_v<T> || std::is_enum_v<T>) Fingerprint& add(T value) {
        bytes(&value, sizeof value);
        return *this;
    }
    template <class T>
    Fingerprint& add(const std::optional<T>& value) {
        add(value.has_value());
        if (value) add(*value);
        return *this;
    }
    std::string text() { return sha_.finish().to_text(); }

private:
    void bytes(const void* from, std::size_t size) {
        sha_.add({static_cast<const std::uint8_t*>(from), size});
    }
    job::Sha256 sha_;
};

// Bound by all their members: one that is added later must be thought of here, or it does not
// compile.

void add(const frame::Mark& mark, Fingerprint& to) {
    const auto& [name, east, north, height, sd_east, sd_north, sd_height, role, note, place] = mark;
    to.add(name).add(east).add(north).add(height).add(sd_east).add(sd_north).add(sd_height);
    to.add(role);
}

void add(const frame::DesignPoint& point, Fingerprint& to) {
    const auto& [name, east, north, height, element, plan, up, note, place] = point;
    to.add(name).add(east).add(north).add(height).add(element).add(plan).add(up);
}

void add(const measure::Instrument& instrument, Fingerprint& to) {
    const auto& [angle, distance, ppm, bubble, centring, tape, over_mark, k, k_sd, marking,
                 wavelength, temperature, pressure, stated, name] = instrument;
    to.add(angle).add(distance).add(ppm).add(bubble).add(centring).add(tape).add(over_mark);
    to.add(k).add(k_sd).add(marking).add(wavelength).add(temperature).add(pressure).add(stated);
}

void add(const station::Setup& setup, Fingerprint& to) {
    const auto& [station, kind, mark, height, time, time_text, temperature, pressure, place] =
        setup;
    to.add(kind).add(mark).add(height).add(time).add(temperature).add(pressure);
}

void add(const measure::Sight& sight, const std::string* aside, Fingerprint& to) {
    const auto& [station, target, direction, zenith, slope, horizontal, target_height, face,
                 purpose, prism, temperature, pressure, time, time_text, note, place] = sight;
    to.add(target).add(direction).add(zenith).add(slope).add(horizontal).add(target_height);
    to.add(face).add(purpose).add(prism).add(temperature).add(pressure).add(time);
    to.add(aside != nullptr);
}

std::string common_key(const JobFacts& facts) {
    Fingerprint out;
    for (const frame::Mark& mark : facts.marks) add(mark, out);
    out.add(facts.marks.size());
    for (const frame::DesignPoint& point : facts.points) add(point, out);
    out.add(facts.points.size()).add(facts.instrument.has_value());
    if (facts.instrument) add(*facts.instrument, out);
    out.add(facts.causes.has_value());
    if (facts.causes) out.add(facts.causes->bytes);
    out.add(facts.unit);
    return out.text();
}

}  // namespace

std::map<std::string, std::string> station_keys(const JobFacts& facts) {
    const std::string common = common_key(facts);
    std::map<std::string, Fingerprint> stations;
    const auto of = [&](const std::string& name) -> Fingerprint& {
        const auto [at, is_new] = stations.try_emplace(name);
        if (is_new) at->second.add(common).add(name);
        return at->second;
    };
    auto aside = facts.set_aside.begin();
    for (std::size_t i = 0; i < facts.sights.size(); ++i) {
        const bool is_aside = aside != facts.set_aside.end() && aside->sight == i;
        add(facts.sights[i], is_aside ? &aside->reason : nullptr, of(facts.sights[i].station));
        if (is_aside) ++aside;
    }
    for (const station::Setup& setup : facts.setups) add(setup, of(setup.station));
    std::map<std::string, std::string> out;
    for (auto& [name, fingerprint] : stations) out.emplace(name, fingerprint.text());
    return out;
}

std::optional<StationPlace> PlaceStore::find(const std::string& key) {
    const std::lock_guard lock(mutex_);
    const auto at = places_.find(key);
    if (at == places_.end()) return std::nullopt;
    return at->second;
}

void PlaceStore::keep(const std::string& key, const StationPlace& place) {
    const std::lock_guard lock(mutex_);
    if (!places_.emplace(key, place).second) return;
    keys_.push_back(key);
    if (keys_.size() <= kMost) return;
    places_.erase(keys_.front());
    keys_.pop_front();
}

}  // namespace layproof::acts

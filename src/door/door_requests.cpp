#include <algorithm>
#include <cmath>

#include "door/door_requests_internal.hpp"
#include "exchange/text/time.hpp"

namespace layproof::acts::internal {

std::string text_in(const Json& request, const char* field) {
    const auto at = request.find(field);
    return at == request.end() ? std::string() : at->get<std::string>();
}

Result<job::AsOf> as_of_in(const Json& request) {
    const auto at = request.find("as_of");
    if (at == request.end()) return job::AsOf{};
    const auto time_s = exchange::parse_time(at->get<std::string>(), {"as_of", 0, 0});
    if (!time_s) return time_s.refusal();
    return job::AsOf{static_cast<std::int64_t>(std::llround(*time_s * 1000.0))};
}

std::optional<measure::LengthUnit> unit_in(const Json& request) {
    return measure::length_unit_from_word(text_in(request, "unit"));
}

ColumnChoice map_in(const Json& request) {
    ColumnChoice out;
    const auto at = request.find("map");
    if (at == request.end()) return out;
    for (const auto& [field, column] : at->items()) out[field] = column.get<std::string>();
    return out;
}

StationRequest station_request(const Json& request) {
    StationRequest out;
    if (request.contains("station")) out.only_station = text_in(request, "station");
    if (const auto points = request.find("points"); points != request.end())
        for (const Json& point : *points) out.only_points.push_back(point.get<std::string>());
    if (const auto explain = request.find("explain"); explain != request.end())
        out.explain = explain->get<bool>();
    const auto set_aside = request.find("set_aside");
    if (set_aside == request.end()) return out;
    for (const Json& aside : *set_aside) {
        SetAside one;
        one.station = text_in(aside, "station");
        one.target = text_in(aside, "target");
        one.reason = text_in(aside, "reason");
        constexpr std::int64_t kMostPointings = 9999;
        if (const auto which = aside.find("which"); which != aside.end())
            one.which = static_cast<int>(
                std::clamp<std::int64_t>(which->get<std::int64_t>(), -1, kMostPointings));
        out.set_aside.push_back(std::move(one));
    }
    return out;
}

LayRequest lay_request(const Json& request) {
    LayRequest out;
    out.station = station_request(request);
    if (const auto rod = request.find("rod_height_m"); rod != request.end())
        out.rod_height_m = rod->get<double>();
    if (const auto ground = watch::ground_from_word(text_in(request, "ground")))
        out.ground = *ground;
    if (const auto anyway = request.find("anyway"); anyway != request.end())
        out.anyway = anyway->get<bool>();
    return out;
}

ProveRequest prove_request(const Json& request) {
    ProveRequest out;
    out.station = station_request(request);
    if (const auto ground = watch::ground_from_word(text_in(request, "ground")))
        out.ground = *ground;
    return out;
}

WatchRequest watch_request(const Json& request) {
    WatchRequest out;
    out.station = station_request(request);
    if (const auto ground = watch::ground_from_word(text_in(request, "ground")))
        out.ground = *ground;
    if (const auto every = request.find("check_every_min"); every != request.end())
        out.check_every_s = every->get<double>() * 60.0;
    return out;
}

VetRequest vet_request(const Json& request) {
    VetRequest out;
    if (const auto plan = request.find("tolerance_plan_mm"); plan != request.end())
        out.tolerance_plan_m = plan->get<double>() / kMillimetre;
    if (const auto height = request.find("tolerance_height_mm"); height != request.end())
        out.tolerance_height_m = height->get<double>() / kMillimetre;
    return out;
}

}  // namespace layproof::acts::internal

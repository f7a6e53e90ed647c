#include <fmt/format.h>

#include <map>
#include <utility>

#include "acts/points/places.hpp"
#include "acts/shared/words.hpp"
#include "measure/reduce.hpp"

namespace layproof::acts::internal {
namespace {

std::string without_blanks_around(std::string_view text) {
    const std::size_t from = text.find_first_not_of(" \t");
    if (from == std::string_view::npos) return "";
    return std::string(text.substr(from, text.find_last_not_of(" \t") - from + 1));
}

}  // namespace

ElementParts element_parts(const std::string& element) {
    const std::size_t colon = element.find(':');
    if (colon == std::string::npos) return {without_blanks_around(element), ""};
    return {without_blanks_around(std::string_view(element).substr(0, colon)),
            without_blanks_around(std::string_view(element).substr(colon + 1))};
}

std::vector<LayPoint> lay_points(const std::vector<frame::DesignPoint>& points,
                                 const lay::ToleranceTable& table,
                                 std::vector<std::string>& notices) {
    std::vector<LayPoint> out;
    int untold = 0;
    std::map<std::string, int> said;
    out.reserve(points.size());
    for (const frame::DesignPoint& point : points) {
        LayPoint one;
        one.design = point;
        const ElementParts parts = element_parts(point.element);
        one.design.element = parts.tolerances;
        one.group = parts.group;
        one.tolerance = lay::tolerance_of(one.design, table, {}, kDefaultTolerancePlan_m);
        untold += one.tolerance.plan_source.origin == lay::LimitOrigin::default_value ? 1 : 0;
        for (const std::string& notice : one.tolerance.notices) ++said[notice];
        one.design.element = point.element;
        out.push_back(std::move(one));
    }
    if (untold > 0)
        notices.push_back(
            fmt::format("No tolerance in plan is known for {}: 1/4 in (6.35 mm) taken.",
                        count(untold, "point")));
    for (const auto& [notice, times] : said)
        notices.push_back(times > 1 ? fmt::format("{} ({} points)", notice, times) : notice);
    return out;
}

lay::LaySetup lay_setup(const OneSetup& one, const StationWork& work) {
    lay::LaySetup out;
    out.station = work.report.station;
    out.pose = work.report.pose;
    out.instrument = one.input.instrument;
    out.beliefs = work.assessment.beliefs;
    out.scale_factor = one.input.scale_factor;
    return out;
}

std::optional<lay::LaidPlace> place_of(const measure::Sight& sight, const OneSetup& one,
                                       const lay::LaySetup& setup, int index) {
    const station::Setup& booked = one.input.setup;
    return lay::laid_place(
        sight.target, setup, index,
        measure::reduce(sight, setup.instrument, booked.temperature_k, booked.pressure_hpa));
}

PointIndex index_of(const std::vector<LayPoint>& points) {
    PointIndex out;
    out.reserve(points.size());
    for (std::size_t i = 0; i < points.size(); ++i) out.emplace(points[i].design.name, i);
    return out;
}

Refusal no_such_point(const measure::Sight& sight) {
    return {ErrorCode::target_unknown, sight.place, fmt::format("point \"{}\"", sight.target),
            "a point of the points file, for a sight with purpose lay"};
}

const lay::ToleranceTable& shipped_tolerances() {
    static const lay::ToleranceTable table = [] {
        auto read = lay::parse_tolerances(lay::shipped_tolerances_csv(), "tolerances.csv");
        return read ? std::move(read).value() : lay::ToleranceTable{};
    }();
    return table;
}

}  // namespace layproof::acts::internal

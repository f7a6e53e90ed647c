#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <optional>
#include <set>
#include <string_view>
#include <unordered_map>
#include <utility>

#include "acts/setup/setup_inputs.hpp"
#include "acts/shared/words.hpp"
#include "exchange/import/import.hpp"
#include "exchange/tables/causes.hpp"
#include "exchange/tables/column_map.hpp"
#include "exchange/tables/instrument.hpp"
#include "exchange/tables/readers.hpp"

namespace layproof::acts::internal {
namespace {

using exchange::ColumnMap;
using exchange::Document;

std::optional<Refusal> check_figures(const StationRequest& request) {
    const auto bad = [](const char* what, double value, const char* expected) {
        return Refusal{ErrorCode::out_of_range, {what, 0, 0}, fmt::format("{}", value), expected};
    };
    if (!(request.confidence > 0.5 && request.confidence < 1.0))
        return bad("confidence", request.confidence, "a share above 0.5 and below 1, such as 0.95");
    if (!(request.scale_factor >= 0.9 && request.scale_factor <= 1.1))
        return bad("scale", request.scale_factor,
                   "grid distance over ground distance, 0.9 to 1.1, such as 0.999962");
    if (request.radius_m && !(*request.radius_m >= 0.1 && *request.radius_m <= 10000.0))
        return bad("radius", *request.radius_m, "a working radius of 0.1 m to 10000 m");
    return std::nullopt;
}

/// Keeps the map alive while its table is read.
template <class Row>
Result<exchange::Table<Row>> read_with_map(
    const Document& document, const std::optional<Document>& map_document,
    std::optional<measure::LengthUnit> unit,
    Result<exchange::Table<Row>> (*read)(const Document&, const exchange::ReadOptions&)) {
    exchange::ReadOptions options;
    options.unit = unit;
    if (!map_document) return read(document, options);
    Result<ColumnMap> map = exchange::read_column_map(*map_document);
    if (!map) return map.refusal();
    options.map = &map.value();
    return read(document, options);
}

void append(std::vector<std::string>& to, const std::vector<std::string>& from) {
    to.insert(to.end(), from.begin(), from.end());
}

/// A sight, and why it is set aside if the job says so.
struct GivenSight {
    measure::Sight sight;
    std::optional<std::string> aside;
};

void order_by_time(std::vector<GivenSight>& sights) {
    const bool all_timed = std::all_of(sights.begin(), sights.end(),
                                       [](const auto& s) { return s.sight.time_s.has_value(); });
    if (!all_timed) return;
    std::stable_sort(sights.begin(), sights.end(), [](const auto& a, const auto& b) {
        return *a.sight.time_s < *b.sight.time_s;
    });
}

void give(std::vector<GivenSight>& sights, OneSetup& one) {
    for (GivenSight& given : sights) {
        if (given.aside) {
            one.input.set_aside.push_back(static_cast<int>(one.input.sights.size()));
            one.aside_reasons.push_back(std::move(*given.aside));
        }
        one.input.sights.push_back(std::move(given.sight));
    }
}

std::optional<Refusal> put_aside(const SetAside& aside, std::vector<OneSetup>& setups) {
    bool found = false;
    for (OneSetup& one : setups) {
        if (one.input.setup.station != aside.station) continue;
        int pointing = 0;
        for (std::size_t i = 0; i < one.input.sights.size(); ++i) {
            const measure::Sight& sight = one.input.sights[i];
            if (sight.target != aside.target || sight.purpose == measure::Purpose::lay ||
                sight.purpose == measure::Purpose::other)
                continue;
            ++pointing;
            if (aside.which != 0 && aside.which != pointing) continue;
            found = true;
            const int index = static_cast<int>(i);
            if (std::find(one.input.set_aside.begin(), one.input.set_aside.end(), index) !=
                one.input.set_aside.end())
                continue;
            one.input.set_aside.push_back(index);
            one.aside_reasons.push_back(aside.reason);
        }
    }
    if (found) return std::nullopt;
    return Refusal{ErrorCode::target_unknown,
                   {"set aside", 0, 0},
                   fmt::format("\"{}:{}\"", aside.station, aside.target),
                   "a station and one of its control targets from the sights file"};
}

/// Keeps the sights and set-ups of one station.
std::optional<Refusal> keep_station(const std::string& station, JobFacts& facts) {
    std::vector<measure::Sight> kept;
    std::vector<JobFacts::Aside> aside;
    auto next_aside = facts.set_aside.begin();
    for (std::size_t i = 0; i < facts.sights.size(); ++i) {
        const bool is_aside = next_aside != facts.set_aside.end() && next_aside->sight == i;
        if (facts.sights[i].station == station) {
            if (is_aside) aside.push_back({kept.size(), next_aside->reason});
            kept.push_back(std::move(facts.sights[i]));
        }
        if (is_aside) ++next_aside;
    }
    if (kept.empty()) return no_such_station(station, facts.name);
    facts.sights = std::move(kept);
    facts.set_aside = std::move(aside);
    std::erase_if(facts.setups, [&](const auto& setup) { return setup.station != station; });
    return std::nullopt;
}

/// Numbers of the points of these names, in the order of the points.
Result<std::vector<std::size_t>> points_named(const std::vector<std::string>& names,
                                              const std::vector<frame::DesignPoint>& points) {
    const std::set<std::string_view> wanted(names.begin(), names.end());
    std::vector<std::size_t> out;
    std::set<std::string_view> found;
    for (std::size_t i = 0; i < points.size(); ++i) {
        const auto at = wanted.find(points[i].name);
        if (at == wanted.end()) continue;
        found.insert(*at);
        out.push_back(i);
    }
    for (const std::string& name : names)
        if (!found.contains(name))
            return Refusal{ErrorCode::target_unknown,
                           {"points", 0, 0},
                           fmt::format("no point \"{}\"", name),
                           "names of the points to be laid"};
    return out;
}

/// A job has instruments of its own: an instrument file counts instead of them.
std::optional<Refusal> choose_instrument(const StationRequest& request, JobFacts& facts,
                                         std::vector<std::string>& notices) {
    if (request.instrument) {
        auto file = exchange::read_instrument(*request.instrument);
        if (!file) return file.refusal();
        append(notices, file->notices);
        facts.instrument = file->instrument;
    } else if (facts.instruments > 1) {
        notices.push_back(fmt::format(
            "The job holds {} instruments; the figures taken last are used for every station{}.",
            facts.instruments,
            facts.instrument->name.empty() ? "" : " (" + facts.instrument->name + ")"));
    }
    return std::nullopt;
}

/// Numbers of the points sighted from a station.
std::vector<std::size_t> points_sighted(
    const OneSetup& one, const std::unordered_map<std::string_view, std::size_t>& index) {
    std::set<std::size_t> out;
    for (const measure::Sight& sight : one.input.sights)
        if (const auto at = index.find(sight.target); at != index.end()) out.insert(at->second);
    return {out.begin(), out.end()};
}

std::optional<Refusal> choose_points(const StationRequest& request, StationInputs& inputs) {
    if (!request.only_points.empty()) {
        const auto chosen = points_named(request.only_points, inputs.points);
        if (!chosen) return chosen.refusal();
        for (OneSetup& one : inputs.setups) one.wanted = *chosen;
        return std::nullopt;
    }
    const std::size_t stations = inputs.setups.size();
    if (stations < 2 || stations * inputs.points.size() <= kMostFigures) return std::nullopt;
    std::unordered_map<std::string_view, std::size_t> index;
    for (std::size_t i = 0; i < inputs.points.size(); ++i) index.emplace(inputs.points[i].name, i);
    for (OneSetup& one : inputs.setups) one.wanted = points_sighted(one, index);
    inputs.notices.push_back(
        fmt::format("{} stations and {} points: each station has figures for the points sighted "
                    "from it only. Choose one station for all its points, or points by name.",
                    stations, inputs.points.size()));
    return std::nullopt;
}

/// What a request is about, from files or from a job.
Result<JobFacts> facts_of_files(const StationRequest& request) {
    JobFacts out;
    auto marks = read_with_map<frame::Mark>(request.marks, request.marks_map, request.unit,
                                            exchange::read_any_marks);
    if (!marks) return marks.refusal();
    auto sights = read_with_map<measure::Sight>(request.sights, request.sights_map, request.unit,
                                                exchange::read_any_sights);
    if (!sights) return sights.refusal();
    append(out.notices, marks->notices);
    append(out.notices, sights->notices);
    out.name = request.sights.name;
    out.unit = marks->unit;
    out.marks_unit = marks->unit;
    out.marks = std::move(marks->rows);
    out.sights = std::move(sights->rows);
    if (request.setups) {
        auto table = read_with_map<station::Setup>(*request.setups, request.setups_map,
                                                   request.unit, exchange::read_any_setups);
        if (!table) return table.refusal();
        append(out.notices, table->notices);
        out.setups = std::move(table->rows);
    }
    if (request.points) {
        auto table = read_with_map<frame::DesignPoint>(*request.points, request.points_map,
                                                       request.unit, exchange::read_any_points);
        if (!table) return table.refusal();
        append(out.notices, table->notices);
        out.points_unit = table->unit;
        out.points = std::move(table->rows);
        if (out.points.empty())
            out.notices.push_back(
                fmt::format("{} holds no point; a circle around the station is judged instead.",
                            request.points->name));
    }
    if (request.instrument) {
        auto file = exchange::read_instrument(*request.instrument);
        if (!file) return file.refusal();
        out.instrument = file->instrument;
        append(out.notices, file->notices);
    }
    return out;
}

}  // namespace

Result<StationInputs> read_inputs(const StationRequest& request) {
    if (auto refusal = check_figures(request)) return *refusal;
    auto facts = request.facts ? Result<JobFacts>(*request.facts) : facts_of_files(request);
    if (!facts) return facts.refusal();
    if (request.only_station)
        if (auto refusal = keep_station(*request.only_station, *facts)) return *refusal;
    StationInputs out;
    out.notices = std::move(facts->notices);
    out.unit = facts->unit.value_or(request.unit.value_or(measure::LengthUnit::metre));
    out.marks_unit = facts->marks_unit;
    out.points_unit = facts->points_unit;
    out.points = std::move(facts->points);
    out.has_points = !out.points.empty();
    for (const frame::Mark& mark : facts->marks)
        out.largest_coordinate_m =
            std::max({out.largest_coordinate_m, std::abs(mark.east_m.value_or(0.0)),
                      std::abs(mark.north_m.value_or(0.0))});
    const std::optional<Document>& causes = request.causes ? request.causes : facts->causes;
    if (causes) {
        auto file = exchange::read_causes(*causes);
        if (!file) return file.refusal();
        out.causes = std::move(file->table);
        append(out.notices, file->notices);
    } else {
        out.causes = exchange::shipped_table();
    }
    if (request.facts) {
        if (auto refusal = choose_instrument(request, *facts, out.notices)) return *refusal;
    }
    const measure::Instrument instrument = facts->instrument.value_or(measure::Instrument{});
    if (!facts->instrument) {
        const measure::LengthStyle style;
        out.notices.push_back(fmt::format(
            "No instrument file: an ordinary building instrument is assumed ({:.0f}\" per "
            "pointing, {} + {:.0f} ppm, rod bubble {:.0f}').",
            instrument.angle_sd_rad / measure::kRadPerArcsec,
            tolerance(instrument.distance_sd_m, style), instrument.distance_ppm,
            instrument.bubble_rad / measure::kRadPerArcmin));
    }

    std::map<std::string, std::size_t, std::less<>> where;
    std::vector<std::vector<GivenSight>> given;
    auto next_aside = facts->set_aside.begin();
    for (std::size_t i = 0; i < facts->sights.size(); ++i) {
        measure::Sight& sight = facts->sights[i];
        const auto [at, is_new] = where.emplace(sight.station, out.setups.size());
        if (is_new) {
            OneSetup one;
            one.input.setup.station = sight.station;
            one.input.setup.place = sight.place;
            one.input.instrument = instrument;
            one.input.marks = facts->marks;
            one.input.scale_factor = request.scale_factor;
            out.setups.push_back(std::move(one));
            given.emplace_back();
        }
        GivenSight next{std::move(sight), {}};
        if (next_aside != facts->set_aside.end() && next_aside->sight == i)
            next.aside = (next_aside++)->reason;
        given[at->second].push_back(std::move(next));
    }
    for (station::Setup& setup : facts->setups) {
        const auto at = where.find(setup.station);
        if (at == where.end()) {
            out.notices.push_back(fmt::format("Set-up {} has no sight in {}; it is left out.",
                                              setup.station, facts->name));
            continue;
        }
        out.setups[at->second].input.setup = std::move(setup);
    }
    for (std::size_t i = 0; i < given.size(); ++i) {
        order_by_time(given[i]);
        give(given[i], out.setups[i]);
    }
    for (const SetAside& aside : request.set_aside)
        if (auto refusal = put_aside(aside, out.setups)) return *refusal;
    if (auto refusal = choose_points(request, out)) return *refusal;
    return out;
}

}  // namespace layproof::acts::internal

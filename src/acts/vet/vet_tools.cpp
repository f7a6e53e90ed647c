#include "acts/vet/vet_tools.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <tuple>
#include <utility>

#include "acts/job/job.hpp"
#include "acts/shared/words.hpp"
#include "adjust/tests.hpp"
#include "base/text/time.hpp"
#include "exchange/tables/check_readers.hpp"
#include "exchange/tables/control_readers.hpp"
#include "exchange/tables/instrument.hpp"
#include "frame/conformity.hpp"
#include "measure/angle.hpp"

namespace layproof::acts {
namespace {

using exchange::Document;
using station::Word;
using vet::Found;

/// Share of the plan tolerance that one error of the tools may use up (engineering judgement, no
/// source).
constexpr double kShare = 1.0 / 3.0;
/// A steep sight, as up to the next floor.
constexpr double kSteepZenith_rad = 60.0 * measure::kRadPerDeg;

std::string seconds(double angle_rad) {
    return fmt::format("{:.1f}\"", angle_rad / measure::kRadPerArcsec);
}

Refusal too_little(const Document& document, std::string found, std::string expected) {
    return {ErrorCode::value_missing, {document.name, 0, 0}, std::move(found), std::move(expected)};
}

Result<measure::Instrument> instrument_of(const ToolRequest& request, ToolAnswer& answer) {
    if (!(request.radius_m >= 0.5 && request.radius_m <= 1000.0))
        return Refusal{ErrorCode::out_of_range,
                       {"radius", 0, 0},
                       fmt::format("{} m", request.radius_m),
                       "a working radius from 0.5 to 1000 m"};
    if (!(request.tolerance_plan_m > 0.0 && request.tolerance_plan_m <= 1.0))
        return Refusal{ErrorCode::out_of_range,
                       {"tolerance", 0, 0},
                       fmt::format("{} m", request.tolerance_plan_m),
                       "a tolerance above 0, at most 1 m"};
    answer.unit = request.unit.value_or(measure::LengthUnit::metre);
    answer.style.unit = answer.unit;
    if (request.show) answer.style = *request.show;
    answer.confidence = request.confidence;
    answer.radius_m = request.radius_m;
    answer.tolerance_plan_m = request.tolerance_plan_m;
    if (!request.instrument && request.stated) return *request.stated;
    if (!request.instrument) {
        const measure::Instrument plain;
        answer.notices.push_back(fmt::format(
            "No instrument file: {:.0f}\" per pointing, {} and a bubble of {:.0f}' are assumed.",
            plain.angle_sd_rad / measure::kRadPerArcsec,
            internal::tolerance(plain.distance_sd_m, answer.style),
            plain.bubble_rad / measure::kRadPerArcmin));
        return plain;
    }
    auto file = exchange::read_instrument(*request.instrument);
    if (!file) return file.refusal();
    answer.notices.insert(answer.notices.end(), file->notices.begin(), file->notices.end());
    return file->instrument;
}

exchange::ReadOptions options_of(const ToolRequest& request) {
    exchange::ReadOptions options;
    options.unit = request.unit;
    return options;
}

/// Probability and word of an effect against its share of the tolerance.
void judge_effect(Finding& f, double effect_m, double effect_sd_m, const ToolAnswer& answer) {
    f.at_radius = effect_m;
    f.probability = std::clamp(
        frame::probability_within(effect_m, effect_sd_m, kShare * answer.tolerance_plan_m), 0.0,
        1.0);
    f.word = station::judge(*f.probability, answer.confidence);
}

Finding angle_finding(const char* what, const Found& found, double effect_m, double effect_sd_m,
                      const ToolAnswer& answer, const std::string& name, const std::string& where) {
    Finding f;
    f.what = what;
    f.value = found.value;
    f.sd = found.sd;
    f.dof = found.dof;
    f.is_real = !found.is_small;
    judge_effect(f, effect_m, effect_sd_m, answer);
    f.says =
        fmt::format("{} {} (standard deviation {}): {} {} in one face.", name, seconds(found.value),
                    seconds(found.sd), internal::small(std::abs(effect_m), answer.style), where);
    f.next = f.word == Word::proven ? "Lay in one face."
             : f.is_real
                 ? "Lay in both faces, or let the instrument take the new value and check again."
                 : "Observe more pairs: it is known too loosely.";
    return f;
}

Finding scatter_finding(const char* what, double s, double limit, bool passes, int dof,
                        bool is_angle, const std::string& name, const ToolAnswer& answer) {
    Finding f;
    f.what = what;
    f.value = s;
    f.limit = limit;
    f.dof = dof;
    f.is_angle = is_angle;
    f.is_real = !passes;
    f.word = passes ? Word::proven : Word::fails;
    const auto text = [&](double value) {
        return is_angle ? seconds(value) : internal::small(value, answer.style);
    };
    f.says = fmt::format("{}: {} with {} to spare, {} at most for the stated figure.", name,
                         text(s), dof, text(limit));
    f.next = passes ? "The stated figure holds."
                    : "State a larger figure in the instrument file, or have the instrument "
                      "looked at: wind, sun and soft ground do this too.";
    return f;
}

Result<Done> add_faces(const Document& document, const InstrumentRequest& request,
                       const measure::Instrument& instrument, ToolAnswer& answer) {
    auto table = exchange::read_sights(document, options_of(request.tool));
    if (!table) return table.refusal();
    std::map<std::pair<std::string, std::string>,
             std::pair<std::vector<measure::CircleReading>, std::vector<measure::CircleReading>>>
        of;
    for (const measure::Sight& sight : table->rows) {
        if (!sight.direction_rad || !sight.zenith_rad) continue;
        auto& [one, two] = of[{sight.station, sight.target}];
        (measure::face_of(sight) == measure::Face::two ? two : one)
            .push_back({*sight.direction_rad, *sight.zenith_rad});
    }
    std::vector<measure::CircleReading> one, two;
    int alone = 0;
    for (auto& [key, faces] : of) {
        const std::size_t n = std::min(faces.first.size(), faces.second.size());
        alone += static_cast<int>(faces.first.size() + faces.second.size() - 2 * n);
        one.insert(one.end(), faces.first.begin(),
                   faces.first.begin() + static_cast<std::ptrdiff_t>(n));
        two.insert(two.end(), faces.second.begin(),
                   faces.second.begin() + static_cast<std::ptrdiff_t>(n));
    }
    if (one.empty())
        return too_little(document, "no target in both faces",
                          "each target in face one and face two");
    if (alone > 0)
        answer.notices.push_back(fmt::format("{} without the other face {} left out.",
                                             internal::count(alone, "sight"),
                                             alone == 1 ? "is" : "are"));
    const vet::TwoFaceCheck check = vet::two_face_check(one, two, instrument.angle_sd_rad);
    const double r = answer.radius_m;
    const double right = measure::kPi / 2.0;
    const Found& c = *check.collimation_rad;
    answer.findings.push_back(angle_finding(
        "collimation", c, vet::effect_on_laid(r, right, c.value, 0, 0, 0).across_m, r * c.sd,
        answer, "The line of sight is off by", "across at " + internal::rough(r, answer.style)));
    if (check.trunnion_rad) {
        const Found& t = *check.trunnion_rad;
        const double cot = 1.0 / std::tan(kSteepZenith_rad);
        answer.findings.push_back(
            angle_finding("trunnion-axis", t, r * cot * t.value, r * cot * t.sd, answer,
                          "The trunnion axis is tilted by",
                          "across at " + internal::rough(r, answer.style) + " and 30° up"));
    } else {
        answer.notices.emplace_back(
            "The trunnion axis was not checked: it takes both faces of a steep target (30° up or "
            "more) besides a flat one.");
    }
    const Found& i = *check.index_rad;
    answer.findings.push_back(angle_finding("vertical-index", i, r * i.value, r * i.sd, answer,
                                            "The vertical index is off by",
                                            "in height at " + internal::rough(r, answer.style)));
    if (check.pointing_sd_rad && check.dof > 0)
        answer.findings.push_back(scatter_finding(
            "pointing-scatter", *check.pointing_sd_rad,
            instrument.angle_sd_rad *
                std::sqrt(adjust::chi_square_quantile(0.95, check.dof) / check.dof),
            check.scatter_as_stated, check.dof, true, "One pointing, from the pairs", answer));
    return Done{};
}

Result<Done> add_sets(const Document& document, const InstrumentRequest& request,
                      const measure::Instrument& instrument, ToolAnswer& answer) {
    auto table = exchange::read_sets(document, options_of(request.tool));
    if (!table) return table.refusal();
    struct SetReadings {
        std::vector<measure::CircleReading> one, two;
    };
    std::map<std::string, int> series, targets;
    std::map<std::pair<int, std::string>, int> sets;
    std::map<std::tuple<int, int, int>, SetReadings> cells;
    const auto number = [](auto& known, const auto& key) {
        return known.emplace(key, static_cast<int>(known.size())).first->second;
    };
    for (const exchange::SetRow& row : table->rows) {
        const int s = number(series, row.series);
        const int n = number(sets, std::pair{s, row.set});
        const int t = number(targets, row.target);
        SetReadings& cell = cells[{s, n, t}];
        const measure::CircleReading reading{row.direction_rad, row.zenith_rad};
        (row.zenith_rad > measure::kPi ? cell.two : cell.one).push_back(reading);
    }
    std::vector<vet::SetReading> level, steep;
    for (const auto& [key, cell] : cells) {
        if (cell.one.size() != 1 || cell.two.size() != 1)
            return too_little(document, "a target that a set does not hold once in each face",
                              "each target of each set once in face one and once in face two");
        const measure::TwoFace both = measure::reduce_two_face(cell.one[0], cell.two[0]);
        const auto [s, n, t] = key;
        level.push_back({s, n, t, both.direction.direction_rad});
        steep.push_back({s, n, t, both.zenith.zenith_rad});
    }
    // The stated figure is of one pointing, the test's of a mean of both faces.
    const double stated = instrument.angle_sd_rad / std::numbers::sqrt2;
    const auto horizontal = vet::sets_check(level, true, stated);
    const auto vertical = vet::sets_check(steep, false, stated);
    if (!horizontal || !vertical)
        return too_little(document, "sets that are not complete",
                          "at least two sets, each with the same two or more targets");
    answer.findings.push_back(scatter_finding(
        "direction-scatter", horizontal->s_rad, horizontal->limit_rad, horizontal->passes,
        horizontal->dof, true, "A direction as the mean of both faces", answer));
    answer.findings.push_back(
        scatter_finding("zenith-scatter", vertical->s_rad, vertical->limit_rad, vertical->passes,
                        vertical->dof, true, "A zenith angle as the mean of both faces", answer));
    return Done{};
}

void add_constant(const vet::LineCheck& check, const ToolAnswer& shown, ToolAnswer& answer) {
    Finding f;
    f.what = "prism-constant";
    f.is_angle = false;
    f.value = check.constant_m.value;
    f.sd = check.constant_m.sd;
    f.dof = check.dof;
    f.is_real = check.is_real;
    judge_effect(f, f.value, f.sd, shown);
    f.says = fmt::format(
        "Distances lack {} (standard deviation {}): every point lies off along its sight by as "
        "much.",
        internal::signed_small(f.value, shown.style), internal::small(f.sd, shown.style));
    f.next = f.word == Word::proven ? "The constant holds."
             : f.is_real            ? "Check which prism is set; else add this to the constant."
                                    : "Measure more lengths: it is known too loosely.";
    answer.findings.push_back(std::move(f));
    if (check.s_m)
        answer.findings.push_back(scatter_finding("distance-scatter", *check.s_m, *check.limit_m,
                                                  check.s_passes, check.dof, false, "One distance",
                                                  shown));
}

/// Names in their order along the line: from one end of the longest length by distance.
std::optional<std::vector<vet::LineLength>> along_line(const std::vector<network::Tape>& rows,
                                                       int& points) {
    std::set<std::string> names;
    const network::Tape* longest = nullptr;
    for (const network::Tape& row : rows) {
        names.insert(row.from);
        names.insert(row.to);
        if (longest == nullptr || row.distance_m > longest->distance_m) longest = &row;
    }
    if (longest == nullptr) return std::nullopt;
    std::map<std::string, double> place{{longest->from, 0.0}};
    for (const network::Tape& row : rows) {
        if (row.from == longest->from) place[row.to] = row.distance_m;
        if (row.to == longest->from) place[row.from] = row.distance_m;
    }
    // Points that were not measured from the end lie by a known neighbour, before the far end.
    for (std::size_t round = 0; round < names.size(); ++round)
        for (const network::Tape& row : rows) {
            const auto from = place.find(row.from);
            const auto to = place.find(row.to);
            const auto best = [&](double at) {
                const double ahead = at + row.distance_m;
                return ahead <= longest->distance_m * 1.001 ? ahead : at - row.distance_m;
            };
            if (from != place.end() && to == place.end()) place[row.to] = best(from->second);
            if (to != place.end() && from == place.end()) place[row.from] = best(to->second);
        }
    if (place.size() != names.size()) return std::nullopt;
    std::vector<std::pair<double, std::string>> order;
    for (const auto& [name, at] : place) order.emplace_back(at, name);
    std::sort(order.begin(), order.end());
    std::map<std::string, int> index;
    for (std::size_t i = 0; i < order.size(); ++i) index[order[i].second] = static_cast<int>(i);
    points = static_cast<int>(order.size());
    std::vector<vet::LineLength> out;
    for (const network::Tape& row : rows) {
        const int a = index[row.from];
        const int b = index[row.to];
        out.push_back({std::min(a, b), std::max(a, b), row.distance_m});
    }
    return out;
}

Result<Done> add_line(const Document& document, const InstrumentRequest& request,
                      const measure::Instrument& instrument, ToolAnswer& answer) {
    auto table = exchange::read_tapes(document, options_of(request.tool));
    if (!table) return table.refusal();
    int points = 0;
    const auto lengths = along_line(table->rows, points);
    const auto check =
        lengths ? vet::line_check(*lengths, points, instrument.distance_sd_m) : std::nullopt;
    if (!check)
        return too_little(document, "lengths that leave the constant open",
                          "three or more points in one line, with the whole length and its parts");
    add_constant(*check, answer, answer);
    return Done{};
}

Result<Done> add_base(const Document& document, const InstrumentRequest& request,
                      const measure::Instrument& instrument, ToolAnswer& answer) {
    auto table = exchange::read_bases(document, options_of(request.tool));
    if (!table) return table.refusal();
    std::vector<vet::BaseReading> readings;
    for (const exchange::BaseRow& row : table->rows) readings.push_back(row.reading);
    const auto check = vet::base_check(readings, request.base_sd_m, instrument.distance_sd_m);
    if (check) add_constant(*check, answer, answer);
    return Done{};
}

void conclude(ToolAnswer& answer) {
    const auto rank = [](Word word) {
        return word == Word::fails ? 0 : word == Word::in_doubt ? 1 : 2;
    };
    const auto worst = std::min_element(
        answer.findings.begin(), answer.findings.end(),
        [&](const Finding& a, const Finding& b) { return rank(a.word) < rank(b.word); });
    if (worst == answer.findings.end()) return;
    answer.verdict.word = worst->word;
    double least = 1.0;
    for (const Finding& f : answer.findings) {
        least = std::min(least, f.probability.value_or(f.word == Word::proven ? 1.0 : 0.05));
    }
    answer.verdict.probability = least;
    answer.verdict.because =
        worst->word == Word::proven
            ? fmt::format("All of {} hold.",
                          internal::count(static_cast<int>(answer.findings.size()), "finding"))
            : worst->says;
    answer.verdict.next = worst->word == Word::proven
                              ? "Use it; check again after transport, a knock or a change "
                                "of more than 10 °C (common practice)."
                              : worst->next;
}

}  // namespace

Result<ToolAnswer> run_vet_instrument(const InstrumentRequest& request) {
    ToolAnswer answer;
    answer.tool = "instrument";
    const auto instrument = instrument_of(request.tool, answer);
    if (!instrument) return instrument.refusal();
    using Add = Result<Done> (*)(const Document&, const InstrumentRequest&,
                                 const measure::Instrument&, ToolAnswer&);
    const std::pair<const std::optional<Document>*, Add> checks[] = {{&request.faces, add_faces},
                                                                     {&request.sets, add_sets},
                                                                     {&request.line, add_line},
                                                                     {&request.base, add_base}};
    for (const auto& [document, add] : checks) {
        if (!*document) continue;
        const auto done = add(**document, request, *instrument, answer);
        if (!done) return done.refusal();
    }
    if (answer.findings.empty())
        return Refusal{ErrorCode::value_missing,
                       {"vet instrument", 0, 0},
                       "no check",
                       "sights in both faces, sets, lengths in a line or over a base"};
    conclude(answer);
    return answer;
}

Result<ToolAnswer> run_vet_rod(const RodRequest& request) {
    ToolAnswer answer;
    answer.tool = "rod";
    const auto instrument = instrument_of(request.tool, answer);
    if (!instrument) return instrument.refusal();
    auto table = exchange::read_rod_turns(request.turns, options_of(request.tool));
    if (!table) return table.refusal();
    std::vector<vet::RodSight> sights;
    for (const exchange::RodRow& row : table->rows) sights.push_back(row.sight);
    const auto check = vet::rod_check(sights, *instrument);
    if (!check)
        return too_little(request.turns, "no height with two turns 60° or more apart",
                          "one mark sighted with the rod turned by 0, 90, 180 and 270°");
    for (const vet::Lean& lean : check->leans) {
        Finding f;
        f.what = "rod-lean";
        f.value = lean.lean_rad;
        f.sd = lean.lean_sd_rad;
        f.dof = lean.dof;
        f.is_real = lean.is_real;
        const double sd = lean.lean_sd_rad * lean.height_m;
        f.probability =
            std::clamp(frame::probability_within_circle(lean.offset_m, lean.covariance,
                                                        kShare * answer.tolerance_plan_m),
                       0.0, 1.0);
        f.word = station::judge(*f.probability, answer.confidence);
        f.at_radius = lean.offset_m.norm();
        f.says = fmt::format(
            "At {} the bubble stands the prism {} off (standard deviation {}), a lean of {:.1f}'.",
            measure::format_length(lean.height_m, answer.style),
            internal::small(lean.offset_m.norm(), answer.style), internal::small(sd, answer.style),
            lean.lean_rad / measure::kRadPerArcmin);
        f.next = f.word == Word::proven ? "The bubble holds."
                 : f.is_real ? "Adjust the bubble, or take every point twice with the rod turned "
                               "by half a turn."
                             : "Turn and sight again, on a bipod: it is known too loosely.";
        answer.findings.push_back(std::move(f));
        if (!lean.scatter_as_stated)
            answer.notices.push_back(fmt::format(
                "At {} the sights scatter by {}, more than stated: the rod was not held still.",
                measure::format_length(lean.height_m, answer.style),
                internal::small(lean.residual_m, answer.style)));
    }
    if (check->bend_m) {
        Finding f;
        f.what = "pole-bend";
        f.is_angle = false;
        f.value = check->bend_m->norm();
        f.sd = std::sqrt(0.5 * check->bend_covariance->trace());
        f.is_real = check->bend_is_real;
        f.probability =
            std::clamp(frame::probability_within_circle(*check->bend_m, *check->bend_covariance,
                                                        kShare * answer.tolerance_plan_m),
                       0.0, 1.0);
        f.word = station::judge(*f.probability, answer.confidence);
        f.at_radius = f.value;
        f.says = fmt::format("The pole is bent by {} at the upper prism (standard deviation {}).",
                             internal::small(f.value, answer.style),
                             internal::small(f.sd, answer.style));
        f.next = f.word == Word::proven ? "The pole is straight."
                 : f.is_real            ? "Use it short, or leave it."
                                        : "Turn and sight again at both heights.";
        answer.findings.push_back(std::move(f));
    } else {
        answer.notices.emplace_back(
            "Whether the pole is straight was not checked: it takes the same turns at a second "
            "height.");
    }
    conclude(answer);
    return answer;
}

Result<int> keep(job::Job& job, const ToolAnswer& answer, std::int64_t time_ms) {
    std::vector<job::Setting> settings;
    for (const Finding& f : answer.findings) {
        if (!f.probability) continue;
        std::string name = std::string(kCheckedNote) + f.what;
        const auto same = std::count_if(settings.begin(), settings.end(), [&](const auto& s) {
            return s.name == name || s.name.starts_with(name + " ");
        });
        if (same > 0) name += fmt::format(" {}", same + 1);
        settings.push_back(
            {name, f.is_angle ? fmt::format("{:.2f} arcsec, sd {:.2f}, {}",
                                            f.value / measure::kRadPerArcsec,
                                            f.sd / measure::kRadPerArcsec, utc_text(time_ms))
                              : fmt::format("{:.2f} mm, sd {:.2f}, {}", f.value * 1000.0,
                                            f.sd * 1000.0, utc_text(time_ms))});
    }
    if (settings.empty()) return 0;
    auto added = job.add_all<job::Setting>(settings);
    if (!added) return added.refusal();
    return static_cast<int>(settings.size());
}

bool is_proven(const ToolAnswer& answer) {
    return answer.verdict.word == Word::proven;
}

}  // namespace layproof::acts

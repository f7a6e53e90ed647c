#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <utility>

#include "acts/shared/words.hpp"
#include "acts/vet/vet_fits_internal.hpp"
#include "exchange/frames/frame_candidates.hpp"
#include "exchange/frames/maps.hpp"
#include "exchange/import/import.hpp"
#include "exchange/tables/column_map.hpp"
#include "exchange/tables/writers.hpp"
#include "measure/angle.hpp"
#include "vet/scale_belief.hpp"

namespace layproof::acts::internal {
namespace {

using Eigen::Vector2d;
using network::MarkList;

/// A turn or shift this many standard deviations from none is worth a word.
constexpr double kWorthSaying = 4.0;
/// Copies of one list agree within this, whatever their fit says.
constexpr double kSameTurn_rad = 2e-6;
constexpr double kSameShift_m = 0.010;
constexpr double kFactorPpm = 1e6;

std::vector<frame::SitePair> pairs_of(const MarkList& list, const MarkList& first) {
    std::map<std::string, const frame::Mark*> known;
    for (const frame::Mark& mark : first.entries)
        if (mark.has_plan()) known.emplace(mark.name, &mark);
    std::vector<frame::SitePair> out;
    for (const frame::Mark& mark : list.entries) {
        const auto at = known.find(mark.name);
        if (!mark.has_plan() || at == known.end()) continue;
        out.push_back({mark.name,
                       {*mark.east_m, *mark.north_m},
                       {*at->second->east_m, *at->second->north_m},
                       mark.height_m,
                       at->second->height_m});
        known.erase(at);  // of a doubled name the first counts
    }
    return out;
}

const char* kind_word(const vet::ScaleBelief& belief) {
    if (belief.is_unknown) return "unknown";
    switch (belief.candidate.explanation.kind) {
        case frame::ScaleKind::none:
            return "none";
        case frame::ScaleKind::foot:
            return "foot";
        case frame::ScaleKind::unit:
            return "unit";
        case frame::ScaleKind::factor:
            break;
    }
    return "factor";
}

std::vector<VetScale> scales_of(const frame::SiteFit& free,
                                const std::vector<vet::ScaleCandidate>& candidates) {
    std::vector<VetScale> out;
    for (const auto& b : vet::weigh_scales(free.free_scale, free.sd_scale_ppm, candidates)) {
        VetScale scale;
        scale.kind = kind_word(b);
        scale.frame = b.candidate.frame;
        const frame::ScaleExplanation& e = b.candidate.explanation;
        scale.says = b.is_unknown ? "a scale that nothing here explains"
                     : e.kind == frame::ScaleKind::none
                         ? "the same scale"
                         : e.words + (scale.frame.empty() ? "" : " of " + scale.frame);
        scale.ratio = e.ratio;
        scale.off_ppm = e.off_ppm;
        scale.probability = b.probability;
        out.push_back(std::move(scale));
    }
    return out;
}

double rms_of(const frame::SiteFit& fit) {
    double sum = 0.0;
    for (const Vector2d& v : fit.misfits_m) sum += v.squaredNorm();
    return fit.misfits_m.empty() ? 0.0 : std::sqrt(sum / static_cast<double>(fit.misfits_m.size()));
}

std::string scale_words(double ratio, double sd_ppm) {
    const double off = (ratio - 1.0) * kFactorPpm;
    return std::abs(off) < 10000.0 ? fmt::format("{:+.1f} ppm (± {:.1f})", off, sd_ppm)
                                   : fmt::format("a factor of {:.6f}", ratio);
}

std::string says_of(const VetFit& fit, const std::string& first,
                    const measure::LengthStyle& style) {
    const auto n = static_cast<int>(fit.marks.size());
    if (fit.held.state != frame::PlanFitState::determined)
        return fmt::format("{} and {} share no two marks apart: no turn can be told.", fit.list,
                           first);
    const bool is_other_scale = !fit.scales.empty() && fit.scales.front().kind != "none";
    const frame::SiteFit& shown = is_other_scale ? fit.free : fit.held;
    std::string out =
        fit.is_alike
            ? fmt::format("{} stands as {} does", fit.list, first)
            : fmt::format("{} lies on {}{} turned {}, its marks {} from where they stand there",
                          fit.list, first, fit.is_mirrored ? " as a mirror image," : "",
                          measure::format_dms(measure::wrap_pi(fit.held.rotation_rad), 1),
                          measure::format_length(fit.shift_m.norm(), style));
    out += fmt::format("; {} agree within {} rms", count(n, "mark"), small(rms_of(shown), style));
    if (is_other_scale) out += " once scaled";
    out += '.';
    if (is_other_scale) {
        out += fmt::format(" They ask for a scale of {}: {} ({})",
                           scale_words(fit.free.free_scale, fit.free.sd_scale_ppm),
                           fit.scales.front().says, percent(fit.scales.front().probability));
        constexpr double kWorthNaming = 0.05;
        for (std::size_t i = 1; i < std::min<std::size_t>(fit.scales.size(), 3); ++i)
            if (fit.scales[i].probability >= kWorthNaming)
                out += fmt::format(", or {} ({})", fit.scales[i].says,
                                   percent(fit.scales[i].probability));
        out += '.';
    }
    return out;
}

/// Where the site is, for the factors of its projections; nothing when nobody says.
Result<std::optional<exchange::SitePlace>> place_of(const SiteRequest& request,
                                                    const std::optional<exchange::SiteFrame>& site,
                                                    const MarkList& first) {
    double height = 0.0;
    int heights = 0;
    Vector2d middle = Vector2d::Zero();
    int plans = 0;
    for (const frame::Mark& mark : first.entries) {
        if (mark.height_m) {
            height += *mark.height_m;
            ++heights;
        }
        if (mark.has_plan()) {
            middle += Vector2d(*mark.east_m, *mark.north_m);
            ++plans;
        }
    }
    exchange::SitePlace out;
    out.ellipsoid_height_m = std::clamp(
        request.height_m.value_or(heights > 0 ? height / heights : 0.0), -1000.0, 10000.0);
    // A list's heights are above the sea: the ellipsoid is 30 m from it as a rule (from memory).
    constexpr double kGeoid_m = 30.0;
    out.height_sd_m = request.height_m ? 0.0 : kGeoid_m;
    for (const frame::Mark& mark : first.entries)
        if (mark.has_plan())
            out.radius_m = std::max(
                out.radius_m, (Vector2d(*mark.east_m, *mark.north_m) - middle / plans).norm());
    if (request.place) {
        out.position = *request.place;
        return std::optional(out);
    }
    if (!site || plans == 0) return std::optional<exchange::SitePlace>{};
    const auto position = site->to_geographic(middle / plans);
    if (!position) return position.refusal();
    out.position = *position;
    return std::optional(out);
}

VetFit fit_one(const MarkList& list, const MarkList& first, std::vector<frame::SitePair> pairs,
               const std::vector<vet::ScaleCandidate>& candidates,
               const measure::LengthStyle& style) {
    VetFit out;
    out.list = list.name;
    for (const frame::SitePair& p : pairs) out.marks.push_back(p.name);
    frame::SiteFitOptions options;
    options.names = {list.name, first.name};
    options.expected_sd_m = std::hypot(network::kListRounding_m, network::kListRounding_m);
    out.held = frame::fit_site(pairs, options);
    if (out.held.is_mirrored) {
        out.is_mirrored = true;
        for (frame::SitePair& p : pairs) p.building_m.x() = -p.building_m.x();
        out.held = frame::fit_site(pairs, options);
    }
    frame::SiteFitOptions freely = options;
    freely.scale.reset();
    out.free = frame::fit_site(pairs, freely);
    if (out.held.state == frame::PlanFitState::determined && pairs.size() >= 2)
        out.scales = scales_of(out.free, candidates);
    Vector2d middle = Vector2d::Zero();
    for (const frame::SitePair& p : pairs)
        middle += p.building_m / static_cast<double>(pairs.size());
    out.shift_m = out.held.to_site(middle) - middle;
    const double turn = std::abs(measure::wrap_pi(out.held.rotation_rad));
    out.is_alike = out.held.state == frame::PlanFitState::determined && !out.is_mirrored &&
                   turn <= std::max(kWorthSaying * out.held.sd_rotation_rad, kSameTurn_rad) &&
                   out.shift_m.norm() <= kSameShift_m &&
                   (out.scales.empty() || out.scales.front().kind == "none");
    out.says = says_of(out, first.name, style);
    return out;
}

std::vector<vet::ScaleCandidate> candidates_for(const std::optional<exchange::SitePlace>& place,
                                                const std::vector<std::string>& systems,
                                                const frame::SetNames& names) {
    std::vector<vet::ScaleCandidate> out;
    if (place) return exchange::scale_candidates_at(*place, systems, names);
    for (frame::ScaleExplanation& e : frame::scale_candidates({}, names))
        out.push_back({"", std::move(e), 0.0});
    return out;
}

Result<Done> carry_grid(const VetRequest& request, const network::Evidence& evidence,
                        VetAnswer& answer) {
    if (!request.grid) return Done{};
    const auto drawn = std::find_if(answer.fits.begin(), answer.fits.end(), [&](const VetFit& f) {
        return std::any_of(evidence.lists.begin(), evidence.lists.end(),
                           [&](const MarkList& l) { return l.is_drawing && l.name == f.list; });
    });
    const auto by = drawn != answer.fits.end() ? drawn : answer.fits.begin();
    if (by == answer.fits.end() || by->held.state != frame::PlanFitState::determined)
        return Refusal{ErrorCode::value_missing,
                       {request.grid->name, 0, 0},
                       "a building grid, and no list that lays it on the site",
                       "a drawing (--drawing) with two or more of the marks in the building's "
                       "coordinates"};
    exchange::ReadOptions options;
    options.unit = request.unit;
    std::optional<exchange::ColumnMap> map;
    if (request.grid_map) {
        auto read_map = exchange::read_column_map(*request.grid_map);
        if (!read_map) return read_map.refusal();
        map = std::move(*read_map);
        options.map = &*map;
    }
    auto table = exchange::read_any_grid_lines(*request.grid, options);
    if (!table) return table.refusal();
    answer.notices.insert(answer.notices.end(), table->notices.begin(), table->notices.end());
    const auto laid = [&](Vector2d p) {
        if (by->is_mirrored) p.x() = -p.x();
        return by->held.to_site(p);
    };
    for (frame::GridLine& line : table->rows) {
        line.start_m = laid(line.start_m);
        line.end_m = laid(line.end_m);
    }
    answer.grid_lines = std::move(table->rows);
    answer.notices.push_back(
        fmt::format("{} of {} are laid on the site as {} lies on the first list, with scale 1.",
                    count(static_cast<int>(answer.grid_lines.size()), "grid line"),
                    request.grid->name, by->list));
    if (!by->scales.empty() && by->scales.front().kind != "none")
        answer.notices.push_back(fmt::format("Clear up the scale of {} before using that grid: {}.",
                                             by->list, by->scales.front().says));
    return Done{};
}

}  // namespace

Result<Done> fit_lists(const VetRequest& request, const network::Evidence& evidence,
                       const std::optional<exchange::SiteFrame>& site, VetAnswer& answer) {
    const MarkList& first = evidence.lists.front();
    const auto place = place_of(request.site, site, first);
    if (!place) return place.refusal();
    std::vector<std::string> systems;
    if (!request.site.crs.empty()) {
        systems = {request.site.crs};
    } else if (*place && evidence.lists.size() > 1) {
        if (auto missing = exchange::lacks_maps()) return std::move(*missing);
        systems = exchange::projected_systems_at((*place)->position);
    }
    for (std::size_t l = 1; l < evidence.lists.size(); ++l) {
        const MarkList& list = evidence.lists[l];
        auto pairs = pairs_of(list, first);
        if (pairs.size() < 2) continue;
        const auto candidates = candidates_for(*place, systems, {list.name, first.name});
        answer.fits.push_back(fit_one(list, first, std::move(pairs), candidates, answer.style));
    }
    return carry_grid(request, evidence, answer);
}

}  // namespace layproof::acts::internal

namespace layproof::acts {

std::string grid_csv(const VetAnswer& answer) {
    return exchange::write_grid_lines(answer.grid_lines, answer.unit);
}

}  // namespace layproof::acts

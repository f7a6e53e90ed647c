#include "exchange/frames/frame_candidates.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace layproof::exchange {
namespace {

constexpr double kSameSystem = 2e-8;

constexpr double kPartsPerMillion = 1e6;
/// For small changes only.
constexpr double kMeanRadius_m = 6.38e6;

struct SystemFactors {
    std::string name;
    int alike = 0;
    frame::GridFactors factors;
    double sd_ppm = 0.0;
};

/// How much the point scale changes over the site's radius to the north and to the east.
double change_ppm(const ProjectedFrame& projected, const SitePlace& site, double point_scale) {
    double out = 0.0;
    const double angle = site.radius_m / kMeanRadius_m;
    for (const bool is_north : {true, false}) {
        Geographic there = site.position;
        const double along = std::max(std::cos(there.latitude_rad), 0.01);
        (is_north ? there.latitude_rad : there.longitude_rad) += is_north ? angle : angle / along;
        const auto factors = projected.factors(there);
        if (factors) out = std::max(out, std::abs(factors->point_scale() / point_scale - 1.0));
    }
    return out * kPartsPerMillion;
}

}  // namespace

std::vector<vet::ScaleCandidate> scale_candidates_at(const SitePlace& site,
                                                     std::span<const std::string> definitions,
                                                     const frame::SetNames& names) {
    std::vector<vet::ScaleCandidate> out;
    for (frame::ScaleExplanation& plain : frame::scale_candidates({}, names))
        out.push_back({"", std::move(plain), 0.0});
    const std::size_t plain_count = out.size();
    std::vector<SystemFactors> systems;
    for (const std::string& definition : definitions) {
        const auto projected = ProjectedFrame::open(definition);
        if (!projected) continue;
        const auto factors = projected->site_factors(site.position, site.ellipsoid_height_m);
        if (!factors || !(factors->point_scale > 0.0)) continue;
        bool is_new = true;
        for (SystemFactors& known : systems) {
            if (std::abs(known.factors.point_scale / factors->point_scale - 1.0) > kSameSystem)
                continue;
            is_new = false;
            known.alike += known.name == projected->name() ? 0 : 1;
            break;
        }
        if (is_new) {
            systems.push_back({projected->name(), 0, *factors,
                               change_ppm(*projected, site, factors->point_scale)});
        }
    }
    bool has_elevation = false;
    for (const SystemFactors& system : systems) {
        frame::KnownFactors known;
        known.point_scale = system.factors.point_scale;
        known.elevation_factor = system.factors.elevation;
        const std::string name = system.alike == 0
                                     ? system.name
                                     : fmt::format("{} and {} more", system.name, system.alike);
        const auto all = frame::scale_candidates(known, names);
        for (std::size_t i = plain_count; i < all.size(); ++i) {
            // The height's factor alone is the same whatever the projection.
            const bool is_elevation = all[i].words.find("elevation factor") != std::string::npos;
            if (is_elevation && has_elevation) continue;
            const double height_ppm = site.height_sd_m / kMeanRadius_m * kPartsPerMillion;
            const bool has_height = all[i].words.find("point scale alone") == std::string::npos;
            out.push_back(
                {is_elevation ? std::string() : name, all[i],
                 std::hypot(is_elevation ? 0.0 : system.sd_ppm, has_height ? height_ppm : 0.0)});
        }
        has_elevation = true;
    }
    return out;
}

}  // namespace layproof::exchange

#include "frame/site_building.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace layproof::frame {
namespace {

constexpr double kPartsPerMillion = 1e6;
/// A scale this many standard deviations from the one used is worth a word.
constexpr double kWorthAWord = 3.0;

Eigen::Vector2d clockwise(const Eigen::Vector2d& v, double angle_rad) {
    const double c = std::cos(angle_rad);
    const double s = std::sin(angle_rad);
    return {v.x() * c + v.y() * s, v.y() * c - v.x() * s};
}

std::string ratio_words(double ratio) {
    const double off_ppm = (ratio - 1.0) * kPartsPerMillion;
    return std::abs(off_ppm) < 10000.0 ? fmt::format("{:+.1f} ppm", off_ppm)
                                       : fmt::format("a factor of {:.6f}", ratio);
}

void warn_of_scale(SiteFit& fit) {
    const double off = fit.free_scale / fit.scale - 1.0;
    const double noticed = std::max(kWorthAWord * fit.sd_scale_ppm, 0.5) / kPartsPerMillion;
    if (std::abs(off) <= noticed && std::abs(fit.free_scale - 1.0) <= noticed) return;
    std::string words = fmt::format("the points ask for a scale of {} (± {:.1f})",
                                    ratio_words(fit.free_scale), fit.sd_scale_ppm);
    const bool is_explained =
        !fit.explanations.empty() && fit.explanations.front().kind != ScaleKind::none;
    words += is_explained ? ": as if " + fit.explanations.front().words
                          : ": no foot, unit or known factor explains it";
    fit.warnings.push_back(std::move(words));
}

}  // namespace

Eigen::Vector2d SiteFit::to_site(const Eigen::Vector2d& p) const {
    return site_centre_m_ + scale * clockwise(p - building_centre_m_, rotation_rad);
}

Eigen::Vector2d SiteFit::to_building(const Eigen::Vector2d& p) const {
    return building_centre_m_ + clockwise(p - site_centre_m_, -rotation_rad) / scale;
}

SiteFit fit_site(std::span<const SitePair> pairs, const SiteFitOptions& options) {
    SiteFit out;
    std::vector<Eigen::Vector2d> local, mirrored, target;
    double rise = 0.0;
    int heights = 0;
    for (const SitePair& p : pairs) {
        local.push_back(p.building_m);
        mirrored.emplace_back(-p.building_m.x(), p.building_m.y());
        target.push_back(p.site_m);
        if (p.building_height_m && p.site_height_m) {
            rise += *p.site_height_m - *p.building_height_m;
            ++heights;
        }
    }
    if (heights > 0) out.height_shift_m = rise / heights;
    const bool is_free = !options.scale;
    const PlanFit free = similarity_fit(local, target);
    out.state = free.state;
    if (out.state == PlanFitState::no_points) return out;
    out.scale = options.scale.value_or(free.scale);
    out.free_scale = free.scale;
    std::vector<Eigen::Vector2d> scaled;
    scaled.reserve(local.size());
    for (const Eigen::Vector2d& p : local) scaled.push_back(out.scale * p);
    const PlanFit fit = is_free ? free : rigid_fit(scaled, target);
    out.rotation_rad = fit.rotation_rad;
    out.misfits_m = fit.misfits_m;
    const auto n = static_cast<double>(local.size());
    for (std::size_t i = 0; i < local.size(); ++i) {
        out.building_centre_m_ += (local[i] - local[0]) / n;
        out.site_centre_m_ += (target[i] - target[0]) / n;
    }
    out.building_centre_m_ += local[0];
    out.site_centre_m_ += target[0];
    out.origin_m = out.to_site(Eigen::Vector2d::Zero());
    if (out.state != PlanFitState::determined) return out;

    double spread = 0.0;
    for (const Eigen::Vector2d& p : local) spread += (p - out.building_centre_m_).squaredNorm();
    const double freedom = 2.0 * n - (is_free ? 4.0 : 3.0);
    if (freedom > 0.0) out.s0_m = std::sqrt(fit.weighted_square_sum / freedom);
    // With little redundancy s0 says little; what is expected then counts.
    const double free_freedom = 2.0 * n - 4.0;
    const double free_s0 =
        free_freedom > 0.0 ? std::sqrt(free.weighted_square_sum / free_freedom) : 0.0;
    const double sd_m = free_freedom >= 4.0 ? free_s0 : std::max(free_s0, options.expected_sd_m);
    const double lever = std::sqrt(spread);
    out.sd_scale_ppm = sd_m / lever / out.free_scale * kPartsPerMillion;
    out.sd_rotation_rad = (freedom >= 4.0 ? out.s0_m : std::max(out.s0_m, options.expected_sd_m)) /
                          (lever * out.scale);
    out.explanations =
        explain_scale(out.free_scale, out.sd_scale_ppm, options.factors, options.names);

    const PlanFit mirror = similarity_fit(mirrored, target);
    constexpr double kBetter = 100.0;  // of squares: ten times in length
    out.is_mirrored = local.size() > 2 && mirror.state == PlanFitState::determined &&
                      free.weighted_square_sum > kBetter * mirror.weighted_square_sum &&
                      free.weighted_square_sum > 1e-6 * n;
    if (out.is_mirrored) {
        out.warnings.emplace_back(
            "the mirror image fits far better: east and north are swapped or one runs backwards in "
            "one of the sets");
    } else {
        warn_of_scale(out);
    }
    return out;
}

}  // namespace layproof::frame

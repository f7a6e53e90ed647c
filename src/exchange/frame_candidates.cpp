#include "exchange/frame_candidates.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace layproof::exchange {

std::vector<FrameExplanation> explain_by_frames(double ratio, double sd_ppm, const Geographic& site,
                                                double ellipsoid_height_m,
                                                std::span<const std::string> definitions) {
    std::vector<FrameExplanation> out;
    for (frame::ScaleExplanation& plain : frame::explain_scale(ratio, sd_ppm)) {
        out.push_back({"", std::move(plain)});
    }
    const std::size_t plain_count = out.size();
    for (const std::string& definition : definitions) {
        const auto projected = ProjectedFrame::open(definition);
        if (!projected) continue;
        const auto factors = projected->factors(site);
        if (!factors) continue;
        frame::KnownFactors known;
        known.point_scale = factors->point_scale();
        known.elevation_factor = frame::elevation_factor(
            frame::gaussian_radius_m(projected->semi_major_m(), projected->inverse_flattening(),
                                     site.latitude_rad),
            ellipsoid_height_m);
        for (frame::ScaleExplanation& e : frame::explain_scale(ratio, sd_ppm, known)) {
            const bool is_plain = std::any_of(
                out.begin(), out.begin() + static_cast<std::ptrdiff_t>(plain_count),
                [&](const FrameExplanation& p) { return p.explanation.words == e.words; });
            if (!is_plain) out.push_back({projected->name(), std::move(e)});
        }
    }
    std::stable_sort(out.begin(), out.end(),
                     [](const FrameExplanation& a, const FrameExplanation& b) {
                         return std::abs(a.explanation.off_ppm) < std::abs(b.explanation.off_ppm);
                     });
    return out;
}

}  // namespace layproof::exchange

#include "vet/scale_belief.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>

#include "infer/log_weights.hpp"
#include "vet/trap.hpp"

namespace layproof::vet {
namespace {

constexpr double kScalePpm = 1e6;
constexpr double kLeastScaleSd = 0.1e-6;
constexpr double kFeet = 2.0;
constexpr double kUnitPairs = 18.0;
/// Of what is on the grid or the ground although the site's projections are known (engineering
/// judgement, no source).
constexpr double kUnknownShare = 0.1;

double ln_density(double off, double sd) {
    return -0.5 * (off / sd) * (off / sd) - std::log(sd) - 0.5 * std::log(2.0 * std::numbers::pi);
}

/// Frequencies of one candidate of each kind.
struct ScalePriors {
    double foot = prior_of(Trap::foot_kind).frequency / kFeet;
    double unit = prior_of(Trap::wrong_unit).frequency / kUnitPairs;
    double factor = 0.0;
    double unknown = prior_of(Trap::grid_for_ground).frequency;

    explicit ScalePriors(std::span<const ScaleCandidate> candidates) {
        const auto factors = std::count_if(
            candidates.begin(), candidates.end(),
            [](const ScaleCandidate& c) { return c.explanation.kind == frame::ScaleKind::factor; });
        if (factors == 0) return;
        factor = (1.0 - kUnknownShare) * unknown / static_cast<double>(factors);
        unknown *= kUnknownShare;
    }

    double of(const frame::ScaleExplanation& e) const {
        double out = kNothingWrongFrequency;
        if (e.kind == frame::ScaleKind::foot) out = foot;
        if (e.kind == frame::ScaleKind::unit) out = unit;
        if (e.kind == frame::ScaleKind::factor) out = factor;
        return e.mistakes > 1 ? out * factor / kNothingWrongFrequency : out;
    }
};

}  // namespace

std::vector<ScaleBelief> weigh_scales(double ratio, double sd_ppm,
                                      std::span<const ScaleCandidate> candidates, double smallest) {
    std::vector<ScaleBelief> out;
    if (!(ratio > 0.0) || !std::isfinite(ratio) || !std::isfinite(sd_ppm)) return out;
    const double sd = std::max(std::abs(sd_ppm) / kScalePpm, kLeastScaleSd);
    const ScalePriors priors(candidates);
    for (const ScaleCandidate& c : candidates) {
        ScaleBelief belief{c, false, 0.0};
        const double off = ratio / c.explanation.ratio - 1.0;
        belief.candidate.explanation.off_ppm = off * kScalePpm;
        belief.probability = std::log(priors.of(c.explanation)) +
                             ln_density(off, std::hypot(sd, c.sd_ppm / kScalePpm));
        out.push_back(std::move(belief));
    }
    ScaleBelief unknown;
    unknown.is_unknown = true;
    unknown.candidate.explanation.ratio = ratio;
    const std::vector<double> sizes = prior_of(Trap::grid_for_ground).sizes;
    double density = 0.0;
    for (const double size : sizes)
        density += std::exp(ln_density(ratio - 1.0, std::hypot(size, sd)));
    unknown.probability =
        std::log(priors.unknown * density / static_cast<double>(sizes.size()) + 1e-300);
    out.push_back(std::move(unknown));

    std::vector<double> logs;
    for (const ScaleBelief& b : out) logs.push_back(b.probability);
    const std::vector<double> shares = infer::shares_of(logs);
    for (std::size_t i = 0; i < shares.size(); ++i) out[i].probability = shares[i];
    std::erase_if(out, [&](const ScaleBelief& b) { return b.probability < smallest; });
    std::stable_sort(out.begin(), out.end(), [](const ScaleBelief& a, const ScaleBelief& b) {
        return a.probability > b.probability;
    });
    return out;
}

}  // namespace layproof::vet

#include "frame/scale_ratio.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "measure/length.hpp"

namespace layproof::frame {
namespace {

constexpr double kLeastWithin = 2e-7;
constexpr double kEqual_ppm = 0.05;
constexpr double kPpm = 1e6;

std::vector<ScaleExplanation> unit_candidates(const SetNames& names) {
    using measure::LengthUnit;
    constexpr std::array kUnits{LengthUnit::metre, LengthUnit::millimetre, LengthUnit::foot,
                                LengthUnit::us_foot, LengthUnit::inch};
    std::vector<ScaleExplanation> out;
    for (const LengthUnit from : kUnits) {
        for (const LengthUnit to : kUnits) {
            if (from == to) continue;
            const bool are_feet = (from == LengthUnit::foot && to == LengthUnit::us_foot) ||
                                  (from == LengthUnit::us_foot && to == LengthUnit::foot);
            // Numbers in `from` taken for numbers in `to` come out too large by to/from.
            const double ratio = measure::metres_per(from) / measure::metres_per(to);
            std::string words = names.first + " is in ";
            words += measure::to_word(from);
            words += " and was read as ";
            words += measure::to_word(to);
            out.push_back(
                {are_feet ? ScaleKind::foot : ScaleKind::unit, std::move(words), ratio, 0.0, 1});
        }
    }
    return out;
}

std::vector<ScaleExplanation> factor_candidates(const KnownFactors& f, const SetNames& names) {
    std::vector<ScaleExplanation> out;
    const auto add = [&](const char* name, double ratio) {
        if (!(ratio > 0.0) || !std::isfinite(ratio)) return;
        const auto words = [&](const std::string& grid, const std::string& ground) {
            return grid + " is on the grid, " + ground + " on the ground (" + name + ')';
        };
        out.push_back({ScaleKind::factor, words(names.second, names.first), ratio, 0.0, 1});
        out.push_back({ScaleKind::factor, words(names.first, names.second), 1.0 / ratio, 0.0, 1});
    };
    if (f.point_scale && f.elevation_factor) {
        add("combined factor", *f.point_scale * *f.elevation_factor);
    }
    if (f.point_scale) add("point scale alone", *f.point_scale);
    if (f.elevation_factor) add("elevation factor alone", *f.elevation_factor);
    return out;
}

}  // namespace

std::vector<ScaleExplanation> scale_candidates(const KnownFactors& factors, const SetNames& names) {
    std::vector<ScaleExplanation> out{{ScaleKind::none, "no scale", 1.0, 0.0, 0}};
    const auto units = unit_candidates(names);
    const auto grid = factor_candidates(factors, names);
    out.insert(out.end(), units.begin(), units.end());
    out.insert(out.end(), grid.begin(), grid.end());
    for (const ScaleExplanation& f : grid) {
        for (const ScaleExplanation& u : units) {
            out.push_back({u.kind, u.words + ", and " + f.words, u.ratio * f.ratio, 0.0, 2});
        }
    }
    return out;
}

std::vector<ScaleExplanation> explain_scale(double ratio, double sd_ppm,
                                            const KnownFactors& factors, const SetNames& names) {
    std::vector<ScaleExplanation> found;
    if (!(ratio > 0.0) || !std::isfinite(ratio) || !std::isfinite(sd_ppm)) return found;
    const double within = std::max(kLeastWithin, 3.0 * std::abs(sd_ppm) / kPpm);
    for (ScaleExplanation& c : scale_candidates(factors, names)) {
        const double off = ratio / c.ratio - 1.0;
        if (std::abs(off) > within) continue;
        c.off_ppm = off * kPpm;
        found.push_back(std::move(c));
    }
    std::stable_sort(found.begin(), found.end(), [](const auto& a, const auto& b) {
        return std::abs(a.off_ppm) < std::abs(b.off_ppm);
    });
    // Among neighbours that nothing tells apart, the one with fewer mistakes.
    for (std::size_t i = 1; i < found.size(); ++i) {
        for (std::size_t j = i; j > 0; --j) {
            const double gap = std::abs(found[j].off_ppm) - std::abs(found[j - 1].off_ppm);
            if (gap > kEqual_ppm || found[j].mistakes >= found[j - 1].mistakes) break;
            std::swap(found[j], found[j - 1]);
        }
    }
    return found;
}

}  // namespace layproof::frame

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

struct Candidate {
    ScaleKind kind;
    std::string words;
    double ratio;
    int parts;  ///< how many mistakes it takes
};

std::vector<Candidate> unit_candidates() {
    using measure::LengthUnit;
    constexpr std::array kUnits{LengthUnit::metre, LengthUnit::millimetre, LengthUnit::foot,
                                LengthUnit::us_foot, LengthUnit::inch};
    std::vector<Candidate> out;
    for (const LengthUnit from : kUnits) {
        for (const LengthUnit to : kUnits) {
            if (from == to) continue;
            const bool are_feet = (from == LengthUnit::foot && to == LengthUnit::us_foot) ||
                                  (from == LengthUnit::us_foot && to == LengthUnit::foot);
            // Numbers in `from` taken for numbers in `to` come out too large by to/from.
            const double ratio = measure::metres_per(from) / measure::metres_per(to);
            std::string words = "the first set is in ";
            words += measure::to_word(from);
            words += " and was read as ";
            words += measure::to_word(to);
            out.push_back(
                {are_feet ? ScaleKind::foot : ScaleKind::unit, std::move(words), ratio, 1});
        }
    }
    return out;
}

std::vector<Candidate> factor_candidates(const KnownFactors& f) {
    std::vector<Candidate> out;
    const auto add = [&out](const char* name, double ratio) {
        if (!(ratio > 0.0) || !std::isfinite(ratio)) return;
        out.push_back(
            {ScaleKind::factor,
             std::string("the second set is on the grid, the first on the ground (") + name + ')',
             ratio, 1});
        out.push_back(
            {ScaleKind::factor,
             std::string("the first set is on the grid, the second on the ground (") + name + ')',
             1.0 / ratio, 1});
    };
    if (f.point_scale && f.elevation_factor) {
        add("combined factor", *f.point_scale * *f.elevation_factor);
    }
    if (f.point_scale) add("point scale alone", *f.point_scale);
    if (f.elevation_factor) add("elevation factor alone", *f.elevation_factor);
    return out;
}

}  // namespace

std::vector<ScaleExplanation> explain_scale(double ratio, double sd_ppm,
                                            const KnownFactors& factors) {
    std::vector<ScaleExplanation> out;
    if (!(ratio > 0.0) || !std::isfinite(ratio) || !std::isfinite(sd_ppm)) return out;
    const double within = std::max(kLeastWithin, 3.0 * std::abs(sd_ppm) / kPpm);
    std::vector<Candidate> all{{ScaleKind::none, "no scale", 1.0, 0}};
    const auto units = unit_candidates();
    const auto grid = factor_candidates(factors);
    all.insert(all.end(), units.begin(), units.end());
    all.insert(all.end(), grid.begin(), grid.end());
    for (const Candidate& f : grid) {
        for (const Candidate& u : units) {
            all.push_back({u.kind, u.words + ", and " + f.words, u.ratio * f.ratio, 2});
        }
    }
    std::vector<std::pair<ScaleExplanation, int>> found;
    for (Candidate& c : all) {
        const double off = ratio / c.ratio - 1.0;
        if (std::abs(off) > within) continue;
        found.push_back({{c.kind, std::move(c.words), c.ratio, off * kPpm}, c.parts});
    }
    std::stable_sort(found.begin(), found.end(), [](const auto& a, const auto& b) {
        return std::abs(a.first.off_ppm) < std::abs(b.first.off_ppm);
    });
    // Among neighbours that nothing tells apart, the one with fewer mistakes.
    for (std::size_t i = 1; i < found.size(); ++i) {
        for (std::size_t j = i; j > 0; --j) {
            const double gap =
                std::abs(found[j].first.off_ppm) - std::abs(found[j - 1].first.off_ppm);
            if (gap > kEqual_ppm || found[j].second >= found[j - 1].second) break;
            std::swap(found[j], found[j - 1]);
        }
    }
    out.reserve(found.size());
    for (auto& f : found) out.push_back(std::move(f.first));
    return out;
}

}  // namespace layproof::frame

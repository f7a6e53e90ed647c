#pragma once
// What a scale that does not belong there looks like: the wrong foot, a grid factor, a wrong unit.
//
// A fit between two sets of coordinates gives a ratio (lengths in the second / lengths in the
// first) with its standard deviation. Candidates are the ratios that mistakes make:
//   the two feet       1.000002 (1200/3937 / 0.3048) and its inverse
//   factors            point scale, elevation factor, their product, where given, and inverses
//   units              m, mm, ft, us-ft, in: each over each
// and the factors times each of the others. A candidate explains the ratio when they agree within
// three standard deviations, or within 0.2 ppm if that is more (engineering judgement, no source:
// a tenth of what tells the two feet apart).
//
// The answer is ordered: nearest first, simpler first among equals (within 0.05 ppm). An empty
// answer means that nothing known explains the ratio; a ratio of 1 within the tolerance is
// explained by "no scale". Ratios and standard deviations must be finite, the ratio above zero;
// else the answer is empty.

#include <optional>
#include <string>
#include <vector>

namespace layproof::frame {

/// Grid length / ellipsoidal length, ellipsoidal / ground; nothing when not known.
struct KnownFactors {
    std::optional<double> point_scale;
    std::optional<double> elevation_factor;
};

enum class ScaleKind { none, foot, factor, unit };

struct ScaleExplanation {
    ScaleKind kind = ScaleKind::none;
    std::string words;  ///< "US survey feet were read as international feet"
    double ratio = 1.0;
    double off_ppm = 0.0;  ///< seen ratio against this one
    int mistakes = 0;      ///< how many it takes: 0 none, 1, or 2 (a unit and a factor)
};

/// What the two sets are called in the words.
struct SetNames {
    std::string first = "the first set";
    std::string second = "the second set";
};

/// Every ratio that is looked for, "no scale" first, off_ppm left at 0.
std::vector<ScaleExplanation> scale_candidates(const KnownFactors& factors = {},
                                               const SetNames& names = {});

std::vector<ScaleExplanation> explain_scale(double ratio, double sd_ppm,
                                            const KnownFactors& factors = {},
                                            const SetNames& names = {});

}  // namespace layproof::frame

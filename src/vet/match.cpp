#include "vet/match.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "frame/rigid.hpp"
#include "measure/length.hpp"

namespace layproof::vet {
namespace {

using Eigen::Vector2d;

constexpr std::size_t kMostPlaces = 400;
constexpr std::size_t kMostRivals = 3;

struct Similar {
    bool mirrored = false;
    double a = 1.0, b = 0.0;  ///< scale·cos, scale·sin of a clockwise turn
    Vector2d shift = Vector2d::Zero();

    Vector2d operator()(const Vector2d& p) const {
        const double e = mirrored ? -p.x() : p.x();
        return shift + Vector2d(a * e + b * p.y(), a * p.y() - b * e);
    }
};

/// The transform that takes p → P and q → Q, with the scale held if `scale` is above 0.
Similar from_pair(const Vector2d& p, const Vector2d& q, const Vector2d& to_p, const Vector2d& to_q,
                  bool mirrored, double scale) {
    Vector2d from = q - p;
    if (mirrored) from.x() = -from.x();
    const Vector2d to = to_q - to_p;
    Similar out;
    out.mirrored = mirrored;
    const double square = from.squaredNorm();
    out.a = from.dot(to) / square;
    out.b = (from.y() * to.x() - from.x() * to.y()) / square;
    if (scale > 0.0) {
        const double now = std::hypot(out.a, out.b);
        out.a *= scale / now;
        out.b *= scale / now;
    }
    const Vector2d middle = 0.5 * (p + q);
    out.shift = Vector2d::Zero();
    out.shift = 0.5 * (to_p + to_q) - out(middle);
    return out;
}

class Matching {
public:
    Matching(const std::vector<Vector2d>& first, const std::vector<Vector2d>& other,
             const MatchOptions& options)
        : first_(first), other_(other), options_(options) {}

    ListMatch run() {
        if (first_.size() < 2 || other_.size() < 2 || first_.size() > kMostPlaces ||
            other_.size() > kMostPlaces)
            return {};
        struct Side {
            double length;
            int i, k;
        };
        std::vector<Side> sides;
        for (std::size_t i = 0; i < other_.size(); ++i)
            for (std::size_t k = 0; k < other_.size(); ++k)
                if (i != k)
                    sides.push_back(
                        {(other_[i] - other_[k]).norm(), static_cast<int>(i), static_cast<int>(k)});
        std::sort(sides.begin(), sides.end(),
                  [](const Side& x, const Side& y) { return x.length < y.length; });
        std::vector<double> scales{1.0};
        if (options_.may_scale) {
            scales.push_back(measure::kMetresPerFoot);
            scales.push_back(1.0 / measure::kMetresPerFoot);
        }
        for (std::size_t i = 0; i < first_.size(); ++i)
            for (std::size_t k = i + 1; k < first_.size(); ++k) {
                const double length = (first_[i] - first_[k]).norm();
                if (length < 5.0 * options_.tolerance_m) continue;
                for (const double scale : scales) {
                    const double low = (length - 2.0 * options_.tolerance_m) / scale;
                    const double high = (length + 2.0 * options_.tolerance_m) / scale;
                    auto at = std::lower_bound(
                        sides.begin(), sides.end(), low,
                        [](const Side& s, double value) { return s.length < value; });
                    for (; at != sides.end() && at->length <= high; ++at)
                        for (const bool mirrored : {false, true}) {
                            if (mirrored && !options_.may_mirror) continue;
                            consider(from_pair(other_[static_cast<std::size_t>(at->i)],
                                               other_[static_cast<std::size_t>(at->k)], first_[i],
                                               first_[k], mirrored, scale));
                        }
                }
            }
        return answer();
    }

private:
    std::vector<std::pair<int, int>> pairs_of(const Similar& t, double tolerance) const {
        std::vector<std::pair<int, int>> pairs;
        std::vector<Vector2d> moved;
        moved.reserve(other_.size());
        for (const Vector2d& p : other_) moved.push_back(t(p));
        for (std::size_t i = 0; i < first_.size(); ++i) {
            int best = -1;
            double least = tolerance * tolerance;
            for (std::size_t k = 0; k < moved.size(); ++k) {
                const double square = (moved[k] - first_[i]).squaredNorm();
                if (square <= least) {
                    least = square;
                    best = static_cast<int>(k);
                }
            }
            if (best < 0) continue;
            const bool taken = std::any_of(pairs.begin(), pairs.end(),
                                           [&](const auto& p) { return p.second == best; });
            if (!taken) pairs.emplace_back(static_cast<int>(i), best);
        }
        return pairs;
    }

    Assignment fitted(const std::vector<std::pair<int, int>>& pairs, bool mirrored) const {
        std::vector<Vector2d> local, target;
        for (const auto& [i, k] : pairs) {
            Vector2d p = other_[static_cast<std::size_t>(k)];
            if (mirrored) p.x() = -p.x();
            local.push_back(p);
            target.push_back(first_[static_cast<std::size_t>(i)]);
        }
        const frame::PlanFit fit = frame::similarity_fit(local, target);
        Assignment out;
        out.pairs = pairs;
        out.mirrored = mirrored;
        out.scale = fit.scale;
        out.turn_rad = fit.rotation_rad;
        double sum = 0.0;
        for (const Vector2d& misfit : fit.misfits_m) sum += misfit.squaredNorm();
        out.rms_m = std::sqrt(sum / static_cast<double>(std::max<std::size_t>(pairs.size(), 1)));
        return out;
    }

    void consider(const Similar& start) {
        auto pairs = pairs_of(start, 2.0 * options_.tolerance_m);
        if (static_cast<int>(pairs.size()) < options_.least || pairs.size() + 1 < most_) return;
        // Once more from the fit of all of them, which two places alone place badly far away.
        const Assignment rough = fitted(pairs, start.mirrored);
        Similar better;
        better.mirrored = start.mirrored;
        better.a = rough.scale * std::cos(rough.turn_rad);
        better.b = rough.scale * std::sin(rough.turn_rad);
        Vector2d from = Vector2d::Zero();
        Vector2d to = Vector2d::Zero();
        for (const auto& [i, k] : pairs) {
            from += better(other_[static_cast<std::size_t>(k)]) / static_cast<double>(pairs.size());
            to += first_[static_cast<std::size_t>(i)] / static_cast<double>(pairs.size());
        }
        better.shift = to - from;
        pairs = pairs_of(better, options_.tolerance_m);
        if (static_cast<int>(pairs.size()) < options_.least || pairs.size() < most_) return;
        for (const Assignment& known : found_)
            if (known.pairs == pairs && known.mirrored == start.mirrored) return;
        if (pairs.size() > most_) {
            most_ = pairs.size();
            found_.clear();
        }
        if (found_.size() < 64) found_.push_back(fitted(pairs, start.mirrored));
    }

    ListMatch answer() {
        ListMatch out;
        if (found_.empty()) return out;
        std::stable_sort(found_.begin(), found_.end(),
                         [](const auto& x, const auto& y) { return x.rms_m < y.rms_m; });
        out.best = found_.front();
        for (std::size_t i = 1; i < found_.size(); ++i) {
            // The same pairs mirrored is the same answer only when all lie in one line.
            if (found_[i].rms_m > 3.0 * std::max(out.best.rms_m, options_.tolerance_m / 3.0))
                continue;
            if (out.rivals.size() < kMostRivals) out.rivals.push_back(found_[i]);
        }
        out.state = out.rivals.empty() ? MatchState::matched : MatchState::ambiguous;
        return out;
    }

    const std::vector<Vector2d>& first_;
    const std::vector<Vector2d>& other_;
    const MatchOptions& options_;
    std::size_t most_ = 0;
    std::vector<Assignment> found_;
};

}  // namespace

std::string_view to_word(MatchState state) {
    constexpr std::array<std::string_view, 3> kWords{"matched", "ambiguous", "none"};
    return kWords[static_cast<std::size_t>(state)];
}

ListMatch match_places(const std::vector<Vector2d>& first_m, const std::vector<Vector2d>& other_m,
                       const MatchOptions& options) {
    // Relative to centres, so that large coordinates lose nothing.
    const auto centred = [](const std::vector<Vector2d>& places) {
        std::vector<Vector2d> out = places;
        if (places.empty()) return out;
        for (Vector2d& p : out) p -= places.front();
        return out;
    };
    const auto first = centred(first_m);
    const auto other = centred(other_m);
    return Matching(first, other, options).run();
}

}  // namespace layproof::vet

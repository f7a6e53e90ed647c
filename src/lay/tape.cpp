#include "lay/tape.hpp"

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <cstddef>
#include <utility>

#include "lay/nearest_internal.hpp"

namespace layproof::lay {
namespace {

constexpr double kOnePlace_m = 0.001;
constexpr double kCloses_m = 0.010;
/// Enough to hold the four arms of a grid crossing whose own rods stand around it.
constexpr int kArmsLookedAt = 8;

class Tape {
public:
    Tape(std::span<const frame::DesignPoint> points, const TapeOptions& options)
        : options_(options) {
        for (std::size_t i = 0; i < points.size(); ++i) {
            const Eigen::Vector2d place(points[i].east_m, points[i].north_m);
            if (!place.allFinite()) continue;
            places_.push_back(place);
            numbers_.push_back(static_cast<int>(i));
        }
    }

    std::vector<TapeDistance> run() {
        const internal::NearestPoints tree(places_);
        for (std::size_t i = 0; i < places_.size(); ++i) {
            if (!is_wanted(numbers_[i])) continue;
            const auto near = tree.around(places_[i], std::max(options_.neighbours, kArmsLookedAt),
                                          options_.farthest_m, static_cast<int>(i));
            int taken = 0;
            for (const auto& n : near) {
                if (taken >= options_.neighbours) break;
                if (n.distance_m < kOnePlace_m) continue;
                add(static_cast<int>(i), n.point, false);
                ++taken;
            }
            if (options_.diagonals) rectangles_at(tree, static_cast<int>(i), near);
        }
        std::sort(out_.begin(), out_.end(), [](const TapeDistance& a, const TapeDistance& b) {
            if (a.from != b.from) return a.from < b.from;
            if (a.to != b.to) return a.to < b.to;
            return a.is_diagonal > b.is_diagonal;
        });
        out_.erase(std::unique(out_.begin(), out_.end(),
                               [](const TapeDistance& a, const TapeDistance& b) {
                                   return a.from == b.from && a.to == b.to;
                               }),
                   out_.end());
        return std::move(out_);
    }

private:
    const Eigen::Vector2d& place(int i) const { return places_[static_cast<std::size_t>(i)]; }

    bool is_wanted(int number) const {
        const auto& only = options_.only_from;
        return only.empty() || std::binary_search(only.begin(), only.end(), number);
    }

    void add(int a, int b, bool is_diagonal) {
        const int from = numbers_[static_cast<std::size_t>(std::min(a, b))];
        const int to = numbers_[static_cast<std::size_t>(std::max(a, b))];
        out_.push_back(
            {from, to, (place(a) - place(b)).norm() / options_.scale_factor, is_diagonal});
    }

    /// The smallest rectangle at this corner: a grid has many, the crew needs one.
    void rectangles_at(const internal::NearestPoints& tree, int corner,
                       const std::vector<internal::Neighbour>& near) {
        for (std::size_t i = 0; i < near.size(); ++i) {
            for (std::size_t j = 0; j < i; ++j) {
                const Eigen::Vector2d a = place(near[i].point) - place(corner);
                const Eigen::Vector2d b = place(near[j].point) - place(corner);
                if (near[i].distance_m < kOnePlace_m || near[j].distance_m < kOnePlace_m) continue;
                if (std::abs(a.dot(b)) > kCloses_m * std::min(a.norm(), b.norm())) continue;
                const auto fourth = tree.around(place(corner) + a + b, 1, kCloses_m);
                if (fourth.empty() || fourth[0].point == corner) continue;
                if ((a + b).norm() > options_.farthest_m) continue;
                add(corner, fourth[0].point, true);
                add(near[i].point, near[j].point, true);
                return;
            }
        }
    }

    TapeOptions options_;
    std::vector<Eigen::Vector2d> places_;
    std::vector<int> numbers_;
    std::vector<TapeDistance> out_;
};

}  // namespace

std::vector<TapeDistance> tape_distances(std::span<const frame::DesignPoint> points,
                                         const TapeOptions& options) {
    TapeOptions checked = options;
    if (!(checked.scale_factor > 0.0 && std::isfinite(checked.scale_factor))) {
        checked.scale_factor = 1.0;
    }
    return Tape(points, checked).run();
}

}  // namespace layproof::lay

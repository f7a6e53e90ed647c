#include <algorithm>
#include <cmath>
#include <cstddef>

#include "lay/nearest_internal.hpp"

namespace layproof::lay::internal {

struct NearestPoints::Search {
    Eigen::Vector2d place;
    std::size_t count;
    double farthest;
    int except;
    std::vector<Neighbour> found;

    static bool nearer(const Neighbour& a, const Neighbour& b) {
        return a.distance_m < b.distance_m || (a.distance_m == b.distance_m && a.point < b.point);
    }
    double reach() const {
        return found.size() < count ? farthest : std::min(farthest, found.back().distance_m);
    }
    void offer(const Neighbour& neighbour) {
        if (neighbour.distance_m > farthest) return;
        found.insert(std::upper_bound(found.begin(), found.end(), neighbour, nearer), neighbour);
        if (found.size() > count) found.pop_back();
    }
};

NearestPoints::NearestPoints(const std::vector<Eigen::Vector2d>& points) : points_(points) {
    order_.reserve(points.size());
    for (std::size_t i = 0; i < points.size(); ++i) order_.push_back(static_cast<int>(i));
    build(0, static_cast<int>(order_.size()), 0);
}

void NearestPoints::build(int first, int last, int axis) {
    if (last - first < 2) return;
    const int middle = first + (last - first) / 2;
    std::nth_element(order_.begin() + first, order_.begin() + middle, order_.begin() + last,
                     [&](int a, int b) {
                         const double x = points_[static_cast<std::size_t>(a)](axis);
                         const double y = points_[static_cast<std::size_t>(b)](axis);
                         return x < y || (x == y && a < b);
                     });
    build(first, middle, 1 - axis);
    build(middle + 1, last, 1 - axis);
}

void NearestPoints::look(Search& search, int first, int last, int axis) const {
    if (first >= last) return;
    const int middle = first + (last - first) / 2;
    const int point = order_[static_cast<std::size_t>(middle)];
    const Eigen::Vector2d& at = points_[static_cast<std::size_t>(point)];
    if (point != search.except) search.offer({point, (at - search.place).norm()});
    const double beyond = search.place(axis) - at(axis);
    const bool is_low = beyond < 0.0;
    look(search, is_low ? first : middle + 1, is_low ? middle : last, 1 - axis);
    // Strictly, so that thousands of points in one place do not all get visited.
    if (search.found.size() < search.count ? std::abs(beyond) <= search.farthest
                                           : std::abs(beyond) < search.reach()) {
        look(search, is_low ? middle + 1 : first, is_low ? last : middle, 1 - axis);
    }
}

std::vector<Neighbour> NearestPoints::around(const Eigen::Vector2d& place_m, int count,
                                             double farthest_m, int except) const {
    if (count < 1) return {};
    Search search{place_m, static_cast<std::size_t>(count), farthest_m, except, {}};
    look(search, 0, static_cast<int>(order_.size()), 0);
    return std::move(search.found);
}

}  // namespace layproof::lay::internal

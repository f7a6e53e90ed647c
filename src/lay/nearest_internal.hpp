#pragma once
// The nearest of many plan points: a tree that halves the points by east and north in turn.

#include <Eigen/Core>
#include <vector>

namespace layproof::lay::internal {

struct Neighbour {
    int point = -1;
    double distance_m = 0.0;
};

class NearestPoints {
public:
    /// `points` must be finite and outlive the tree.
    explicit NearestPoints(const std::vector<Eigen::Vector2d>& points);

    /// The `count` nearest within `farthest_m`, nearest first, ties by number; the point numbered
    /// `except` is left out.
    std::vector<Neighbour> around(const Eigen::Vector2d& place_m, int count, double farthest_m,
                                  int except = -1) const;

private:
    void build(int first, int last, int axis);
    struct Search;
    void look(Search& search, int first, int last, int axis) const;

    const std::vector<Eigen::Vector2d>& points_;
    std::vector<int> order_;
};

}  // namespace layproof::lay::internal

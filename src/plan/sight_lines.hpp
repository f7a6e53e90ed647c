#pragma once
// What is seen from where: straight sights past obstacles, one at a time or all from one place.
//
// Model: the sight is the straight line from the instrument's axes to the target (curvature and
// refraction bend it by 0.07 mm at 100 m over a chord, far below any clearance). It is hidden when
// it runs inside an obstacle widened by the clearance. Near a target the clearance must not hide
// what stands close to a wall or a column: obstacles within whose clearance the target's foot lies
// are taken at their true size for sights to that target. A target inside an obstacle is hidden.
//
// look() answers for all targets of one place: the obstacles are spread over bearings around the
// instrument, each stretch of bearings keeps how far it can be looked at least as deep as nothing
// hides it, and a target is compared only with the obstacles of its own bearing. The answers are
// those of is_free() (tested), the cost is some 10 ns a target instead of 1 µs.
//
// Degenerate: an instrument inside a widened obstacle sees nothing; a target that is not finite is
// hidden; target and instrument in one place see each other unless inside an obstacle.

#include <Eigen/Core>
#include <cstdint>
#include <span>
#include <vector>

#include "plan/obstacle.hpp"

namespace layproof::plan {

/// Obstacles ready for sights.
class SightScene {
public:
    SightScene() = default;
    SightScene(std::vector<Prism> prisms, double clearance_m);

    const std::vector<Prism>& prisms() const { return prisms_; }
    double clearance_m() const { return clearance_m_; }

    /// One sight, every obstacle tried.
    bool is_free(const Eigen::Vector3d& from, const Eigen::Vector3d& to) const;

    /// Plan distance to the nearest obstacle that reaches into the heights, as far as it is below
    /// `most_m`; 0 inside one.
    double room_at(const Eigen::Vector2d& place_m, double most_m, double low_m,
                   double high_m) const;
    /// Does the plan place keep this distance from every obstacle that reaches into the heights?
    bool has_room(const Eigen::Vector2d& place_m, double distance_m, double low_m,
                  double high_m) const {
        return room_at(place_m, distance_m, low_m, high_m) >= distance_m;
    }

private:
    friend class Lookout;
    friend class SightTargets;

    struct Shape {
        std::uint32_t first = 0;  ///< into edges_
        std::uint32_t count = 0;  ///< 0: round
        double x = 0.0, y = 0.0;  ///< round: centre
        double radius = 0.0;      ///< round
        double low = 0.0, high = 0.0;
    };
    struct Edge {
        double x, y;    ///< corner
        double nx, ny;  ///< outward, not unit
        double offset;  ///< nx·x + ny·y
    };

    Shape add(const Prism& prism);
    bool hides(const Shape& shape, const Eigen::Vector3d& from, const Eigen::Vector3d& by) const;

    std::vector<Prism> prisms_;
    std::vector<Shape> wide_;  ///< as prisms_
    std::vector<Shape> bare_;
    std::vector<Edge> edges_;
    std::vector<double> size_;  ///< greatest distance of a prism's edge from its centre
    // Of wide_: the middle of the box around it, half its sides, and its greatest reach from there.
    std::vector<double> middle_x_, middle_y_, half_x_, half_y_, reach_;
    double clearance_m_ = 0.0;
};

/// Targets as the prism stands, with what they need to be looked at quickly. The scene must outlive
/// it.
class SightTargets {
public:
    SightTargets() = default;
    SightTargets(const SightScene& scene, std::span<const Eigen::Vector3d> targets);
    std::size_t size() const { return x_.size(); }

private:
    friend class Lookout;
    std::vector<double> x_, y_, z_;
    std::vector<std::uint8_t> state_;  ///< 0 plain, 1 near an obstacle, 2 hidden always
    std::vector<Eigen::Vector3d> place_;
    double low_ = 0.0;
    double high_ = 0.0;
};

/// Looks around from one place after the other, keeping its memory. The scene must outlive it.
class Lookout {
public:
    explicit Lookout(const SightScene& scene);

    /// Stands somewhere and looks at what hides sights that end between these heights.
    void stand(const Eigen::Vector3d& eye, double low_m, double high_m);
    /// seen[i] = 1 for every target seen whose plan distance lies in nearest_m … farthest_m.
    void look(const SightTargets& targets, double nearest_m, double farthest_m,
              std::vector<std::uint8_t>& seen);
    bool sees_nothing() const { return inside_; }

private:
    static constexpr int kBins = 1024;
    struct Item {
        double near, far;  ///< bounds of the shape's distance: square, and plain
        double high;
        std::uint32_t shape;
        std::int32_t next;
    };

    bool is_inside(const SightScene::Shape& shape) const;
    void put(std::size_t bin, std::uint32_t shape);
    bool is_behind(double bearing, double half, double square) const;
    void spread(std::uint32_t shape);
    bool hidden_in(int bin, double square, const Eigen::Vector3d& by) const;

    const SightScene* scene_;
    Eigen::Vector3d eye_ = Eigen::Vector3d::Zero();
    double low_ = 0.0;
    double high_ = 0.0;
    bool inside_ = false;
    std::vector<std::int32_t> head_, tail_;  ///< of the items of each bin, nearest first
    std::vector<double> beyond_;             ///< square of the distance behind which all is hidden
    std::vector<Item> items_;
    // Of each shape: bounds of its distance (square, and plain), its bearing and half the stretch
    // it may take up.
    std::vector<double> near_, far_, bearing_, half_;
    std::vector<std::int32_t> stretch_;
    std::vector<std::uint32_t> order_, start_;
    std::vector<double> square_;  ///< of each target looked at
    std::vector<std::int32_t> bin_;
};

}  // namespace layproof::plan

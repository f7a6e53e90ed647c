#pragma once
// What can be proven from where: every place of a lattice asked as the tripod would be.
//
// A place is asked whether one may stand there (inside the area, outside no-go areas, room for the
// tripod), which marks and points are seen (sight_lines.hpp, sight lengths, steepness), and what
// would be proven with the marks seen (outlook.hpp). A point counts for a place when its chance of
// being called proven there, with nothing wrong, is at least `counts_from`.
//
// The lattice is filled in chunks by as many workers as the caller has; the answers do not depend
// on their number. Cost: below 0.2 ms a place with 2,000 points, 12 marks and 550 obstacles.

#include <Eigen/Core>
#include <cstdint>
#include <string>
#include <vector>

#include "plan/crew.hpp"
#include "plan/outlook.hpp"
#include "plan/sight_lines.hpp"

namespace layproof::plan {

/// Everything that planning needs to know about the site, made ready once.
class Site {
public:
    /// `floor_m`: height of the floor that the tripod stands on. A point without a height is taken
    /// to lie on it. `map_draws`: simulated sets of sights at each place.
    Site(std::vector<ControlMark> marks, const std::vector<station::LayTarget>& points,
         std::vector<Prism> obstacles, std::vector<std::vector<Eigen::Vector2d>> no_go, Crew crew,
         double floor_m, double clearance_m, int map_draws = 10);
    Site(const Site&) = delete;
    Site& operator=(const Site&) = delete;

    const std::vector<ControlMark>& marks() const { return marks_; }
    const std::vector<PlanPoint>& points() const { return points_; }
    const SightScene& scene() const { return scene_; }
    const Crew& crew() const { return crew_; }
    double floor_m() const { return floor_m_; }
    double axes_height_m() const { return floor_m_ + crew_.instrument_height_m; }
    const WithinTable& table() const { return table_; }
    const Draws& draws() const { return draws_; }
    bool is_no_go(const Eigen::Vector2d& at) const;
    /// The obstacle in which a mark's prism would stand, or that is set over it; −1: none.
    int obstacle_over(const ControlMark& mark) const;

private:
    friend class Surveyor;
    std::vector<ControlMark> marks_;
    std::vector<PlanPoint> points_;
    SightScene scene_;
    std::vector<std::vector<Eigen::Vector2d>> no_go_;
    Crew crew_;
    double floor_m_ = 0.0;
    WithinTable table_;
    Draws draws_;
    SightTargets mark_targets_, point_targets_;
    double low_m_ = 0.0, high_m_ = 0.0;
};

enum class Standing { free, no_go, no_room, inside_obstacle };
std::string_view to_word(Standing standing);

/// One tripod position.
struct PlaceAnswer {
    Eigen::Vector2d at_m = Eigen::Vector2d::Zero();
    Standing standing = Standing::free;
    std::vector<int> marks;  ///< seen, into Site::marks
    bool is_solvable = false;
    Eigen::Matrix4d pose_covariance = Eigen::Matrix4d::Zero();
    std::vector<int> seen;       ///< points in sight
    std::vector<double> chance;  ///< of each seen point of being proven
    double expected = 0.0;       ///< sum of the chances
    double nothing_wrong = 0.0;  ///< mean probability that the station will give to "nothing wrong"
};

/// Asks places of one site, one after the other, keeping its memory. One for each thread.
class Surveyor {
public:
    explicit Surveyor(const Site& site);

    /// Everything about one place. `may_use`: for each mark, whether it counts; empty: all do.
    void ask(const Eigen::Vector2d& at_m, PlaceAnswer& answer,
             const std::vector<char>& may_use = {});
    /// The same with other random numbers than the site's.
    void ask(const Eigen::Vector2d& at_m, PlaceAnswer& answer, const std::vector<char>& may_use,
             const Draws& draws);
    /// The same for a set-up whose marks are given, as closely as its share is to be stated.
    void ask_closely(const Eigen::Vector2d& at_m, const std::vector<int>& marks,
                     const CloseEffort& effort, PlaceAnswer& answer);
    const SetupOutlook& outlook() const { return outlook_; }
    /// For each point the best chance met at any place asked; below 0: never in sight.
    const std::vector<float>& best_chance() const { return best_chance_; }

private:
    void see(const Eigen::Vector2d& at_m, PlaceAnswer& answer, const std::vector<char>& may_use);
    const Site& site_;
    Lookout lookout_;
    SetupOutlook outlook_;
    std::vector<std::uint8_t> seen_marks_, seen_points_;
    std::vector<float> best_chance_;
};

/// Bits of the points that a place proves.
using PointBits = std::vector<std::uint64_t>;

/// The lattice. East runs fastest.
struct ReachMap {
    double west_m = 0.0, south_m = 0.0, step_m = 0.5;
    int columns = 0, rows = 0;
    int words = 0;                        ///< of 64 points
    std::vector<float> expected;          ///< points proven on average; below 0: one cannot stand
    std::vector<std::uint16_t> in_sight;  ///< points
    std::vector<std::uint8_t> marks;      ///< seen
    std::vector<Standing> standing;
    PointBits counted;  ///< `words` for each place

    std::size_t size() const { return expected.size(); }
    Eigen::Vector2d at(std::size_t place) const {
        const auto c = static_cast<double>(place % static_cast<std::size_t>(columns));
        const auto r = static_cast<double>(place / static_cast<std::size_t>(columns));
        return {west_m + step_m * c, south_m + step_m * r};
    }
};

/// An empty lattice over a rectangle, corners included; the step grows until there are at most
/// `most` places.
ReachMap make_map(const Eigen::Vector2d& low_m, const Eigen::Vector2d& high_m, double step_m,
                  std::size_t points, std::size_t most = 200'000);

/// Fills places from … to − 1.
void fill(ReachMap& map, std::size_t from, std::size_t to, Surveyor& surveyor, double counts_from);

}  // namespace layproof::plan

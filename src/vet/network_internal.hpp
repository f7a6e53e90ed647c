#pragma once
// All evidence as one least-squares problem, for one way of reading the lists.
//
// Unknown are the true place X of every mark, the place N that its makers meant it to have, and the
// pose of every set-up. Observed are
//   list entries   N (+ transform of its list), standard deviation kListRounding_m: lists copy each
//                  other, so that two that agree do not prove the ground twice
//   links          X − N = 0 with the sheet's standard deviation: how well the ground was set
//   tapes, levels, sights, instruments over marks: of X
// Everything is relative to a centre of the first list.

#include <Eigen/Core>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "adjust/problem.hpp"
#include "adjust/solve.hpp"
#include "measure/sight_model.hpp"
#include "network/evidence.hpp"
#include "vet/normal_factor_internal.hpp"
#include "vet/trap.hpp"

namespace layproof::vet::internal {

struct Entry {
    int list = 0;
    int mark = 0;
    bool has_plan = false, has_height = false;
    Eigen::Vector2d plan_m = Eigen::Vector2d::Zero();  ///< as written
    double height_m = 0.0;
    int duplicate = -1;  ///< into Gathered::duplicates
    int choice = 0;      ///< which of the duplicates
};

struct Duplicate {
    int list = 0;
    int mark = 0;
    int choices = 0;
};

struct SetupNode {
    std::string name;
    station::Prepared prepared;
    std::vector<int> mark_of;  ///< Prepared::marks → Gathered::marks
    bool has_height = false;
    std::optional<double> over_height_m;
    int over_mark = -1;
};

/// A tape or a level, with the value it gave.
struct TapeRow {
    int from = -1, to = -1;
    int input = -1;  ///< into the evidence
    double value_m = 0.0;
    double sd_m = 0.0;
    bool is_slope = false;
};

struct MarkNode {
    std::string name;
    bool has_plan = false, has_height = false;  ///< on some list
    Eigen::Vector3d sd_m = Eigen::Vector3d::Zero();
    int lists = 0;     ///< that hold its plan
    int measured = 0;  ///< tapes, sights in plan
    int measured_height = 0;
};

/// Where the set-ups stand by the lists as they are, kept because most ways of reading the lists
/// leave most of them there.
struct PlainPoses;

struct Gathered {
    std::shared_ptr<const PlainPoses> plain_poses;  ///< null: each is found anew
    double scale_factor = 1.0;
    std::vector<std::string> list_names;
    std::vector<MarkNode> marks;
    std::vector<Entry> entries;
    std::vector<Duplicate> duplicates;
    std::vector<std::pair<int, int>> one_place;  ///< marks, on one list
    std::vector<SetupNode> setups;
    std::vector<TapeRow> tapes, levels;
    std::vector<std::string> notices;
    Eigen::Vector2d origin_m = Eigen::Vector2d::Zero();
    double height_origin_m = 0.0;
    int lists = 0;  ///< count
    bool has_ground_plan() const { return !tapes.empty() || !setups.empty(); }
    int mark_named(const std::string& name) const;
};

Gathered gather(const network::Evidence& evidence);

/// One way of reading the lists.
struct Variant {
    Trap trap = Trap::nothing_wrong;
    int list = -1;  ///< −1: all lists
    int mark_a = -1, mark_b = -1;
    double ratio = 1.0;  ///< coordinates as written = ratio · coordinates meant
    bool swap = false;
    bool mirror = false;
    bool free_turn = false, free_scale = false, free_shift = false;
    std::vector<int> choice;  ///< per duplicate
    double prior = 0.0;
    Trap also = Trap::nothing_wrong;  ///< a second trap of the same lists at once
    bool applies_to(int l) const { return trap != Trap::nothing_wrong && (list < 0 || list == l); }
    bool is_free() const { return free_turn || free_scale || free_shift; }
};

/// Where each thing stands in the stacked observations.
struct Rows {
    struct ListRow {
        int list = 0, mark = 0;
        int plan = -1, height = -1;  ///< observation blocks
    };
    std::vector<ListRow> lists;
    std::vector<int> link_plan, link_height;  ///< per mark; observation block or −1
    std::vector<int> tapes, levels;
    struct SightRow {
        int setup = 0, sight = 0, mark = 0;
        int block = -1;
        bool direction = false, zenith = false, distance = false;
        bool with_height = false;
    };
    std::vector<SightRow> sights;
};

/// The problem solved (or as near as it came) and its linear form there, whitened: y = J δ + e,
/// cov(e) = 1.
struct Solved {
    bool usable = false;
    bool converged = false;
    double statistic = 0.0;
    int redundancy = 0;
    double log_evidence = 0.0;  ///< up to what is common to all variants
    /// What one observation block says of consecutive unknowns from `at` on, whitened.
    struct Part {
        int at = 0;
        Eigen::MatrixXd rows;
    };
    std::vector<std::vector<Part>> parts;  ///< per observation block
    SparseMatrix jacobian;                 ///< the same in one
    std::shared_ptr<const NormalFactor> normal;
    Eigen::VectorXd misfit;
    std::vector<int> first_row, size;  ///< per observation block
    std::vector<Eigen::MatrixXd> whitener;
    std::vector<int> plan_at, height_at, meant_plan_at, meant_height_at;  ///< per mark, unknown
    std::vector<int> pose_at, pose_height_at;                             ///< per set-up
    Rows rows;
    Eigen::VectorXd values;
    /// What the first list says, read this way; nothing where it does not.
    std::vector<std::optional<Eigen::Vector2d>> said_plan;
    std::vector<std::optional<double>> said_height;
    double turn_rad = 0.0, scale = 1.0;                 ///< of the list, as found
    Eigen::Vector2d shift_m = Eigen::Vector2d::Zero();  ///< of the list's centre
};

/// How badly the lists read this way agree with each other and the ground, from closed forms; for
/// choosing what to solve.
double rough_statistic(const Gathered& all, const Variant& variant);

/// Fills Gathered::plain_poses.
void keep_plain_poses(Gathered& all);

Solved solve_variant(const Gathered& all, const Variant& variant);

/// The linear form of the same problem at other values (size of Solved::values).
void linearise_at(const Gathered& all, const Variant& variant, const Eigen::VectorXd& values,
                  Solved& solved);

/// The evidence without its noise: every value as the solution has it, lists read as `variant`.
Gathered noise_free(const Gathered& all, const Solved& solved);

/// Spoils the lists (or the ground's lengths) the way a trap does, by a typical amount: 1° and 1 m
/// for turns and shifts, 100 ppm for grid and ground.
void plant(Gathered& all, const Variant& variant);

}  // namespace layproof::vet::internal

// Where a point is under each explanation.

#include <Eigen/Dense>
#include <algorithm>
#include <map>

#include "base/index.hpp"
#include "infer/mixture.hpp"
#include "measure/angle.hpp"
#include "network/site_network_columns_internal.hpp"

namespace layproof::network {
namespace {

using cause::Cause;
using Eigen::MatrixXd;
using Eigen::Vector3d;
using internal::NetworkColumns;
using internal::WhiteBlock;

/// A set-up's state under one set of amounts.
class StateByAmounts {
public:
    StateByAmounts(const NetworkDiagnosis& diagnosis, const SiteNetwork& network, int setup)
        : diagnosis_(diagnosis),
          columns_(*diagnosis.columns),
          setup_(setup),
          last_(network.form->standings[at(setup)].back()) {}

    /// State × columns of the explanation.
    MatrixXd of(const NetworkExplanation& explanation) const {
        MatrixXd out = MatrixXd::Zero(station::kStateSize, explanation.amount.size());
        Eigen::Index first = 0;
        for (const int member : explanation.members) {
            const int columns = columns_.suspects[at(member)].columns;
            out.middleCols(first, columns) = one(member, columns);
            first += columns;
        }
        return out;
    }

private:
    bool is_here(const NetworkSuspect& who) const {
        return who.setup == setup_ ||
               std::find(who.setups.begin(), who.setups.end(), setup_) != who.setups.end();
    }

    MatrixXd one(int member, int columns) const {
        MatrixXd out = MatrixXd::Zero(station::kStateSize, columns);
        const auto found = std::lower_bound(columns_.picked.begin(), columns_.picked.end(), member);
        const auto k = static_cast<std::size_t>(found - columns_.picked.begin());
        const auto step = columns_.step.middleCols(columns_.picked_first[k], columns);
        const auto take = [&](adjust::ParameterId id, Eigen::Index row, Eigen::Index rows) {
            if (id.index < 0) return;
            const int core = columns_.core_at[at(id.index)];
            if (core >= 0) out.middleRows(row, rows) = -step.middleRows(core, rows);
        };
        take(last_.pose, station::state_east, 3);
        take(last_.axes, station::state_height, 1);
        const NetworkSuspect& who = diagnosis_.suspects[at(member)];
        if (!is_here(who)) return out;
        switch (who.cause) {
            case Cause::tripod_disturbed:
                out.topRows(columns) += MatrixXd::Identity(columns, columns);
                break;
            case Cause::prism_constant_wrong:
                out(station::state_prism, 0) = 1.0;
                break;
            case Cause::distance_scale_wrong:
                out(station::state_scale, 0) = 1.0;
                break;
            case Cause::vertical_index_wrong:
                out(station::state_index, 0) = 1.0;
                break;
            case Cause::rod_height_wrong_on_all:
                out(station::state_rod, 0) = 1.0;
                break;
            default:
                break;
        }
        return out;
    }

    const NetworkDiagnosis& diagnosis_;
    const NetworkColumns& columns_;
    int setup_;
    const internal::Standing& last_;
};

/// Where one set of amounts puts a point: 3 × columns of the set.
class PlaceByAmounts {
public:
    PlaceByAmounts(const NetworkDiagnosis& diagnosis, int point)
        : diagnosis_(diagnosis), columns_(*diagnosis.columns), point_(at(point)) {
        if (columns_.leaf_block[point_] >= 0) part_leaf();
    }

    /// One way the explanation may have gone, with its share of the probability: 3 × columns.
    struct Way {
        double share = 1.0;
        MatrixXd by;
        MatrixXd by_bump = {};  ///< of that, by disturbances before the point was laid
    };

    /// A change between two checked sights came before the sight of this point, or after it.
    std::vector<Way> ways_of(const NetworkExplanation& explanation) {
        const MatrixXd none = MatrixXd::Zero(3, explanation.amount.size());
        std::vector<Way> out{{1.0, none, none}};
        Eigen::Index first = 0;
        for (const int member : explanation.members) {
            const int columns = columns_.suspects[at(member)].columns;
            auto [known, is_new] = by_member_.try_emplace(member);
            if (is_new) known->second = one(member, columns);
            for (Way& way : out) way.by.middleCols(first, columns) = known->second;
            const bool is_bump = diagnosis_.suspects[at(member)].cause == Cause::tripod_disturbed;
            if (is_bump)
                for (Way& way : out) way.by_bump.middleCols(first, columns) = bump_of(member);
            if (const internal::MaybeBefore* maybe = maybe_of(member)) {
                const MatrixXd more = by_own_sight(maybe->rows);
                const std::size_t ways = out.size();
                for (std::size_t k = 0; k < ways; ++k) {
                    Way before = out[k];
                    before.share *= maybe->share;
                    before.by.middleCols(first, columns) += more;
                    if (is_bump) before.by_bump.middleCols(first, columns) = more;
                    out[k].share *= 1.0 - maybe->share;
                    out.push_back(std::move(before));
                }
            }
            first += columns;
        }
        return out;
    }

    /// Splits beliefs by a disturbance after the last sight that could show one.
    void add_open_bump(std::vector<PlaceBelief>& beliefs) const {
        if (columns_.leaf_block[point_] < 0) return;
        const internal::OpenBump& open = columns_.open[at(columns_.leaf_block[point_])];
        if (!(open.odds > 0.0) || columns_.bump_sizes.empty()) return;
        const MatrixXd by = by_own_sight(open.rows);
        const double bumped =
            open.odds / (1.0 + open.odds) / static_cast<double>(columns_.bump_sizes.size());
        const std::size_t still = beliefs.size();
        for (const Eigen::VectorXd& sd : columns_.bump_sizes) {
            const Eigen::Matrix3d added = by * sd.cwiseAbs2().asDiagonal() * by.transpose();
            for (std::size_t k = 0; k < still; ++k) {
                PlaceBelief one = beliefs[k];
                one.weight *= bumped;
                one.added += added;
                one.is_after_bump = true;
                beliefs.push_back(one);
            }
        }
        for (std::size_t k = 0; k < still; ++k) beliefs[k].weight /= 1.0 + open.odds;
    }

private:
    MatrixXd step_of(int member, int core, int size) const {
        const auto found = std::lower_bound(columns_.picked.begin(), columns_.picked.end(), member);
        const auto k = static_cast<std::size_t>(found - columns_.picked.begin());
        return columns_.step.block(core, columns_.picked_first[k], size,
                                   columns_.suspects[at(member)].columns);
    }

    const internal::MaybeBefore* maybe_of(int member) const {
        if (columns_.leaf_block[point_] < 0) return nullptr;
        for (const internal::MaybeBefore& one : columns_.maybe[at(columns_.leaf_block[point_])])
            if (one.suspect == member) return &one;
        return nullptr;
    }

    /// How far a disturbance before the point was laid took it along: by its first sight.
    MatrixXd bump_of(int member) const {
        const int columns = columns_.suspects[at(member)].columns;
        const int first = columns_.first_block[point_];
        const internal::RowsOf* rows = columns_.rows_at(member, first);
        if (rows == nullptr) return MatrixXd::Zero(3, columns);
        const MatrixXd by_own = columns_where(columns_.blocks[at(first)], [&](int parameter) {
            return parameter == columns_.plan[point_].index ||
                   parameter == columns_.height[point_].index;
        });
        return place_of(by_own.colPivHouseholderQr().solve(-*rows));
    }

    /// A solution for plan, or plan and height, of the point as three rows.
    static MatrixXd place_of(const MatrixXd& solved) {
        MatrixXd out = MatrixXd::Zero(3, solved.cols());
        if (solved.rows() >= 2) out.topRows(2) = solved.topRows(2);
        if (solved.rows() == 3) out.row(2) = solved.row(2);
        return out;
    }

    /// Where a point of one sight goes by what is done to that sight.
    MatrixXd by_own_sight(const MatrixXd& rows) const { return place_of(own_.solve(-rows)); }

    /// The derivatives of a block by the parameters of which `is_own` is true.
    template <class IsOwn>
    static MatrixXd columns_where(const WhiteBlock& block, IsOwn is_own) {
        MatrixXd out(block.jacobian.rows(), 0);
        for (std::size_t b = 0; b < block.blocks.size(); ++b) {
            if (!is_own(block.blocks[b].index)) continue;
            const int size = block.end_of(b) - block.first[b];
            out.conservativeResize(Eigen::NoChange, out.cols() + size);
            out.rightCols(size) = block.jacobian.middleCols(block.first[b], size);
        }
        return out;
    }

    /// A point of one sight: what of the sight is its own, and what it shares with the core.
    void part_leaf() {
        const WhiteBlock& block = columns_.blocks[at(columns_.leaf_block[point_])];
        for (std::size_t b = 0; b < block.blocks.size(); ++b) {
            const int core = columns_.core_at[at(block.blocks[b].index)];
            if (core >= 0)
                shared_.push_back({core, block.first[b], block.end_of(b) - block.first[b]});
        }
        own_.compute(columns_where(
            block, [&](int parameter) { return columns_.core_at[at(parameter)] < 0; }));
    }

    /// δ = −Q JᵀB ∇; a point of one sight follows its set-up, and takes what the suspect does to
    /// that sight.
    MatrixXd one(int member, int columns) const {
        MatrixXd out = MatrixXd::Zero(3, columns);
        if (columns_.leaf_block[point_] < 0) {
            if (columns_.plan_core[point_] >= 0)
                out.topRows(2) = -step_of(member, columns_.plan_core[point_], 2);
            if (columns_.height_core[point_] >= 0)
                out.bottomRows(1) = -step_of(member, columns_.height_core[point_], 1);
            // A mark that moved among its sightings: where it is now.
            const NetworkSuspect& who = diagnosis_.suspects[at(member)];
            if (who.point == static_cast<int>(point_) && who.after_sight >= 0) {
                if (who.cause == Cause::mark_moved) out.topRows(2) += MatrixXd::Identity(2, 2);
                if (who.cause == Cause::mark_height_changed) out(2, 0) += 1.0;
            }
            return out;
        }
        const WhiteBlock& block = columns_.blocks[at(columns_.leaf_block[point_])];
        MatrixXd right = MatrixXd::Zero(block.jacobian.rows(), columns);
        if (const auto* rows = columns_.rows_at(member, columns_.leaf_block[point_]))
            right -= *rows;
        for (const Shared& part : shared_)
            right += block.jacobian.middleCols(part.first, part.size) *
                     step_of(member, part.core, part.size);
        return place_of(own_.solve(right));
    }

    struct Shared {
        int core, first, size;  ///< position in the core; columns of the sight
    };

    const NetworkDiagnosis& diagnosis_;
    const NetworkColumns& columns_;
    std::size_t point_;
    std::vector<Shared> shared_;
    Eigen::ColPivHouseholderQR<MatrixXd> own_;
    std::map<int, MatrixXd> by_member_;
};

}  // namespace

std::vector<station::Belief> NetworkDiagnosis::states(const SiteNetwork& network, int setup,
                                                      const station::Pose& nominal) const {
    const internal::Standing& last = network.form->standings[at(setup)].back();
    const auto& analysis = *network.form->analysis;
    station::Belief plain = station::belief_of(nominal);
    if (last.pose.index < 0 || analysis.is_loose(last.pose)) return {plain};
    const auto place = network.form->problem.value(last.pose);
    plain.mean[station::state_east] = place[0] + network.origin_m.x() - nominal.position_m.x();
    plain.mean[station::state_north] = place[1] + network.origin_m.y() - nominal.position_m.y();
    plain.mean[station::state_orientation] = measure::wrap_pi(place[2] - nominal.orientation_rad);
    plain.covariance.setZero();
    plain.covariance.topLeftCorner<3, 3>() = analysis.covariance(last.pose);
    if (nominal.has_height && last.axes.index >= 0 && !analysis.is_loose(last.axes)) {
        plain.mean[station::state_height] = network.form->problem.value(last.axes)[0] +
                                            network.origin_m.z() - nominal.position_m.z();
        plain.covariance(3, 3) = analysis.covariance(last.axes)(0, 0);
        const MatrixXd cross = analysis.covariance(last.pose, last.axes);
        plain.covariance.block<3, 1>(0, 3) = cross;
        plain.covariance.block<1, 3>(3, 0) = cross.transpose();
    }
    if (!is_usable) return {plain};
    std::vector<station::Belief> out;
    double told = 0.0;
    double unchanged = 0.0;
    const StateByAmounts state(*this, network, setup);
    for (const NetworkExplanation& explanation : explanations) {
        told += explanation.probability;
        if (explanation.members.empty() || explanation.amount.size() == 0) {
            unchanged += explanation.probability;
            continue;
        }
        const MatrixXd by = state.of(explanation);
        station::Belief one = plain;
        one.weight = explanation.probability;
        one.mean += by * explanation.amount;
        one.covariance += by * explanation.amount_covariance * by.transpose();
        out.push_back(std::move(one));
    }
    plain.weight = unchanged + std::max(1.0 - told, 0.0);
    out.push_back(std::move(plain));
    infer::normalise(out);
    // Improbable explanations make a list of hundreds; together they are one.
    constexpr int kMostStates = 24;
    return infer::condense(std::move(out), kMostStates);
}

double NetworkDiagnosis::unseen_bump_odds(int setup) const {
    if (!is_usable) return 0.0;
    return columns->unseen_bump_odds[at(setup)];
}

double NetworkDiagnosis::share_before(int suspect, int sight) const {
    if (!is_usable) return 0.0;
    const int block = columns->block_of_sight[at(sight)];
    if (block < 0) return 0.0;
    if (columns->rows_at(suspect, block) != nullptr) return 1.0;
    for (const internal::MaybeBefore& one : columns->maybe[at(block)])
        if (one.suspect == suspect) return one.share;
    return 0.0;
}

std::vector<PlaceBelief> NetworkDiagnosis::beliefs(int point) const {
    std::vector<PlaceBelief> out;
    if (!is_usable) return {PlaceBelief{}};
    PlaceByAmounts place(*this, point);
    double unchanged = 0.0;
    double told = 0.0;
    for (std::size_t e = 0; e < explanations.size(); ++e) {
        const NetworkExplanation& explanation = explanations[e];
        told += explanation.probability;
        if (explanation.members.empty() || explanation.amount.size() == 0) {
            unchanged += explanation.probability;
            continue;
        }
        for (const PlaceByAmounts::Way& way : place.ways_of(explanation)) {
            const double weight = explanation.probability * way.share;
            const Vector3d shift = way.by * explanation.amount;
            const Eigen::Matrix3d added =
                way.by * explanation.amount_covariance * way.by.transpose();
            // Below a micrometre it is the same place.
            constexpr double kNothing_m = 1e-6;
            if (shift.norm() < kNothing_m &&
                added.diagonal().maxCoeff() < kNothing_m * kNothing_m) {
                unchanged += weight;
                continue;
            }
            PlaceBelief one{weight, shift, added, static_cast<int>(e)};
            one.is_after_bump = !way.by_bump.isZero(0.0);
            one.bump_m = way.by_bump * explanation.amount;
            out.push_back(one);
        }
    }
    unchanged += std::max(1.0 - told, 0.0);
    out.push_back(PlaceBelief{unchanged});
    place.add_open_bump(out);
    infer::normalise(out);
    return out;
}

}  // namespace layproof::network

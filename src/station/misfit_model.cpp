#include "station/misfit_model.hpp"

#include <Eigen/Cholesky>
#include <algorithm>
#include <array>
#include <cmath>

#include "measure/angle.hpp"
#include "station/observations.hpp"

namespace layproof::station {
namespace {

using measure::ReducedSight;

constexpr double kShortest_m = 1e-3;
/// Root of the pivot below which adjust::solve() calls a direction open.
constexpr double kSmallestRoot = 1e-6;

struct RowDraft {
    MisfitRow row;
    double misfit = 0.0;
    Eigen::Vector4d by_pose = Eigen::Vector4d::Zero();
};

/// Rows of one sight with their own (sight) covariance.
struct SightDraft {
    std::array<RowDraft, 3> rows;
    int count = 0;
    Eigen::Matrix3d covariance = Eigen::Matrix3d::Zero();
};

class Builder {
public:
    Builder(const Prepared& setup, const Pose& pose, const std::vector<int>& mark_of_sight)
        : setup_(setup), mark_of_sight_(mark_of_sight) {
        at_ = pose.position_m - setup.origin_m;
        if (!setup.has_height) at_.z() = 0.0;
        orientation_ = pose.orientation_rad;
        bend_ = bend_of(setup.instrument.refraction_k);
        model_.pose_size = setup.has_height ? 4 : 3;
    }

    MisfitModel run() {
        model_.sights.resize(setup_.sights.size());
        over_mark();
        for (std::size_t i = 0; i < setup_.sights.size(); ++i) {
            const int mark = mark_of(i);
            fill_geometry(i, mark);
            if (!setup_.sights[i].used) continue;
            const bool full = setup_.sights[i].reduced.has_direction &&
                              setup_.sights[i].reduced.has_distance &&
                              (setup_.sights[i].reduced.has_zenith ||
                               setup_.sights[i].reduced.distance_is_horizontal);
            append(full ? full_sight(i, mark) : part_sight(i, mark), static_cast<int>(i));
        }
        finish();
        return std::move(model_);
    }

private:
    int mark_of(std::size_t sight) const {
        return mark_of_sight_.empty() ? setup_.sights[sight].mark : mark_of_sight_[sight];
    }

    void over_mark() {
        if (setup_.occupied_mark < 0) return;
        const UsedMark& mark = setup_.marks[static_cast<std::size_t>(setup_.occupied_mark)];
        SightDraft draft;
        const Eigen::Vector3d variance = over_mark_sd_m(setup_.instrument).cwiseAbs2();
        const bool with_height =
            setup_.has_height && mark.has_height && setup_.setup.instrument_height_m.has_value();
        for (int k = 0; k < (with_height ? 3 : 2); ++k) {
            RowDraft& row = draft.rows[static_cast<std::size_t>(draft.count)];
            row.row.sight = -1;
            row.row.mark = setup_.occupied_mark;
            row.row.by_target = Eigen::Vector3d::Unit(k);
            row.misfit = at_[k] - mark.given_m[k] -
                         (k == 2 ? setup_.setup.instrument_height_m.value_or(0.0) : 0.0);
            row.by_pose[k == 2 ? kModelHeight : k] = -1.0;
            draft.covariance(draft.count, draft.count) = variance[k];
            ++draft.count;
        }
        append(draft, -1);
    }

    void fill_geometry(std::size_t i, int mark_index) {
        const ReducedSight& r = setup_.sights[i].reduced;
        const UsedMark& mark = setup_.marks[static_cast<std::size_t>(mark_index)];
        SightGeometry& g = model_.sights[i];
        Eigen::Vector2d plan = mark.given_m.head<2>() - at_.head<2>();
        const bool has_plan_distance = r.has_distance && (r.distance_is_horizontal || r.has_zenith);
        if (r.has_direction) {
            const double azimuth = r.direction_rad + orientation_;
            g.ahead << std::sin(azimuth), std::cos(azimuth);
        } else {
            g.ahead = plan.norm() > kShortest_m ? Eigen::Vector2d(plan.normalized())
                                                : Eigen::Vector2d(0.0, 1.0);
        }
        g.right << g.ahead.y(), -g.ahead.x();
        g.zenith_rad = r.has_zenith ? r.zenith_rad : measure::kPi / 2.0;
        const double ground = has_plan_distance
                                  ? ground_distance(r)
                                  : std::max(plan.norm(), kShortest_m) / setup_.scale_factor;
        g.plan_m = ground * setup_.scale_factor;
        if (!r.has_zenith && setup_.has_height && mark.has_height) {
            g.zenith_rad = std::atan2(
                ground, mark.given_m.z() + r.target_height_m - at_.z() - bend_ * ground * ground);
        }
        g.slope_m = ground / std::max(std::sin(g.zenith_rad), 1e-3);
        g.along << g.ahead * std::sin(g.zenith_rad), std::cos(g.zenith_rad);
    }

    SightDraft full_sight(std::size_t i, int mark_index) {
        const ReducedSight& r = setup_.sights[i].reduced;
        const UsedMark& mark = setup_.marks[static_cast<std::size_t>(mark_index)];
        const SightGeometry& g = model_.sights[i];
        const double s = setup_.scale_factor;
        const double ground = g.plan_m / s;
        const bool use_height = setup_.has_height && mark.has_height && r.has_zenith;

        const Eigen::Vector2d plan = at_.head<2>() + g.plan_m * g.ahead;
        const double rise = r.distance_is_horizontal ? 0.0 : r.distance_m * std::cos(r.zenith_rad);
        const Eigen::Matrix3d by_reading =
            place_by_reading(g.ahead, ground, rise, r.distance_m, s, r.distance_is_horizontal);
        const Eigen::Matrix3d full = by_reading * r.covariance * by_reading.transpose();

        SightDraft draft;
        std::array<int, 3> kept{};
        const auto add = [&](int axis, double misfit, const Eigen::Vector4d& by_pose) {
            RowDraft& row = draft.rows[static_cast<std::size_t>(draft.count)];
            row.row.mark = mark_index;
            row.row.by_target = Eigen::Vector3d::Unit(axis);
            row.misfit = misfit;
            row.by_pose = by_pose;
            kept[static_cast<std::size_t>(draft.count)] = axis;
            ++draft.count;
        };
        if (mark.has_plan) {
            // ∂p/∂orientation = plan distance × right
            add(0, plan.x() - mark.given_m.x(), {-1.0, 0.0, -g.plan_m * g.right.x(), 0.0});
            add(1, plan.y() - mark.given_m.y(), {0.0, -1.0, -g.plan_m * g.right.y(), 0.0});
        }
        if (use_height) {
            const double height = at_.z() + rise + bend_ * ground * ground - r.target_height_m;
            add(2, height - mark.given_m.z(), {0.0, 0.0, 0.0, -1.0});
        }
        for (int a = 0; a < draft.count; ++a)
            for (int b = 0; b < draft.count; ++b)
                draft.covariance(a, b) =
                    full(kept[static_cast<std::size_t>(a)], kept[static_cast<std::size_t>(b)]);
        return draft;
    }

    /// Rows of a sight that lacks a part: its readings, turned into metres at the mark.
    SightDraft part_sight(std::size_t i, int mark_index) {
        const ReducedSight& r = setup_.sights[i].reduced;
        const UsedMark& mark = setup_.marks[static_cast<std::size_t>(mark_index)];
        const SightGeometry& g = model_.sights[i];
        const SightPartials partials = sight_partials(
            r, setup_.scale_factor, bend_, setup_.has_height, mark.given_m - at_, orientation_);
        const int mark_size = model_.pose_size - 1;
        const Eigen::Matrix3d reading =
            covariance_of(r, setup_.instrument, g.plan_m / setup_.scale_factor);
        SightDraft draft;
        std::array<int, 3> part_of_row{};
        std::array<double, 3> factor{};
        for (const int part : parts_of(r)) {
            const bool needs_height = part == 1 || (part == 2 && !r.distance_is_horizontal);
            if (!mark.has_plan || (needs_height && setup_.has_height && !mark.has_height)) continue;
            const double scale = part == 0   ? g.plan_m
                                 : part == 1 ? -g.slope_m / std::max(std::sin(g.zenith_rad), 1e-3)
                                             : 1.0;
            RowDraft& row = draft.rows[static_cast<std::size_t>(draft.count)];
            row.row.mark = mark_index;
            const auto p = static_cast<std::size_t>(part);
            const std::array<double, 3>& by = partials.by_target[p];
            for (int k = 0; k < mark_size; ++k) {
                row.row.by_target[k] = scale * by[static_cast<std::size_t>(k)];
                row.by_pose[k == 2 ? kModelHeight : k] = -row.row.by_target[k];
            }
            row.by_pose[kModelOrientation] = part == 0 ? -scale : 0.0;
            row.misfit = -scale * partials.residual[p];
            part_of_row[static_cast<std::size_t>(draft.count)] = part;
            factor[static_cast<std::size_t>(draft.count)] = scale;
            ++draft.count;
        }
        for (int a = 0; a < draft.count; ++a)
            for (int b = 0; b < draft.count; ++b)
                draft.covariance(a, b) = factor[static_cast<std::size_t>(a)] *
                                         factor[static_cast<std::size_t>(b)] *
                                         reading(part_of_row[static_cast<std::size_t>(a)],
                                                 part_of_row[static_cast<std::size_t>(b)]);
        return draft;
    }

    void append(const SightDraft& draft, int sight) {
        const int first = static_cast<int>(rows_.size());
        if (sight >= 0) {
            model_.sights[static_cast<std::size_t>(sight)].first_row = draft.count > 0 ? first : -1;
            model_.sights[static_cast<std::size_t>(sight)].rows = draft.count;
        }
        for (int k = 0; k < draft.count; ++k) {
            rows_.push_back(draft.rows[static_cast<std::size_t>(k)]);
            rows_.back().row.sight = sight;
        }
        if (draft.count > 0) blocks_.push_back({first, draft.count, draft.covariance});
    }

    void finish() {
        const auto n = static_cast<Eigen::Index>(rows_.size());
        const int u = model_.pose_size;
        model_.misfit.resize(n);
        model_.by_pose.resize(n, 4);
        model_.covariance = Eigen::MatrixXd::Zero(n, n);
        model_.weight = Eigen::MatrixXd::Zero(n, n);
        std::vector<std::vector<int>> by_mark(setup_.marks.size());
        for (Eigen::Index i = 0; i < n; ++i) {
            const RowDraft& row = rows_[static_cast<std::size_t>(i)];
            model_.rows.push_back(row.row);
            model_.misfit[i] = row.misfit;
            model_.by_pose.row(i) = row.by_pose.transpose();
            by_mark[static_cast<std::size_t>(row.row.mark)].push_back(static_cast<int>(i));
        }
        for (const Block& block : blocks_)
            model_.covariance.block(block.first, block.first, block.count, block.count) =
                block.covariance.topLeftCorner(block.count, block.count);

        double half_log_det_weight = 0.0;
        for (std::size_t m = 0; m < by_mark.size(); ++m) {
            const std::vector<int>& list = by_mark[m];
            if (list.empty()) continue;
            const auto size = static_cast<Eigen::Index>(list.size());
            const Eigen::Vector3d variance = setup_.marks[m].sd_m.cwiseAbs2();
            Eigen::MatrixXd group(size, size);
            for (Eigen::Index a = 0; a < size; ++a) {
                const int ra = list[static_cast<std::size_t>(a)];
                for (Eigen::Index b = 0; b < size; ++b) {
                    const int rb = list[static_cast<std::size_t>(b)];
                    group(a, b) = model_.covariance(ra, rb) +
                                  model_.rows[static_cast<std::size_t>(ra)].by_target.dot(
                                      variance.cwiseProduct(
                                          model_.rows[static_cast<std::size_t>(rb)].by_target));
                }
            }
            const Eigen::LLT<Eigen::MatrixXd> factor(group);
            if (factor.info() != Eigen::Success) return;
            const Eigen::MatrixXd inverse = factor.solve(Eigen::MatrixXd::Identity(size, size));
            half_log_det_weight -= factor.matrixLLT().diagonal().array().log().sum();
            for (Eigen::Index a = 0; a < size; ++a) {
                for (Eigen::Index b = 0; b < size; ++b) {
                    const int ra = list[static_cast<std::size_t>(a)];
                    const int rb = list[static_cast<std::size_t>(b)];
                    model_.covariance(ra, rb) = group(a, b);
                    model_.weight(ra, rb) = inverse(a, b);
                }
            }
        }
        if (n < u) return;
        const auto pose_rows = model_.by_pose.leftCols(u);
        const Eigen::MatrixXd weighted = model_.weight * pose_rows;  // n × u
        const Eigen::MatrixXd normal = pose_rows.transpose() * weighted;
        // Scaled, so that metres and radians compare when the rank is judged.
        const Eigen::VectorXd scale = normal.diagonal().cwiseMax(1e-300).cwiseSqrt().cwiseInverse();
        const Eigen::LLT<Eigen::MatrixXd> factor(scale.asDiagonal() * normal * scale.asDiagonal());
        if (factor.info() != Eigen::Success ||
            factor.matrixLLT().diagonal().minCoeff() < kSmallestRoot)
            return;
        const Eigen::MatrixXd q =
            scale.asDiagonal() * factor.solve(Eigen::MatrixXd::Identity(u, u)) * scale.asDiagonal();
        model_.pose_covariance.topLeftCorner(u, u) = q;
        model_.pose_from_misfit = Eigen::MatrixXd::Zero(4, n);
        // y = A·(x_true − x0) + …, so x̂ − x0 = (AᵀWA)⁻¹AᵀW·y with A = by_pose.
        model_.pose_from_misfit.topRows(u) = q * weighted.transpose();
        model_.pose_shift = model_.pose_from_misfit * model_.misfit;
        model_.reduced = model_.weight - weighted * q * weighted.transpose();
        model_.reduced_misfit = model_.reduced * model_.misfit;
        model_.statistic = std::max(0.0, model_.misfit.dot(model_.reduced_misfit));
        model_.redundancy = static_cast<int>(n) - u;
        model_.log_volume = half_log_det_weight -
                            factor.matrixLLT().diagonal().array().log().sum() +
                            scale.array().log().sum();
        model_.usable = true;
    }

    struct Block {
        int first;
        int count;
        Eigen::Matrix3d covariance;
    };

    const Prepared& setup_;
    const std::vector<int>& mark_of_sight_;
    Eigen::Vector3d at_;
    double orientation_ = 0.0;
    double bend_ = 0.0;
    std::vector<RowDraft> rows_;
    std::vector<Block> blocks_;
    MisfitModel model_;
};

}  // namespace

MisfitModel misfit_model(const Prepared& setup, const Pose& pose,
                         const std::vector<int>& mark_of_sight) {
    return Builder(setup, pose, mark_of_sight).run();
}

}  // namespace layproof::station

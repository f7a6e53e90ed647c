#include <algorithm>
#include <cmath>

#include "cause/pattern_internal.hpp"
#include "measure/angle.hpp"
#include "station/state.hpp"

namespace layproof::cause::internal {
namespace {

using station::MisfitModel;
using station::Prepared;
using station::SightGeometry;

/// A gross reading's rows are worked out along its arc once they differ from the tangent by this.
constexpr double kArcMatters_m = 1e-5;
constexpr double kShortest_m = 1e-3;

class Maker {
public:
    Maker(const Prepared& setup, const MisfitModel& model, const CauseTable& table)
        : setup_(setup), model_(model), table_(table) {
        of_mark_.resize(setup.marks.size());
        for (std::size_t r = 0; r < model.rows.size(); ++r)
            of_mark_[static_cast<std::size_t>(model.rows[r].mark)].push_back(static_cast<int>(r));
        for (std::size_t i = 0; i < setup.sights.size(); ++i) {
            if (model.sights[i].first_row >= 0) used_.push_back(static_cast<int>(i));
            by_state_.push_back(station::by_state(model.sights[i]));
        }
    }

    std::vector<Pattern> run() {
        marks();
        sights();
        on_all();
        tripod();
        return std::move(out_);
    }

private:
    /// Adds the pattern if it can show or is listed all the same; frequency is that of one subject.
    void add(Pattern pattern, double share) {
        const CausePrior& prior = table_.of(pattern.cause);
        if (prior.frequency <= 0.0 || prior.sizes.empty()) return;
        pattern.frequency = prior.frequency * share;
        for (const CauseSize& size : prior.sizes) pattern.sds.push_back(sd_of(pattern, size));
        out_.push_back(std::move(pattern));
    }

    static Vec sd_of(const Pattern& pattern, const CauseSize& size) {
        const double length = size.length_m;
        const double angle = size.angle_rad;
        switch (pattern.cause) {
            case Cause::mark_moved:
            case Cause::rod_not_plumb:
                return {length, length, 0.0};
            case Cause::tripod_disturbed:
                return {length, length, angle};
            case Cause::distance_scale_wrong:
                return {size.ratio, 0.0, 0.0};
            case Cause::out_of_level:
                return {angle, angle, 0.0};
            case Cause::vertical_index_wrong:
            case Cause::gross_direction:
            case Cause::gross_zenith:
                return {angle, 0.0, 0.0};
            default:
                return {length, 0.0, 0.0};
        }
    }

    /// b = by_target·(target shift), the shift being `shift` times the amounts.
    /// Rows that the amounts do not reach are left out, unless they may be restated.
    static void put(Pattern& pattern, int row, const Eigen::Vector3d& by_target,
                    const Eigen::Matrix3d& shift, bool all_rows) {
        const Vec coefficients = shift.transpose() * by_target;
        if (!all_rows && coefficients.isZero(0.0)) return;
        pattern.rows.push_back(row);
        pattern.by_amount.push_back(coefficients);
    }

    void over_rows(Pattern& pattern, const std::vector<int>& rows, const Eigen::Matrix3d& shift,
                   bool all_rows = false) const {
        for (const int r : rows)
            put(pattern, r, model_.rows[static_cast<std::size_t>(r)].by_target, shift, all_rows);
    }

    std::vector<int> rows_of_sight(int sight) const {
        const SightGeometry& g = model_.sights[static_cast<std::size_t>(sight)];
        std::vector<int> rows;
        for (int k = 0; k < g.rows; ++k) rows.push_back(g.first_row + k);
        return rows;
    }

    static Eigen::Matrix3d plan_shift() {
        Eigen::Matrix3d s = Eigen::Matrix3d::Zero();
        s(0, 0) = s(1, 1) = 1.0;
        return s;
    }
    static Eigen::Matrix3d height_shift() {
        Eigen::Matrix3d s = Eigen::Matrix3d::Zero();
        s(2, 0) = 1.0;
        return s;
    }

    void marks() {
        std::vector<int> in_plan;
        std::vector<int> in_height;
        for (std::size_t m = 0; m < setup_.marks.size(); ++m) {
            if (of_mark_[m].empty()) continue;
            if (setup_.marks[m].has_plan) in_plan.push_back(static_cast<int>(m));
            if (setup_.marks[m].has_height && setup_.has_height)
                in_height.push_back(static_cast<int>(m));
        }
        for (const int m : in_plan) {
            Pattern pattern{.cause = Cause::mark_moved, .mark = m, .columns = 2};
            over_rows(pattern, of_mark_[static_cast<std::size_t>(m)], plan_shift());
            add(std::move(pattern), 1.0 / static_cast<double>(in_plan.size()));
        }
        for (const int m : in_height) {
            Pattern pattern{.cause = Cause::mark_height_changed, .mark = m, .columns = 1};
            over_rows(pattern, of_mark_[static_cast<std::size_t>(m)], height_shift());
            add(std::move(pattern), 1.0 / static_cast<double>(in_height.size()));
        }
    }

    void sights() {
        if (used_.empty()) return;
        const double share = 1.0 / static_cast<double>(used_.size());
        for (const int i : used_) {
            const auto& reduced = setup_.sights[static_cast<std::size_t>(i)].reduced;
            const SightGeometry& g = model_.sights[static_cast<std::size_t>(i)];
            const int mark = setup_.sights[static_cast<std::size_t>(i)].mark;
            const std::vector<int> rows = rows_of_sight(i);
            {
                Pattern p{.cause = Cause::rod_not_plumb, .mark = mark, .sight = i, .columns = 2};
                over_rows(p, rows, plan_shift());
                add(std::move(p), share);
            }
            if (setup_.has_height) {
                Pattern p{.cause = Cause::rod_height_wrong, .mark = mark, .sight = i, .columns = 1};
                over_rows(p, rows, height_shift());
                add(std::move(p), share);
            }
            if (reduced.has_direction) {
                Pattern p{.cause = Cause::gross_direction, .mark = mark, .sight = i, .columns = 1};
                Eigen::Matrix3d s = Eigen::Matrix3d::Zero();
                s.block<2, 1>(0, 0) = g.plan_m * g.right;
                over_rows(p, rows, s, true);
                turn_back(p, i);
                add(std::move(p), share);
            }
            if (reduced.has_zenith) {
                Pattern p{.cause = Cause::gross_zenith, .mark = mark, .sight = i, .columns = 1};
                Eigen::Matrix3d s = Eigen::Matrix3d::Zero();
                s.col(0) = by_state_[static_cast<std::size_t>(i)].col(station::state_index);
                over_rows(p, rows, s, true);
                tip_back(p, i);
                add(std::move(p), share);
            }
            if (reduced.has_distance) {
                Pattern p{.cause = Cause::gross_distance, .mark = mark, .sight = i, .columns = 1};
                Eigen::Matrix3d s = Eigen::Matrix3d::Zero();
                s.col(0) = by_state_[static_cast<std::size_t>(i)].col(station::state_prism);
                over_rows(p, rows, s);
                add(std::move(p), share);
            }
        }
    }

    /// True where the rows of a sight are the first `count` site axes at a mark known in plan.
    bool rows_are_axes(int sight, int count) const {
        const SightGeometry& g = model_.sights[static_cast<std::size_t>(sight)];
        const int mark = setup_.sights[static_cast<std::size_t>(sight)].mark;
        if (g.rows < count || !setup_.marks[static_cast<std::size_t>(mark)].has_plan) return false;
        for (int k = 0; k < count; ++k)
            if (model_.rows[static_cast<std::size_t>(g.first_row + k)].by_target !=
                Eigen::Vector3d::Unit(k))
                return false;
        return true;
    }

    void restate(Pattern& pattern, int sight, const Vec& misfit) const {
        const SightGeometry& g = model_.sights[static_cast<std::size_t>(sight)];
        std::vector<double> change(pattern.rows.size(), 0.0);
        double largest = 0.0;
        for (std::size_t k = 0; k < pattern.rows.size(); ++k) {
            const int at = pattern.rows[k] - g.first_row;
            change[k] = misfit[at] - model_.misfit[pattern.rows[k]];
            largest = std::max(largest, std::abs(change[k]));
        }
        if (largest > kArcMatters_m) pattern.row_change = std::move(change);
    }

    /// A direction that is far off moves its target along an arc, not along the tangent at the
    /// wrong end: the misfit of a full sight is restated as (distance misfit, arc) about the true
    /// bearing.
    void turn_back(Pattern& pattern, int sight) const {
        if (!rows_are_axes(sight, 2)) return;
        const SightGeometry& g = model_.sights[static_cast<std::size_t>(sight)];
        Vec misfit = Vec::Zero();
        for (int k = 0; k < g.rows; ++k) misfit[k] = model_.misfit[g.first_row + k];
        // Station → the mark of the sheet.
        const Eigen::Vector2d to = g.plan_m * g.ahead - misfit.head<2>();
        const double distance = to.norm();
        if (distance < kShortest_m) return;
        const double turn = std::atan2(g.ahead.x(), g.ahead.y()) - std::atan2(to.x(), to.y());
        misfit.head<2>() =
            (g.plan_m - distance) * g.ahead + g.plan_m * measure::wrap_pi(turn) * g.right;
        restate(pattern, sight, misfit);
    }

    /// The same for a zenith angle, in the vertical plane of the sight.
    void tip_back(Pattern& pattern, int sight) const {
        if (!rows_are_axes(sight, 3)) return;
        const SightGeometry& g = model_.sights[static_cast<std::size_t>(sight)];
        Vec misfit = model_.misfit.segment<3>(g.first_row);
        const double off_ahead = misfit.head<2>().dot(g.ahead);
        const Eigen::Vector2d read(g.plan_m, g.slope_m * std::cos(g.zenith_rad));  // out, up
        const Eigen::Vector2d to = read - Eigen::Vector2d(off_ahead, misfit.z());
        const double slope = read.norm();
        const double distance = to.norm();
        if (distance < kShortest_m || slope < kShortest_m) return;
        const double tip = std::atan2(read.x(), read.y()) - std::atan2(to.x(), to.y());
        const Eigen::Vector2d along = read / slope;
        const Eigen::Vector2d down(along.y(), -along.x());
        const Eigen::Vector2d arc = (slope - distance) * along + slope * tip * down;
        misfit.head<2>() += (arc.x() - off_ahead) * g.ahead;
        misfit.z() = arc.y();
        restate(pattern, sight, misfit);
    }

    void on_all() {
        single_state(Cause::prism_constant_wrong, station::state_prism);
        single_state(Cause::distance_scale_wrong, station::state_scale);
        if (!setup_.has_height) return;
        single_state(Cause::rod_height_wrong_on_all, station::state_rod);
        single_state(Cause::vertical_index_wrong, station::state_index);
        Pattern tilt{.cause = Cause::out_of_level, .columns = 2};
        tilt.state = {station::state_tilt_east, station::state_tilt_north, -1};
        for (const int i : used_) {
            Eigen::Matrix3d s = Eigen::Matrix3d::Zero();
            s.leftCols<2>() =
                by_state_[static_cast<std::size_t>(i)].middleCols<2>(station::state_tilt_east);
            over_rows(tilt, rows_of_sight(i), s);
        }
        add(std::move(tilt), 1.0);
    }

    void single_state(Cause cause, int state) {
        Pattern pattern{.cause = cause, .columns = 1};
        pattern.state = {state, -1, -1};
        bool any = false;
        for (const int i : used_) {
            const auto& reduced = setup_.sights[static_cast<std::size_t>(i)].reduced;
            any = any || (cause == Cause::vertical_index_wrong      ? reduced.has_zenith
                          : cause == Cause::rod_height_wrong_on_all ? true
                                                                    : reduced.has_distance);
            Eigen::Matrix3d s = Eigen::Matrix3d::Zero();
            s.col(0) = by_state_[static_cast<std::size_t>(i)].col(state);
            if (cause == Cause::vertical_index_wrong) s *= reduced.face_balance;
            over_rows(pattern, rows_of_sight(i), s);
        }
        if (any) add(std::move(pattern), 1.0);
    }

    void tripod() {
        if (used_.size() < 2) return;
        const double share = 1.0 / static_cast<double>(used_.size() - 1);
        for (std::size_t first = 1; first < used_.size(); ++first) {
            Pattern pattern{.cause = Cause::tripod_disturbed,
                            .mark = setup_.sights[static_cast<std::size_t>(used_[first])].mark,
                            .sight = used_[first],
                            .columns = 3};
            pattern.state = {station::state_east, station::state_north, station::state_orientation};
            for (std::size_t k = first; k < used_.size(); ++k) {
                for (const int r : rows_of_sight(used_[k])) {
                    pattern.rows.push_back(r);
                    pattern.by_amount.emplace_back(model_.by_pose.row(r).head<3>().transpose());
                }
            }
            add(std::move(pattern), share);
        }
    }

    const Prepared& setup_;
    const MisfitModel& model_;
    const CauseTable& table_;
    std::vector<std::vector<int>> of_mark_;
    std::vector<int> used_;
    std::vector<station::ByState> by_state_;
    std::vector<Pattern> out_;
};

}  // namespace

std::vector<Pattern> make_patterns(const Prepared& setup, const MisfitModel& model,
                                   const CauseTable& table) {
    return Maker(setup, model, table).run();
}

Evidence evidence_of(const MisfitModel& model, const Pattern& pattern) {
    Evidence out;
    const auto n = static_cast<Eigen::Index>(model.rows.size());
    out.reduced = Columns::Zero(n, kMostColumns);
    // Column by column: most patterns have one or two of the three.
    for (std::size_t k = 0; k < pattern.rows.size(); ++k)
        for (int c = 0; c < pattern.columns; ++c)
            if (pattern.by_amount[k][c] != 0.0)
                out.reduced.col(c) += pattern.by_amount[k][c] * model.reduced.col(pattern.rows[k]);
    for (std::size_t k = 0; k < pattern.rows.size(); ++k)
        out.data.g += pattern.by_amount[k] * model.reduced_misfit[pattern.rows[k]];
    out.data.gram = project(pattern, out.reduced);
    if (!pattern.row_change.empty()) {
        for (std::size_t a = 0; a < pattern.rows.size(); ++a) {
            const double change = pattern.row_change[a];
            out.data.g += out.reduced.row(pattern.rows[a]).transpose() * change;
            out.statistic_change += 2.0 * change * model.reduced_misfit[pattern.rows[a]];
            for (std::size_t b = 0; b < pattern.rows.size(); ++b)
                out.statistic_change += change * pattern.row_change[b] *
                                        model.reduced(pattern.rows[a], pattern.rows[b]);
        }
    }
    return out;
}

Mat project(const Pattern& pattern, const Columns& x) {
    Mat out = Mat::Zero();
    for (std::size_t k = 0; k < pattern.rows.size(); ++k)
        out.noalias() += pattern.by_amount[k] * x.row(pattern.rows[k]);
    return out;
}

}  // namespace layproof::cause::internal

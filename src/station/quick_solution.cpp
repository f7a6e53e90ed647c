#include <Eigen/LU>
#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "adjust/tests.hpp"
#include "base/index.hpp"
#include "measure/angle.hpp"
#include "station/observations.hpp"
#include "station/quick_solution_internal.hpp"

namespace layproof::station::internal {
namespace {

using Eigen::Matrix3d;
using Eigen::Matrix4d;
using Eigen::Vector3d;
using Eigen::Vector4d;
using measure::ReducedSight;

constexpr double kStep = 1e-10;  // as adjust::SolveOptions
constexpr int kMostIterations = 12;
// A last step up to this size (metres, radians) needs no new derivatives: they change by its share
// of the distance, 1e-6 at 1 m.
constexpr double kSmallStep = 1e-6;
constexpr double kCaution = 10.0;
constexpr double kNearlyOpen = 1e-9;  // smallest pivot that is not left to the general solver
constexpr double kRise = 1e-9;        // share by which rounding may raise the sum
constexpr double kSignificance = 0.001;
constexpr double kPower = 0.80;

/// One used sight, or the instrument over its mark: whitened rows, zero where there are none.
struct Rows {
    int sight = -1;
    int mark = -1;
    int count = 0;
    std::array<int, 3> part{};            // of each row: direction, zenith, distance
    Matrix3d factor = Matrix3d::Zero();   // L, lower
    Matrix3d inverse = Matrix3d::Zero();  // L⁻¹
    Matrix3d by_target = Matrix3d::Zero();
    Vector3d by_orientation = Vector3d::Zero();
    Vector3d plain = Vector3d::Zero();  // v before whitening
    Vector3d whitened = Vector3d::Zero();
    Matrix3d plain_by_target = Matrix3d::Zero();
};

struct MarkSums {
    bool used = false;
    bool held = false;
    Vector3d place = Vector3d::Zero();
    Vector3d weight = Vector3d::Zero();  // P
    Matrix3d a = Matrix3d::Zero();
    Vector3d b = Vector3d::Zero();
    Vector3d c = Vector3d::Zero();
    Matrix3d inverse = Matrix3d::Zero();  // N⁻¹
    Vector3d gradient = Vector3d::Zero();
};

/// C = L Lᵀ and L⁻¹ of the first N rows and columns. False if not positive definite.
template <int N, class Matrix>
bool factorise(const Matrix& covariance, Matrix& factor, Matrix& inverse) {
    for (int i = 0; i < N; ++i) {
        for (int j = 0; j <= i; ++j) {
            double sum = covariance(i, j);
            for (int k = 0; k < j; ++k) sum -= factor(i, k) * factor(j, k);
            if (i == j) {
                if (!(sum > 1e-14 * covariance(i, i)) || !std::isfinite(sum)) return false;
                factor(i, i) = std::sqrt(sum);
                inverse(i, i) = 1.0 / factor(i, i);
            } else {
                factor(i, j) = sum * inverse(j, j);
            }
        }
    }
    for (int i = 1; i < N; ++i) {
        for (int j = 0; j < i; ++j) {
            double sum = 0.0;
            for (int k = j; k < i; ++k) sum -= factor(i, k) * inverse(k, j);
            inverse(i, j) = sum * inverse(i, i);
        }
    }
    return true;
}

bool factorise(const Matrix3d& covariance, int count, Rows& out) {
    switch (count) {
        case 1:
            return factorise<1>(covariance, out.factor, out.inverse);
        case 2:
            return factorise<2>(covariance, out.factor, out.inverse);
        default:
            return factorise<3>(covariance, out.factor, out.inverse);
    }
}

class Quick {
public:
    Quick(const Prepared& setup, const StartValue& start, const std::vector<ReducedSight>& reduced)
        : setup_(setup),
          reduced_(reduced),
          place_(start.east_m, start.north_m, setup.has_height ? start.height_m : 0.0),
          orientation_(start.orientation_rad) {}

    std::optional<Solution> run() {
        if (!take_in() || !iterate()) return std::nullopt;
        return report();
    }

private:
    bool take_in() {
        rows_.reserve(setup_.sights.size() + 1);
        marks_.resize(setup_.marks.size());
        if (setup_.occupied_mark >= 0 && !over_mark()) return false;
        for (std::size_t i = 0; i < setup_.sights.size(); ++i) {
            const ControlSight& sight = setup_.sights[i];
            if (!sight.used) continue;
            if (sight.mark == setup_.occupied_mark || !use_mark(sight.mark)) return false;
            Rows rows;
            rows.sight = static_cast<int>(i);
            rows.mark = sight.mark;
            const ReducedSight& r = reduced_[i];
            const SightParts parts = parts_of(r);
            rows.part = parts.part;
            rows.count = parts.count;
            Matrix3d covariance = Matrix3d::Zero();
            covariance.topLeftCorner(rows.count, rows.count) = present_covariance(r);
            if (rows.count == 0 || !factorise(covariance, rows.count, rows)) return false;
            rows_.push_back(rows);
        }
        return true;
    }

    bool use_mark(int index) {
        const UsedMark& given = setup_.marks[at(index)];
        MarkSums& mark = marks_[at(index)];
        if (mark.used) return true;
        if (!given.has_plan || (setup_.has_height && !given.has_height)) return false;
        mark.used = true;
        mark.place = given.given_m;
        const int size = setup_.has_height ? 3 : 2;
        if (size == 2) mark.place.z() = 0.0;
        mark.held = given.sd_m.head(size).isZero(0.0);
        for (int k = 0; k < size; ++k) {
            const double sd = std::max(given.sd_m[k], kHeldSd_m);
            mark.weight[k] = 1.0 / (sd * sd);
        }
        if (size == 2) mark.weight.z() = 1.0;  // a height that nothing asks for
        return true;
    }

    bool over_mark() {
        if (!use_mark(setup_.occupied_mark)) return false;
        Rows rows;
        rows.mark = setup_.occupied_mark;
        const bool with_height = setup_.has_height && setup_.setup.instrument_height_m.has_value();
        rows.count = with_height ? 3 : 2;
        Matrix3d covariance = Matrix3d::Zero();
        const Vector3d sd = over_mark_sd_m(setup_.instrument);
        for (int k = 0; k < rows.count; ++k) covariance(k, k) = sd[k] * sd[k];
        if (!factorise(covariance, rows.count, rows)) return false;
        rows_.push_back(rows);
        return true;
    }

    /// Rows and sums at the present values; the sum of squares.
    double evaluate() {
        for (MarkSums& mark : marks_) {
            mark.a.setZero();
            mark.b.setZero();
            mark.c.setZero();
        }
        double sum = 0.0;
        oo_ = 0.0;
        ov_ = 0.0;
        for (Rows& rows : rows_) {
            MarkSums& mark = marks_[at(rows.mark)];
            if (rows.sight < 0) {
                stand_over(rows, mark);
            } else {
                look(rows, mark);
            }
            rows.whitened.noalias() = rows.inverse * rows.plain;
            rows.by_target.noalias() = rows.inverse * rows.plain_by_target;
            // Only the direction, always the first row, turns with the orientation.
            if (rows.sight >= 0 && rows.part[0] == 0) rows.by_orientation = -rows.inverse.col(0);
            sum += rows.whitened.squaredNorm();
            mark.a.noalias() += rows.by_target.transpose() * rows.by_target;
            mark.b.noalias() += rows.by_target.transpose() * rows.whitened;
            mark.c.noalias() += rows.by_target.transpose() * rows.by_orientation;
            oo_ += rows.by_orientation.squaredNorm();
            ov_ += rows.by_orientation.dot(rows.whitened);
        }
        for (std::size_t m = 0; m < marks_.size(); ++m) {
            const MarkSums& mark = marks_[m];
            if (mark.used && !mark.held) sum += mark.weight.dot(off_sheet(m).cwiseAbs2());
        }
        return sum;
    }

    Vector3d off_sheet(std::size_t m) const {
        Vector3d out = marks_[m].place - setup_.marks[m].given_m;
        if (!setup_.has_height) out.z() = 0.0;
        return out;
    }

    void stand_over(Rows& rows, const MarkSums& mark) {
        rows.plain = place_ - mark.place;
        rows.plain.z() -= setup_.setup.instrument_height_m.value_or(0.0);
        rows.plain_by_target.setZero();
        for (int k = 0; k < rows.count; ++k) rows.plain_by_target(k, k) = -1.0;
        if (rows.count < 3) rows.plain.z() = 0.0;
    }

    void look(Rows& rows, const MarkSums& mark) {
        const SightPartials partials =
            sight_partials(reduced_[at(rows.sight)], setup_.scale_factor, bend(), setup_.has_height,
                           mark.place - place_, orientation_);
        for (int i = 0; i < rows.count; ++i) {
            const std::size_t part = at(rows.part[at(i)]);
            rows.plain[i] = partials.residual[part];
            for (int k = 0; k < 3; ++k)
                rows.plain_by_target(i, k) = partials.by_target[part][at(k)];
        }
    }

    double bend() const { return bend_of(setup_.instrument.refraction_k); }

    /// Reduced normal matrix at the rows of evaluate(), its inverse, and the step.
    bool reduce() {
        Matrix3d pp = Matrix3d::Zero();
        Vector3d po = Vector3d::Zero();
        Vector3d diagonal = Vector3d::Zero();
        Vector4d gradient(0.0, 0.0, 0.0, ov_);
        double oo = oo_;
        smallest_pivot_ = 1.0;
        for (std::size_t m = 0; m < marks_.size(); ++m) {
            MarkSums& mark = marks_[m];
            if (!mark.used) continue;
            diagonal += mark.a.diagonal();
            if (mark.held) {
                pp += mark.a;
                po -= mark.c;
                gradient.head<3>() -= mark.b;
                continue;
            }
            Matrix3d normal = mark.a;
            normal.diagonal() += mark.weight;
            mark.inverse = normal.inverse();
            // Pivots of the matrix scaled to unit diagonal are at least 1/(N⁻¹_ii N_ii).
            smallest_pivot_ = std::min(
                smallest_pivot_,
                mark.inverse.diagonal().cwiseProduct(normal.diagonal()).cwiseInverse().minCoeff());
            const Vector3d pulled = mark.weight.cwiseProduct(off_sheet(m));
            mark.gradient = mark.b + pulled;
            const Matrix3d share = mark.inverse * mark.weight.asDiagonal();  // N⁻¹P
            pp.noalias() += mark.a * share;
            po.noalias() -= share.transpose() * mark.c;
            oo -= mark.c.dot(mark.inverse * mark.c);
            gradient.head<3>() += mark.a * (mark.inverse * pulled) - share.transpose() * mark.b;
            gradient[3] -= mark.c.dot(mark.inverse * mark.gradient);
        }
        if (!setup_.has_height) {
            pp.row(2).setZero();
            pp.col(2).setZero();
            pp(2, 2) = diagonal[2] = 1.0;
            po[2] = gradient[2] = 0.0;
        }
        Matrix4d matrix;
        matrix << pp, po, po.transpose(), oo;
        Vector4d scale;
        scale << diagonal.cwiseSqrt().cwiseInverse(), 1.0 / std::sqrt(oo_);
        if (!scale.allFinite()) return false;
        const Matrix4d scaled =
            scale.asDiagonal() * (0.5 * (matrix + matrix.transpose())) * scale.asDiagonal();
        Matrix4d factor = Matrix4d::Zero();
        Matrix4d inverse = Matrix4d::Zero();
        if (!factorise<4>(scaled, factor, inverse)) return false;
        const double root = factor.diagonal().minCoeff();
        smallest_pivot_ = std::min(smallest_pivot_, root * root);
        if (!(smallest_pivot_ > kNearlyOpen)) return false;
        inverse = inverse * scale.asDiagonal();
        covariance_.noalias() = inverse.transpose() * inverse;
        step_.noalias() = -(covariance_ * gradient);
        return step_.allFinite();
    }

    /// Takes the step; its largest part. The rows follow to first order.
    double move() {
        const Vector3d shift = step_.head<3>();
        double largest = step_.cwiseAbs().maxCoeff();
        place_ += shift;
        orientation_ += step_[3];
        steps_.assign(marks_.size(), -shift);
        for (std::size_t m = 0; m < marks_.size(); ++m) {
            MarkSums& mark = marks_[m];
            if (!mark.used || mark.held) continue;
            const Vector3d by =
                -(mark.inverse * (mark.gradient - mark.a * shift + mark.c * step_[3]));
            mark.place += by;
            steps_[m] += by;
            largest = std::max(largest, by.cwiseAbs().maxCoeff());
        }
        return largest;
    }

    bool iterate() {
        sum_ = evaluate();
        double last = std::numeric_limits<double>::infinity();
        for (iterations_ = 1; iterations_ <= kMostIterations; ++iterations_) {
            if (!std::isfinite(sum_) || !reduce()) return false;
            const double step = move();
            // Steps shrink at least as fast as they just did, so the next one is known to be
            // within the tolerance before it is taken.
            const double next_step = kCaution * step * (step / last);
            if (step <= kStep || (step <= kSmallStep && next_step <= kStep)) {
                follow();
                return true;
            }
            last = step;
            const double next = evaluate();
            if (!(next <= sum_ + kRise * std::max(1.0, sum_))) return false;
            sum_ = next;
        }
        return false;
    }

    /// Residuals after the last step, to first order: the second is below kSmallStep² over the
    /// distance.
    void follow() {
        sum_ = 0.0;
        for (Rows& rows : rows_) {
            rows.plain.noalias() += rows.plain_by_target * steps_[at(rows.mark)];
            if (rows.sight >= 0 && rows.part[0] == 0) rows.plain[0] -= step_[3];
            rows.whitened.noalias() = rows.inverse * rows.plain;
            sum_ += rows.whitened.squaredNorm();
        }
        for (std::size_t m = 0; m < marks_.size(); ++m) {
            if (marks_[m].used && !marks_[m].held)
                sum_ += marks_[m].weight.dot(off_sheet(m).cwiseAbs2());
        }
    }

    Solution report() {
        Solution out;
        out.iterations = iterations_;
        Pose& pose = out.pose;
        pose.has_height = setup_.has_height;
        pose.position_m = place_ + setup_.origin_m;
        pose.orientation_rad = measure::wrap_0_2pi(orientation_);
        pose.covariance = covariance_;
        if (!setup_.has_height) {
            pose.position_m.z() = 0.0;
            pose.covariance.row(2).setZero();
            pose.covariance.col(2).setZero();
        }
        int observations = 0;
        for (const Rows& rows : rows_) observations += rows.count;
        out.global_test = adjust::global_test(sum_, observations - (setup_.has_height ? 4 : 3));

        constexpr double kGuard = 64.0 * std::numeric_limits<double>::epsilon();
        rounding_ = std::clamp(kGuard / smallest_pivot_, 1e-12, 1e-6);
        root_lambda_ = std::sqrt(adjust::noncentrality(kSignificance, kPower, 1));
        seen_.resize(marks_.size());
        for (std::size_t m = 0; m < marks_.size(); ++m)
            if (marks_[m].used) seen_[m] = covariance_seen(marks_[m]);
        out.sights.resize(setup_.sights.size());
        for (const Rows& rows : rows_)
            if (rows.sight >= 0) describe(rows, out.sights[at(rows.sight)]);
        out.marks.resize(setup_.marks.size());
        for (std::size_t m = 0; m < marks_.size(); ++m) {
            out.marks[m].adjusted_m = setup_.marks[m].given_m;
            const int size = setup_.has_height ? 3 : 2;
            if (marks_[m].used) out.marks[m].adjusted_m.head(size) = marks_[m].place.head(size);
        }
        return out;
    }

    /// Of (mark − station, orientation).
    Matrix4d covariance_seen(const MarkSums& mark) const {
        Matrix4d by = Matrix4d::Zero();
        by(3, 3) = 1.0;
        if (mark.held) {
            by.topLeftCorner<3, 3>() = -Matrix3d::Identity();
            return by * covariance_ * by.transpose();
        }
        by.topLeftCorner<3, 3>() = -(mark.inverse * mark.weight.asDiagonal());
        by.topRightCorner<3, 1>() = -(mark.inverse * mark.c);
        Matrix4d out = by * covariance_ * by.transpose();
        out.topLeftCorner<3, 3>() += mark.inverse;
        return out;
    }

    // With L⁻¹ =: F and P = I − H R Hᵀ: M = FᵀPF, redundancy (F⁻¹PF)_ii, as adjust::Analysis.
    void describe(const Rows& rows, SolvedSight& out) const {
        Eigen::Matrix<double, 3, 4> seen_by;
        seen_by << rows.by_target, rows.by_orientation;
        const Matrix3d p =
            Matrix3d::Identity() - seen_by * seen_[at(rows.mark)] * seen_by.transpose();
        const Matrix3d pf = p * rows.inverse;
        for (int i = 0; i < rows.count; ++i) {
            const Vector3d f = rows.inverse.col(i);
            const double weighted = f.dot(rows.whitened);
            const double check = f.dot(pf.col(i));
            const bool checked = check > rounding_ * f.squaredNorm();
            const double root = checked ? std::sqrt(check) : 0.0;
            const int part = rows.part[at(i)];
            const auto put = [part](PartFigures& figures, double value) {
                (part == 0   ? figures.direction
                 : part == 1 ? figures.zenith
                             : figures.distance) = value;
            };
            put(out.residual, rows.plain[i]);
            put(out.standardised, checked ? weighted / root : 0.0);
            put(out.redundancy, rows.factor.row(i).dot(pf.col(i)));
            if (checked) put(out.detectable, root_lambda_ / root);
        }
    }

    const Prepared& setup_;
    const std::vector<ReducedSight>& reduced_;
    Vector3d place_;
    double orientation_;
    std::vector<Rows> rows_;
    std::vector<MarkSums> marks_;
    std::vector<Vector3d> steps_;  // of mark − station, last iteration
    std::vector<Matrix4d> seen_;
    double oo_ = 0.0;
    double ov_ = 0.0;
    double sum_ = 0.0;
    double smallest_pivot_ = 1.0;
    double rounding_ = 0.0;
    double root_lambda_ = 0.0;
    int iterations_ = 0;
    Matrix4d covariance_ = Matrix4d::Zero();  // east, north, height, orientation
    Vector4d step_ = Vector4d::Zero();
};

}  // namespace

std::optional<Solution> quick_solution(const Prepared& setup, const StartValue& start,
                                       const std::vector<ReducedSight>& reduced) {
    return Quick(setup, start, reduced).run();
}

}  // namespace layproof::station::internal

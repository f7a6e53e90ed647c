#include "plan/outlook.hpp"

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>

#include "infer/linear_evidence.hpp"
#include "measure/sight_model.hpp"
#include "station/observations.hpp"

namespace layproof::plan {
namespace {

using cause::Cause;
using Eigen::Matrix3d;
using Eigen::Matrix4d;
using Eigen::Vector2d;
using Eigen::Vector3d;
using Eigen::Vector4d;

constexpr int kPrism = 4;
constexpr int kScale = 5;
constexpr int kTiltEast = 6;
constexpr int kTiltNorth = 7;
constexpr int kIndex = 8;
/// Pivot, after scaling, below which a pose counts as open (as in station/misfit_model.cpp).
constexpr double kOpenPivot = 1e-12;
/// As in cause/diagnose.cpp.
constexpr double kSmallestBelief = 2e-4;

using LineFactor = infer::AmountFactor<1>;
using LineAmount = infer::Amounts<1>;
using LineMatrix = infer::AmountMatrix<1>;

}  // namespace

void SetupOutlook::stand(const Vector3d& axes, const std::vector<ControlMark>& all,
                         std::span<const int> marks, const Crew& crew) {
    solvable_ = false;
    axes_ = axes;
    crew_ = &crew;
    count_ = std::min(static_cast<int>(marks.size()), kMostControl);
    has_height_ = false;
    if (count_ < 2) return;
    Matrix4d normal = Matrix4d::Zero();
    for (int i = 0; i < count_; ++i) {
        const int m = marks[static_cast<std::size_t>(i)];
        const ControlMark& mark = all[static_cast<std::size_t>(m)];
        Spot& s = spots_[static_cast<std::size_t>(i)];
        s.mark = m;
        s.at = mark.at_m;
        s.has_height = mark.has_height;
        has_height_ = has_height_ || mark.has_height;
        const Vector2d to = mark.at_m.head<2>() - axes.head<2>();
        s.plan_m = std::max(to.norm(), station::kNearest_m);
        s.ahead = to.norm() > 0.0 ? Vector2d(to / to.norm()) : Vector2d(0.0, 1.0);
        const Vector2d right(s.ahead.y(), -s.ahead.x());
        s.rise_m = mark.has_height ? mark.at_m.z() + crew.mark_rod_m - axes.z() : 0.0;
        s.slope_m = std::hypot(s.plan_m, s.rise_m);
        const double zenith = std::atan2(s.plan_m, s.rise_m);
        const double sz = s.plan_m / s.slope_m;
        const double cz = s.rise_m / s.slope_m;
        s.along << s.ahead * sz, cz;
        const Matrix3d reading = measure::sight_covariance(
            crew.instrument, s.slope_m, zenith, crew.mark_rod_m, false, crew.faces, crew.faces);
        const Matrix3d by_reading =
            station::place_by_reading(s.ahead, s.plan_m, s.rise_m, s.slope_m, 1.0, false);
        Matrix3d covariance = by_reading * reading * by_reading.transpose();
        covariance.diagonal() += mark.sd_m.cwiseAbs2();
        s.covariance = covariance;
        s.variance = 0.5 * (covariance(0, 0) + covariance(1, 1));
        s.a.setZero();
        s.a(0, 0) = s.a(1, 1) = -1.0;
        s.a.block<2, 1>(0, 2) = -s.plan_m * right;
        if (mark.has_height) {
            s.a(2, 3) = -1.0;
            const Eigen::LLT<Matrix3d> factor(covariance);
            s.weight = factor.solve(Matrix3d::Identity());
            s.whiten = factor.matrixU().solve(Matrix3d::Identity());
        } else {
            s.weight.setZero();
            s.whiten.setZero();
            const Eigen::LLT<Eigen::Matrix2d> factor(
                Eigen::Matrix2d(covariance.topLeftCorner<2, 2>()));
            s.weight.topLeftCorner<2, 2>() = factor.solve(Eigen::Matrix2d::Identity());
            s.whiten.topLeftCorner<2, 2>() = factor.matrixU().solve(Eigen::Matrix2d::Identity());
        }
        s.wa = s.weight * s.a;
        normal += s.a.transpose() * s.wa;
    }
    if (!has_height_) normal(3, 3) = 1.0;
    const Vector4d scale = normal.diagonal().cwiseMax(1e-300).cwiseSqrt().cwiseInverse();
    const Eigen::LDLT<Matrix4d> factor(Matrix4d(scale.asDiagonal() * normal * scale.asDiagonal()));
    if (factor.info() != Eigen::Success || !(factor.vectorD().minCoeff() > kOpenPivot)) return;
    q_ = scale.asDiagonal() * factor.solve(Matrix4d::Identity()) * scale.asDiagonal();
    if (!q_.allFinite()) return;
    if (!has_height_) {
        q_.row(3).setZero();
        q_.col(3).setZero();
    }
    for (int i = 0; i < count_; ++i) {
        Spot& s = spots_[static_cast<std::size_t>(i)];
        s.pose_by = q_ * s.wa.transpose();
        s.left = s.weight - s.wa * s.pose_by;
    }
    solvable_ = true;
    add_fits(crew);
    add_tripod(crew);
    add_on_all(crew);
    weigh_exchanges(crew);
}

/// Causes that touch one mark.
void SetupOutlook::add_fits(const Crew& crew) {
    const auto& table = crew.causes;
    nothing_prior_ = std::max(table.of(Cause::nothing_wrong).frequency, 1e-300);
    singles_prior_ = 0.0;
    int heights = 0;
    for (int i = 0; i < count_; ++i) heights += spots_[static_cast<std::size_t>(i)].has_height;
    plan_sizes_ = 0;
    height_sizes_ = 0;
    const auto each = [&](Cause cause, const auto& add) {
        const cause::CausePrior& prior = table.of(cause);
        if (!(prior.frequency > 0.0) || prior.sizes.empty()) return;
        for (const cause::CauseSize& size : prior.sizes)
            add(prior.frequency / static_cast<double>(prior.sizes.size()), size.length_m);
    };
    for (const Cause cause : {Cause::mark_moved, Cause::rod_not_plumb})
        each(cause, [&](double frequency, double sd) {
            if (plan_sizes_ == 8) return;
            for (int i = 0; i < count_; ++i) {
                const Matrix3d& g = spots_[static_cast<std::size_t>(i)].left;
                PlanFit& f =
                    plan_[static_cast<std::size_t>(i)][static_cast<std::size_t>(plan_sizes_)];
                const infer::AmountFactor<2> factor(g.topLeftCorner<2, 2>(),
                                                    Vector2d::Constant(sd));
                const Eigen::Matrix2d c = infer::posterior_covariance(factor);
                f.log_prior = std::log(frequency / count_) - factor.half_log_det();
                f.c00 = c(0, 0);
                f.c01 = c(0, 1);
                f.c11 = c(1, 1);
                f.variance = sd * sd;
                f.is_moved = cause == Cause::mark_moved;
            }
            ++plan_sizes_;
            singles_prior_ += frequency;
        });
    if (heights > 0)
        for (const Cause cause : {Cause::mark_height_changed, Cause::rod_height_wrong})
            each(cause, [&](double frequency, double sd) {
                if (height_sizes_ == 8) return;
                const int shared = cause == Cause::mark_height_changed ? heights : count_;
                for (int i = 0; i < count_; ++i) {
                    const Spot& s = spots_[static_cast<std::size_t>(i)];
                    LineFit& f = height_[static_cast<std::size_t>(i)]
                                        [static_cast<std::size_t>(height_sizes_)];
                    const LineFactor factor{LineMatrix(s.left(2, 2)), LineAmount(sd)};
                    const bool is_there = s.has_height || cause == Cause::rod_height_wrong;
                    f.log_prior =
                        is_there ? std::log(frequency / shared) - factor.half_log_det() : -1e9;
                    f.c = s.has_height ? infer::posterior_covariance(factor)(0, 0) : 0.0;
                }
                ++height_sizes_;
                singles_prior_ += frequency;
            });
    pairs_prior_ = table.pairs;
}

void SetupOutlook::add_tripod(const Crew& crew) {
    const cause::CausePrior& prior = crew.causes.of(Cause::tripod_disturbed);
    after_sizes_ = 0;
    if (!(prior.frequency > 0.0) || prior.sizes.empty()) return;
    after_sizes_ = std::min(static_cast<int>(prior.sizes.size()), 4);
    singles_prior_ += prior.frequency;
    Matrix4d sum = Matrix4d::Zero();
    for (int first = count_ - 1; first >= 1; --first) {
        const Spot& s = spots_[static_cast<std::size_t>(first)];
        sum += s.a.transpose() * s.wa;
        const Eigen::Matrix<double, 4, 3> t = sum.leftCols<3>();
        const Eigen::Matrix<double, 4, 3> qt = q_ * t;
        const Matrix3d g = sum.topLeftCorner<3, 3>() - t.transpose() * qt;
        auto& by = after_by_[static_cast<std::size_t>(first)];
        by = -qt;
        by.topRows<3>() += Matrix3d::Identity();
        for (int k = 0; k < after_sizes_; ++k) {
            const cause::CauseSize& size = prior.sizes[static_cast<std::size_t>(k)];
            const Vector3d d(size.length_m, size.length_m, size.angle_rad);
            const infer::AmountFactor<3> factor(g, d);
            TripodFit& f = after_[static_cast<std::size_t>(first)][static_cast<std::size_t>(k)];
            f.c = infer::posterior_covariance(factor);
            f.log_prior =
                std::log(prior.frequency / (count_ - 1) / static_cast<double>(prior.sizes.size())) -
                factor.half_log_det();
        }
    }
}

void SetupOutlook::add_on_all(const Crew& crew) {
    on_all_count_ = 0;
    const auto add = [&](Cause cause, int state, double share, const auto& by) {
        const cause::CausePrior& prior = crew.causes.of(cause);
        if (!(prior.frequency > 0.0) || prior.sizes.empty()) return;
        OnAll& o = on_all_[static_cast<std::size_t>(on_all_count_++)];
        o.state = state;
        Vector4d t = Vector4d::Zero();
        double g = 0.0;
        for (int i = 0; i < count_; ++i) {
            const Spot& s = spots_[static_cast<std::size_t>(i)];
            Vector3d b = by(s);
            if (!s.has_height) b.z() = 0.0;
            o.by[static_cast<std::size_t>(i)] = b;
            const Vector3d wb = s.weight * b;
            t += s.a.transpose() * wb;
            g += b.dot(wb);
        }
        const Vector4d qt = q_ * t;
        g = std::max(g - t.dot(qt), 0.0);
        o.column.setZero();
        o.column.head<4>() = -qt;
        o.column[state] = 1.0;
        o.sizes.clear();
        for (const cause::CauseSize& size : prior.sizes) {
            const double sd = cause == Cause::prism_constant_wrong   ? size.length_m
                              : cause == Cause::distance_scale_wrong ? size.ratio
                                                                     : size.angle_rad;
            const LineFactor factor{LineMatrix(g), LineAmount(sd)};
            o.sizes.push_back(
                {std::log(share * prior.frequency / static_cast<double>(prior.sizes.size())) -
                     factor.half_log_det(),
                 infer::posterior_covariance(factor)(0, 0)});
        }
        singles_prior_ += share * prior.frequency;
    };
    add(Cause::prism_constant_wrong, kPrism, 1.0, [](const Spot& s) { return s.along; });
    add(Cause::distance_scale_wrong, kScale, 1.0,
        [](const Spot& s) { return Vector3d(s.slope_m * s.along); });
    if (!has_height_) return;
    // The two axes of a lean are taken one at a time.
    add(Cause::out_of_level, kTiltEast, 0.5,
        [](const Spot& s) { return Vector3d(-s.rise_m, 0.0, s.plan_m * s.ahead.x()); });
    add(Cause::out_of_level, kTiltNorth, 0.5,
        [](const Spot& s) { return Vector3d(0.0, -s.rise_m, s.plan_m * s.ahead.y()); });
    if (crew.faces == 1)
        add(Cause::vertical_index_wrong, kIndex, 1.0, [](const Spot& s) {
            Vector3d out;
            out << s.rise_m * s.ahead, -s.plan_m;
            return out;
        });
}

/// Two names exchanged on otherwise perfect sights: what the best rigid fit then leaves in plan,
/// and what the heights leave.
void SetupOutlook::weigh_exchanges(const Crew& crew) {
    elsewhere_ = 0.0;
    const double frequency = crew.causes.of(Cause::names_swapped).frequency;
    if (!(frequency > 0.0)) return;
    const double share = frequency / (0.5 * count_ * (count_ - 1));
    Vector2d mean = Vector2d::Zero();
    for (int i = 0; i < count_; ++i)
        mean += spots_[static_cast<std::size_t>(i)].at.head<2>() / count_;
    double square = 0.0;
    double largest = 0.0;
    for (int i = 0; i < count_; ++i) {
        const Spot& s = spots_[static_cast<std::size_t>(i)];
        square += (s.at.head<2>() - mean).squaredNorm();
        largest = std::max(largest, s.variance);
    }
    for (int i = 0; i < count_; ++i)
        for (int j = i + 1; j < count_; ++j) {
            const Spot& a = spots_[static_cast<std::size_t>(i)];
            const Spot& b = spots_[static_cast<std::size_t>(j)];
            const Vector2d p = a.at.head<2>() - mean;
            const Vector2d r = b.at.head<2>() - mean;
            // Σ conj(place)·exchanged place; the exchange turns p p* + r r* into p r* + r p*.
            const double real = square - (p - r).squaredNorm();
            const double plan = 2.0 * (square - std::abs(real)) / largest;
            double height = 0.0;
            if (a.has_height && b.has_height) {
                const double up = b.at.z() - a.at.z();
                // y changes by +up and −up; what the station's height does not take up remains.
                height = up * up * (a.left(2, 2) + b.left(2, 2) + 2.0 * (a.wa * b.pose_by)(2, 2));
            }
            elsewhere_ += share * std::exp(-0.5 * (plan + height));
        }
}

SetupOutlook::Left SetupOutlook::left_over(const Draws& draws, int draw, bool of_all) const {
    std::array<Vector3d, kMostControl> weighted;
    for (int i = 0; i < count_; ++i) {
        const Spot& s = spots_[static_cast<std::size_t>(i)];
        weighted[static_cast<std::size_t>(i)] = s.whiten * draws.at(draw, of_all ? s.mark : i);
    }
    return left_over(weighted);
}

/// What remains of W·misfits when the pose has followed them: M·misfits.
SetupOutlook::Left SetupOutlook::left_over(std::array<Vector3d, kMostControl> weighted) const {
    Left out{weighted};
    Vector4d pose = Vector4d::Zero();
    for (int i = 0; i < count_; ++i)
        pose += spots_[static_cast<std::size_t>(i)].a.transpose() *
                weighted[static_cast<std::size_t>(i)];
    pose = q_ * pose;
    for (int i = 0; i < count_; ++i)
        out.v[static_cast<std::size_t>(i)] -= spots_[static_cast<std::size_t>(i)].wa * pose;
    return out;
}

SetupOutlook::Sums SetupOutlook::weigh(const Left& left) const {
    Sums out;
    for (auto& m : out.after_square) m.setZero();
    out.nothing = nothing_prior_;
    out.elsewhere = elsewhere_;
    auto& plan = out.plan_each;
    auto& height = out.height_each;
    auto& after = out.after_each;
    auto& all = out.on_all_each;
    auto& behind = out.behind;
    auto& g = out.on_all_left;
    double singles = 0.0;
    Vector3d sum = Vector3d::Zero();
    for (int i = count_ - 1; i >= 0; --i) {
        const auto at = static_cast<std::size_t>(i);
        const Vector3d& v = left.v[at];
        for (std::size_t k = 0; k < static_cast<std::size_t>(plan_sizes_); ++k) {
            const PlanFit& f = plan_[at][k];
            const double square =
                f.c00 * v.x() * v.x() + 2.0 * f.c01 * v.x() * v.y() + f.c11 * v.y() * v.y();
            singles += plan[at][k] = std::exp(f.log_prior + 0.5 * square);
        }
        for (std::size_t k = 0; k < static_cast<std::size_t>(height_sizes_); ++k) {
            const LineFit& f = height_[at][k];
            singles += height[at][k] = std::exp(f.log_prior + 0.5 * f.c * v.z() * v.z());
        }
        sum += spots_[at].a.leftCols<3>().transpose() * v;
        behind[at] = sum;
        if (i == 0) break;
        for (std::size_t k = 0; k < static_cast<std::size_t>(after_sizes_); ++k) {
            const TripodFit& f = after_[at][k];
            singles += after[at][k] = std::exp(f.log_prior + 0.5 * sum.dot(f.c * sum));
        }
    }
    for (int o = 0; o < on_all_count_; ++o) {
        const auto at = static_cast<std::size_t>(o);
        const OnAll& one = on_all_[at];
        for (int i = 0; i < count_; ++i)
            g[at] += one.by[static_cast<std::size_t>(i)].dot(left.v[static_cast<std::size_t>(i)]);
        for (std::size_t k = 0; k < std::min<std::size_t>(one.sizes.size(), 8); ++k)
            singles += all[at][k] =
                std::exp(one.sizes[k].log_prior + 0.5 * one.sizes[k].c * g[at] * g[at]);
    }
    const double pairs = singles_prior_ > 0.0 ? pairs_prior_ * (singles / singles_prior_) *
                                                    (singles / singles_prior_)
                                              : 0.0;
    out.full = out.nothing + out.elsewhere + pairs + singles;

    // The diagnosis keeps no belief lighter than this, and so no pair where nothing is wrong.
    const double least = kSmallestBelief * out.full;
    out.total = out.nothing + out.elsewhere;
    for (int i = 0; i < count_; ++i) {
        const auto at = static_cast<std::size_t>(i);
        const Vector3d& v = left.v[at];
        for (std::size_t k = 0; k < static_cast<std::size_t>(plan_sizes_); ++k) {
            double& w = plan[at][k];
            if (w < least) {
                w = 0.0;
                continue;
            }
            const PlanFit& f = plan_[at][k];
            const double mx = f.c00 * v.x() + f.c01 * v.y();
            const double my = f.c01 * v.x() + f.c11 * v.y();
            out.plan[at] += w;
            out.plan_square[at][0] += w * (f.c00 + mx * mx);
            out.plan_square[at][1] += w * (f.c01 + mx * my);
            out.plan_square[at][2] += w * (f.c11 + my * my);
        }
        for (std::size_t k = 0; k < static_cast<std::size_t>(height_sizes_); ++k) {
            double& w = height[at][k];
            if (w < least) {
                w = 0.0;
                continue;
            }
            const double mean = height_[at][k].c * v.z();
            out.height[at] += w;
            out.height_square[at] += w * (height_[at][k].c + mean * mean);
        }
        for (std::size_t k = 0; i > 0 && k < static_cast<std::size_t>(after_sizes_); ++k) {
            double& w = after[at][k];
            if (w < least) {
                w = 0.0;
                continue;
            }
            const Vector3d mean = after_[at][k].c * behind[at];
            out.after[at] += w;
            out.after_square[at] += w * (after_[at][k].c + mean * mean.transpose());
        }
        out.total += out.plan[at] + out.height[at] + out.after[at];
    }
    for (int o = 0; o < on_all_count_; ++o) {
        const auto at = static_cast<std::size_t>(o);
        const OnAll& one = on_all_[at];
        for (std::size_t k = 0; k < std::min<std::size_t>(one.sizes.size(), 8); ++k) {
            double& w = all[at][k];
            if (w < least) {
                w = 0.0;
                continue;
            }
            const double mean = one.sizes[k].c * g[at];
            out.on_all[at] += w;
            out.on_all_square[at] += w * (one.sizes[k].c + mean * mean);
        }
        out.total += out.on_all[at];
    }
    return out;
}

/// Rows of the points that would be proven if nothing were wrong: no explanation makes the station
/// better known than that. False when there are none.
bool SetupOutlook::find_open(const std::vector<PlanPoint>& points, std::span<const int> asked,
                             const WithinTable& table) {
    rows_.fill(axes_, has_height_, *crew_, points, asked);
    sound_.resize(asked.size());
    rows_.within(table, PoseSpread(q_), sound_);
    open_.clear();
    const auto confidence = static_cast<float>(crew_->confidence);
    for (std::size_t i = 0; i < asked.size(); ++i)
        if (sound_[i] >= confidence) open_.push_back(static_cast<int>(i));
    if (open_.empty()) return false;
    rows_.keep(open_);
    for (std::size_t i = 0; i < open_.size(); ++i)
        sound_[i] = sound_[static_cast<std::size_t>(open_[i])];
    sound_.resize(open_.size());
    return true;
}

void SetupOutlook::forecast(const Draws& draws, const std::vector<PlanPoint>& points,
                            std::span<const int> asked, const WithinTable& table,
                            std::vector<double>& chance) {
    chance.assign(asked.size(), 0.0);
    mean_nothing_ = 0.0;
    if (!solvable_ || draws.count() == 0) return;
    if (!find_open(points, asked, table)) return;
    const int n = draws.count();
    // How much a draw makes of a group of causes, as the spread that they give the station at a
    // working distance, counts with the group's weight: p = P0·(1 − elsewhere) − Σ part·(P0 − P).
    constexpr double kWorking_m = 25.0;
    constexpr std::size_t kParts = 8;  // plan, height, tripod, then on all
    std::array<Eigen::Matrix2d, kMostControl> harm_plan;
    std::array<double, kMostControl> harm_height{};
    std::array<Matrix3d, kMostControl> harm_after;
    const Vector4d by(1.0, 1.0, kWorking_m * kWorking_m, 0.0);
    for (int i = 0; i < count_; ++i) {
        const auto at = static_cast<std::size_t>(i);
        const Spot& s = spots_[at];
        harm_plan[at] =
            s.pose_by.leftCols<2>().transpose() * by.asDiagonal() * s.pose_by.leftCols<2>();
        harm_height[at] = s.pose_by(3, 2) * s.pose_by(3, 2);
        if (i > 0) harm_after[at] = after_by_[at].transpose() * by.asDiagonal() * after_by_[at];
    }
    // Of each draw: what is not elsewhere, then its parts.
    draws_.assign(static_cast<std::size_t>(n) * (kParts + 1), 0.0F);
    std::array<double, kParts> weight{};
    std::array<double, kParts> harm{};
    std::array<double, 5> square{};
    std::array<std::array<double, 3>, kMostControl> plan_square{};
    std::array<double, kMostControl> height_square{};
    std::array<Matrix3d, kMostControl> after_square;
    for (auto& m : after_square) m.setZero();
    for (int d = 0; d < n; ++d) {
        const Sums sums = weigh(left_over(draws, d));
        const double f = 1.0 / sums.total;
        std::array<double, kParts> part{};
        mean_nothing_ += sums.nothing / sums.full / n;
        for (int i = 0; i < count_; ++i) {
            const auto at = static_cast<std::size_t>(i);
            const auto& q = sums.plan_square[at];
            part[0] += f * (harm_plan[at](0, 0) * q[0] + 2.0 * harm_plan[at](0, 1) * q[1] +
                            harm_plan[at](1, 1) * q[2]);
            part[1] += f * harm_height[at] * sums.height_square[at];
            weight[0] += sums.plan[at] * f;
            weight[1] += sums.height[at] * f;
            weight[2] += sums.after[at] * f;
            for (std::size_t k = 0; k < 3; ++k) plan_square[at][k] += f * q[k];
            height_square[at] += f * sums.height_square[at];
            if (i == 0) continue;
            part[2] += f * harm_after[at].cwiseProduct(sums.after_square[at]).sum();
            after_square[at] += f * sums.after_square[at];
        }
        for (std::size_t o = 0; o < 5; ++o) {
            weight[3 + o] += sums.on_all[o] * f;
            part[3 + o] = f * sums.on_all_square[o];
            square[o] += f * sums.on_all_square[o];
        }
        float* here = draws_.data() + static_cast<std::size_t>(d) * (kParts + 1);
        *here = static_cast<float>(1.0 - sums.elsewhere * f);
        for (std::size_t k = 0; k < kParts; ++k) {
            harm[k] += part[k];
            here[k + 1] = static_cast<float>(part[k]);
        }
    }
    Matrix4d plan = Matrix4d::Zero();
    Matrix4d tripod = Matrix4d::Zero();
    double height = 0.0;
    for (int i = 0; i < count_; ++i) {
        const auto at = static_cast<std::size_t>(i);
        const Spot& s = spots_[at];
        Eigen::Matrix2d c;
        c << plan_square[at][0], plan_square[at][1], plan_square[at][1], plan_square[at][2];
        plan += s.pose_by.leftCols<2>() * c * s.pose_by.leftCols<2>().transpose();
        height += height_square[at] * harm_height[at];
        if (i > 0) tripod += after_by_[at] * after_square[at] * after_by_[at].transpose();
    }
    // What each part costs a point if it is all that is wrong. A part that weighs less than this
    // in every draw changes p by less.
    constexpr double kLittle = 3e-4;
    const std::size_t open = open_.size();
    loss_.resize(kParts * open);
    std::array<bool, kParts> counts{};
    for (std::size_t k = 0; k < kParts; ++k) {
        if (!(weight[k] > (k < 2 ? 0.0 : kLittle * n))) continue;
        const std::span<float> loss(loss_.data() + k * open, open);
        if (k < 3) {
            Matrix4d pose = q_;
            if (k == 0) pose += plan / weight[0];
            if (k == 1) pose(3, 3) += height / weight[1];
            if (k == 2) pose += tripod / weight[2];
            rows_.within(table, PoseSpread(pose), loss);
        } else {
            const LayColumn column = rows_.column(on_all_[k - 3].column);
            rows_.within(table, PoseSpread(q_), loss, &column,
                         static_cast<float>(square[k - 3] / weight[k]));
        }
        counts[k] = true;
        for (std::size_t i = 0; i < open; ++i) loss[i] = sound_[i] - loss[i];
    }
    proven_.assign(open, 0.0F);
    sum_.resize(open);
    const auto confidence = static_cast<float>(crew_->confidence);
    for (int d = 0; d < n; ++d) {
        const float* here = draws_.data() + static_cast<std::size_t>(d) * (kParts + 1);
        for (std::size_t i = 0; i < open; ++i) sum_[i] = *here * sound_[i];
        for (std::size_t k = 0; k < kParts; ++k) {
            if (!counts[k] || !(harm[k] > 0.0)) continue;
            const auto part =
                static_cast<float>(static_cast<double>(here[k + 1]) * weight[k] / harm[k]);
            const float* loss = loss_.data() + k * open;
            for (std::size_t i = 0; i < open; ++i) sum_[i] -= part * loss[i];
        }
        for (std::size_t i = 0; i < open; ++i) proven_[i] += sum_[i] >= confidence ? 1.0F : 0.0F;
    }
    for (std::size_t i = 0; i < open; ++i)
        chance[static_cast<std::size_t>(open_[i])] = static_cast<double>(proven_[i]) / n;
}

std::vector<Naming> SetupOutlook::naming(const Draws& draws, const Draws& amounts) const {
    std::vector<Naming> out;
    if (!solvable_) return out;
    for (int i = 0; i < count_; ++i) {
        const auto moved = static_cast<std::size_t>(i);
        Naming naming;
        naming.mark = spots_[moved].mark;
        double asked = 0.0;
        double named = 0.0;
        for (int k = 0; k < plan_sizes_; ++k) {
            const PlanFit& f = plan_[moved][static_cast<std::size_t>(k)];
            if (!f.is_moved) continue;
            for (int d = 0; d < draws.count(); ++d) {
                Left left = left_over(draws, d);
                const Vector3d amount = std::sqrt(f.variance) *
                                        amounts.at(d, naming.mark).cwiseProduct(Vector3d(1, 1, 0));
                // A shift b of the misfits of one mark leaves M b over all marks.
                const Vector4d pose = spots_[moved].pose_by * amount;
                for (int j = 0; j < count_; ++j)
                    left.v[static_cast<std::size_t>(j)] -=
                        spots_[static_cast<std::size_t>(j)].wa * pose;
                left.v[moved] += spots_[moved].weight * amount;
                const Sums sums = weigh(left);
                double best = sums.nothing;
                for (int j = 0; j < count_; ++j) {
                    const auto at = static_cast<std::size_t>(j);
                    if (at != moved) best = std::max(best, sums.plan[at]);
                    best = std::max({best, sums.height[at], sums.after[at]});
                }
                for (const double w : sums.on_all) best = std::max(best, w);
                asked += 1.0;
                named += sums.plan[moved] > best ? 1.0 : 0.0;
            }
        }
        naming.chance = asked > 0.0 ? named / asked : 0.0;
        out.push_back(naming);
    }
    return out;
}

}  // namespace layproof::plan

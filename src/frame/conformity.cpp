#include "frame/conformity.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <limits>
#include <numbers>

#include "frame/gauss_legendre_internal.hpp"

namespace layproof::frame {
namespace {

// Beyond this many standard deviations e^(−r²/2) adds less than 2e-11.
constexpr double kFar = 7.0;
// Longest piece of the circle, in standard deviations, that one set of nodes takes: tried against
// the same sum on pieces of an eighth, worst difference below 1e-10.
constexpr double kPieceLength = 5.0;
constexpr std::size_t kPieceNodes = 12;
// Halvings of a quarter circle: the last is 1e-10 of the circle, 1e-3 of the thinnest axis.
constexpr std::size_t kMostHalvings = 32;
// A minor axis below this share of the radius counts as this share, and an ellipse that is smaller
// sees the circle as a straight edge. Finer, and the rounding of the circle's points would show.
constexpr double kThinnest = 1e-7;
// Nodes at even angles: this many for each radius over the minor axis, and these besides. Tried on
// 10^5 ellipses against four times as many: worst difference 1e-10 (4e-8 with 5 and 8).
constexpr double kEvenPerAxis = 6.0;
constexpr double kEvenBesides = 9.0;
// Thinner ellipses take pieces, which spend their nodes where the edge is near.
constexpr std::size_t kMostInQuarter = 24;
// How far apart the least and the most that both limits together can be may lie.
constexpr double kNoMatter = 2e-9;

double unit(double p) {
    return std::clamp(p, 0.0, 1.0);
}

/// Cosine and sine of the node offsets of a piece after each number of halvings, so that the sum
/// itself needs no trigonometric function.
struct Offsets {
    GaussLegendre<kPieceNodes> rule;
    std::array<std::array<double, kPieceNodes>, kMostHalvings + 1> cosine{};
    std::array<std::array<double, kPieceNodes>, kMostHalvings + 1> sine{};
    std::array<double, kMostHalvings + 1> half_width{};
    std::array<double, kMostHalvings + 2> half_cosine{};
    std::array<double, kMostHalvings + 2> half_sine{};

    Offsets() {
        double width = 0.25 * std::numbers::pi;
        for (std::size_t level = 0; level <= kMostHalvings; ++level, width *= 0.5) {
            half_width[level] = width;
            half_cosine[level] = std::cos(width);
            half_sine[level] = std::sin(width);
            for (std::size_t i = 0; i < kPieceNodes; ++i) {
                cosine[level][i] = std::cos(width * rule.node[i]);
                sine[level][i] = std::sin(width * rule.node[i]);
            }
        }
        half_cosine[kMostHalvings + 1] = std::cos(width);
        half_sine[kMostHalvings + 1] = std::sin(width);
    }
};

const Offsets& offsets() {
    static const Offsets table;
    return table;
}

using Nodes = Eigen::Array<double, static_cast<int>(kPieceNodes), 1>;

Nodes nodes_of(const std::array<double, kPieceNodes>& values) {
    return Eigen::Map<const Nodes>(values.data());
}

/// Up to kMostInQuarter of them.
using EvenNodes = Eigen::Array<double, Eigen::Dynamic, 1, 0, static_cast<int>(kMostInQuarter), 1>;

/// Even angles in the first quarter of a circle, half a step from its ends.
struct EvenQuarter {
    EvenNodes cosine, sine;
};

/// `nodes`: even, 2 to kMostInQuarter.
const EvenQuarter& even_quarter(std::size_t nodes) {
    static const auto table = [] {
        std::array<EvenQuarter, kMostInQuarter / 2 + 1> out;
        for (std::size_t k = 1; k < out.size(); ++k) {
            const auto count = static_cast<Eigen::Index>(2 * k);
            const double step = 0.5 * std::numbers::pi / static_cast<double>(count);
            const EvenNodes angle =
                EvenNodes::LinSpaced(count, 0.5 * step, 0.5 * std::numbers::pi - 0.5 * step);
            out[k] = {angle.cos(), angle.sin()};
        }
        return out;
    }();
    return table[nodes / 2];
}

/// (1 − e^(−q/2))/q, q >= 0.
template <class Values>
Values kernel(const Values& q) {
    // Apart from the choice, so that the exponentials are taken several at a time.
    const Values e = (-0.5 * q).exp();
    const Values far = (1.0 - e) / q;
    return (q < 1e-4).select(0.5 - q * (0.125 - q * (1.0 / 48.0)), far);
}

/// The circle of `radius` about (−m1, −m2), seen in units of the standard deviations s1, s2.
struct Circle {
    const Offsets& table = offsets();
    double radius;
    double m1, m2;
    double s1, s2;

    double x(double c) const { return (radius * c - m1) / s1; }
    double y(double s) const { return (radius * s - m2) / s2; }

    /// Sum of kernel·(x dy − y dx) over the piece about the angle (c, s).
    double piece(double c, double s, std::size_t level) const {
        const double half = table.half_width[level];
        // On the piece |cos| <= |c| + half and |sin| <= |s| + half bound its length.
        const double along = radius * half;
        const double half_length = std::hypot(along * std::min(1.0, std::abs(s) + half) / s1,
                                              along * std::min(1.0, std::abs(c) + half) / s2);
        const double from_middle = std::hypot(x(c), y(s));
        if (from_middle - half_length > kFar) return swept_angle(c, s, level);
        if (2.0 * half_length <= kPieceLength || level == kMostHalvings) {
            return sum(c, s, level);
        }
        const double hc = table.half_cosine[level + 1];
        const double hs = table.half_sine[level + 1];
        return piece(c * hc + s * hs, s * hc - c * hs, level + 1) +
               piece(c * hc - s * hs, s * hc + c * hs, level + 1);
    }

    /// The piece does not pass the origin, so it is seen under less than half a turn.
    double swept_angle(double c, double s, std::size_t level) const {
        const double hc = table.half_cosine[level];
        const double hs = table.half_sine[level];
        const double x_a = x(c * hc + s * hs);
        const double y_a = y(s * hc - c * hs);
        const double x_b = x(c * hc - s * hs);
        const double y_b = y(s * hc + c * hs);
        return std::atan2(x_a * y_b - y_a * x_b, x_a * x_b + y_a * y_b);
    }

    double sum(double c, double s, std::size_t level) const {
        const Nodes cosine = nodes_of(table.cosine[level]);
        const Nodes sine = nodes_of(table.sine[level]);
        const Nodes cn = c * cosine - s * sine;
        const Nodes sn = s * cosine + c * sine;
        const Nodes q = ((radius * cn - m1) / s1).square() + ((radius * sn - m2) / s2).square();
        const Nodes turn = radius - m1 * cn - m2 * sn;
        const double total = (nodes_of(table.rule.weight) * kernel(q) * turn).sum();
        return total * table.half_width[level] * (radius / s1) / s2;
    }

    /// Nodes of a quarter circle at even angles; 0 when pieces are cheaper.
    std::size_t even_nodes() const {
        const double wanted = 0.25 * (kEvenPerAxis * radius / s2 + kEvenBesides);
        if (!(wanted <= static_cast<double>(kMostInQuarter))) return 0;
        // Even, as exponentials are taken two at a time.
        return 2 * static_cast<std::size_t>(std::ceil(0.5 * wanted));
    }

    /// The integrand is periodic and entire, so that the mean over even angles falls short by about
    /// e^(−(n·s2)²/2), n nodes on the circle of radius 1.
    double by_even_angles(std::size_t in_quarter) const {
        const EvenQuarter& nodes = even_quarter(in_quarter);
        const double by_s1 = 1.0 / s1;
        const double by_s2 = 1.0 / s2;
        const auto quadrant = [&](const EvenNodes& x_square, const EvenNodes& y_square,
                                  const EvenNodes& turn) -> double {
            return (kernel<EvenNodes>(x_square + y_square) * turn).sum();
        };
        const EvenNodes right = ((radius * nodes.cosine - m1) * by_s1).square();
        const EvenNodes top = ((radius * nodes.sine - m2) * by_s2).square();
        double total = 0.0;
        if (m1 == 0.0 && m2 == 0.0) {
            // About its own centre, along the principal axes, all four quarters are alike.
            total = 4.0 * radius * kernel<EvenNodes>(right + top).sum();
        } else {
            const EvenNodes left = ((radius * nodes.cosine + m1) * by_s1).square();
            const EvenNodes bottom = ((radius * nodes.sine + m2) * by_s2).square();
            const EvenNodes by_1 = m1 * nodes.cosine;
            const EvenNodes by_2 = m2 * nodes.sine;
            total = quadrant(right, top, radius - by_1 - by_2) +
                    quadrant(left, top, radius + by_1 - by_2) +
                    quadrant(left, bottom, radius + by_1 + by_2) +
                    quadrant(right, bottom, radius - by_1 + by_2);
        }
        return unit(total * (radius / s1) / s2 / static_cast<double>(4 * in_quarter));
    }

    double probability() const {
        if (const std::size_t nodes = even_nodes(); nodes > 0) return by_even_angles(nodes);
        const double h = std::numbers::sqrt2 / 2.0;
        // About its own centre, along the principal axes, all four quarters are alike.
        if (m1 == 0.0 && m2 == 0.0) return unit(piece(h, h, 0) * 4.0 / (2.0 * std::numbers::pi));
        const double around = piece(h, h, 0) + piece(-h, h, 0) + piece(-h, -h, 0) + piece(h, -h, 0);
        return unit(around / (2.0 * std::numbers::pi));
    }
};

struct Principal {
    double sd_major, sd_minor;
    double c, s;  // direction of the major axis: (east, north)
};

Principal principal(const Eigen::Matrix2d& covariance) {
    const double c_ee = std::max(0.0, covariance(0, 0));
    const double c_nn = std::max(0.0, covariance(1, 1));
    const double c_en = 0.5 * (covariance(0, 1) + covariance(1, 0));
    const double half = 0.5 * (c_ee - c_nn);
    const double h = std::hypot(half, c_en);
    const double major = 0.5 * (c_ee + c_nn) + h;
    const double minor = major > 0.0 ? (c_ee * c_nn - c_en * c_en) / major : 0.0;
    const double angle = h > 0.0 ? 0.5 * std::atan2(c_en, half) : 0.0;
    return {std::sqrt(major), std::sqrt(std::max(0.0, minor)), std::cos(angle), std::sin(angle)};
}

/// Only the deviation along the mean matters; curvature is left out (2e-8 at the most).
double within_straight_edge(const Eigen::Vector2d& mean_m, const Eigen::Matrix2d& covariance,
                            double off_m, double radius_m) {
    if (off_m == 0.0) return 1.0;  // the edge is 1e7 standard deviations away
    const Eigen::Vector2d outward = mean_m / off_m;
    const double sd = std::sqrt(std::max(0.0, outward.dot(covariance * outward)));
    if (sd <= 0.0) return off_m <= radius_m ? 1.0 : 0.0;
    return unit(0.5 * std::erfc((off_m - radius_m) / sd / std::numbers::sqrt2));
}

/// √(1 − ρ²), ρ the multiple correlation between height and plan: how narrow, in standard
/// deviations of height, the plan probability can change.
double narrowest_change(const Eigen::Matrix2d& given_height, const Eigen::Vector2d& lean) {
    const double det =
        given_height(0, 0) * given_height(1, 1) - given_height(0, 1) * given_height(1, 0);
    const double pull = given_height(1, 1) * lean.x() * lean.x() -
                        (given_height(0, 1) + given_height(1, 0)) * lean.x() * lean.y() +
                        given_height(0, 0) * lean.y() * lean.y();
    if (!(det > 0.0)) return 0.0;
    return 1.0 / std::sqrt(1.0 + std::max(0.0, pull / det));
}

}  // namespace

double probability_within(double mean_m, double sd_m, double tolerance_m) {
    if (!std::isfinite(mean_m) || !std::isfinite(sd_m) || !(tolerance_m >= 0.0)) return 0.0;
    if (std::isinf(tolerance_m)) return 1.0;
    const double off = std::abs(mean_m);
    if (sd_m <= 0.0) return off <= tolerance_m ? 1.0 : 0.0;
    // erfc of both ends keeps the small probabilities of a far deviation.
    const double upper = (off - tolerance_m) / sd_m;
    const double lower = (off + tolerance_m) / sd_m;
    return unit(0.5 * std::erfc(upper / std::numbers::sqrt2) -
                0.5 * std::erfc(lower / std::numbers::sqrt2));
}

double probability_within_circle(const Eigen::Vector2d& mean_m, const Eigen::Matrix2d& covariance,
                                 double radius_m) {
    if (!mean_m.allFinite() || !covariance.allFinite() || !(radius_m >= 0.0)) return 0.0;
    if (std::isinf(radius_m)) return 1.0;
    const double off = std::hypot(mean_m.x(), mean_m.y());
    const Principal axes = principal(covariance);
    if (!std::isfinite(off) || !std::isfinite(axes.sd_major)) return 0.0;
    // Nine standard deviations along the major axis leave 1e-18 beyond.
    if (off + 9.0 * axes.sd_major <= radius_m) return 1.0;
    if (off - 9.0 * axes.sd_major > radius_m) return 0.0;
    if (radius_m == 0.0) return axes.sd_major > 0.0 ? 0.0 : 1.0;
    if (axes.sd_major < kThinnest * radius_m)
        return within_straight_edge(mean_m, covariance, off, radius_m);
    // The scale of the integral: metres may be as small or large as they like.
    const double inverse = 1.0 / radius_m;
    if (!std::isfinite(inverse)) return 0.0;
    const double m1 = (axes.c * mean_m.x() + axes.s * mean_m.y()) * inverse;
    const double m2 = (axes.c * mean_m.y() - axes.s * mean_m.x()) * inverse;
    const double s1 = axes.sd_major * inverse;
    if (s1 > 1e12) return 0.0;  // the circle holds less than 1e-24 of the density
    const double s2 = std::max(axes.sd_minor * inverse, kThinnest);
    return Circle{.radius = 1.0, .m1 = m1, .m2 = m2, .s1 = s1, .s2 = s2}.probability();
}

double probability_within_circle_and_height(const Eigen::Vector3d& mean_m,
                                            const Eigen::Matrix3d& covariance, double radius_m,
                                            double height_tolerance_m) {
    if (!mean_m.allFinite() || !covariance.allFinite()) return 0.0;
    const Eigen::Vector2d plan_mean = mean_m.head<2>();
    const Eigen::Matrix2d plan = covariance.topLeftCorner<2, 2>();
    const double sd_h = std::sqrt(std::max(0.0, covariance(2, 2)));
    const double in_height = probability_within(mean_m.z(), sd_h, height_tolerance_m);
    if (in_height == 0.0) return 0.0;
    const Eigen::Vector2d common =
        0.5 * (covariance.block<2, 1>(0, 2) + covariance.block<1, 2>(2, 0).transpose());
    const Eigen::Vector2d lean =
        sd_h > 0.0 ? Eigen::Vector2d(common / sd_h) : Eigen::Vector2d(Eigen::Vector2d::Zero());
    if (std::isinf(height_tolerance_m) || lean.squaredNorm() <= 1e-20 * plan.trace()) {
        return unit(in_height * probability_within_circle(plan_mean, plan, radius_m));
    }

    // Whatever binds them, both together are no likelier than either, and fall short of it by no
    // more than the other does of certainty.
    const double in_plan = probability_within_circle(plan_mean, plan, radius_m);
    const double most = std::min(in_plan, in_height);
    const double least = std::max(0.0, in_plan + in_height - 1.0);
    if (most - least <= kNoMatter) return 0.5 * (most + least);

    const Eigen::Matrix2d given_height = plan - lean * lean.transpose();
    // Heights in standard deviations from the mean; 6.6 of them leave 4e-11 on each side.
    const double from = std::max((-height_tolerance_m - mean_m.z()) / sd_h, -6.6);
    const double to = std::min((height_tolerance_m - mean_m.z()) / sd_h, 6.6);
    if (!(to > from)) return 0.0;
    static const GaussLegendre<24> rule;
    const double widest = std::max(13.2 * narrowest_change(given_height, lean), 0.05);
    const auto pieces = static_cast<int>(std::ceil((to - from) / widest));
    const double half = 0.5 * (to - from) / pieces;
    double total = 0.0;
    for (int piece = 0; piece < pieces; ++piece) {
        const double middle = from + half * (2.0 * piece + 1.0);
        for (std::size_t i = 0; i < rule.node.size(); ++i) {
            const double z = middle + half * rule.node[i];
            total += rule.weight[i] * std::exp(-0.5 * z * z) *
                     probability_within_circle(plan_mean + z * lean, given_height, radius_m);
        }
    }
    return unit(total * half / std::sqrt(2.0 * std::numbers::pi));
}

}  // namespace layproof::frame

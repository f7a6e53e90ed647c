#include "plan/sight_lines.hpp"

#include <algorithm>
#include <cmath>

namespace layproof::plan {
namespace {

using Eigen::Vector2d;
using Eigen::Vector3d;

/// Widens what is marked on bearings and depths against rounding.
constexpr double kSlack = 1e-9;
/// Shapes are taken nearest first by stretches of distance: their order changes no answer.
constexpr std::size_t kStretches = 256;
constexpr double kStretch_m = 0.5;

/// 0 … 4 around the horizon, rising with the bearing as an angle does, without an arc tangent.
double pseudo_bearing(double dx, double dy) {
    const double p = dy / (std::abs(dx) + std::abs(dy));
    // p east of the eye, 2 − p west of it, then up into 0 … 4: no branch to be guessed wrong.
    const double side = std::copysign(1.0, dx);
    const double bearing = (1.0 - side) + side * p;
    return bearing + (bearing < 0.0 ? 4.0 : 0.0);
}

}  // namespace

SightScene::SightScene(std::vector<Prism> prisms, double clearance_m)
    : prisms_(std::move(prisms)), clearance_m_(std::max(clearance_m, 0.0)) {
    for (const Prism& prism : prisms_) {
        wide_.push_back(add(widened(prism, clearance_m_)));
        bare_.push_back(add(prism));
        double size = prism.radius_m;
        for (const Vector2d& p : prism.corners) size = std::max(size, (p - prism.centre_m).norm());
        size_.push_back(size);
        const Shape& wide = wide_.back();
        Vector2d low(wide.x - wide.radius, wide.y - wide.radius);
        Vector2d high(wide.x + wide.radius, wide.y + wide.radius);
        if (wide.count > 0) {
            low = high = Vector2d(edges_[wide.first].x, edges_[wide.first].y);
            for (std::uint32_t k = 1; k < wide.count; ++k) {
                const Vector2d at(edges_[wide.first + k].x, edges_[wide.first + k].y);
                low = low.cwiseMin(at);
                high = high.cwiseMax(at);
            }
        }
        const Vector2d middle = 0.5 * (low + high);
        double reach = wide.radius;
        for (std::uint32_t k = 0; k < wide.count; ++k)
            reach = std::max(reach, std::hypot(edges_[wide.first + k].x - middle.x(),
                                               edges_[wide.first + k].y - middle.y()));
        middle_x_.push_back(middle.x());
        middle_y_.push_back(middle.y());
        half_x_.push_back(0.5 * (high.x() - low.x()));
        half_y_.push_back(0.5 * (high.y() - low.y()));
        reach_.push_back(reach);
    }
}

SightScene::Shape SightScene::add(const Prism& prism) {
    Shape out;
    out.low = prism.reach.bottom_m;
    out.high = prism.reach.top_m;
    out.x = prism.centre_m.x();
    out.y = prism.centre_m.y();
    out.radius = prism.radius_m;
    out.first = static_cast<std::uint32_t>(edges_.size());
    out.count = static_cast<std::uint32_t>(prism.corners.size());
    for (std::size_t i = 0; i < prism.corners.size(); ++i) {
        const Vector2d& a = prism.corners[i];
        const Vector2d& b = prism.corners[(i + 1) % prism.corners.size()];
        const double nx = b.y() - a.y();
        const double ny = a.x() - b.x();
        edges_.push_back({a.x(), a.y(), nx, ny, nx * a.x() + ny * a.y()});
    }
    return out;
}

bool SightScene::hides(const Shape& shape, const Vector3d& from, const Vector3d& by) const {
    double enter = 0.0;
    double leave = 1.0;
    if (shape.count == 0) {
        const double px = from.x() - shape.x;
        const double py = from.y() - shape.y;
        const double a = by.x() * by.x() + by.y() * by.y();
        const double b = px * by.x() + py * by.y();
        const double c = px * px + py * py - shape.radius * shape.radius;
        if (a == 0.0) {
            if (c >= 0.0) return false;
        } else {
            const double root = b * b - a * c;
            if (root <= 0.0) return false;
            const double s = std::sqrt(root);
            enter = std::max(enter, (-b - s) / a);
            leave = std::min(leave, (-b + s) / a);
        }
    } else {
        const Edge* edge = edges_.data() + shape.first;
        for (std::uint32_t i = 0; i < shape.count; ++i) {
            const double out = edge[i].nx * by.x() + edge[i].ny * by.y();
            const double room = edge[i].offset - edge[i].nx * from.x() - edge[i].ny * from.y();
            if (out > 0.0) {
                if (room < leave * out) leave = room / out;
            } else if (out < 0.0) {
                if (room < enter * out) enter = room / out;
            } else if (room <= 0.0) {
                return false;
            }
            if (enter >= leave) return false;
        }
    }
    // A sight straight down has no length in plan; enter and leave are then 0 and 1.
    if (enter >= leave) return false;
    const double z0 = from.z() + enter * by.z();
    const double z1 = from.z() + leave * by.z();
    return std::max(z0, z1) > shape.low && std::min(z0, z1) < shape.high;
}

bool SightScene::is_free(const Vector3d& from, const Vector3d& to) const {
    if (!from.allFinite() || !to.allFinite()) return false;
    const Vector3d by = to - from;
    for (std::size_t i = 0; i < wide_.size(); ++i) {
        const bool is_near = plan_distance(prisms_[i], to.head<2>()) < clearance_m_;
        if (hides(is_near ? bare_[i] : wide_[i], from, by)) return false;
        // A target inside is hidden however the sight comes.
        if (is_near && plan_distance(prisms_[i], to.head<2>()) == 0.0 && to.z() > bare_[i].low &&
            to.z() < bare_[i].high)
            return false;
        const Vector3d here(0.0, 0.0, 0.0);
        if (hides(wide_[i], from, here)) return false;
    }
    return true;
}

double SightScene::room_at(const Vector2d& place_m, double most_m, double low_m,
                           double high_m) const {
    double out = most_m;
    for (std::size_t i = 0; i < prisms_.size(); ++i) {
        const Prism& prism = prisms_[i];
        const double reach = out + size_[i];
        if (std::abs(place_m.x() - prism.centre_m.x()) >= reach ||
            std::abs(place_m.y() - prism.centre_m.y()) >= reach)
            continue;
        if (prism.reach.bottom_m >= high_m || prism.reach.top_m <= low_m) continue;
        out = std::min(out, plan_distance(prism, place_m));
    }
    return out;
}

SightTargets::SightTargets(const SightScene& scene, std::span<const Vector3d> targets) {
    low_ = kOpen_m;
    high_ = -kOpen_m;
    for (const Vector3d& t : targets) {
        std::uint8_t state = 0;
        if (!t.allFinite()) {
            state = 2;
        } else {
            low_ = std::min(low_, t.z());
            high_ = std::max(high_, t.z());
        }
        for (std::size_t i = 0; i < scene.prisms_.size() && state != 2; ++i) {
            const double reach = scene.size_[i] + scene.clearance_m_;
            if (std::abs(t.x() - scene.prisms_[i].centre_m.x()) > reach ||
                std::abs(t.y() - scene.prisms_[i].centre_m.y()) > reach)
                continue;
            const double apart = plan_distance(scene.prisms_[i], t.head<2>());
            if (apart < scene.clearance_m_) state = 1;
            if (apart == 0.0 && t.z() > scene.bare_[i].low && t.z() < scene.bare_[i].high)
                state = 2;
        }
        x_.push_back(t.x());
        y_.push_back(t.y());
        z_.push_back(t.z());
        place_.push_back(t);
        state_.push_back(state);
    }
}

Lookout::Lookout(const SightScene& scene)
    : scene_(&scene),
      head_(kBins),
      tail_(kBins),
      beyond_(kBins),
      near_(scene.prisms_.size()),
      far_(scene.prisms_.size()),
      bearing_(scene.prisms_.size()),
      half_(scene.prisms_.size()),
      stretch_(scene.prisms_.size()) {}

/// Notes a shape on its bearings, nearest shapes first.
void Lookout::spread(std::uint32_t index) {
    const SightScene::Shape& shape = scene_->wide_[index];
    // The outermost directions, clockwise and against it.
    Vector2d right;
    Vector2d left;
    if (shape.count == 0) {
        const double dx = shape.x - eye_.x();
        const double dy = shape.y - eye_.y();
        const double s = shape.radius / std::sqrt(dx * dx + dy * dy);
        const double c = std::sqrt(std::max(0.0, 1.0 - s * s));
        right = {dx * c + dy * s, dy * c - dx * s};
        left = {dx * c - dy * s, dy * c + dx * s};
    } else {
        // Seen from outside, a convex shape takes up less than half the horizon, so that a cross
        // product tells which of two corners is farther round.
        const SightScene::Edge* edge = scene_->edges_.data() + shape.first;
        right = left = {edge[0].x - eye_.x(), edge[0].y - eye_.y()};
        for (std::uint32_t i = 1; i < shape.count; ++i) {
            const Vector2d at(edge[i].x - eye_.x(), edge[i].y - eye_.y());
            if (left.x() * at.y() > left.y() * at.x()) left = at;
            if (right.x() * at.y() < right.y() * at.x()) right = at;
        }
    }
    const double first = pseudo_bearing(right.x(), right.y());
    double over = pseudo_bearing(left.x(), left.y()) - first;
    if (over < -2.0) over += 4.0;
    over = std::max(over, 0.0);  // seen end on, rounding may turn it over
    constexpr double kPerBin = kBins / 4.0;
    const auto from_bin = static_cast<int>(std::floor((first - kSlack) * kPerBin));
    const auto to_bin = static_cast<int>(std::floor((first + over + kSlack) * kPerBin));
    // It hides whole bearings only when it is there from the lowest to the highest sight.
    const bool is_full = shape.low < low_ && shape.high > high_;
    const double behind = far_[index] * far_[index];
    for (int b = from_bin; b <= to_bin; ++b) {
        const auto bin = static_cast<std::size_t>((b + 2 * kBins) % kBins);
        if (near_[index] > beyond_[bin]) continue;
        put(bin, index);
        if (is_full && b != from_bin && b != to_bin) beyond_[bin] = std::min(beyond_[bin], behind);
    }
}

void Lookout::put(std::size_t bin, std::uint32_t shape) {
    const auto at = static_cast<std::int32_t>(items_.size());
    items_.push_back({near_[shape], far_[shape], scene_->wide_[shape].high, shape, -1});
    (head_[bin] < 0 ? head_[bin] : items_[static_cast<std::size_t>(tail_[bin])].next) = at;
    tail_[bin] = at;
}

/// The eye in plan, its edge included.
bool Lookout::is_inside(const SightScene::Shape& shape) const {
    if (shape.count == 0) return std::hypot(shape.x - eye_.x(), shape.y - eye_.y()) <= shape.radius;
    const SightScene::Edge* edge = scene_->edges_.data() + shape.first;
    for (std::uint32_t k = 0; k < shape.count; ++k)
        if (edge[k].offset < edge[k].nx * eye_.x() + edge[k].ny * eye_.y()) return false;
    return true;
}

/// Is everything on these bearings hidden at that distance already?
bool Lookout::is_behind(double bearing, double half, double square) const {
    constexpr double kPerBin = kBins / 4.0;
    const auto from = static_cast<int>((bearing - half) * kPerBin + kBins);
    const auto to = static_cast<int>((bearing + half) * kPerBin + kBins);
    for (int b = from; b <= to; ++b)
        if (!(square > beyond_[static_cast<std::size_t>(b % kBins)])) return false;
    return true;
}

void Lookout::stand(const Vector3d& eye, double low_m, double high_m) {
    eye_ = eye;
    low_ = std::min(low_m, eye.z());
    high_ = std::max(high_m, eye.z());
    inside_ = !eye.allFinite();
    items_.clear();
    std::fill(head_.begin(), head_.end(), -1);
    std::fill(beyond_.begin(), beyond_.end(), kOpen_m);
    if (inside_) return;
    const std::size_t n = scene_->wide_.size();
    const double* middle_x = scene_->middle_x_.data();
    const double* middle_y = scene_->middle_y_.data();
    const double* half_x = scene_->half_x_.data();
    const double* half_y = scene_->half_y_.data();
    const double* reach = scene_->reach_.data();
    for (std::size_t i = 0; i < n; ++i) {
        const double dx = middle_x[i] - eye.x();
        const double dy = middle_y[i] - eye.y();
        const double ax = std::abs(dx);
        const double ay = std::abs(dy);
        const double out_x = ax - half_x[i];
        const double out_y = ay - half_y[i];
        const double gap_x = out_x > 0.0 ? out_x : 0.0;
        const double gap_y = out_y > 0.0 ? out_y : 0.0;
        near_[i] = (gap_x * gap_x + gap_y * gap_y) * (1.0 - kSlack);
        const double end_x = ax + half_x[i];
        const double end_y = ay + half_y[i];
        far_[i] = std::sqrt(end_x * end_x + end_y * end_y) + kSlack;
        const double stretch = std::sqrt(near_[i]) * (1.0 / kStretch_m);
        stretch_[i] =
            static_cast<std::int32_t>(stretch < kStretches - 1.0 ? stretch : kStretches - 1.0);
        bearing_[i] = pseudo_bearing(dx, dy);
        // A bearing as above turns at most as fast as the angle, and asin x ≤ 1.05 x up to one
        // half.
        half_[i] = 1.05 * reach[i] / std::sqrt(dx * dx + dy * dy) + kSlack;
    }
    start_.assign(kStretches + 1, 0);
    const auto matters = [&](std::size_t i) {
        return scene_->wide_[i].low < high_ && scene_->wide_[i].high > low_;
    };
    for (std::size_t i = 0; i < n; ++i)
        start_[static_cast<std::size_t>(stretch_[i]) + 1] += matters(i) ? 1U : 0U;
    for (std::size_t k = 1; k <= kStretches; ++k) start_[k] += start_[k - 1];
    order_.resize(start_[kStretches]);
    for (std::size_t i = 0; i < n; ++i)
        if (matters(i))
            order_[start_[static_cast<std::size_t>(stretch_[i])]++] = static_cast<std::uint32_t>(i);
    for (const std::uint32_t i : order_) {
        if (near_[i] > kStretch_m * kStretch_m) break;
        if (near_[i] > 0.0 || !is_inside(scene_->wide_[i])) continue;
        // Above or below it one may stand; inside nothing is seen.
        near_[i] = -1.0;
        inside_ = inside_ || (eye.z() > scene_->wide_[i].low && eye.z() < scene_->wide_[i].high);
    }
    if (inside_) return;
    for (const std::uint32_t i : order_) {
        if (near_[i] < 0.0) {
            for (std::size_t bin = 0; bin < kBins; ++bin) put(bin, i);
        } else if (!(half_[i] < 0.5 && is_behind(bearing_[i], half_[i], near_[i]))) {
            spread(i);
        }
    }
}

bool Lookout::hidden_in(int bin, double square, const Vector3d& by) const {
    const double distance = std::sqrt(square);
    const double per_m = distance > 0.0 ? 1.0 / distance : 0.0;
    // Items come by stretches of distance, the last of them without an end.
    constexpr double kNoEnd_m = (static_cast<double>(kStretches) - 1.0) * kStretch_m;
    const double past = distance + kStretch_m < kNoEnd_m
                            ? (distance + kStretch_m) * (distance + kStretch_m)
                            : kOpen_m;
    for (std::int32_t at = head_[static_cast<std::size_t>(bin)]; at >= 0;) {
        const Item& item = items_[static_cast<std::size_t>(at)];
        at = item.next;
        if (item.near > past) break;
        if (!(item.near < square)) continue;
        // A sight that goes down is over a shape when it is over its far side.
        if (by.z() < 0.0 && item.high < eye_.z()) {
            const double share = std::min(1.0, item.far * per_m);
            if (eye_.z() + by.z() * share > item.high) continue;
        }
        if (scene_->hides(scene_->wide_[item.shape], eye_, by)) return true;
    }
    return false;
}

void Lookout::look(const SightTargets& targets, double nearest_m, double farthest_m,
                   std::vector<std::uint8_t>& seen) {
    const std::size_t n = targets.size();
    seen.assign(n, 0);
    if (inside_) return;
    const double nearest = nearest_m * nearest_m;
    const double farthest = farthest_m * farthest_m;
    square_.resize(n);
    bin_.resize(n);
    const double* x = targets.x_.data();
    const double* y = targets.y_.data();
    double* squares = square_.data();
    std::int32_t* bins = bin_.data();
    for (std::size_t i = 0; i < n; ++i) {
        const double dx = x[i] - eye_.x();
        const double dy = y[i] - eye_.y();
        squares[i] = dx * dx + dy * dy;
        // Straight over or under the eye any bearing serves.
        const double bin = pseudo_bearing(dx, dy) * (kBins / 4.0);
        bins[i] = static_cast<std::int32_t>(bin < kBins - 1.0 ? bin : kBins - 1.0);
    }
    for (std::size_t i = 0; i < n; ++i) {
        const double square = squares[i];
        if (!(square <= farthest) || square < nearest || targets.state_[i] == 2) continue;
        if (targets.state_[i] == 1) {
            seen[i] = scene_->is_free(eye_, targets.place_[i]) ? 1 : 0;
            continue;
        }
        if (square > beyond_[static_cast<std::size_t>(bins[i])]) continue;
        seen[i] =
            hidden_in(bins[i], square, {x[i] - eye_.x(), y[i] - eye_.y(), targets.z_[i] - eye_.z()})
                ? 0
                : 1;
    }
}

}  // namespace layproof::plan

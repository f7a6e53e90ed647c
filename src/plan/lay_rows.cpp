#include "plan/lay_rows.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "frame/conformity.hpp"

namespace layproof::plan {
namespace {

constexpr double kShortestLay_m = 0.1;
constexpr std::size_t kBlock = WithinTable::kBlock;
using Values = std::array<float, kBlock>;
/// For τ² = μᵀΣ⁻¹μ the three readings are out by some 7e-4 τ⁶ (at 1 to 2, tests/plan); this is the
/// product with τ⁶ and a weight at which that comes to 2e-5 of p.
constexpr float kFarWeight = 0.03F;

}  // namespace

struct LayRows::Block {
    alignas(64) Values along, right, both, up;
};

PoseSpread::PoseSpread(const Eigen::Matrix4d& c)
    : east(static_cast<float>(c(0, 0))),
      both(static_cast<float>(c(0, 1))),
      north(static_cast<float>(c(1, 1))),
      east_turn(static_cast<float>(c(0, 2))),
      north_turn(static_cast<float>(c(1, 2))),
      turn(static_cast<float>(c(2, 2))),
      height(static_cast<float>(c(3, 3))) {}

void LayRows::fill(const Eigen::Vector3d& axes, bool has_height, const Crew& crew,
                   const std::vector<PlanPoint>& points, std::span<const int> asked) {
    const std::size_t n = asked.size();
    for (auto* list : {&ahead_x_, &ahead_y_, &plan_, &rise_, &sine_, &cosine_, &along_, &across_,
                       &up_, &circle_square_, &height_square_})
        list->resize(n);
    const measure::Instrument& instrument = crew.instrument;
    const auto square = [](double x) { return x * x; };
    const double angle = square(instrument.angle_sd_rad);
    const double constant = square(instrument.distance_sd_m);
    const double ppm = square(instrument.distance_ppm * 1e-6);
    const double rod = square(crew.lay_rod_m * instrument.bubble_rad) +
                       square(instrument.centring_m) + square(instrument.marking_m);
    const double tape = square(instrument.height_tape_m);
    const double bend = square(instrument.refraction_k_sd / (2.0 * measure::kEarthRadius_m));
    for (std::size_t i = 0; i < n; ++i) {
        const PlanPoint& point = points[static_cast<std::size_t>(asked[i])];
        const double dx = point.east_m - axes.x();
        const double dy = point.north_m - axes.y();
        const double d = std::sqrt(dx * dx + dy * dy);
        const double plan = std::max(d, kShortestLay_m);
        const double flat = plan * plan;
        const bool is_level = !(has_height && point.has_height);
        const double rise = is_level ? 0.0 : point.height_m + crew.lay_rod_m - axes.z();
        const double slope = std::sqrt(flat + rise * rise);
        const double sz = plan / slope;
        const double cz = rise / slope;
        const double distance = constant + ppm * (flat + rise * rise);
        ahead_x_[i] = static_cast<float>(d > 0.0 ? dx / d : 0.0);
        ahead_y_[i] = static_cast<float>(d > 0.0 ? dy / d : 1.0);
        plan_[i] = static_cast<float>(plan);
        rise_[i] = static_cast<float>(rise);
        sine_[i] = static_cast<float>(sz);
        cosine_[i] = static_cast<float>(cz);
        across_[i] = static_cast<float>(rod + flat * angle);
        along_[i] = static_cast<float>(rod + rise * rise * angle + sz * sz * distance);
        up_[i] = static_cast<float>(tape + bend * flat * flat + flat * angle + cz * cz * distance);
        circle_square_[i] = point.tolerance_plan_m >= 0.0
                                ? static_cast<float>(square(point.tolerance_plan_m))
                                : 0.0F;
        height_square_[i] = is_level || point.tolerance_height_m < 0.0
                                ? INFINITY
                                : static_cast<float>(square(point.tolerance_height_m));
    }
}

void LayRows::keep(std::span<const int> rows) {
    for (auto* list : {&ahead_x_, &ahead_y_, &plan_, &rise_, &sine_, &cosine_, &along_, &across_,
                       &up_, &circle_square_, &height_square_}) {
        for (std::size_t i = 0; i < rows.size(); ++i)
            (*list)[i] = (*list)[static_cast<std::size_t>(rows[i])];
        list->resize(rows.size());
    }
}

void LayRows::take(const LayRows& from, std::span<const int> rows) {
    const auto copy = [&](std::vector<float>& to, const std::vector<float>& list) {
        to.resize(rows.size());
        for (std::size_t i = 0; i < rows.size(); ++i)
            to[i] = list[static_cast<std::size_t>(rows[i])];
    };
    copy(ahead_x_, from.ahead_x_);
    copy(ahead_y_, from.ahead_y_);
    copy(plan_, from.plan_);
    copy(rise_, from.rise_);
    copy(sine_, from.sine_);
    copy(cosine_, from.cosine_);
    copy(along_, from.along_);
    copy(across_, from.across_);
    copy(up_, from.up_);
    copy(circle_square_, from.circle_square_);
    copy(height_square_, from.height_square_);
}

void LayColumn::keep(std::span<const int> rows) {
    for (auto* list : {&along, &right, &up}) {
        for (std::size_t i = 0; i < rows.size(); ++i)
            (*list)[i] = (*list)[static_cast<std::size_t>(rows[i])];
        list->resize(rows.size());
    }
}

LayColumn LayRows::column(const Column& u) const {
    LayColumn out;
    const std::size_t n = size();
    out.along.resize(n);
    out.right.resize(n);
    out.up.resize(n);
    std::array<float, 9> c{};
    for (std::size_t k = 0; k < 9; ++k) c[k] = static_cast<float>(u[static_cast<int>(k)]);
    // −(∂p/∂state) of station/state.hpp, along, across and up.
    for (std::size_t i = 0; i < n; ++i) {
        const float x = ahead_x_[i];
        const float y = ahead_y_[i];
        const float tilt_a = c[6] * x + c[7] * y;
        const float tilt_r = c[6] * y - c[7] * x;
        out.along[i] = -(x * c[0] + y * c[1]) + sine_[i] * c[4] + plan_[i] * c[5] -
                       rise_[i] * tilt_a + rise_[i] * c[8];
        out.right[i] = -(y * c[0] - x * c[1] + plan_[i] * c[2]) - rise_[i] * tilt_r;
        out.up[i] =
            -c[3] + cosine_[i] * c[4] + rise_[i] * c[5] + plan_[i] * tilt_a - plan_[i] * c[8];
    }
    return out;
}

void LayRows::block_of(std::size_t from, std::size_t n, const PoseSpread& p, Block& block) const {
    const float* ahead_x = ahead_x_.data() + from;
    const float* ahead_y = ahead_y_.data() + from;
    const float* plan = plan_.data() + from;
    const float* along = along_.data() + from;
    const float* across = across_.data() + from;
    const float* up = up_.data() + from;
    for (std::size_t i = 0; i < n; ++i) {
        const float x = ahead_x[i];
        const float y = ahead_y[i];
        const float d = plan[i];
        const float xx = x * x;
        const float xy = x * y;
        const float yy = y * y;
        block.along[i] = along[i] + xx * p.east + 2.0F * xy * p.both + yy * p.north;
        block.right[i] = across[i] + yy * p.east - 2.0F * xy * p.both + xx * p.north +
                         d * (2.0F * (y * p.east_turn - x * p.north_turn) + d * p.turn);
        block.both[i] =
            xy * (p.east - p.north) + (yy - xx) * p.both + d * (x * p.east_turn + y * p.north_turn);
        block.up[i] = up[i] + p.height;
    }
}

void LayRows::within(const WithinTable& table, const PoseSpread& pose, std::span<float> out,
                     const LayColumn* column, float square) const {
    Block b;
    for (std::size_t from = 0; from < size(); from += kBlock) {
        const std::size_t n = std::min(kBlock, size() - from);
        block_of(from, n, pose, b);
        if (column != nullptr) {
            const float* a = column->along.data() + from;
            const float* r = column->right.data() + from;
            const float* h = column->up.data() + from;
            for (std::size_t i = 0; i < n; ++i) {
                b.along[i] += square * a[i] * a[i];
                b.right[i] += square * r[i] * r[i];
                b.both[i] += square * a[i] * r[i];
                b.up[i] += square * h[i] * h[i];
            }
        }
        table.within({{b.along.data(), n},
                      {b.right.data(), n},
                      {b.both.data(), n},
                      {b.up.data(), n},
                      {circle_square_.data() + from, n},
                      {height_square_.data() + from, n}},
                     out.subspan(from, n));
    }
}

void LayRows::add_shifted(const WithinTable& table, const PoseSpread& pose,
                          const Eigen::Vector4f& mean, float weight, std::span<float> sum,
                          const LayColumn* column, float square, float amount) const {
    Block b;
    Block moved;
    alignas(64) Values a;
    alignas(64) Values r;
    alignas(64) Values h;
    alignas(64) Values far;
    alignas(64) Values p;
    alignas(64) Values total;
    for (std::size_t from = 0; from < size(); from += kBlock) {
        const std::size_t n = std::min(kBlock, size() - from);
        block_of(from, n, pose, b);
        const float* x = ahead_x_.data() + from;
        const float* y = ahead_y_.data() + from;
        const float* d = plan_.data() + from;
        const float* tolerance = height_square_.data() + from;
        for (std::size_t i = 0; i < n; ++i) {
            a[i] = -(x[i] * mean[0] + y[i] * mean[1]);
            r[i] = -(y[i] * mean[0] - x[i] * mean[1] + d[i] * mean[2]);
            h[i] = -mean[3];
        }
        if (column != nullptr) {
            const float* ca = column->along.data() + from;
            const float* cr = column->right.data() + from;
            const float* ch = column->up.data() + from;
            for (std::size_t i = 0; i < n; ++i) {
                a[i] += amount * ca[i];
                r[i] += amount * cr[i];
                h[i] += amount * ch[i];
                b.along[i] += square * ca[i] * ca[i];
                b.right[i] += square * cr[i] * cr[i];
                b.both[i] += square * ca[i] * cr[i];
                b.up[i] += square * ch[i] * ch[i];
            }
        }
        for (std::size_t i = 0; i < n; ++i) {
            total[i] = 0.0F;
            const float det = b.along[i] * b.right[i] - b.both[i] * b.both[i];
            far[i] = (b.right[i] * a[i] * a[i] - 2.0F * b.both[i] * a[i] * r[i] +
                      b.along[i] * r[i] * r[i]) /
                         det +
                     (tolerance[i] < INFINITY ? h[i] * h[i] / b.up[i] : 0.0F);
        }
        for (std::size_t k = 0; k < 3; ++k) {
            const float c = WithinTable::kShift[k];
            for (std::size_t i = 0; i < n; ++i) {
                moved.along[i] = b.along[i] + c * a[i] * a[i];
                moved.right[i] = b.right[i] + c * r[i] * r[i];
                moved.both[i] = b.both[i] + c * a[i] * r[i];
                moved.up[i] = b.up[i] + c * h[i] * h[i];
            }
            table.within({{moved.along.data(), n},
                          {moved.right.data(), n},
                          {moved.both.data(), n},
                          {moved.up.data(), n},
                          {circle_square_.data() + from, n},
                          {tolerance, n}},
                         {p.data(), n});
            const float share = WithinTable::kShare[k];
            for (std::size_t i = 0; i < n; ++i) total[i] += share * p[i];
        }
        float* out = sum.data() + from;
        for (std::size_t i = 0; i < n; ++i) {
            if (!(weight * far[i] * far[i] * far[i] <= kFarWeight)) {
                const Eigen::Vector2d at(static_cast<double>(a[i]), static_cast<double>(r[i]));
                Eigen::Matrix2d c;
                c << static_cast<double>(b.along[i]), static_cast<double>(b.both[i]),
                    static_cast<double>(b.both[i]), static_cast<double>(b.right[i]);
                double exact = frame::probability_within_circle(
                    at, c, std::sqrt(static_cast<double>(circle_square_[from + i])));
                if (tolerance[i] < INFINITY)
                    exact *= frame::probability_within(
                        static_cast<double>(h[i]), std::sqrt(static_cast<double>(b.up[i])),
                        std::sqrt(static_cast<double>(tolerance[i])));
                total[i] = static_cast<float>(exact);
            }
            out[i] += weight * total[i];
        }
    }
}

double LayRows::mean_plan_variance() const {
    double sum = 0.0;
    for (std::size_t i = 0; i < size(); ++i)
        sum += 0.5 * static_cast<double>(along_[i] + across_[i]);
    return size() > 0 ? sum / static_cast<double>(size()) : 0.0;
}

double LayRows::mean_height_variance() const {
    double sum = 0.0;
    for (const float v : up_) sum += static_cast<double>(v);
    return size() > 0 ? sum / static_cast<double>(size()) : 0.0;
}

double LayRows::mean_square_m2() const {
    double sum = 0.0;
    for (const float d : plan_) sum += static_cast<double>(d * d);
    return size() > 0 ? sum / static_cast<double>(size()) : 0.0;
}

}  // namespace layproof::plan

#include "station/start_values.hpp"

#include <Eigen/SVD>
#include <algorithm>
#include <cmath>
#include <complex>

#include "frame/rigid.hpp"
#include "measure/angle.hpp"
#include "station/observations.hpp"

namespace layproof::station {
namespace {

using Complex = std::complex<double>;  // plan position as east + i·north

constexpr double kSamePlace_m = 1e-4;
constexpr std::size_t kMostMinimalMarks = 6;  // minimal cases are tried among so many marks at most

/// What is known about one mark in plan: its position, and the first direction and distance to it.
struct PlanSight {
    Complex mark;
    bool has_direction = false;
    bool has_distance = false;
    double direction_rad = 0.0;
    double distance_m = 0.0;  // horizontal, in grid scale
};

/// Unit vector of a direction in the instrument's own east-north frame.
Complex unit(double direction_rad) {
    return {std::sin(direction_rad), std::cos(direction_rad)};
}

std::vector<PlanSight> plan_sights(const Prepared& setup) {
    std::vector<PlanSight> out(setup.marks.size());
    for (std::size_t m = 0; m < setup.marks.size(); ++m)
        out[m].mark = {setup.marks[m].given_m.x(), setup.marks[m].given_m.y()};
    for (const ControlSight& sight : setup.sights) {
        if (!sight.used || !setup.marks[static_cast<std::size_t>(sight.mark)].has_plan) continue;
        PlanSight& plan = out[static_cast<std::size_t>(sight.mark)];
        const measure::ReducedSight& r = sight.reduced;
        if (r.has_direction && !plan.has_direction) {
            plan.has_direction = true;
            plan.direction_rad = r.direction_rad;
        }
        if (r.has_distance && !plan.has_distance) {
            plan.has_distance = true;
            plan.distance_m = ground_distance(r) * setup.scale_factor;
        }
    }
    std::vector<PlanSight> seen;
    for (std::size_t m = 0; m < out.size(); ++m) {
        if (static_cast<int>(m) == setup.occupied_mark) continue;
        if (out[m].has_direction || out[m].has_distance) seen.push_back(out[m]);
    }
    return seen;
}

/// Orientation at a place: mean of azimuth minus direction over all directions.
bool orient(const std::vector<PlanSight>& sights, Complex place, double& orientation_rad) {
    Complex sum{0.0, 0.0};
    for (const PlanSight& sight : sights) {
        const Complex to = sight.mark - place;
        if (!sight.has_direction || std::abs(to) < kSamePlace_m) continue;
        const double azimuth = std::atan2(to.real(), to.imag());
        sum += unit(azimuth - sight.direction_rad) * std::abs(to);
    }
    if (std::abs(sum) == 0.0) return false;
    orientation_rad = measure::wrap_0_2pi(std::atan2(sum.real(), sum.imag()));
    return true;
}

/// The pose that lays local vectors onto their marks, equal weights.
StartValue rigid(const std::vector<std::pair<Complex, Complex>>& local_and_mark) {
    std::vector<Eigen::Vector2d> local;
    std::vector<Eigen::Vector2d> marks;
    for (const auto& [vector, mark] : local_and_mark) {
        local.emplace_back(vector.real(), vector.imag());
        marks.emplace_back(mark.real(), mark.imag());
    }
    const frame::PlanFit fit = frame::rigid_fit(local, marks);
    return {fit.origin_m.x(), fit.origin_m.y(), fit.rotation_rad, 0.0};
}

class Candidates {
public:
    explicit Candidates(std::vector<PlanSight> sights) : sights_(std::move(sights)) {}

    void add_place(Complex place) {
        double orientation_rad = 0.0;
        if (!orient(sights_, place, orientation_rad)) return;
        add({place.real(), place.imag(), orientation_rad, 0.0});
    }

    void add(const StartValue& value) {
        if (!std::isfinite(value.east_m) || !std::isfinite(value.north_m)) return;
        for (const StartValue& other : values_) {
            const double apart =
                std::hypot(value.east_m - other.east_m, value.north_m - other.north_m);
            const double turned = measure::wrap_pi(value.orientation_rad - other.orientation_rad);
            if (apart < 0.01 && std::abs(turned) < 0.001) return;
        }
        values_.push_back(value);
    }

    void from_polar_vectors() {
        std::vector<std::pair<Complex, Complex>> pairs;
        for (const PlanSight& s : sights_)
            if (s.has_direction && s.has_distance)
                pairs.emplace_back(s.distance_m * unit(s.direction_rad), s.mark);
        if (pairs.size() >= 2) add(rigid(pairs));
    }

    void from_directions() {
        std::vector<const PlanSight*> seen;
        double size = 0.0;
        for (const PlanSight& s : sights_) {
            if (!s.has_direction) continue;
            seen.push_back(&s);
            size = std::max(size, std::abs(s.mark));
        }
        if (seen.size() < 3 || size == 0.0) return;
        // Rows in (c, s, q_e, q_n); marks scaled to unit size so that the columns compare.
        Eigen::MatrixXd rows(static_cast<Eigen::Index>(seen.size()), 4);
        for (std::size_t i = 0; i < seen.size(); ++i) {
            const Complex m = seen[i]->mark / size;
            const Complex u = unit(seen[i]->direction_rad);
            // R(−o)·m in the instrument's frame: (m_e c − m_n s, m_e s + m_n c).
            rows.row(static_cast<Eigen::Index>(i)) << m.real() * u.imag() - m.imag() * u.real(),
                -m.imag() * u.imag() - m.real() * u.real(), -u.imag(), u.real();
        }
        const Eigen::JacobiSVD<Eigen::MatrixXd> svd(rows, Eigen::ComputeFullV);
        const Eigen::Vector4d null = svd.matrixV().col(3);
        const double turn = std::hypot(null[0], null[1]);
        if (turn < 1e-9) return;
        for (const double sign : {1.0, -1.0}) {
            const double c = sign * null[0] / turn;
            const double s = sign * null[1] / turn;
            const Complex q = Complex{null[2], null[3]} * (sign / turn) * size;
            const double orientation_rad = std::atan2(s, c);
            // back to the site: R(o)·q
            const Complex place{q.real() * c + q.imag() * s, -q.real() * s + q.imag() * c};
            double ahead = 0.0;
            for (const PlanSight* sight : seen) {
                const Complex to = sight->mark - place;
                const Complex along = unit(sight->direction_rad + orientation_rad);
                ahead += to.real() * along.real() + to.imag() * along.imag() > 0 ? 1.0 : -1.0;
            }
            if (ahead > 0.0) add_place(place);
        }
    }

    void from_minimal_cases() {
        const std::size_t n = std::min(sights_.size(), kMostMinimalMarks);
        for (std::size_t i = 0; i < n; ++i) {
            for (std::size_t j = 0; j < n; ++j) {
                if (i == j) continue;
                if (i < j && sights_[i].has_distance && sights_[j].has_distance)
                    two_distances(sights_[i], sights_[j]);
                if (sights_[i].has_distance && sights_[i].has_direction &&
                    sights_[j].has_direction && !sights_[j].has_distance)
                    distance_and_two_directions(sights_[i], sights_[j]);
            }
        }
    }

    const std::vector<StartValue>& values() const { return values_; }

private:
    void two_distances(const PlanSight& a, const PlanSight& b) {
        const Complex base = b.mark - a.mark;
        const double length = std::abs(base);
        if (length < kSamePlace_m) return;
        const double along =
            (a.distance_m * a.distance_m - b.distance_m * b.distance_m + length * length) /
            (2.0 * length);
        const double square = a.distance_m * a.distance_m - along * along;
        const Complex e = base / length;
        // Circles that just miss each other through measuring error touch at the nearest point.
        const double across = std::sqrt(std::max(square, 0.0));
        add_place(a.mark + e * Complex{along, across});
        add_place(a.mark + e * Complex{along, -across});
    }

    void distance_and_two_directions(const PlanSight& a, const PlanSight& b) {
        const double length = std::abs(b.mark - a.mark);
        const double angle = b.direction_rad - a.direction_rad;
        const double across = a.distance_m * std::sin(angle);
        const double square = length * length - across * across;
        const double root = std::sqrt(std::max(square, 0.0));
        for (const double far :
             {a.distance_m * std::cos(angle) + root, a.distance_m * std::cos(angle) - root}) {
            if (far <= 0.0) continue;
            add(rigid({{a.distance_m * unit(a.direction_rad), a.mark},
                       {far * unit(b.direction_rad), b.mark}}));
        }
    }

    std::vector<PlanSight> sights_;
    std::vector<StartValue> values_;
};

double start_height(const Prepared& setup, const StartValue& value) {
    double sum = 0.0;
    int count = 0;
    for (const ControlSight& sight : setup.sights) {
        const UsedMark& mark = setup.marks[static_cast<std::size_t>(sight.mark)];
        const measure::ReducedSight& r = sight.reduced;
        if (!sight.used || !r.has_zenith || !mark.has_height) continue;
        const double plan_m = mark.has_plan ? std::hypot(mark.given_m.x() - value.east_m,
                                                         mark.given_m.y() - value.north_m)
                                            : ground_distance(r);
        sum += mark.given_m.z() + r.target_height_m - plan_m / std::tan(r.zenith_rad);
        ++count;
    }
    if (count > 0) return sum / count;
    if (setup.occupied_mark >= 0) {
        return setup.marks[static_cast<std::size_t>(setup.occupied_mark)].given_m.z() +
               setup.setup.instrument_height_m.value_or(0.0);
    }
    return 0.0;
}

}  // namespace

std::vector<StartValue> start_values(const Prepared& setup) {
    Candidates candidates(plan_sights(setup));
    if (setup.occupied_mark >= 0) {
        const Eigen::Vector3d& at =
            setup.marks[static_cast<std::size_t>(setup.occupied_mark)].given_m;
        candidates.add_place({at.x(), at.y()});
    } else {
        candidates.from_polar_vectors();
        if (candidates.values().empty()) {
            candidates.from_directions();
            candidates.from_minimal_cases();
        }
    }
    std::vector<StartValue> out = candidates.values();
    for (StartValue& value : out) value.height_m = start_height(setup, value);
    return out;
}

}  // namespace layproof::station

#include "station/aids.hpp"

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>
#include <optional>
#include <set>

#include "frame/conformity.hpp"
#include "frame/polar.hpp"
#include "station/misfit_model.hpp"

namespace layproof::station {
namespace {

constexpr std::size_t kQuickTargets = 120;
constexpr std::size_t kMostMarks = 200;
constexpr int kBearings = 8;

/// Public pose order is east, north, height, orientation; that of the state has the last two
/// swapped.
Eigen::Matrix4d swapped(const Eigen::Matrix4d& covariance) {
    constexpr int kFrom[4] = {0, 1, 3, 2};
    Eigen::Matrix4d out;
    for (int i = 0; i < 4; ++i)
        for (int j = 0; j < 4; ++j) out(i, j) = covariance(kFrom[i], kFrom[j]);
    return out;
}

double median(std::vector<double> values) {
    if (values.empty()) return 0.0;
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    return *middle;
}

class Helper {
public:
    explicit Helper(const AidQuestion& question) : q_(question) {
        std::vector<double> heights;
        std::set<int> seen;
        double sum_height = 0.0;
        int with_height = 0;
        for (const ControlSight& sight : q_.setup.sights) {
            if (!sight.used) continue;
            heights.push_back(sight.reduced.target_height_m);
            const UsedMark& mark = q_.setup.marks[static_cast<std::size_t>(sight.mark)];
            if (!seen.insert(sight.mark).second) continue;
            sighted_.insert(mark.input_index);
            if (mark.has_plan && sight.mark != q_.setup.occupied_mark) {
                mean_distance_m_ +=
                    (mark.given_m + q_.setup.origin_m - q_.pose.position_m).head<2>().norm();
                ++marks_;
            }
            if (mark.has_height) {
                sum_height += mark.given_m.z() + q_.setup.origin_m.z();
                ++with_height;
            }
        }
        if (q_.setup.occupied_mark >= 0)
            sighted_.insert(
                q_.setup.marks[static_cast<std::size_t>(q_.setup.occupied_mark)].input_index);
        if (marks_ > 0) mean_distance_m_ /= marks_;
        if (with_height > 0) mark_height_m_ = sum_height / with_height;
        control_rod_m_ = median(heights);
        own_only_ = q_.setup.instrument;
        own_only_.marking_m = 0.0;
        const std::size_t stride = (q_.targets.size() + kQuickTargets - 1) / kQuickTargets;
        for (std::size_t i = 0; i < q_.targets.size(); i += stride) {
            quick_.push_back(
                {i, lay_model(q_.pose, q_.targets[i], q_.setup.instrument, q_.rod_height_m)});
        }
    }

    Aids run() {
        Aids out;
        out.now = full({}, q_.pose, q_.setup.instrument, q_.rod_height_m);
        if (q_.rod_height_m > kShortRod_m)
            keep(out, {AidKind::short_rod, {}, 0, 0, 0, 0, 0}, q_.pose, q_.setup.instrument,
                 kShortRod_m);
        measure::Instrument steady = q_.setup.instrument;
        steady.bubble_rad *= kBipodShare;
        keep(out, {AidKind::bipod, {}, 0, 0, 0, 0, 0}, q_.pose, steady, q_.rod_height_m);
        if (const auto pose = another_round())
            keep(out, {AidKind::another_round, {}, 0, 0, 0, 0, 0}, *pose, q_.setup.instrument,
                 q_.rod_height_m);
        best_mark(out);
        best_place(out);
        std::stable_sort(out.best.begin(), out.best.end(), [](const Aid& a, const Aid& b) {
            return a.proven != b.proven ? a.proven > b.proven : a.lowest > b.lowest;
        });
        return out;
    }

private:
    struct Quick {
        std::size_t target;
        LayModel model;
    };

    Aid full(Aid aid, const Pose& pose, const measure::Instrument& instrument, double rod_m) const {
        const Forecast f =
            forecast(pose, q_.targets, instrument, rod_m, {belief_of(pose)}, q_.confidence);
        aid.proven = f.proven;
        aid.lowest = f.lowest;
        for (const PointForecast& point : f.points) aid.average += point.probability;
        aid.average /= static_cast<double>(std::max<std::size_t>(f.points.size(), 1));
        return aid;
    }

    void keep(Aids& out, Aid aid, const Pose& pose, const measure::Instrument& instrument,
              double rod_m) const {
        out.best.push_back(full(std::move(aid), pose, instrument, rod_m));
    }

    std::optional<Pose> another_round() const {
        Prepared twice = q_.setup;
        for (ControlSight& sight : twice.sights) {
            sight.reduced.covariance *= 0.5;
            sight.reduced.pointings *= 2;
            sight.reduced.rounds *= 2;
        }
        const MisfitModel model = misfit_model(twice, q_.pose);
        if (!model.usable) return std::nullopt;
        Pose pose = q_.pose;
        pose.covariance = swapped(model.pose_covariance);
        return pose;
    }

    /// The pose with one more sight.
    Pose with_sight(const LayTarget& mark, const Eigen::Vector3d& mark_sd_m) const {
        const LayModel model = lay_model(q_.pose, mark, own_only_, control_rod_m_);
        const int rows = model.has_height ? 3 : 2;
        const Eigen::MatrixXd h = model.by_state.topLeftCorner(rows, 4);
        Eigen::MatrixXd r = model.own.topLeftCorner(rows, rows);
        r.diagonal() += mark_sd_m.head(rows).cwiseAbs2();
        const Eigen::Matrix4d c = swapped(q_.pose.covariance);
        const Eigen::MatrixXd ch = c * h.transpose();
        const Eigen::LLT<Eigen::MatrixXd> factor(h * ch + r);
        Pose pose = q_.pose;
        if (factor.info() == Eigen::Success)
            pose.covariance = swapped(c - ch * factor.solve(ch.transpose()));
        return pose;
    }

    /// Sum over a sample of targets of the chance of hitting them, plan and height apart.
    double quick_sum(const Pose& pose) const {
        const Eigen::Matrix4d c = swapped(pose.covariance);
        double sum = 0.0;
        for (const Quick& quick : quick_) {
            const LayTarget& target = q_.targets[quick.target];
            const auto h = quick.model.by_state.leftCols<4>();
            const Eigen::Matrix3d total = h * c * h.transpose() + quick.model.own;
            double p = frame::probability_within_circle(
                Eigen::Vector2d::Zero(), total.topLeftCorner<2, 2>(), target.tolerance_plan_m);
            if (quick.model.has_height && target.tolerance_height_m)
                p *= frame::probability_within(0.0, std::sqrt(std::max(total(2, 2), 0.0)),
                                               *target.tolerance_height_m);
            sum += p;
        }
        return sum;
    }

    struct Place {
        Aid aid;
        Pose pose;
        double quick = -1.0;
    };

    void consider(Place& best, Aid aid, const LayTarget& mark, const Eigen::Vector3d& sd_m) const {
        const Eigen::Vector2d from = q_.pose.position_m.head<2>();
        const Eigen::Vector2d to(mark.east_m, mark.north_m);
        aid.azimuth_rad = frame::azimuth(from, to);
        aid.distance_m = frame::distance(from, to);
        Pose pose = with_sight(mark, sd_m);
        const double quick = quick_sum(pose);
        if (quick > best.quick) best = {std::move(aid), std::move(pose), quick};
    }

    void best_mark(Aids& out) const {
        Place best;
        std::size_t tried = 0;
        for (std::size_t i = 0; i < q_.marks.size() && tried < kMostMarks; ++i) {
            const frame::Mark& mark = q_.marks[i];
            if (!mark.has_plan() || sighted_.contains(static_cast<int>(i))) continue;
            ++tried;
            Aid aid;
            aid.kind = AidKind::sight_mark;
            aid.mark = mark.name;
            consider(best, std::move(aid),
                     {mark.name, *mark.east_m, *mark.north_m, mark.height_m, 0.0, std::nullopt},
                     {mark.sd_east_m, mark.sd_north_m, mark.sd_height_m});
        }
        if (best.quick >= 0.0) keep(out, best.aid, best.pose, q_.setup.instrument, q_.rod_height_m);
    }

    void best_place(Aids& out) const {
        if (marks_ == 0 || !(mean_distance_m_ > 0.0)) return;
        Place best;
        for (int k = 0; k < kBearings; ++k) {
            const Eigen::Vector2d at = frame::polar_point(
                q_.pose.position_m.head<2>(), k * measure::kTwoPi / kBearings, mean_distance_m_);
            Aid aid;
            aid.kind = AidKind::place_mark;
            consider(best, std::move(aid), {"", at.x(), at.y(), mark_height_m_, 0.0, std::nullopt},
                     Eigen::Vector3d::Constant(frame::kDefaultMarkSd_m));
        }
        keep(out, best.aid, best.pose, q_.setup.instrument, q_.rod_height_m);
    }

    const AidQuestion& q_;
    std::set<int> sighted_;
    double mean_distance_m_ = 0.0;
    int marks_ = 0;
    std::optional<double> mark_height_m_;
    double control_rod_m_ = 0.0;
    measure::Instrument own_only_;
    std::vector<Quick> quick_;
};

}  // namespace

std::string_view to_word(AidKind kind) {
    switch (kind) {
        case AidKind::short_rod:
            return "short-rod";
        case AidKind::bipod:
            return "bipod";
        case AidKind::another_round:
            return "another-round";
        case AidKind::sight_mark:
            return "sight-mark";
        case AidKind::place_mark:
            return "place-mark";
    }
    return "unknown";
}

Aids what_helps(const AidQuestion& question) {
    if (question.targets.empty()) return {};
    return Helper(question).run();
}

}  // namespace layproof::station

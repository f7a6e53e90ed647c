#include "cause/next_sight.hpp"

#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <algorithm>
#include <cmath>

#include "cause/working_internal.hpp"
#include "infer/flat_unknowns.hpp"
#include "measure/angle.hpp"
#include "station/lay_prediction.hpp"
#include "station/state.hpp"

namespace layproof::cause {
namespace {

using Held = Working::Held;
using station::MisfitModel;
using station::Prepared;
using station::UsedMark;

constexpr double kBipodShare = 0.25;
constexpr double kShortRod_m = 0.1;
constexpr double kTape_m = 0.002;
constexpr double kTie = 0.98;
/// Names exchanged put the station elsewhere by metres; beyond this the distance says no more.
constexpr double kFar_m = 1e3;

/// New figures to be predicted: z = by_state·state + shift of marks + own error, in metres.
struct Candidate {
    NextSight what;
    int rows = 3;
    station::ByState by_state = station::ByState::Zero();
    int mark_a = -1;
    Eigen::Matrix3d by_mark_a = Eigen::Matrix3d::Zero();
    int mark_b = -1;  ///< tape
    Eigen::Matrix3d by_mark_b = Eigen::Matrix3d::Zero();
    Eigen::Matrix3d own = Eigen::Matrix3d::Zero();
    double index_sign = 1.0;
};

struct Predicted {
    Eigen::Vector3d mean = Eigen::Vector3d::Zero();
    Eigen::Matrix3d covariance = Eigen::Matrix3d::Identity();
    double log_det = 0.0;  ///< of the covariance
    Eigen::Matrix3d inverse = Eigen::Matrix3d::Identity();
    double log_det_known_pose = 0.0;  ///< of the covariance given the pose
};

double log_det(const Eigen::Matrix3d& m, int rows) {
    const Eigen::LLT<Eigen::MatrixXd> factor(m.topLeftCorner(rows, rows));
    return 2.0 * factor.matrixLLT().diagonal().array().log().sum();
}

class Ranking {
public:
    Ranking(const Prepared& setup, const Working& working, const std::vector<UsedMark>& others,
            const Entry* among)
        : setup_(setup), working_(working), model_(working.model) {
        marks_ = setup.marks;
        for (UsedMark mark : others) {
            mark.given_m -= setup.origin_m;
            marks_.push_back(std::move(mark));
        }
        for (const Held& held : working.held) {
            if (among != nullptr && !belongs(held, *among)) continue;
            held_.push_back(&held);
            weights_.push_back(held.weight);
        }
        double total = 0.0;
        for (const double w : weights_) total += w;
        for (double& w : weights_) w /= total;
    }

    std::vector<NextSight> run() {
        if (held_.empty() || !model_.usable) return {};
        make_candidates();
        if (candidates_.empty()) return {};
        prepare_held();
        std::vector<NextSight> out;
        for (Candidate& c : candidates_) {
            c.what.gain_bits = gain(c);
            out.push_back(c.what);
        }
        std::stable_sort(out.begin(), out.end(), [](const NextSight& a, const NextSight& b) {
            return a.gain_bits > b.gain_bits;
        });
        // The plainer way first among those that are as good.
        for (std::size_t i = 1; i < out.size() && out[i].gain_bits > kTie * out[0].gain_bits; ++i)
            if (out[i].way < out[0].way) std::swap(out[i], out[0]);
        return out;
    }

private:
    static bool belongs(const Held& held, const Entry& entry) {
        return std::any_of(entry.members.begin(), entry.members.end(), [&](const Explanation& e) {
            return e.cause == held.cause && e.subjects == held.subjects;
        });
    }

    double rod_height() const {
        std::vector<double> heights;
        for (const auto& sight : setup_.sights)
            if (sight.used) heights.push_back(sight.reduced.target_height_m);
        if (heights.empty()) return 0.0;
        const auto middle = heights.begin() + static_cast<std::ptrdiff_t>(heights.size() / 2);
        std::nth_element(heights.begin(), middle, heights.end());
        return *middle;
    }

    void make_candidates() {
        const double rod = rod_height();
        std::vector<bool> sighted(marks_.size(), false);
        std::vector<bool> both_faces(marks_.size(), false);
        for (const auto& sight : setup_.sights) {
            if (!sight.used) continue;
            sighted[static_cast<std::size_t>(sight.mark)] = true;
            if (sight.reduced.face_balance == 0.0)
                both_faces[static_cast<std::size_t>(sight.mark)] = true;
        }
        for (std::size_t m = 0; m < marks_.size(); ++m) {
            if (!marks_[m].has_plan || static_cast<int>(m) == setup_.occupied_mark) continue;
            if (!sighted[m]) {
                add_sight(m, Way::new_mark, rod, setup_.instrument, 1.0, 1.0);
                continue;
            }
            measure::Instrument bipod = setup_.instrument;
            bipod.bubble_rad *= kBipodShare;
            measure::Instrument turned = setup_.instrument;
            turned.bubble_rad *= std::sqrt(0.5);
            add_sight(m, Way::again, rod, setup_.instrument, 1.0, 1.0);
            if (!both_faces[m]) add_sight(m, Way::other_face, rod, setup_.instrument, 1.0, -1.0);
            if (rod > kShortRod_m) {
                add_sight(m, Way::rod_turned, rod, turned, 2.0, 1.0);
                add_sight(m, Way::bipod, rod, bipod, 1.0, 1.0);
                add_sight(m, Way::short_rod, kShortRod_m, setup_.instrument, 1.0, 1.0);
            }
        }
        for (std::size_t a = 0; a < setup_.marks.size(); ++a)
            for (std::size_t b = a + 1; b < setup_.marks.size(); ++b)
                if (sighted[a] && sighted[b]) add_tape(a, b);
    }

    void add_sight(std::size_t m, Way way, double rod, const measure::Instrument& instrument,
                   double share, double index_sign) {
        const UsedMark& mark = marks_[m];
        station::LayTarget target;
        target.east_m = mark.given_m.x() + setup_.origin_m.x();
        target.north_m = mark.given_m.y() + setup_.origin_m.y();
        const bool with_height = setup_.has_height && mark.has_height;
        if (with_height) target.height_m = mark.given_m.z() + setup_.origin_m.z();
        measure::Instrument finer = instrument;
        finer.angle_sd_rad /= std::sqrt(share);
        finer.distance_sd_m /= std::sqrt(share);
        finer.marking_m = 0.0;
        const station::LayModel lay = station::lay_model(working_.pose, target, finer, rod);
        Candidate c;
        c.what = {way, mark.name, {}, 0.0};
        c.rows = with_height ? 3 : 2;
        c.by_state = -lay.by_state;
        c.by_state.col(station::state_index) *= index_sign;
        c.mark_a = static_cast<int>(m);
        c.by_mark_a.setIdentity();
        c.own = lay.own;
        if (!with_height) {
            c.by_state.row(2).setZero();
            c.by_mark_a(2, 2) = 0.0;
        }
        candidates_.push_back(c);
    }

    void add_tape(std::size_t a, std::size_t b) {
        if (!marks_[a].has_plan || !marks_[b].has_plan) return;
        const Eigen::Vector3d apart = marks_[b].given_m - marks_[a].given_m;
        const double length = apart.head<2>().norm();
        if (length < 1e-3) return;
        Candidate c;
        c.what = {Way::tape, marks_[a].name, marks_[b].name, 0.0};
        c.rows = 1;
        c.mark_a = static_cast<int>(a);
        c.mark_b = static_cast<int>(b);
        c.by_mark_a.row(0).head<2>() = -apart.head<2>().transpose() / length;
        c.by_mark_b.row(0).head<2>() = apart.head<2>().transpose() / length;
        c.own(0, 0) = kTape_m * kTape_m;
        candidates_.push_back(c);
    }

    void prepare_held() {
        const auto n = static_cast<Eigen::Index>(model_.rows.size());
        for (const Held* held : held_) {
            Eigen::MatrixXd b = Eigen::MatrixXd::Zero(n, 3);
            for (std::size_t k = 0; k < held->pattern.rows.size(); ++k)
                b.row(held->pattern.rows[k]) = held->pattern.by_amount[k].transpose();
            prepared_.push_back(
                infer::fit_flat(infer::weight_with_amounts(model_.weight, b, held->sd),
                                model_.by_pose.leftCols(model_.pose_size), model_.misfit));
        }
    }

    /// Amount of the cause in the new figures.
    Eigen::Matrix3d by_amount(const Held& held, const Candidate& c) const {
        Eigen::Matrix3d out = Eigen::Matrix3d::Zero();
        switch (held.cause) {
            case Cause::mark_moved:
                if (held.pattern.mark == c.mark_a) out.leftCols<2>() += c.by_mark_a.leftCols<2>();
                if (held.pattern.mark == c.mark_b) out.leftCols<2>() += c.by_mark_b.leftCols<2>();
                break;
            case Cause::mark_height_changed:
                if (held.pattern.mark == c.mark_a) out.col(0) += c.by_mark_a.col(2);
                break;
            default:
                for (int k = 0; k < held.pattern.columns; ++k) {
                    const int state = held.pattern.state[static_cast<std::size_t>(k)];
                    if (state >= 0) out.col(k) = c.by_state.col(state);
                }
        }
        return out;
    }

    Predicted predict(std::size_t k, const Candidate& c) const {
        const Held& held = *held_[k];
        if (held.other_names) return predict_elsewhere(held, c);
        const infer::FlatFit& w = prepared_[k];
        const auto n = static_cast<Eigen::Index>(model_.rows.size());
        // Covariance of the new figures' sheet errors and amount with the old misfits: 3 × n.
        Eigen::MatrixXd cross = Eigen::MatrixXd::Zero(3, n);
        Eigen::Matrix3d own = c.own;
        const auto add_mark = [&](int mark, const Eigen::Matrix3d& by_mark) {
            if (mark < 0) return;
            const Eigen::Vector3d variance =
                marks_[static_cast<std::size_t>(mark)].sd_m.cwiseAbs2();
            own += by_mark * variance.asDiagonal() * by_mark.transpose();
            for (Eigen::Index r = 0; r < n; ++r) {
                const auto& row = model_.rows[static_cast<std::size_t>(r)];
                if (row.mark == mark)
                    cross.col(r) += by_mark * variance.cwiseProduct(row.by_target);
            }
        };
        add_mark(c.mark_a, c.by_mark_a);
        add_mark(c.mark_b, c.by_mark_b);
        const Eigen::Matrix3d amount = by_amount(held, c);
        const Eigen::Vector3d variance = held.sd.cwiseAbs2();
        own += amount * variance.asDiagonal() * amount.transpose();
        for (std::size_t r = 0; r < held.pattern.rows.size(); ++r)
            cross.col(held.pattern.rows[r]) +=
                amount * variance.cwiseProduct(held.pattern.by_amount[r]);

        const Eigen::MatrixXd by_pose = c.by_state.leftCols(model_.pose_size);
        const Eigen::MatrixXd cw = cross * w.weight;
        const Eigen::MatrixXd net = by_pose - cross * w.weighted;
        const Eigen::Matrix3d known_pose = own - cw * cross.transpose();
        Predicted out;
        out.mean = by_pose * w.estimate + cross * w.left;
        finish(out, known_pose, known_pose + net * w.covariance * net.transpose(), c.rows);
        return out;
    }

    /// With names exchanged the station stands elsewhere.
    Predicted predict_elsewhere(const Held& held, const Candidate& c) const {
        Eigen::Matrix3d own = c.own;
        const auto add = [&](int mark, const Eigen::Matrix3d& by_mark) {
            if (mark >= 0)
                own += by_mark *
                       marks_[static_cast<std::size_t>(mark)].sd_m.cwiseAbs2().asDiagonal() *
                       by_mark.transpose();
        };
        add(c.mark_a, c.by_mark_a);
        add(c.mark_b, c.by_mark_b);
        Predicted out;
        if (c.mark_b < 0) {
            // A swapped pair is sighted where the other one stands; a single slip is not repeated.
            int stands = c.mark_a;
            if (held.cause == Cause::names_swapped) {
                if (stands == held.mark_a) {
                    stands = held.mark_b;
                } else if (stands == held.mark_b) {
                    stands = held.mark_a;
                }
            }
            const Eigen::Vector3d there =
                marks_[static_cast<std::size_t>(stands)].given_m + setup_.origin_m;
            const Eigen::Vector2d to = (there - held.pose.position_m).head<2>();
            const double turn =
                measure::wrap_pi(working_.pose.orientation_rad - held.pose.orientation_rad);
            const double azimuth = std::atan2(to.x(), to.y()) + turn;
            const Eigen::Vector3d seen =
                working_.pose.position_m + Eigen::Vector3d(to.norm() * std::sin(azimuth),
                                                           to.norm() * std::cos(azimuth),
                                                           there.z() - held.pose.position_m.z());
            out.mean =
                seen - (marks_[static_cast<std::size_t>(c.mark_a)].given_m + setup_.origin_m);
            if (c.rows < 3) out.mean.z() = 0.0;
            out.mean = out.mean.cwiseMax(-kFar_m).cwiseMin(kFar_m);
        } else if (held.cause == Cause::names_swapped) {
            // The tape tells the true names apart where it joins one of them to a third mark.
            const auto stands = [&](int mark) {
                return mark == held.mark_a ? held.mark_b : mark == held.mark_b ? held.mark_a : mark;
            };
            const auto at = [&](int mark) {
                return Eigen::Vector2d(marks_[static_cast<std::size_t>(mark)].given_m.head<2>());
            };
            out.mean[0] = (at(stands(c.mark_b)) - at(stands(c.mark_a))).norm() -
                          (at(c.mark_b) - at(c.mark_a)).norm();
        }
        const Eigen::Matrix<double, 3, 4> by_pose = c.by_state.leftCols<4>();
        finish(out, own, own + by_pose * held.pose_covariance * by_pose.transpose(), c.rows);
        return out;
    }

    static void finish(Predicted& out, const Eigen::Matrix3d& known_pose,
                       const Eigen::Matrix3d& covariance, int rows) {
        // Rows that the candidate does not have are set apart with a unit variance.
        Eigen::Matrix3d a = covariance;
        Eigen::Matrix3d b = known_pose;
        for (int i = rows; i < 3; ++i) {
            a.row(i).setZero();
            a.col(i).setZero();
            b.row(i).setZero();
            b.col(i).setZero();
            a(i, i) = b(i, i) = 1.0;
            out.mean[i] = 0.0;
        }
        out.covariance = a;
        out.inverse = a.inverse();
        out.log_det = log_det(a, 3);
        out.log_det_known_pose = log_det(b, 3);
    }

    double gain(const Candidate& c) const {
        std::vector<Predicted> predicted;
        std::vector<double> weights;
        for (std::size_t k = 0; k < held_.size(); ++k) {
            if (!held_[k]->other_names && !prepared_[k].is_usable) continue;
            predicted.push_back(predict(k, c));
            weights.push_back(weights_[k]);
            const Predicted& p = predicted.back();
            if (!p.mean.allFinite() || !p.inverse.allFinite() || !std::isfinite(p.log_det) ||
                !std::isfinite(p.log_det_known_pose)) {
                predicted.pop_back();
                weights.pop_back();
            }
        }
        double total = 0.0;
        for (const double w : weights) total += w;
        if (total <= 0.0) return 0.0;
        double nats = 0.0;
        for (std::size_t i = 0; i < predicted.size(); ++i) {
            double near = 0.0;
            for (std::size_t j = 0; j < predicted.size(); ++j) {
                const Eigen::Vector3d d = predicted[i].mean - predicted[j].mean;
                const double kl = 0.5 * ((predicted[j].inverse * predicted[i].covariance).trace() -
                                         3.0 + d.dot(predicted[j].inverse * d) +
                                         predicted[j].log_det - predicted[i].log_det);
                near += weights[j] / total * std::exp(-std::max(kl, 0.0));
            }
            nats +=
                weights[i] / total *
                (-std::log(near) + 0.5 * (predicted[i].log_det - predicted[i].log_det_known_pose));
        }
        return std::max(0.0, nats) / std::log(2.0);
    }

    const Prepared& setup_;
    const Working& working_;
    const MisfitModel& model_;
    std::vector<UsedMark> marks_;
    std::vector<const Held*> held_;
    std::vector<double> weights_;
    std::vector<infer::FlatFit> prepared_;  ///< of each explanation
    std::vector<Candidate> candidates_;
};

}  // namespace

std::vector<NextSight> rank_next_sights(const Prepared& setup, const Diagnosis& diagnosis,
                                        const std::vector<UsedMark>& others, const Entry* among) {
    if (!diagnosis.working) return {};
    return Ranking(setup, *diagnosis.working, others, among).run();
}

}  // namespace layproof::cause

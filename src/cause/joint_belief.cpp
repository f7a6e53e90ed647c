#include "cause/joint_belief.hpp"

#include <cmath>

#include "cause/working_internal.hpp"
#include "infer/flat_unknowns.hpp"
#include "measure/angle.hpp"

namespace layproof::cause {
namespace {

using Held = Working::Held;

class Joiner {
public:
    Joiner(const station::Prepared& setup, const Diagnosis& diagnosis, const station::Pose& nominal)
        : setup_(setup), diagnosis_(diagnosis), nominal_(nominal) {
        size_ = station::kStateSize + 3 * static_cast<Eigen::Index>(setup.marks.size());
    }

    JointBeliefs run() {
        JointBeliefs out;
        for (const auto& mark : setup_.marks) out.marks.push_back(mark.name);
        double kept = 0.0;
        if (diagnosis_.working != nullptr) {
            for (const Held& held : diagnosis_.working->held) {
                if (held.other_names) {
                    out.elsewhere += held.weight;
                    continue;
                }
                JointBelief belief;
                if (!join(held, belief)) continue;
                kept += belief.weight;
                out.beliefs.push_back(std::move(belief));
            }
        }
        if (out.beliefs.empty()) {
            for (const auto& b : diagnosis_.beliefs) out.beliefs.push_back(apart(b));
            return out;
        }
        for (JointBelief& belief : out.beliefs) belief.weight /= kept;
        out.elsewhere /= kept + out.elsewhere;
        return out;
    }

private:
    JointBelief apart(const station::Belief& belief) const {
        JointBelief out;
        out.weight = belief.weight;
        out.mean = Eigen::VectorXd::Zero(size_);
        out.covariance = Eigen::MatrixXd::Zero(size_, size_);
        out.mean.head<station::kStateSize>() = belief.mean;
        out.covariance.topLeftCorner<station::kStateSize, station::kStateSize>() =
            belief.covariance;
        for (std::size_t m = 0; m < setup_.marks.size(); ++m)
            for (int k = 0; k < 3; ++k) {
                const Eigen::Index at = station::kStateSize + 3 * static_cast<Eigen::Index>(m) + k;
                out.covariance(at, at) = setup_.marks[m].sd_m[k] * setup_.marks[m].sd_m[k];
            }
        return out;
    }

    bool join(const Held& held, JointBelief& out) const {
        const station::MisfitModel& model = diagnosis_.working->model;
        const auto n = static_cast<Eigen::Index>(model.rows.size());
        const int u = model.pose_size;
        const auto marks = static_cast<Eigen::Index>(setup_.marks.size());
        const Eigen::Index unknowns = 3 + 3 * marks;  // amounts, then marks

        Eigen::MatrixXd b = Eigen::MatrixXd::Zero(n, 3);
        Eigen::VectorXd y = model.misfit;
        for (std::size_t k = 0; k < held.pattern.rows.size(); ++k) {
            b.row(held.pattern.rows[k]) = held.pattern.by_amount[k].transpose();
            if (!held.pattern.row_change.empty())
                y[held.pattern.rows[k]] += held.pattern.row_change[k];
        }
        const infer::FlatFit fit = infer::fit_flat(
            infer::weight_with_amounts(model.weight, b, held.sd), model.by_pose.leftCols(u), y);
        if (!fit.is_usable) return false;

        const Eigen::Vector3d amounts = held.sd.cwiseAbs2();
        Eigen::MatrixXd prior = Eigen::MatrixXd::Zero(unknowns, unknowns);
        Eigen::MatrixXd cross = Eigen::MatrixXd::Zero(unknowns, n);
        prior.topLeftCorner<3, 3>() = amounts.asDiagonal();
        cross.topRows<3>() = amounts.asDiagonal() * b.transpose();
        for (Eigen::Index r = 0; r < n; ++r) {
            const auto& row = model.rows[static_cast<std::size_t>(r)];
            const Eigen::Vector3d variance =
                setup_.marks[static_cast<std::size_t>(row.mark)].sd_m.cwiseAbs2();
            cross.col(r).segment<3>(3 + 3 * row.mark) = variance.cwiseProduct(row.by_target);
        }
        for (Eigen::Index m = 0; m < marks; ++m)
            prior.diagonal().segment<3>(3 + 3 * m) =
                setup_.marks[static_cast<std::size_t>(m)].sd_m.cwiseAbs2();

        const Eigen::MatrixXd& q = fit.covariance;
        const Eigen::MatrixXd cwa = cross * fit.weighted;  // unknowns × u

        // Pose first, then amounts and marks.
        const Eigen::Index all = 4 + unknowns;
        Eigen::VectorXd mean = Eigen::VectorXd::Zero(all);
        Eigen::MatrixXd covariance = Eigen::MatrixXd::Zero(all, all);
        mean.head(u) = fit.estimate;
        mean.tail(unknowns) = cross * fit.left;
        covariance.topLeftCorner(u, u) = q;
        covariance.block(4, 0, unknowns, u) = -cwa * q;
        covariance.block(0, 4, u, unknowns) = covariance.block(4, 0, unknowns, u).transpose();
        covariance.bottomRightCorner(unknowns, unknowns) =
            prior - cross * fit.weight * cross.transpose() + cwa * q * cwa.transpose();

        // What each amount does to state and marks.
        Eigen::MatrixXd to = Eigen::MatrixXd::Zero(size_, all);
        to.topLeftCorner<4, 4>().setIdentity();
        to.bottomRightCorner(3 * marks, 3 * marks).setIdentity();
        for (int c = 0; c < held.pattern.columns; ++c) {
            const int state = held.pattern.state[static_cast<std::size_t>(c)];
            if (state >= 0) to(state, 4 + c) += 1.0;
            const Eigen::Index at = station::kStateSize + 3 * held.pattern.mark;
            if (held.cause == Cause::mark_moved) to(at + c, 4 + c) += 1.0;
            if (held.cause == Cause::mark_height_changed) to(at + 2, 4 + c) += 1.0;
        }
        out.weight = held.weight;
        out.mean = to * mean;
        out.covariance = to * covariance * to.transpose();
        const Eigen::Vector3d moved = diagnosis_.working->pose.position_m - nominal_.position_m;
        out.mean[station::state_east] += moved.x();
        out.mean[station::state_north] += moved.y();
        if (setup_.has_height) out.mean[station::state_height] += moved.z();
        out.mean[station::state_orientation] +=
            measure::wrap_pi(diagnosis_.working->pose.orientation_rad - nominal_.orientation_rad);
        return out.mean.allFinite() && out.covariance.allFinite();
    }

    const station::Prepared& setup_;
    const Diagnosis& diagnosis_;
    const station::Pose& nominal_;
    Eigen::Index size_ = 0;
};

}  // namespace

JointBeliefs joint_beliefs(const station::Prepared& setup, const Diagnosis& diagnosis,
                           const station::Pose& nominal) {
    return Joiner(setup, diagnosis, nominal).run();
}

}  // namespace layproof::cause

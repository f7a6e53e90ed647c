#include "lay/common_marks.hpp"

#include <algorithm>
#include <cstddef>

namespace layproof::lay {
namespace {

using station::MisfitModel;

/// ∂(pose estimate)/∂(error of one mark), pose in the order of the state.
Eigen::Matrix<double, 4, 3> by_mark(const MisfitModel& model, int mark) {
    Eigen::Matrix<double, 4, 3> out = Eigen::Matrix<double, 4, 3>::Zero();
    for (std::size_t r = 0; r < model.rows.size(); ++r) {
        if (model.rows[r].mark != mark) continue;
        out += model.pose_from_misfit.col(static_cast<Eigen::Index>(r)).head(4) *
               model.rows[r].by_target.transpose();
    }
    return out;
}

bool fits(const MisfitModel& model) {
    return model.usable && model.pose_from_misfit.rows() == 4 &&
           model.pose_from_misfit.cols() == static_cast<Eigen::Index>(model.rows.size()) &&
           model.pose_from_misfit.allFinite();
}

}  // namespace

std::optional<StateLink> link_through_marks(const PlacedSetup& first_setup, int first,
                                            const PlacedSetup& second_setup, int second) {
    if (!fits(first_setup.model) || !fits(second_setup.model)) return std::nullopt;
    StateLink out;
    out.first = first;
    out.second = second;
    const auto& marks = first_setup.prepared.marks;
    const auto& others = second_setup.prepared.marks;
    for (std::size_t i = 0; i < marks.size(); ++i) {
        const auto same = std::find_if(others.begin(), others.end(), [&](const auto& other) {
            return other.name == marks[i].name;
        });
        if (same == others.end()) continue;
        const Eigen::Vector3d variance = marks[i].sd_m.cwiseProduct(same->sd_m);
        out.covariance.topLeftCorner<4, 4>() +=
            by_mark(first_setup.model, static_cast<int>(i)) * variance.asDiagonal() *
            by_mark(second_setup.model, static_cast<int>(same - others.begin())).transpose();
    }
    return out;
}

}  // namespace layproof::lay

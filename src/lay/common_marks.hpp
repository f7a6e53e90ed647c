#pragma once
// How the states of two set-ups hang together: through the marks that both were placed by.
//
// In the misfit model of a set-up (station/misfit_model.hpp) the pose error is s = −P (μ + ν), P
// the matrix pose_from_misfit, μ the errors of the marks, ν those of the sights. Sights of two
// set-ups are independent, marks are the same, so with G_k = P_k · ∂y/∂μ
//     cov(s_k, s_l) = Σ over common marks of G_k,m C_m G_l,mᵀ,
// C_m the sheet's covariance of the mark. Exact when nothing is wrong; kept when something is,
// because a cause adds to a state's covariance and takes nothing from what its marks share.

#include "lay/mixture.hpp"
#include "station/misfit_model.hpp"
#include "station/prepared.hpp"

namespace layproof::lay {

/// A set-up with its misfit model at the reported pose.
struct PlacedSetup {
    const station::Prepared& prepared;
    const station::MisfitModel& model;
};

/// The link between two set-ups, whose numbers in the list of set-ups are `first` and `second`.
/// Marks are matched by name. Nothing when a model is not usable: then nothing is known about it.
std::optional<StateLink> link_through_marks(const PlacedSetup& first_setup, int first,
                                            const PlacedSetup& second_setup, int second);

}  // namespace layproof::lay

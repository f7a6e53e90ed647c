#pragma once
// Repeated sights to one target from one set-up, put together.

#include <optional>
#include <span>

#include "measure/sight_model.hpp"

namespace layproof::measure {

/// Target heights that differ by no more count as one height.
inline constexpr double kSameTargetHeight_m = 1e-4;

/// Weighted mean of repeated sights and its covariance: the best linear unbiased estimate with each
/// sight's full block,
///   C = (Σ Cᵢ⁻¹)⁻¹,  x = C Σ Cᵢ⁻¹ xᵢ,
/// as differences from the first, so 0/360° does no harm. n equal sights give 1/n of the variance.
/// The sights are independent in everything, the plumbing of the rod too (it was set up anew). The
/// mark's own error is no part of a sight and so stays common to them.
/// A part counts where it was observed; the covariance of a part that no sight observed is the
/// first sight's, without links. When a covariance cannot be inverted (an instrument without
/// errors) all sights get equal weight. pointings and rounds are their sums, face_balance
/// their mean by pointings.
/// Nothing when empty, when a value is not finite, when target heights differ by more than
/// kSameTargetHeight_m, or when slope and horizontal distances are mixed.
std::optional<ReducedSight> mean_of_repeats(std::span<const ReducedSight> sights);

}  // namespace layproof::measure

#pragma once
// The distribution of anything linear in several laid points, over all that may be wrong with the
// set-ups they were laid from.
//
// A quantity is q = value − Σ_k M_k s_k − ε: M_k its derivative by the state of set-up k, ε what is
// independent of the set-ups. Each set-up believes one of several things, each normal; with one
// choice for each set-up q is normal with
//     mean value − Σ M_k m_k,   covariance E + Σ M_k Σ_k M_kᵀ + Σ_{k≠l} M_k X_kl M_lᵀ.
// What is believed of one set-up is taken as independent of what is believed of another.
//
// X_kl is the covariance between the states of two set-ups: through marks they share, and nothing
// else (common_marks.hpp computes it). Where it is not given, nothing is assumed about it: the
// covariance is then widened to what holds for any link, (Σ_k σ_k)² for one figure (Cauchy-Schwarz)
// and n Σ M_k Σ_k M_kᵀ for several, n the number of set-ups in question.
//
// Choices below 1e-7 are left out; their sum is `left_out`, so that no probability is claimed for
// them.

#include <Eigen/Core>
#include <span>
#include <vector>

#include "lay/as_laid.hpp"

namespace layproof::lay {

/// Covariance between the states of set-ups `first` (rows) and `second` (columns).
struct StateLink {
    int first = -1;
    int second = -1;
    station::StateCovariance covariance = station::StateCovariance::Zero();
};

/// Set-ups and their links. A pair of set-ups that has no entry in `links` is not known to be
/// independent; one that is gets a link of zeros.
struct SetupSet {
    std::vector<LaySetup> setups;
    std::vector<StateLink> links;
};

/// Up to three figures.
using Figures = Eigen::Matrix<double, Eigen::Dynamic, 1, 0, 3, 1>;
using FigureCovariance = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, 0, 3, 3>;
using FiguresByState =
    Eigen::Matrix<double, Eigen::Dynamic, station::kStateSize, 0, 3, station::kStateSize>;
using FiguresByPlace = Eigen::Matrix<double, Eigen::Dynamic, 3, 0, 3, 3>;

struct QuantityShare {
    int setup = -1;
    FiguresByState by_state;
};

struct Quantity {
    Figures value;
    std::vector<QuantityShare> shares;  ///< one per set-up
    FigureCovariance own;
};

/// A place in a quantity, and the quantity's derivative by it.
struct PlaceTerm {
    const LaidPlace* place = nullptr;
    FiguresByPlace by_place;
};

/// The quantity with this value at the places as sighted. The places' own errors are independent;
/// one place must not stand in two terms.
Quantity quantity_of(const Figures& value, std::span<const PlaceTerm> terms);

struct Component {
    double weight = 1.0;
    Figures mean;
    FigureCovariance covariance;
};

struct Mixture {
    std::vector<Component> components;  ///< most probable first
    double left_out = 0.0;
    bool is_widened = false;  ///< a link was not given

    Figures mean() const;
    /// Of the whole: between the components and within them.
    FigureCovariance covariance() const;
};

/// A share of a set-up that is not in the list leaves everything out: no component.
Mixture mixture_of(const Quantity& quantity, const SetupSet& setups);

/// Covariance of all places together, 3 × 3 blocks in their order, over all beliefs. A link that is
/// not given counts as none here; mixture_of is what verdicts use.
Eigen::MatrixXd joint_covariance(std::span<const LaidPlace> places, const SetupSet& setups);

}  // namespace layproof::lay

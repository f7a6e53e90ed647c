#include "lay/mixture.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>

namespace layproof::lay {
namespace {

using station::Belief;
using station::kStateSize;
using station::StateCovariance;

constexpr double kLeastWeight = 1e-7;

const StateLink* link_between(const SetupSet& set, int a, int b) {
    for (const StateLink& link : set.links) {
        if ((link.first == a && link.second == b) || (link.first == b && link.second == a)) {
            return &link;
        }
    }
    return nullptr;
}

/// M_k X_kl M_lᵀ with the link turned the right way.
FigureCovariance linked(const QuantityShare& k, const QuantityShare& l, const StateLink& link) {
    if (link.first == k.setup) {
        return k.by_state * link.covariance * l.by_state.transpose();
    }
    return k.by_state * link.covariance.transpose() * l.by_state.transpose();
}

struct Choice {
    double weight = 1.0;
    std::vector<std::size_t> beliefs;  ///< one per share
};

/// All choices of one belief for each share, without those that cannot reach the least weight.
std::vector<Choice> choices_of(const Quantity& quantity, const SetupSet& set, double& left_out) {
    std::vector<Choice> choices{Choice{}};
    for (const QuantityShare& share : quantity.shares) {
        // A set-up that is not in the list is one of which nothing is believed.
        if (share.setup < 0 || share.setup >= static_cast<int>(set.setups.size())) {
            left_out = 1.0;
            return {};
        }
        const auto& beliefs = set.setups[static_cast<std::size_t>(share.setup)].beliefs;
        std::vector<Choice> next;
        for (const Choice& choice : choices) {
            for (std::size_t b = 0; b < beliefs.size(); ++b) {
                const double weight = choice.weight * beliefs[b].weight;
                if (!(weight >= kLeastWeight)) continue;
                next.push_back({weight, choice.beliefs});
                next.back().beliefs.push_back(b);
            }
        }
        choices = std::move(next);
    }
    double kept = 0.0;
    for (const Choice& choice : choices) kept += choice.weight;
    left_out = std::clamp(1.0 - kept, 0.0, 1.0);
    // Weights that sum to one within rounding leave nothing out.
    if (left_out < 1e-12) left_out = 0.0;
    std::stable_sort(choices.begin(), choices.end(),
                     [](const Choice& a, const Choice& b) { return a.weight > b.weight; });
    return choices;
}

}  // namespace

Quantity quantity_of(const Figures& value, std::span<const PlaceTerm> terms) {
    Quantity out;
    out.value = value;
    out.own = FigureCovariance::Zero(value.size(), value.size());
    for (const PlaceTerm& term : terms) {
        out.own += term.by_place * term.place->noise() * term.by_place.transpose();
        for (const SetupShare& share : term.place->shares) {
            const FiguresByState by_state = term.by_place * share.by_state;
            const auto known =
                std::find_if(out.shares.begin(), out.shares.end(),
                             [&](const QuantityShare& s) { return s.setup == share.setup; });
            if (known == out.shares.end()) {
                out.shares.push_back({share.setup, by_state});
            } else {
                known->by_state += by_state;
            }
        }
    }
    return out;
}

Mixture mixture_of(const Quantity& quantity, const SetupSet& set) {
    Mixture out;
    const auto& shares = quantity.shares;
    FigureCovariance fixed = quantity.own;
    for (std::size_t k = 0; k < shares.size(); ++k) {
        for (std::size_t l = 0; l < k; ++l) {
            const StateLink* link = link_between(set, shares[k].setup, shares[l].setup);
            if (link == nullptr) {
                out.is_widened = true;
                continue;
            }
            const FigureCovariance cross = linked(shares[k], shares[l], *link);
            fixed += cross + cross.transpose();
        }
    }
    const auto count = static_cast<double>(shares.size());
    for (const Choice& choice : choices_of(quantity, set, out.left_out)) {
        Component component{choice.weight, quantity.value, fixed};
        double sd_sum = 0.0;
        FigureCovariance states = FigureCovariance::Zero(fixed.rows(), fixed.cols());
        for (std::size_t k = 0; k < shares.size(); ++k) {
            const Belief& belief =
                set.setups[static_cast<std::size_t>(shares[k].setup)].beliefs[choice.beliefs[k]];
            component.mean -= shares[k].by_state * belief.mean;
            const FigureCovariance one =
                shares[k].by_state * belief.covariance * shares[k].by_state.transpose();
            states += one;
            sd_sum += std::sqrt(std::max(one(0, 0), 0.0));
        }
        if (out.is_widened) {
            states = states.rows() == 1 ? FigureCovariance::Constant(1, 1, sd_sum * sd_sum).eval()
                                        : (count * states).eval();
        }
        component.covariance += states;
        for (Eigen::Index i = 0; i < component.covariance.rows(); ++i) {
            component.covariance(i, i) = std::max(component.covariance(i, i), 0.0);
        }
        out.components.push_back(std::move(component));
    }
    return out;
}

Figures Mixture::mean() const {
    if (components.empty()) return {};
    Figures sum = Figures::Zero(components.front().mean.size());
    double total = 0.0;
    for (const Component& c : components) {
        sum += c.weight * c.mean;
        total += c.weight;
    }
    return sum / total;
}

FigureCovariance Mixture::covariance() const {
    if (components.empty()) return {};
    const Figures centre = mean();
    FigureCovariance sum = FigureCovariance::Zero(centre.size(), centre.size());
    double total = 0.0;
    for (const Component& c : components) {
        const Figures from = c.mean - centre;
        sum += c.weight * (c.covariance + from * from.transpose());
        total += c.weight;
    }
    return sum / total;
}

Eigen::MatrixXd joint_covariance(std::span<const LaidPlace> places, const SetupSet& set) {
    const auto n = static_cast<Eigen::Index>(places.size());
    std::vector<StateMoments> moments;
    moments.reserve(set.setups.size());
    for (const LaySetup& setup : set.setups) moments.push_back(moments_of(setup.beliefs));
    Eigen::MatrixXd out = Eigen::MatrixXd::Zero(3 * n, 3 * n);
    for (Eigen::Index i = 0; i < n; ++i) {
        const LaidPlace& a = places[static_cast<std::size_t>(i)];
        out.block<3, 3>(3 * i, 3 * i) += a.noise();
        for (Eigen::Index j = 0; j <= i; ++j) {
            Eigen::Matrix3d block = Eigen::Matrix3d::Zero();
            for (const SetupShare& k : a.shares) {
                for (const SetupShare& l : places[static_cast<std::size_t>(j)].shares) {
                    if (k.setup == l.setup && k.setup >= 0 &&
                        k.setup < static_cast<int>(moments.size())) {
                        block += k.by_state *
                                 moments[static_cast<std::size_t>(k.setup)].covariance *
                                 l.by_state.transpose();
                    } else if (const StateLink* link = link_between(set, k.setup, l.setup)) {
                        block += linked({k.setup, k.by_state}, {l.setup, l.by_state}, *link);
                    }
                }
            }
            out.block<3, 3>(3 * i, 3 * j) += block;
            if (i != j) out.block<3, 3>(3 * j, 3 * i) += block.transpose();
        }
    }
    return out;
}

}  // namespace layproof::lay

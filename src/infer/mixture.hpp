#pragma once
// Mixtures of normal beliefs: putting two together, keeping few, leaving out what is too
// improbable to matter.
//
// A belief is any type with `weight`, `mean` (a vector) and `covariance`. Two put together have the
// mean and the covariance of the two as a mixture,
//     m = (1 − s) m₁ + s m₂,  C = (1 − s) C₁ + s C₂ + s (1 − s)(m₂ − m₁)(m₂ − m₁)ᵀ,  s = w₂/(w₁ +
//     w₂)
// (textbook), in any order, without the cancellation of E[x²] − E[x]².

#include <Eigen/Core>
#include <algorithm>
#include <cstddef>
#include <utility>
#include <vector>

namespace layproof::infer {

/// A normal with its weight in a mixture; as a sum to put others into it starts with weight 0.
template <int N>
struct Normal {
    double weight = 0.0;
    Eigen::Matrix<double, N, 1> mean = Eigen::Matrix<double, N, 1>::Zero();
    Eigen::Matrix<double, N, N> covariance = Eigen::Matrix<double, N, N>::Zero();
};

/// Puts `more` into `into`. Weights that sum to nothing leave `into` as it is.
template <class A, class B>
void put_together(A& into, const B& more) {
    const double total = into.weight + more.weight;
    if (!(total > 0.0)) return;
    const double share = more.weight / total;
    const auto apart = (more.mean - into.mean).eval();
    into.covariance = ((1.0 - share) * into.covariance + share * more.covariance +
                       share * (1.0 - share) * apart * apart.transpose())
                          .eval();
    into.mean += share * apart;
    into.weight = total;
}

/// Makes the weights sum to one; all zero stay zero.
template <class T>
void normalise(std::vector<T>& beliefs) {
    double total = 0.0;
    for (const T& belief : beliefs) total += belief.weight;
    if (!(total > 0.0)) return;
    for (T& belief : beliefs) belief.weight /= total;
}

template <class T>
void most_probable_first(std::vector<T>& beliefs) {
    std::stable_sort(beliefs.begin(), beliefs.end(),
                     [](const T& a, const T& b) { return a.weight > b.weight; });
}

/// The most probable `most` − 1 beliefs and the rest put together as one; weights sum to one.
template <class T>
std::vector<T> condense(std::vector<T> beliefs, int most) {
    most_probable_first(beliefs);
    normalise(beliefs);
    const auto keep = static_cast<std::size_t>(std::max(most, 1));
    if (beliefs.size() <= keep) return beliefs;
    for (std::size_t i = keep; i < beliefs.size(); ++i) put_together(beliefs[keep - 1], beliefs[i]);
    beliefs.resize(keep);
    if (!(beliefs.back().weight > 0.0)) beliefs.pop_back();
    return beliefs;
}

/// Most probable first; one that weighs less than `may_merge` is put together with the first before
/// it that `is_near` it.
template <class T, class IsNear>
std::vector<T> merge_near(std::vector<T> beliefs, double may_merge, IsNear is_near) {
    most_probable_first(beliefs);
    std::vector<T> out;
    for (T& belief : beliefs) {
        const auto near = belief.weight < may_merge
                              ? std::find_if(out.begin(), out.end(),
                                             [&](const T& other) { return is_near(belief, other); })
                              : out.end();
        if (near == out.end()) {
            out.push_back(std::move(belief));
        } else {
            put_together(*near, belief);
        }
    }
    return out;
}

}  // namespace layproof::infer

#pragma once
// Nodes and weights of Gauss–Legendre quadrature on [−1, 1], by Newton's method on the Legendre
// recurrence from the usual cosine start (textbook, from memory). Exact for polynomials of degree
// 2N − 1; nodes good to 1e-15.

#include <array>
#include <cmath>
#include <cstddef>
#include <numbers>

namespace layproof::frame {

template <std::size_t N>
struct GaussLegendre {
    std::array<double, N> node{};
    std::array<double, N> weight{};

    GaussLegendre() {
        for (std::size_t i = 0; i < N; ++i) {
            double x = std::cos(std::numbers::pi * (static_cast<double>(i) + 0.75) /
                                (static_cast<double>(N) + 0.5));
            double slope = 1.0;
            for (int step = 0; step < 8; ++step) {
                double before = 1.0;
                double value = x;
                for (std::size_t k = 2; k <= N; ++k) {
                    const auto n = static_cast<double>(k);
                    const double next = ((2.0 * n - 1.0) * x * value - (n - 1.0) * before) / n;
                    before = value;
                    value = next;
                }
                slope = static_cast<double>(N) * (x * value - before) / (x * x - 1.0);
                x -= value / slope;
            }
            node[i] = x;
            weight[i] = 2.0 / ((1.0 - x * x) * slope * slope);
        }
    }
};

}  // namespace layproof::frame

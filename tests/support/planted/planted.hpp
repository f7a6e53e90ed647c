#pragma once
// Faults that a run under sanitizers must see. Built under LAYPROOF_SANITIZE only.
//
// The templates are used by a room made for this (planted.cpp) and by the test of it, as those of
// the product are by a room and its tests: of the two copies the linker keeps one, and that one has
// to be instrumented and to assert.

#include <Eigen/Core>
#include <cassert>
#include <cstddef>

namespace layproof::planted {

template <typename T>
[[gnu::noipa]] T read(const T* from, std::size_t at) {
    return from[at];
}

template <typename T>
[[gnu::noipa]] T sum(T a, T b) {
    return a + b;
}

template <typename T>
[[gnu::noipa]] T claimed(T value) {
    assert(value > T{0});
    return value;
}

template <typename T>
[[gnu::noipa]] T entry(const Eigen::Matrix<T, Eigen::Dynamic, 1>& of, Eigen::Index at) {
    return of(at);
}

/// Uses all of them without a fault.
int room_without_fault();

}  // namespace layproof::planted

#include "vet/list_function_internal.hpp"

#include <gtest/gtest.h>

#include <array>

#include "adjust/jacobian_check.hpp"

namespace layproof::vet::internal {
namespace {

constexpr double kAgrees = 1e-8;  // of the row's largest derivative, see jacobian_check.hpp

template <class... Blocks>
double worst(const adjust::ObservationFunction& function, int size, const Blocks&... blocks) {
    const std::array<std::span<const double>, sizeof...(Blocks)> list{
        std::span<const double>(blocks)...};
    return adjust::check_jacobian(function, size, list).worst;
}

TEST(list_function, entry_with_every_amount_free_jacobian_agrees) {
    const std::vector<double> place{120.0, -40.0};
    const std::vector<double> amounts{0.3, 0.0002, 5.0, -7.0};
    EXPECT_LT(
        worst(ListFunction({118.0, -30.0}, {100.0, -50.0}, true, true, true), 2, place, amounts),
        kAgrees);
    const std::vector<double> shift{1.0, 2.0};
    EXPECT_LT(
        worst(ListFunction({118.0, -30.0}, {100.0, -50.0}, false, false, true), 2, place, shift),
        kAgrees);
}

}  // namespace
}  // namespace layproof::vet::internal

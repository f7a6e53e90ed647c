#include "vet/functions_internal.hpp"

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

TEST(vet_functions, list_entry_with_every_amount_free_jacobian_agrees) {
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

TEST(vet_functions, tape_level_and_slope_jacobians_agree) {
    const std::vector<double> a{0.0, 1.0}, b{20.0, -13.0}, low{1.0}, high{4.0};
    EXPECT_LT(worst(TapeFunction(24.0, 0.9998, false), 1, a, b), kAgrees);
    EXPECT_LT(worst(TapeFunction(24.0, 1.0, true), 1, a, b, low, high), kAgrees);
}

TEST(vet_functions, sight_with_and_without_height_jacobians_agree) {
    measure::ReducedSight sight;
    sight.has_direction = sight.has_zenith = sight.has_distance = true;
    sight.direction_rad = 0.7;
    sight.zenith_rad = 1.5;
    sight.distance_m = 40.0;
    sight.target_height_m = 1.5;
    const std::vector<double> pose{1.0, 2.0, 0.1}, mark{30.0, 25.0}, axes{3.0}, height{2.5};
    EXPECT_LT(worst(PolarFunction(sight, 0.9997, 0.13, true), 3, pose, mark, axes, height),
              kAgrees);
    sight.has_zenith = false;
    sight.distance_is_horizontal = true;
    EXPECT_LT(worst(PolarFunction(sight, 1.0, 0.13, false), 2, pose, mark), kAgrees);
}

}  // namespace
}  // namespace layproof::vet::internal

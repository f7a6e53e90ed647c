#include "watch/ground.hpp"

#include <gtest/gtest.h>

#include "measure/angle.hpp"

namespace layproof::watch {
namespace {

TEST(ground, words_there_and_back_agree) {
    for (const Ground g : {Ground::slab, Ground::soil, Ground::deck, Ground::steel})
        EXPECT_EQ(ground_from_word(to_word(g)), g);
    EXPECT_FALSE(ground_from_word("mud").has_value());
}

TEST(ground, variance_after_an_hour_is_the_square_of_the_rate) {
    const Eigen::Vector4d v = 3600.0 * variance_per_second(drift_rate(Ground::soil));
    EXPECT_NEAR(v[0], 1e-6, 1e-15);
    EXPECT_NEAR(v[1], 1e-6, 1e-15);
    EXPECT_NEAR(v[2], std::pow(8.0 * measure::kRadPerArcsec, 2), 1e-18);
    EXPECT_NEAR(v[3], 1e-6, 1e-15);
}

TEST(ground, slab_is_the_calmest) {
    const auto slab = drift_rate(Ground::slab);
    for (const Ground g : {Ground::soil, Ground::deck, Ground::steel}) {
        EXPECT_LT(slab.position_m, drift_rate(g).position_m);
        EXPECT_LT(slab.height_m, drift_rate(g).height_m);
        EXPECT_LT(slab.orientation_rad, drift_rate(g).orientation_rad);
    }
}

}  // namespace
}  // namespace layproof::watch

#include "measure/spread.hpp"

#include <gtest/gtest.h>

#include <array>
#include <vector>

#include "support/reference.hpp"

namespace layproof::measure {
namespace {

TEST(Spread, published_field_test_of_a_level) {
    const layproof::testing::Reference reference("level-field-test");
    const auto& back = *reference.input()["readings"]["back_m"].as_array();
    const auto& fore = *reference.input()["readings"]["fore_m"].as_array();
    ASSERT_EQ(back.size(), fore.size());
    std::vector<double> rises_m;
    for (std::size_t i = 0; i < back.size(); ++i) {
        rises_m.push_back(fore[i].value_or(0.0) - back[i].value_or(0.0));
    }
    const Spread spread = spread_of(rises_m);
    EXPECT_EQ(spread.count, 10);
    reference.check("mean", spread.mean);
    reference.check("sd", spread.sd.value_or(0.0) * 1000.0);
    reference.check("sd_of_mean", spread.sd_of_mean.value_or(0.0) * 1000.0);
}

TEST(Spread, few_values_have_no_deviation) {
    EXPECT_EQ(spread_of({}).count, 0);
    EXPECT_EQ(spread_of({}).mean, 0.0);
    EXPECT_FALSE(spread_of({}).sd);
    const std::array<double, 1> one{4.5};
    EXPECT_EQ(spread_of(one).mean, 4.5);
    EXPECT_FALSE(spread_of(one).sd || spread_of(one).sd_of_mean);
    const std::array<double, 2> same{4.5, 4.5};
    EXPECT_EQ(spread_of(same).sd, 0.0);
}

TEST(Spread, large_numbers_keep_small_spreads) {
    const std::array<double, 3> values{2000000.001, 2000000.002, 2000000.003};
    // The inputs themselves round to 2.3e-10.
    EXPECT_NEAR(*spread_of(values).sd, 0.001, 5e-10);
    EXPECT_NEAR(spread_of(values).mean, 2000000.002, 5e-10);
}

}  // namespace
}  // namespace layproof::measure

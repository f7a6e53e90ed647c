#include "lay/setting_out.hpp"

#include <gtest/gtest.h>

#include <limits>

#include "lay/lay_support.hpp"
#include "lay/tape.hpp"

namespace layproof::lay {
namespace {

using testing::design;

// 3-4-5: 30 m east and 40 m north of the station; without curvature (k = 1).
TEST(SettingOut, three_four_five_agrees) {
    station::Pose pose;
    pose.position_m << 100, 200, 51.5;
    pose.orientation_rad = 10.0 * measure::kRadPerDeg;
    const auto out = setting_out({pose, 1.5, 1.0, 1.0}, design("P", 130, 240, 50.0));
    ASSERT_TRUE(out.has_value());
    EXPECT_NEAR(out->azimuth_rad, std::atan2(3.0, 4.0), 1e-15);
    EXPECT_NEAR(*out->direction_rad, std::atan2(3.0, 4.0) - 10.0 * measure::kRadPerDeg, 1e-15);
    EXPECT_NEAR(out->horizontal_m, 50.0, 1e-12);
    EXPECT_NEAR(*out->height_difference_m, -1.5, 1e-12);
    EXPECT_NEAR(*out->zenith_rad, measure::kPi / 2, 1e-12);  // the rod as high as the axes
    EXPECT_NEAR(*out->slope_m, 50.0, 1e-12);
}

// Turning and going by the figures must bring a sight that puts the point on its design.
TEST(SettingOut, sight_at_the_figures_is_as_laid_on_the_design) {
    const auto p = testing::pose();
    for (const double scale : {1.0, 0.9998, 1.0003}) {
        auto setup = testing::setup(p);
        setup.scale_factor = scale;
        for (const auto& target :
             {design("P", 1040.2, 1995.5, 100.3), design("Q", 1003.9, 2001.2, 99.0),
              design("R", 700.0, 2300.0, 140.0)}) {
            const auto out = setting_out({p, 1.2, scale, setup.instrument.refraction_k}, target);
            ASSERT_TRUE(out.has_value());
            measure::Sight sight;
            sight.direction_rad = out->direction_rad;
            sight.zenith_rad = out->zenith_rad;
            sight.slope_distance_m = out->slope_m;
            sight.target_height_m = 1.2;
            const auto laid =
                laid_place(target.name, setup, 0, measure::reduce(sight, setup.instrument));
            ASSERT_TRUE(laid.has_value());
            EXPECT_NEAR(laid->place_m.x(), target.east_m, 1e-9);
            EXPECT_NEAR(laid->place_m.y(), target.north_m, 1e-9);
            // Curvature is taken from the true ground distance here and from the sight's there.
            EXPECT_NEAR(laid->place_m.z(), *target.height_m, 1e-6);
        }
    }
}

TEST(SettingOut, cut_and_fill_are_told_from_the_ground) {
    EXPECT_EQ(cut_fill(100.0, 100.4).word, Earthwork::cut);
    EXPECT_NEAR(cut_fill(100.0, 100.4).amount_m, 0.4, 1e-12);
    EXPECT_EQ(cut_fill(100.0, 99.9).word, Earthwork::fill);
    EXPECT_EQ(cut_fill(100.0, 100.0004).word, Earthwork::on_grade);
    EXPECT_EQ(cut_fill(100.0, testing::kNan).word, Earthwork::on_grade);
    const auto p = testing::pose();
    const auto out = setting_out({p}, design("P", 1040, 2000, 100.0), {}, {}, 100.4);
    EXPECT_EQ(out->earthwork->word, Earthwork::cut);
    EXPECT_FALSE(setting_out({p}, design("P", 1040, 2000, std::nullopt), {}, {}, 100.4)
                     ->earthwork.has_value());
}

TEST(SettingOut, point_at_the_instrument_cannot_be_turned_to) {
    const auto p = testing::pose();
    const auto out = setting_out({p}, design("P", p.position_m.x() + 0.05, p.position_m.y()));
    ASSERT_TRUE(out.has_value());
    EXPECT_TRUE(out->at_instrument);
    EXPECT_FALSE(out->direction_rad.has_value());
    EXPECT_FALSE(out->zenith_rad.has_value());
    EXPECT_NEAR(out->horizontal_m, 0.05, 1e-12);
}

TEST(SettingOut, heights_need_those_of_station_and_point) {
    auto p = testing::pose();
    EXPECT_FALSE(setting_out({p}, design("P", 1040, 2000, std::nullopt))->slope_m.has_value());
    p.has_height = false;
    const auto out = setting_out({p}, design("P", 1040, 2000));
    EXPECT_FALSE(out->height_difference_m.has_value());
    EXPECT_TRUE(out->direction_rad.has_value());
}

TEST(SettingOut, input_that_is_not_finite_gives_nothing) {
    auto p = testing::pose();
    EXPECT_FALSE(setting_out({p}, design("P", testing::kNan, 2000)).has_value());
    EXPECT_FALSE(setting_out({p, 1.0, 0.0}, design("P", 1040, 2000)).has_value());
    EXPECT_FALSE(setting_out({p, testing::kNan}, design("P", 1040, 2000)).has_value());
    EXPECT_FALSE(setting_out({p}, design("P", 1040, 2000, testing::kNan))->slope_m.has_value());
    p.orientation_rad = testing::kNan;
    EXPECT_FALSE(setting_out({p}, design("P", 1040, 2000)).has_value());
}

TEST(SettingOut, turned_site_turns_the_azimuth_and_leaves_the_circle) {
    Random random(3);
    for (int i = 0; i < 50; ++i) {
        auto p = testing::pose();
        const auto target = design("P", 1003 + 30 * random.normal(), 2001 + 30 * random.normal());
        const double turn = random.uniform(0.0, measure::kTwoPi);
        auto turned = p;
        turned.orientation_rad += turn;
        const Eigen::Vector2d from(target.east_m - p.position_m.x(),
                                   target.north_m - p.position_m.y());
        const auto there =
            design("P", p.position_m.x() + std::cos(turn) * from.x() + std::sin(turn) * from.y(),
                   p.position_m.y() - std::sin(turn) * from.x() + std::cos(turn) * from.y());
        const auto a = setting_out({p}, target);
        const auto b = setting_out({turned}, there);
        EXPECT_NEAR(measure::wrap_pi(*a->direction_rad - *b->direction_rad), 0.0, 1e-10);
        EXPECT_NEAR(*a->slope_m, *b->slope_m, 1e-9);
    }
}

std::vector<frame::DesignPoint> rods() {
    // Two groups of four rods, 0.3 by 0.4 m, 6 m apart.
    std::vector<frame::DesignPoint> out;
    for (const double east : {0.0, 6.0}) {
        for (const double n : {0.0, 0.4}) {
            for (const double e : {0.0, 0.3}) out.push_back(design("R", east + e, n));
        }
    }
    return out;
}

const TapeDistance* find(const std::vector<TapeDistance>& all, int from, int to) {
    for (const auto& d : all) {
        if (d.from == from && d.to == to) return &d;
    }
    return nullptr;
}

TEST(Tape, rod_group_gets_its_sides_and_both_diagonals) {
    const auto all = tape_distances(rods());
    ASSERT_NE(find(all, 0, 1), nullptr);
    EXPECT_NEAR(find(all, 0, 1)->distance_m, 0.3, 1e-12);
    ASSERT_NE(find(all, 0, 3), nullptr);
    EXPECT_TRUE(find(all, 0, 3)->is_diagonal);
    EXPECT_NEAR(find(all, 0, 3)->distance_m, 0.5, 1e-12);  // 3-4-5
    ASSERT_NE(find(all, 1, 2), nullptr);
    EXPECT_NEAR(find(all, 1, 2)->distance_m, 0.5, 1e-12);
    for (const auto& d : all) EXPECT_LT(d.from, d.to);
}

TEST(Tape, nearest_agrees_with_trying_all) {
    Random random(11);
    std::vector<frame::DesignPoint> points;
    for (int i = 0; i < 300; ++i)
        points.push_back(design("P", random.uniform(0.0, 50.0), random.uniform(0.0, 50.0)));
    TapeOptions options;
    options.neighbours = 3;
    options.diagonals = false;
    const auto all = tape_distances(points, options);
    for (int i = 0; i < 300; ++i) {
        std::vector<std::pair<double, int>> near;
        for (int j = 0; j < 300; ++j) {
            if (i == j) continue;
            near.emplace_back(std::hypot(points[static_cast<std::size_t>(i)].east_m -
                                             points[static_cast<std::size_t>(j)].east_m,
                                         points[static_cast<std::size_t>(i)].north_m -
                                             points[static_cast<std::size_t>(j)].north_m),
                              j);
        }
        std::sort(near.begin(), near.end());
        for (int k = 0; k < 3; ++k) {
            const int j = near[static_cast<std::size_t>(k)].second;
            EXPECT_NE(find(all, std::min(i, j), std::max(i, j)), nullptr) << i << " " << j;
        }
    }
}

TEST(Tape, degenerate_points_give_no_distance) {
    EXPECT_TRUE(tape_distances({}).empty());
    const std::vector<frame::DesignPoint> one{design("P", 1, 1)};
    EXPECT_TRUE(tape_distances(one).empty());
    const std::vector<frame::DesignPoint> twins{design("P", 1, 1), design("Q", 1, 1),
                                                design("R", testing::kNan, 1)};
    EXPECT_TRUE(tape_distances(twins).empty());
    const std::vector<frame::DesignPoint> many(5000, design("P", 1, 1));
    EXPECT_TRUE(tape_distances(many).empty());
    const std::vector<frame::DesignPoint> far{design("P", 1, 1), design("Q", 100, 1)};
    EXPECT_TRUE(tape_distances(far).empty());
}

TEST(Tape, distances_are_on_the_ground) {
    TapeOptions options;
    options.scale_factor = 0.9996;
    const std::vector<frame::DesignPoint> two{design("P", 0, 0), design("Q", 10, 0)};
    EXPECT_NEAR(tape_distances(two, options).at(0).distance_m, 10.0 / 0.9996, 1e-12);
}

}  // namespace
}  // namespace layproof::lay

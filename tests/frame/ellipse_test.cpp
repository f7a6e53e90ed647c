#include "frame/ellipse.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <string>

#include "base/random.hpp"
#include "support/reference.hpp"

namespace layproof::frame {
namespace {

using Eigen::Matrix2d;
using Eigen::Matrix3d;

template <int N>
Eigen::Matrix<double, N, N> matrix(const testing::Reference& reference, const std::string& path) {
    Eigen::Matrix<double, N, N> m;
    const auto& rows = *reference.table().at_path("input." + path).as_array();
    for (int r = 0; r < N; ++r) {
        const auto& row = *rows[static_cast<std::size_t>(r)].as_array();
        for (int c = 0; c < N; ++c) {
            m(r, c) = row[static_cast<std::size_t>(c)].value<double>().value_or(1e9);
        }
    }
    return m;
}

TEST(Ellipse, published_covariance_gives_published_axes_and_azimuth) {
    const testing::Reference reference("error-ellipse");
    const ErrorEllipse e = error_ellipse(matrix<2>(reference, "case_1.covariance"));
    reference.check("case_1.a", e.semi_major_m);
    reference.check("case_1.b", e.semi_minor_m);
    reference.check("case_1.azimuth", e.azimuth_rad * 180.0 / std::numbers::pi);
}

TEST(Ellipse, published_relative_covariance_gives_published_relative_ellipse) {
    const testing::Reference reference("error-ellipse");
    const Matrix3d c1 = matrix<3>(reference, "case_2.C1");
    const Matrix3d c2 = matrix<3>(reference, "case_2.C2");
    const Matrix3d c12 = matrix<3>(reference, "case_2.C12");
    // The source gives earth-centred blocks: turned here to local east, north, up.
    const double lat = reference.number("case_2.lat_deg") * std::numbers::pi / 180.0;
    const double lon = reference.number("case_2.lon_deg") * std::numbers::pi / 180.0;
    Matrix3d turn;
    turn << -std::sin(lon), std::cos(lon), 0.0,  //
        -std::sin(lat) * std::cos(lon), -std::sin(lat) * std::sin(lon), std::cos(lat),
        std::cos(lat) * std::cos(lon), std::cos(lat) * std::sin(lon), std::sin(lat);
    const auto local = [&](const Matrix3d& m) {
        return Matrix2d((turn * m * turn.transpose()).topLeftCorner<2, 2>());
    };
    const ErrorEllipse e = error_ellipse(relative_covariance(local(c1), local(c2), local(c12)));
    reference.check("case_2.a", e.semi_major_m);
    reference.check("case_2.b", e.semi_minor_m);
    reference.check("case_2.azimuth", e.azimuth_rad * 180.0 / std::numbers::pi);
}

TEST(Ellipse, random_axes_and_azimuth_come_back) {
    Random random(3);
    for (int i = 0; i < 3000; ++i) {
        const double a = std::pow(10.0, random.uniform(-5.0, 1.0));
        const double b = a * random.uniform(0.01, 0.99);
        const double azimuth = random.uniform(0.0, std::numbers::pi);
        const Eigen::Vector2d along(std::sin(azimuth), std::cos(azimuth));
        const Eigen::Vector2d across(std::cos(azimuth), -std::sin(azimuth));
        const Matrix2d c = a * a * along * along.transpose() + b * b * across * across.transpose();
        const ErrorEllipse e = error_ellipse(c, 2.0);
        EXPECT_NEAR(e.semi_major_m, 2.0 * a, 1e-13 * a);
        EXPECT_NEAR(e.semi_minor_m, 2.0 * b, 1e-10 * a);
        EXPECT_GE(e.azimuth_rad, 0.0);
        EXPECT_LT(e.azimuth_rad, std::numbers::pi);
        EXPECT_NEAR(std::sin(e.azimuth_rad - azimuth), 0.0, 1e-12);
    }
}

TEST(Ellipse, degenerate_covariances_give_circle_line_and_nothing) {
    const ErrorEllipse circle = error_ellipse(4.0 * Matrix2d::Identity());
    EXPECT_DOUBLE_EQ(circle.semi_major_m, 2.0);
    EXPECT_DOUBLE_EQ(circle.semi_minor_m, 2.0);
    EXPECT_EQ(circle.azimuth_rad, 0.0);

    Matrix2d line;
    line << 1.0, 1.0, 1.0, 1.0;
    const ErrorEllipse thin = error_ellipse(line);
    EXPECT_DOUBLE_EQ(thin.semi_major_m, std::numbers::sqrt2);
    EXPECT_EQ(thin.semi_minor_m, 0.0);
    EXPECT_DOUBLE_EQ(thin.azimuth_rad, std::numbers::pi / 4.0);

    Matrix2d rounded;
    rounded << 1.0, 1.0 + 1e-15, 1.0 + 1e-15, 1.0;  // a negative eigenvalue by rounding
    EXPECT_EQ(error_ellipse(rounded).semi_minor_m, 0.0);

    const ErrorEllipse nothing = error_ellipse(Matrix2d::Zero());
    EXPECT_EQ(nothing.semi_major_m, 0.0);
    EXPECT_EQ(nothing.semi_minor_m, 0.0);
    EXPECT_EQ(nothing.azimuth_rad, 0.0);
}

TEST(Ellipse, factor_95_is_the_quantile_of_the_plane) {
    EXPECT_NEAR(kEllipse95, std::sqrt(-2.0 * std::log(0.05)), 1e-15);
}

}  // namespace
}  // namespace layproof::frame

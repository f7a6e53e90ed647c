#include "adjust/tests.hpp"

#include <algorithm>
#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/fisher_f.hpp>
#include <boost/math/distributions/non_central_chi_squared.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <boost/math/policies/policy.hpp>
#include <boost/math/tools/roots.hpp>
#include <cmath>
#include <cstdint>
#include <limits>
#include <utility>

namespace layproof::adjust {
namespace {

namespace policies = boost::math::policies;

// Nothing throws: the ends of a distribution give infinity, nonsense gives NaN, which is turned
// into an end below. Double stays double, so that WebAssembly gives the same digits.
using Quiet = policies::policy<
    policies::domain_error<policies::ignore_error>, policies::pole_error<policies::ignore_error>,
    policies::overflow_error<policies::ignore_error>,
    policies::evaluation_error<policies::ignore_error>,
    policies::rounding_error<policies::ignore_error>,
    policies::indeterminate_result_error<policies::ignore_error>, policies::promote_double<false>>;

constexpr double kUnbounded = std::numeric_limits<double>::infinity();

// Ends of the range first: what lies outside of (0, 1) or is NaN is an end.
template <class Distribution>
double quantile_of(const Distribution& distribution, double probability, double lowest) {
    if (!(probability > 0.0)) return lowest;
    if (probability >= 1.0) return kUnbounded;
    // The upper tail keeps its digits: 1 − p is exact for p ≥ 1/2.
    if (probability > 0.5)
        return boost::math::quantile(boost::math::complement(distribution, 1.0 - probability));
    return boost::math::quantile(distribution, probability);
}

bool is_dof(double dof) {
    return dof > 0.0 && std::isfinite(dof);
}

}  // namespace

double normal_quantile(double probability) {
    return quantile_of(boost::math::normal_distribution<double, Quiet>(), probability, -kUnbounded);
}

double normal_probability(double x) {
    return 0.5 * std::erfc(-x / std::sqrt(2.0));
}

double chi_square_quantile(double probability, double dof) {
    if (!is_dof(dof)) return 0.0;
    return quantile_of(boost::math::chi_squared_distribution<double, Quiet>(dof), probability, 0.0);
}

double chi_square_probability(double x, double dof) {
    if (!(x > 0.0)) return is_dof(dof) ? 0.0 : 1.0;
    if (!is_dof(dof) || std::isinf(x)) return 1.0;
    return boost::math::cdf(boost::math::chi_squared_distribution<double, Quiet>(dof), x);
}

double chi_square_noncentral_probability(double x, double dof, double noncentrality) {
    if (!(noncentrality > 0.0)) return chi_square_probability(x, dof);
    if (!(x > 0.0) || std::isinf(noncentrality)) return 0.0;
    if (!is_dof(dof) || std::isinf(x)) return 1.0;
    return boost::math::cdf(
        boost::math::non_central_chi_squared_distribution<double, Quiet>(dof, noncentrality), x);
}

double student_quantile(double probability, double dof) {
    if (!is_dof(dof)) return dof > 0.0 ? normal_quantile(probability) : 0.0;
    return quantile_of(boost::math::students_t_distribution<double, Quiet>(dof), probability,
                       -kUnbounded);
}

double fisher_quantile(double probability, double dof_1, double dof_2) {
    if (!is_dof(dof_1) || !is_dof(dof_2)) return 0.0;
    return quantile_of(boost::math::fisher_f_distribution<double, Quiet>(dof_1, dof_2), probability,
                       0.0);
}

double tau_quantile(double significance, int redundancy) {
    if (redundancy < 2) return kUnbounded;
    const double dof = redundancy - 1;
    const double t = -student_quantile(0.5 * significance, dof);
    if (std::isinf(t)) return std::sqrt(static_cast<double>(redundancy));
    return std::sqrt(static_cast<double>(redundancy)) * t / std::sqrt(dof + t * t);
}

double noncentrality(double significance, double power, int dimension) {
    if (dimension < 1 || !(power > significance) || !(significance > 0.0)) return 0.0;
    if (power >= 1.0) return kUnbounded;
    if (dimension == 1) {
        // P(|w| > k) = Φ(δ − k) + Φ(−δ − k) = power by Newton from δ = k + z(power).
        const double k = -normal_quantile(0.5 * significance);
        double delta = k + normal_quantile(power);
        for (int i = 0; i < 20; ++i) {
            const double value =
                normal_probability(delta - k) + normal_probability(-delta - k) - power;
            constexpr double kDensity = 0.3989422804014327;  // 1/√(2π)
            const double slope = kDensity * (std::exp(-0.5 * (delta - k) * (delta - k)) -
                                             std::exp(-0.5 * (delta + k) * (delta + k)));
            const double step = slope > 0.0 ? value / slope : 0.0;
            delta -= step;
            if (std::abs(step) < 1e-14 * delta) break;
        }
        return delta * delta;
    }
    const double critical = boost::math::quantile(boost::math::complement(
        boost::math::chi_squared_distribution<double, Quiet>(dimension), significance));
    const auto missing = [&](double lambda) {
        return 1.0 - power - chi_square_noncentral_probability(critical, dimension, lambda);
    };
    double high = 16.0;
    while (missing(high) < 0.0 && high < 1e6) high *= 2.0;
    std::uintmax_t iterations = 200;
    const std::pair<double, double> bracket = boost::math::tools::toms748_solve(
        missing, 0.0, high, boost::math::tools::eps_tolerance<double>(48), iterations, Quiet());
    return 0.5 * (bracket.first + bracket.second);
}

GlobalTest global_test(double statistic, int dof, double confidence) {
    GlobalTest test;
    test.statistic = statistic;
    test.dof = dof;
    if (dof <= 0) return test;
    const double tail = 0.5 * (1.0 - confidence);
    test.lower = chi_square_quantile(tail, dof);
    test.upper = chi_square_quantile(1.0 - tail, dof);
    test.variance_factor = statistic / dof;
    test.passes = statistic <= test.upper;
    return test;
}

}  // namespace layproof::adjust

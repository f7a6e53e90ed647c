#include "watch/evidence_internal.hpp"

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>

#include "watch/patterns_internal.hpp"

namespace layproof::watch::internal {
namespace {

using Eigen::Matrix4d;
using Eigen::MatrixXd;
using Eigen::Vector4d;
using Eigen::VectorXd;

/// Changes that stand first in the search for a second one: the most probable and those that
/// explain most.
constexpr std::size_t kPairSeeds = 8;
/// Members this far (ln) below the best are not kept: 3e-7 each.
constexpr double kSmallMember = 15.0;

/// ln BF, posterior mean and covariance for one prior.
struct Fit {
    double log_bayes = 0.0;
    Vector4d mean = Vector4d::Zero();
    Matrix4d covariance = Matrix4d::Zero();
};

Fit fit(const Vector4d& g, const Matrix4d& gram, const Vector4d& variance) {
    const Vector4d d = variance.cwiseSqrt();
    const Matrix4d inner = Matrix4d::Identity() + d.asDiagonal() * gram * d.asDiagonal();
    const Eigen::LLT<Matrix4d> factor(inner);
    Fit out;
    if (factor.info() != Eigen::Success) return out;
    const Vector4d scaled = d.cwiseProduct(g);
    const Vector4d solved = factor.solve(scaled);
    out.log_bayes = 0.5 * scaled.dot(solved) - factor.matrixLLT().diagonal().array().log().sum();
    out.mean = d.cwiseProduct(solved);
    out.covariance = d.asDiagonal() * factor.solve(Matrix4d::Identity()) * d.asDiagonal();
    return out;
}

class Weigher {
public:
    Weigher(const Day& day, const WatchOptions& options, const Timeline& timeline)
        : day_(day), options_(options), timeline_(timeline) {}

    Evidence run() {
        out_.observations = make_observations(day_, timeline_);
        for (const Observation& o : out_.observations) {
            out_.first_row.push_back(out_.rows);
            out_.rows += o.rows;
        }
        out_.starts = condense(day_.start.beliefs, options_.most_starts);
        out_.patterns =
            make_patterns(day_, options_, timeline_, out_.observations, out_.first_row, out_.rows);
        wander();
        for (std::size_t s = 0; s < out_.starts.size(); ++s) weigh_start(static_cast<int>(s));
        normalise();
        return std::move(out_);
    }

private:
    /// Rows against the pose at the start and the constants, and what they share by drift and by
    /// laying errors: the part of V that does not depend on the start.
    void wander() {
        const auto n = static_cast<Eigen::Index>(out_.rows);
        const Vector4d rate = variance_per_second(options_.drift);
        const Eigen::Index constants =
            station::kStateSize - 4 + 3 * static_cast<Eigen::Index>(day_.start.marks.size());
        values_.resize(n);
        by_start_ = MatrixXd::Zero(n, 4 + constants);
        shared_ = MatrixXd::Zero(n, n);
        const auto since = [&](int moment) {
            return timeline_.moment_time_s(static_cast<std::size_t>(moment)) - day_.setup_time_s;
        };
        for (std::size_t a = 0; a < out_.observations.size(); ++a) {
            const Observation& oa = out_.observations[a];
            const int ra = out_.first_row[a];
            values_.segment(ra, oa.rows) = oa.value.head(oa.rows);
            by_start_.block(ra, 0, oa.rows, 4) = oa.by_pose.topRows(oa.rows);
            if (oa.laid_moment >= 0)
                by_start_.block(ra, 0, oa.rows, 4) -= oa.by_pose_laid.topRows(oa.rows);
            by_start_.block(ra, 4, oa.rows, constants) = oa.by_constant.topRows(oa.rows);
            for (std::size_t b = 0; b <= a; ++b) {
                const Observation& ob = out_.observations[b];
                Eigen::Matrix3d c = Eigen::Matrix3d::Zero();
                const auto tap = [&](const ByPose& x, int mx, const ByPose& y, int my,
                                     double sign) {
                    const Vector4d q = rate * std::min(since(mx), since(my));
                    c += sign * (x * q.asDiagonal() * y.transpose());
                };
                tap(oa.by_pose, oa.moment, ob.by_pose, ob.moment, 1.0);
                if (oa.laid_moment >= 0)
                    tap(oa.by_pose_laid, oa.laid_moment, ob.by_pose, ob.moment, -1.0);
                if (ob.laid_moment >= 0)
                    tap(oa.by_pose, oa.moment, ob.by_pose_laid, ob.laid_moment, -1.0);
                if (oa.laid_moment >= 0 && ob.laid_moment >= 0)
                    tap(oa.by_pose_laid, oa.laid_moment, ob.by_pose_laid, ob.laid_moment, 1.0);
                if (oa.point >= 0 && oa.point == ob.point) c += oa.laid_own;
                if (a == b) c += oa.own;
                const int rb = out_.first_row[b];
                shared_.block(ra, rb, oa.rows, ob.rows) = c.topLeftCorner(oa.rows, ob.rows);
                shared_.block(rb, ra, ob.rows, oa.rows) =
                    c.topLeftCorner(oa.rows, ob.rows).transpose();
            }
        }
    }

    void weigh_start(int start) {
        const cause::JointBelief& belief = out_.starts[static_cast<std::size_t>(start)];
        // The start's order is the state, then the marks: pose (4), other states, marks.
        const MatrixXd bp = by_start_ * belief.covariance;
        MatrixXd v = shared_ + bp * by_start_.transpose();
        v = (0.5 * (v + v.transpose())).eval();
        const Eigen::LLT<MatrixXd> factor(v);
        MatrixXd root = factor.matrixL();
        const VectorXd whitened = factor.matrixL().solve(values_ - by_start_ * belief.mean);
        const double base =
            out_.rows > 0 ? -0.5 * whitened.squaredNorm() - root.diagonal().array().log().sum()
                          : 0.0;
        const double prior = std::max(belief.weight, 1e-300);
        add({start, -1, -1, -1, -1, 0.0, 0.0, prior}, std::log(prior) + base);

        struct One {
            std::size_t pattern, size;
            Fit fit;
            double log_weight;
        };
        std::vector<One> ones;
        std::vector<MatrixXd> columns;
        std::vector<Vector4d> g;
        std::vector<Matrix4d> gram;
        for (std::size_t p = 0; p < out_.patterns.size(); ++p) {
            const Pattern& pattern = out_.patterns[p];
            columns.push_back(pattern.first_shown < 0
                                  ? MatrixXd(MatrixXd::Zero(out_.rows, 4))
                                  : MatrixXd(factor.matrixL().solve(pattern.rows)));
            g.push_back(columns[p].transpose() * whitened);
            gram.push_back(columns[p].transpose() * columns[p]);
            for (std::size_t s = 0; s < pattern.sizes.size(); ++s) {
                One one{p, s, fit(g[p], gram[p], pattern.sizes[s].variance), 0.0};
                const double share = prior * pattern.sizes[s].odds;
                one.log_weight = std::log(share) + base + one.fit.log_bayes;
                add({start, static_cast<int>(p), static_cast<int>(s), -1, -1, 0.0,
                     one.fit.log_bayes, share},
                    one.log_weight);
                ones.push_back(one);
            }
        }
        out_.root.push_back(std::move(root));
        out_.whitened.push_back(whitened);
        out_.log_likelihood.push_back(base);
        if (options_.most_changes < 2) return;

        std::vector<std::size_t> seeds;
        const auto take = [&](auto key) {
            std::vector<std::size_t> order(ones.size());
            for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
            const std::size_t n = std::min(kPairSeeds, order.size());
            std::partial_sort(order.begin(), order.begin() + static_cast<std::ptrdiff_t>(n),
                              order.end(),
                              [&](std::size_t a, std::size_t b) { return key(a) > key(b); });
            for (std::size_t i = 0; i < n; ++i)
                if (std::find(seeds.begin(), seeds.end(), order[i]) == seeds.end())
                    seeds.push_back(order[i]);
        };
        take([&](std::size_t i) { return ones[i].log_weight; });
        take([&](std::size_t i) { return ones[i].fit.log_bayes; });
        std::vector<int> rank(ones.size(), -1);
        for (std::size_t k = 0; k < seeds.size(); ++k) rank[seeds[k]] = static_cast<int>(k);

        for (std::size_t k = 0; k < seeds.size(); ++k) {
            const One& a = ones[seeds[k]];
            const Vector4d explained = a.fit.covariance * g[a.pattern];
            std::size_t last = out_.patterns.size();
            Vector4d rest_g;
            Matrix4d rest_gram;
            for (std::size_t i = 0; i < ones.size(); ++i) {
                const One& b = ones[i];
                if (b.pattern == a.pattern) continue;
                if (rank[i] >= 0 && rank[i] < static_cast<int>(k)) continue;
                if (b.pattern != last) {
                    last = b.pattern;
                    const Matrix4d between = columns[b.pattern].transpose() * columns[a.pattern];
                    rest_g = g[b.pattern] - between * explained;
                    rest_gram = gram[b.pattern] - between * a.fit.covariance * between.transpose();
                }
                const double odds = out_.patterns[b.pattern].sizes[b.size].odds;
                const Fit second =
                    fit(rest_g, rest_gram, out_.patterns[b.pattern].sizes[b.size].variance);
                add({start, static_cast<int>(a.pattern), static_cast<int>(a.size),
                     static_cast<int>(b.pattern), static_cast<int>(b.size), 0.0,
                     a.fit.log_bayes + second.log_bayes,
                     prior * out_.patterns[a.pattern].sizes[a.size].odds * odds},
                    a.log_weight + std::log(odds) + second.log_bayes);
            }
        }
    }

    void add(Member member, double log_weight) {
        if (!std::isfinite(log_weight)) return;
        member.weight = log_weight;
        best_ = std::max(best_, log_weight);
        // Thrown away later; this only keeps the list short.
        if (log_weight > best_ - kSmallMember || member.pattern < 0) out_.members.push_back(member);
    }

    void normalise() {
        double total = 0.0;
        std::erase_if(out_.members, [&](const Member& m) {
            return m.pattern >= 0 && m.weight < best_ - kSmallMember;
        });
        for (Member& m : out_.members) {
            m.weight = std::exp(m.weight - best_);
            total += m.weight;
        }
        for (Member& m : out_.members) m.weight /= total;
        std::stable_sort(out_.members.begin(), out_.members.end(),
                         [](const Member& a, const Member& b) { return a.weight > b.weight; });
    }

    const Day& day_;
    const WatchOptions& options_;
    const Timeline& timeline_;
    Evidence out_;
    VectorXd values_;
    MatrixXd by_start_;
    MatrixXd shared_;
    double best_ = -1e300;
};

}  // namespace

Evidence weigh(const Day& day, const WatchOptions& options, const Timeline& timeline) {
    return Weigher(day, options, timeline).run();
}

double innovation_statistic(const Evidence& evidence, std::size_t observation) {
    // Of the start that likes the quiet day best.
    std::size_t start = 0;
    double top = -1e300;
    for (std::size_t s = 0; s < evidence.starts.size(); ++s) {
        const double weight =
            std::log(std::max(evidence.starts[s].weight, 1e-300)) + evidence.log_likelihood[s];
        if (weight > top) {
            top = weight;
            start = s;
        }
    }
    return evidence.whitened[start]
        .segment(evidence.first_row[observation], evidence.observations[observation].rows)
        .squaredNorm();
}

Amount amount_of(const Evidence& evidence, const Member& member) {
    Amount out;
    if (member.pattern < 0) return out;
    const auto s = static_cast<std::size_t>(member.start);
    const auto root = evidence.root[s].triangularView<Eigen::Lower>();
    const auto& first = evidence.patterns[static_cast<std::size_t>(member.pattern)];
    MatrixXd columns = MatrixXd::Zero(evidence.rows, 8);
    Eigen::Matrix<double, 8, 1> d = Eigen::Matrix<double, 8, 1>::Zero();
    columns.leftCols<4>() = first.rows;
    d.head<4>() = first.sizes[static_cast<std::size_t>(member.size)].variance.cwiseSqrt();
    if (member.second >= 0) {
        const auto& second = evidence.patterns[static_cast<std::size_t>(member.second)];
        columns.rightCols<4>() = second.rows;
        d.tail<4>() =
            second.sizes[static_cast<std::size_t>(member.second_size)].variance.cwiseSqrt();
    }
    if (evidence.rows > 0) root.solveInPlace(columns);
    using Matrix8d = Eigen::Matrix<double, 8, 8>;
    const Matrix8d gram = columns.transpose() * columns;
    const Matrix8d inner = Matrix8d::Identity() + d.asDiagonal() * gram * d.asDiagonal();
    const Eigen::LLT<Matrix8d> factor(inner);
    const Eigen::Matrix<double, 8, 1> g = columns.transpose() * evidence.whitened[s];
    out.mean = d.cwiseProduct(factor.solve(d.cwiseProduct(g)));
    out.covariance = d.asDiagonal() * factor.solve(Matrix8d::Identity()) * d.asDiagonal();
    return out;
}

}  // namespace layproof::watch::internal

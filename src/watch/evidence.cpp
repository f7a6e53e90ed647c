#include "watch/evidence_internal.hpp"

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>

#include "infer/linear_evidence.hpp"
#include "infer/log_weights.hpp"
#include "infer/mixture.hpp"
#include "infer/pairs.hpp"
#include "watch/patterns_internal.hpp"

namespace layproof::watch::internal {
namespace {

using Eigen::MatrixXd;
using Eigen::Vector4d;
using Eigen::VectorXd;

/// Changes that stand first in the search for a second one: the most probable and those that
/// explain most.
constexpr std::size_t kPairSeeds = 8;
/// Members this far (ln) below the best are not kept: 3e-7 each.
constexpr double kSmallMember = 15.0;

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
        out_.starts = infer::condense(day_.start.beliefs, options_.most_starts);
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

        std::vector<infer::Single<4>> singles;
        std::vector<int> size_of;
        std::vector<double> log_weights, log_evidences;
        std::vector<MatrixXd> columns;
        std::vector<infer::ColumnData<4>> data;
        for (std::size_t p = 0; p < out_.patterns.size(); ++p) {
            const Pattern& pattern = out_.patterns[p];
            columns.push_back(pattern.first_shown < 0
                                  ? MatrixXd(MatrixXd::Zero(out_.rows, 4))
                                  : MatrixXd(factor.matrixL().solve(pattern.rows)));
            data.push_back(
                {columns[p].transpose() * whitened, columns[p].transpose() * columns[p]});
            for (std::size_t s = 0; s < pattern.sizes.size(); ++s) {
                const Vector4d sd = pattern.sizes[s].variance.cwiseSqrt();
                singles.push_back({static_cast<int>(p), sd, infer::fit_amounts(data[p], sd)});
                size_of.push_back(static_cast<int>(s));
                log_evidences.push_back(singles.back().fit.log_bayes);
                const double share = prior * pattern.sizes[s].odds;
                log_weights.push_back(std::log(share) + base + log_evidences.back());
                add({start, static_cast<int>(p), size_of.back(), -1, -1, 0.0, log_evidences.back(),
                     share},
                    log_weights.back());
            }
        }
        out_.root.push_back(std::move(root));
        out_.whitened.push_back(whitened);
        out_.log_likelihood.push_back(base);
        if (options_.most_changes < 2) return;

        const auto odds_of = [&](std::size_t single) {
            return out_.patterns[static_cast<std::size_t>(singles[single].candidate)]
                .sizes[static_cast<std::size_t>(size_of[single])]
                .odds;
        };
        infer::for_pairs<4>(
            singles, infer::choose_seeds(log_weights, log_evidences, kPairSeeds, kPairSeeds),
            [&](int p) -> const infer::ColumnData<4>& { return data[static_cast<std::size_t>(p)]; },
            [&](int b, int a) -> infer::AmountMatrix<4> {
                return columns[static_cast<std::size_t>(b)].transpose() *
                       columns[static_cast<std::size_t>(a)];
            },
            [](int, int) { return true; },
            [&](std::size_t a, std::size_t b, const infer::AmountMean<4>& second,
                const infer::AmountMatrix<4>&) {
                add({start, singles[a].candidate, size_of[a], singles[b].candidate, size_of[b], 0.0,
                     log_evidences[a] + second.log_bayes, prior * odds_of(a) * odds_of(b)},
                    log_weights[a] + std::log(odds_of(b)) + second.log_bayes);
            });
    }

    void add(Member member, double log_weight) {
        if (!std::isfinite(log_weight)) return;
        member.weight = log_weight;
        best_ = std::max(best_, log_weight);
        // Thrown away later; this only keeps the list short.
        if (log_weight > best_ - kSmallMember || member.pattern < 0) out_.members.push_back(member);
    }

    void normalise() {
        std::erase_if(out_.members, [&](const Member& m) {
            return m.pattern >= 0 && m.weight < best_ - kSmallMember;
        });
        std::vector<double> logs;
        for (const Member& m : out_.members) logs.push_back(m.weight);
        const std::vector<double> shares = infer::shares_of(logs);
        for (std::size_t i = 0; i < shares.size(); ++i) out_.members[i].weight = shares[i];
        infer::most_probable_first(out_.members);
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
    if (member.pattern < 0)
        return {0.0, Eigen::Matrix<double, 8, 1>::Zero(), Eigen::Matrix<double, 8, 8>::Zero()};
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
    return infer::fit_amounts(infer::ColumnData<8>{columns.transpose() * evidence.whitened[s],
                                                   columns.transpose() * columns},
                              d);
}

}  // namespace layproof::watch::internal

// The stated share: every draw by itself, marks and shifts apart.

#include <algorithm>
#include <cmath>
#include <numeric>

#include "adjust/tests.hpp"
#include "plan/outlook.hpp"

namespace layproof::plan {
namespace {

using Eigen::Matrix3d;
using Eigen::Matrix4d;
using Eigen::Vector2d;
using Eigen::Vector3d;
using Eigen::Vector4d;

/// A part of weight w that spreads a point by the share ρ of its variance changes p by no more than
/// some 0.15 w ρ² when its shift is taken as spread or when it is put together with others.
constexpr double kSecondOrder = 0.15;
/// So far from the confidence p must be to be believed, besides: a tenth of a point of the share
/// where all points lie close to the confidence.
constexpr double kMayErr = 4e-5;
/// Parts that are worked out exactly before the rest is judged again.
constexpr std::size_t kFirstStep = 2;

}  // namespace

/// One explanation: what it always is, and what a draw makes of it.
struct SetupOutlook::Part {
    int group = 0;  ///< 0 plan, 1 height, 2 tripod, 3 on all
    int at = 0;     ///< mark, or which of those on all
    std::size_t size = 0;
    std::size_t same = 0;                 ///< another size of the same variance, or itself
    Matrix4d centred = Matrix4d::Zero();  ///< covariance of the pose beyond Q
    PoseSpread pose;                      ///< with Q
    double column_centred = 0.0;
    double weight = 0.0;
    Vector4d mean = Vector4d::Zero();
    double column_mean = 0.0;
    double error = 0.0;  ///< of p, when taken to second order

    Matrix4d square() const { return centred + mean * mean.transpose(); }
    double column_square() const { return column_centred + column_mean * column_mean; }
};

/// The explanations of one draw, ready for the points.
class SetupOutlook::Mixture {
public:
    Mixture(const SetupOutlook& outlook, const WithinTable& table)
        : outlook_(outlook), table_(table), base_(outlook.q_) {
        const LayRows& rows = outlook.rows_;
        square_m2_ = rows.mean_square_m2();
        plan_ = rows.mean_plan_variance() +
                0.5 * (outlook.q_(0, 0) + outlook.q_(1, 1) + square_m2_ * outlook.q_(2, 2));
        height_ = rows.mean_height_variance() + outlook.q_(3, 3);
        add_columns(rows);
        add_parts();
    }

    void set(const Sums& sums, const Left& left) {
        parts_.clear();
        const double f = 1.0 / sums.total;
        nothing_ = sums.nothing * f;
        error_ = 0.0;
        for (const Part& one : all_) {
            const auto at = static_cast<std::size_t>(one.at);
            const auto weigh = [&](const auto& each) {
                double w = each[at][one.size];
                if (one.same != one.size) w += each[at][one.same];
                return w * f;
            };
            const double w = one.group == 0   ? weigh(sums.plan_each)
                             : one.group == 1 ? weigh(sums.height_each)
                             : one.group == 2 ? weigh(sums.after_each)
                                              : weigh(sums.on_all_each);
            if (!(w > 0.0)) continue;
            Part& part = parts_.emplace_back(one);
            part.weight = w;
            const Spot& s = outlook_.spots_[at];
            switch (part.group) {
                case 0: {
                    const PlanFit& fit = outlook_.plan_[at][part.size];
                    const Vector3d& v = left.v[at];
                    part.mean =
                        -s.pose_by.leftCols<2>() * Vector2d(fit.c00 * v.x() + fit.c01 * v.y(),
                                                            fit.c01 * v.x() + fit.c11 * v.y());
                    break;
                }
                case 1:
                    part.mean =
                        -s.pose_by.col(2) * (outlook_.height_[at][part.size].c * left.v[at].z());
                    break;
                case 2:
                    part.mean = outlook_.after_by_[at] *
                                (outlook_.after_[at][part.size].c * sums.behind[at]);
                    break;
                default:
                    part.column_mean =
                        outlook_.on_all_[at].sizes[part.size].c * sums.on_all_left[at];
            }
            part.error = w * std::min(kSecondOrder * harm(part) * harm(part), 1.0);
            error_ += part.error;
        }
    }

    /// p of every row, exact enough to be compared with the confidence: the parts that may err
    /// most are worked out with their shifts, few at first and more where p stays close to the
    /// confidence; the rest is put together by groups and its shifts are taken as spread.
    void probabilities(std::vector<float>& p) {
        const std::size_t n = outlook_.rows_.size();
        const auto confidence = static_cast<float>(outlook_.crew_->confidence);
        std::sort(parts_.begin(), parts_.end(),
                  [](const Part& a, const Part& b) { return a.error > b.error; });
        p.resize(n);
        exact_.resize(n);
        for (std::size_t i = 0; i < n; ++i)
            exact_[i] = static_cast<float>(nothing_) * outlook_.sound_[i];
        add_rest(outlook_.rows_, columns_, 0, p);
        whose_.resize(n);
        std::iota(whose_.begin(), whose_.end(), 0);
        double error = error_;
        std::size_t done = 0;
        std::size_t step = kFirstStep;
        bool is_first = true;
        std::vector<float>* now = &p;
        while (error > kMayErr && done < parts_.size()) {
            const auto margin = static_cast<float>(error + kMayErr);
            close_.clear();
            for (std::size_t i = 0; i < now->size(); ++i)
                if (std::abs((*now)[i] - confidence) <= margin)
                    close_.push_back(static_cast<int>(i));
            if (close_.empty()) return;
            if (is_first) {
                near_rows_.take(outlook_.rows_, close_);
                near_columns_ = columns_;
            } else {
                near_rows_.keep(close_);
            }
            is_first = false;
            for (LayColumn& column : near_columns_) column.keep(close_);
            for (std::size_t i = 0; i < close_.size(); ++i) {
                exact_[i] = exact_[static_cast<std::size_t>(close_[i])];
                whose_[i] = whose_[static_cast<std::size_t>(close_[i])];
            }
            exact_.resize(close_.size());
            whose_.resize(close_.size());
            const std::size_t end = std::min(done + step, parts_.size());
            for (; done < end; ++done) {
                add_exactly(parts_[done]);
                error -= parts_[done].error;
            }
            step *= 2;
            near_p_.resize(close_.size());
            add_rest(near_rows_, near_columns_, done, near_p_);
            now = &near_p_;
            for (std::size_t i = 0; i < near_p_.size(); ++i)
                p[static_cast<std::size_t>(whose_[i])] = near_p_[i];
        }
    }

private:
    void add_columns(const LayRows& rows) {
        for (int o = 0; o < outlook_.on_all_count_; ++o) {
            columns_.push_back(rows.column(outlook_.on_all_[static_cast<std::size_t>(o)].column));
            const LayColumn& c = columns_.back();
            double sum = 0.0;
            for (std::size_t i = 0; i < rows.size(); ++i)
                sum +=
                    static_cast<double>(c.along[i] * c.along[i] + c.right[i] * c.right[i]) /
                        (2.0 * plan_) +
                    (outlook_.has_height_ ? static_cast<double>(c.up[i] * c.up[i]) / height_ : 0.0);
            column_harm_.push_back(rows.size() > 0 ? sum / static_cast<double>(rows.size()) : 0.0);
        }
        near_columns_.resize(columns_.size());
    }

    void add_parts() {
        const auto add = [&](int group, int at, std::size_t size,
                             const Matrix4d& centred) -> Part& {
            Part& part = all_.emplace_back();
            part.group = group;
            part.at = at;
            part.size = part.same = size;
            part.centred = centred;
            part.pose = PoseSpread(outlook_.q_ + centred);
            return part;
        };
        for (int i = 0; i < outlook_.count_; ++i) {
            const auto at = static_cast<std::size_t>(i);
            const Spot& s = outlook_.spots_[at];
            const auto sizes = [](int count) { return static_cast<std::size_t>(count); };
            std::vector<bool> is_done(sizes(outlook_.plan_sizes_), false);
            for (std::size_t k = 0; k < is_done.size(); ++k) {
                if (is_done[k]) continue;
                const PlanFit& fit = outlook_.plan_[at][k];
                Eigen::Matrix2d c;
                c << fit.c00, fit.c01, fit.c01, fit.c11;
                const auto by = s.pose_by.leftCols<2>();
                Part& part = add(0, i, k, by * c * by.transpose());
                // A moved mark and a leaning rod of the same size are one explanation here.
                for (std::size_t j = k + 1; j < is_done.size() && part.same == k; ++j)
                    if (!is_done[j] && outlook_.plan_[at][j].variance == fit.variance) {
                        part.same = j;
                        is_done[j] = true;
                    }
            }
            for (std::size_t k = 0; k < sizes(outlook_.height_sizes_); ++k)
                add(1, i, k,
                    s.pose_by.col(2) * outlook_.height_[at][k].c * s.pose_by.col(2).transpose());
            for (std::size_t k = 0; i > 0 && k < sizes(outlook_.after_sizes_); ++k)
                add(2, i, k,
                    outlook_.after_by_[at] * outlook_.after_[at][k].c *
                        outlook_.after_by_[at].transpose());
        }
        for (int o = 0; o < outlook_.on_all_count_; ++o) {
            const auto& sizes = outlook_.on_all_[static_cast<std::size_t>(o)].sizes;
            for (std::size_t k = 0; k < std::min<std::size_t>(sizes.size(), 8); ++k)
                add(3, o, k, Matrix4d::Zero()).column_centred = sizes[k].c;
        }
    }

    /// Share of a point's variance by which a part spreads it.
    double harm(const Part& part) const {
        if (part.group == 3)
            return part.column_square() * column_harm_[static_cast<std::size_t>(part.at)];
        const auto of = [&](int i) { return part.centred(i, i) + part.mean[i] * part.mean[i]; };
        return (of(0) + of(1) + square_m2_ * of(2)) / (2.0 * plan_) + of(3) / height_;
    }

    void add_exactly(const Part& part) {
        const auto w = static_cast<float>(part.weight);
        if (part.group == 3)
            near_rows_.add_shifted(table_, base_, Eigen::Vector4f::Zero(), w, exact_,
                                   &near_columns_[static_cast<std::size_t>(part.at)],
                                   static_cast<float>(part.column_centred),
                                   static_cast<float>(part.column_mean));
        else
            near_rows_.add_shifted(table_, part.pose, part.mean.cast<float>(), w, exact_);
    }

    /// p = what is exact, and the parts from `from` on as groups with their shifts as spread.
    void add_rest(const LayRows& rows, const std::vector<LayColumn>& columns, std::size_t from,
                  std::vector<float>& p) {
        const std::size_t n = rows.size();
        std::copy(exact_.begin(), exact_.begin() + static_cast<std::ptrdiff_t>(n), p.begin());
        reading_.resize(n);
        const auto add = [&](double weight) {
            const auto w = static_cast<float>(weight);
            for (std::size_t i = 0; i < n; ++i) p[i] += w * reading_[i];
        };
        for (int group = 0; group < 3; ++group) {
            double weight = 0.0;
            Matrix4d sum = Matrix4d::Zero();
            for (std::size_t k = from; k < parts_.size(); ++k) {
                if (parts_[k].group != group) continue;
                weight += parts_[k].weight;
                sum += parts_[k].weight * parts_[k].square();
            }
            if (!(weight > 0.0)) continue;
            rows.within(table_, PoseSpread(outlook_.q_ + sum / weight), reading_);
            add(weight);
        }
        for (int o = 0; o < outlook_.on_all_count_; ++o) {
            double weight = 0.0;
            double sum = 0.0;
            for (std::size_t k = from; k < parts_.size(); ++k) {
                if (parts_[k].group != 3 || parts_[k].at != o) continue;
                weight += parts_[k].weight;
                sum += parts_[k].weight * parts_[k].column_square();
            }
            if (!(weight > 0.0)) continue;
            rows.within(table_, base_, reading_, &columns[static_cast<std::size_t>(o)],
                        static_cast<float>(sum / weight));
            add(weight);
        }
    }

    const SetupOutlook& outlook_;
    const WithinTable& table_;
    PoseSpread base_;
    double square_m2_ = 0.0, plan_ = 0.0, height_ = 0.0;
    std::vector<LayColumn> columns_, near_columns_;
    std::vector<double> column_harm_;
    std::vector<Part> all_, parts_;
    double nothing_ = 0.0, error_ = 0.0;
    std::vector<int> close_, whose_;
    LayRows near_rows_;
    std::vector<float> exact_, near_p_, reading_;
};

double SetupOutlook::statistic(const Left& left) const {
    double out = 0.0;
    for (int i = 0; i < count_; ++i) {
        const auto at = static_cast<std::size_t>(i);
        out += left.v[at].dot(spots_[at].covariance * left.v[at]);
    }
    return out;
}

int SetupOutlook::redundancy() const {
    int rows = has_height_ ? -4 : -3;
    for (int i = 0; i < count_; ++i) rows += spots_[static_cast<std::size_t>(i)].has_height ? 3 : 2;
    return rows;
}

void SetupOutlook::probabilities(std::span<const Vector3d> misfits,
                                 const std::vector<PlanPoint>& points, std::span<const int> asked,
                                 const WithinTable& table, std::vector<double>& probability) {
    probability.assign(asked.size(), 0.0);
    if (!solvable_ || !find_open(points, asked, table)) return;
    std::array<Vector3d, kMostControl> weighted;
    for (int i = 0; i < count_; ++i) {
        const auto at = static_cast<std::size_t>(i);
        weighted[at] = spots_[at].weight * misfits[at];
    }
    const Left left = left_over(weighted);
    Mixture mixture(*this, table);
    mixture.set(weigh(left), left);
    mixture.probabilities(sum_);
    for (std::size_t i = 0; i < open_.size(); ++i)
        probability[static_cast<std::size_t>(open_[i])] = static_cast<double>(sum_[i]);
}

void SetupOutlook::share(const CloseEffort& effort, const std::vector<PlanPoint>& points,
                         std::span<const int> asked, const WithinTable& table,
                         std::vector<double>& chance) {
    chance.assign(asked.size(), 0.0);
    mean_nothing_ = 0.0;
    share_error_ = 0.0;
    share_draws_ = 0;
    if (!solvable_ || effort.batch < 1 || effort.most < 1) return;
    if (!find_open(points, asked, table)) return;
    const int batch = std::min(effort.batch, effort.most);
    // The size of the misfits as a whole has a known distribution: of the draws of one batch each
    // gets its own stretch of it.
    std::vector<double> sizes;
    if (const int free = redundancy(); free > 0)
        for (int k = 0; k < batch; ++k)
            sizes.push_back(adjust::chi_square_quantile((k + 0.5) / batch, free));
    Mixture mixture(*this, table);
    const auto confidence = static_cast<float>(crew_->confidence);
    std::vector<float> total(open_.size(), 0.0F);
    std::vector<Left> lefts(static_cast<std::size_t>(batch));
    std::vector<std::pair<double, std::size_t>> order(lefts.size());
    double mean = 0.0;
    double square = 0.0;
    int batches = 0;
    while ((batches + 1) * batch <= effort.most) {
        const Draws draws(batch, count_, effort.seed + static_cast<std::uint64_t>(batches));
        for (std::size_t d = 0; d < lefts.size(); ++d) {
            lefts[d] = left_over(draws, static_cast<int>(d), false);
            order[d] = {statistic(lefts[d]), d};
        }
        if (!sizes.empty()) {
            std::sort(order.begin(), order.end());
            for (std::size_t k = 0; k < order.size(); ++k) {
                if (!(order[k].first > 0.0)) continue;
                const double by = std::sqrt(sizes[k] / order[k].first);
                for (auto& v : lefts[order[k].second].v) v *= by;
            }
        }
        proven_.assign(open_.size(), 0.0F);
        for (const Left& left : lefts) {
            const Sums sums = weigh(left);
            mean_nothing_ += sums.nothing / sums.full;
            mixture.set(sums, left);
            mixture.probabilities(sum_);
            for (std::size_t i = 0; i < sum_.size(); ++i)
                proven_[i] += sum_[i] >= confidence ? 1.0F : 0.0F;
        }
        double share = 0.0;
        for (std::size_t i = 0; i < open_.size(); ++i) {
            share += static_cast<double>(proven_[i]);
            total[i] += proven_[i];
        }
        share /= static_cast<double>(asked.size()) * batch;
        ++batches;
        mean += share;
        square += share * share;
        const double m = mean / batches;
        if (batches > 1)
            share_error_ = std::sqrt(std::max(square / batches - m * m, 0.0) / (batches - 1));
        if (batches * batch >= effort.fewest && batches > 1 &&
            share_error_ <= effort.standard_error)
            break;
    }
    share_draws_ = batches * batch;
    mean_nothing_ /= share_draws_;
    for (std::size_t i = 0; i < open_.size(); ++i)
        chance[static_cast<std::size_t>(open_[i])] = static_cast<double>(total[i]) / share_draws_;
}

}  // namespace layproof::plan

#include "cause/diagnose.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <numeric>

#include "cause/grouping.hpp"
#include "cause/other_names_internal.hpp"
#include "cause/pattern_internal.hpp"
#include "cause/working_internal.hpp"
#include "infer/linear_evidence.hpp"
#include "infer/log_weights.hpp"
#include "infer/mixture.hpp"
#include "infer/pairs.hpp"
#include "measure/angle.hpp"

namespace layproof::cause {
namespace {

using internal::Evidence;
using internal::Mat;
using internal::OtherNames;
using internal::Pattern;
using internal::Vec;
using station::Belief;
using station::MisfitModel;
using station::Pose;
using station::Prepared;
using station::State;
using station::StateCovariance;

/// Explanations whose beliefs are kept apart in the mixture for the points.
constexpr double kSmallestBelief = 2e-4;
/// Beliefs lighter than this may be put together with one that hardly differs.
constexpr double kMayMerge = 0.02;
constexpr int kMostRelinearisations = 5;
/// Set up again when the leading explanation turns the station by more than this: at 100 m and a
/// misfit of 100 mm the rows then err by 0.02 mm.
constexpr double kTurnMatters_rad = 2e-4;
/// An explanation that turns the station by more than this leaves the range of the linear rows;
/// only exchanged names do that, and they are solved anew.
constexpr double kTurnTooFar_rad = 0.1;
constexpr int kMostSettlingSteps = 8;
/// Explanations that further sights are predicted under.
constexpr std::size_t kMostHeld = 16;
/// Pairs this far (ln) below the best are not kept: 6e-6 each.
constexpr double kSmallPair = 12.0;

/// One explanation with one size.
struct Hypothesis {
    double log_weight = 0.0;
    double prior = 0.0;
    int pattern = -1;
    int size = -1;
    int other = -1;   ///< into other-names contenders
    int second = -1;  ///< pairs: second pattern and size
    int second_size = -1;
    infer::AmountFit<3> fit{0.0, Vec::Zero(), Mat::Zero()};  ///< of `pattern` alone
};

class Diagnoser {
public:
    Diagnoser(const Prepared& setup, const station::Solution& solution, const CauseTable& table,
              const DiagnoseOptions& options)
        : setup_(setup), solution_(solution), table_(table), options_(options) {}

    Diagnosis run() {
        Pose pose = solution_.pose;
        if (!settle(pose)) return only_priors();
        others_ = internal::other_names(setup_, model_);
        statistic_as_booked_ = model_.statistic;
        // The pose is settled by single explanations first; pairs are tried where they stand.
        bool with_pairs = false;
        for (int round = 0; round < kMostRelinearisations; ++round) {
            if (round > 0) model_ = station::misfit_model(setup_, pose);
            if (!model_.usable) return only_priors();
            offset_ = State::Zero();
            offset_.head<3>() << pose.position_m.x() - solution_.pose.position_m.x(),
                pose.position_m.y() - solution_.pose.position_m.y(),
                measure::wrap_pi(pose.orientation_rad - solution_.pose.orientation_rad);
            offset_[station::state_height] = pose.position_m.z() - solution_.pose.position_m.z();
            weigh();
            const bool may_move = round + 1 < kMostRelinearisations;
            Eigen::Vector4d change = pose_change_of_best();
            if (!with_pairs && may_move && matters(change)) {
                move(pose, change);
                continue;
            }
            if (options_.try_pairs && table_.pairs > 0.0) {
                add_pairs();
                find_best();
            }
            with_pairs = true;
            change = pose_change_of_best();
            if (!may_move || !matters(change)) break;
            move(pose, change);
        }
        normalise();
        pose_ = pose;
        Diagnosis out = report();
        out.working = keep_working();
        return out;
    }

private:
    /// The model at the best pose of the sights as booked.
    bool settle(Pose& pose) {
        for (int step = 0; step < kMostSettlingSteps; ++step) {
            model_ = station::misfit_model(setup_, pose);
            if (!model_.usable) return false;
            if (std::abs(model_.pose_shift[station::kModelOrientation]) < 1e-6) return true;
            move(pose, model_.pose_shift);
        }
        model_ = station::misfit_model(setup_, pose);
        return model_.usable;
    }

    void move(Pose& pose, const Eigen::Vector4d& change) const {
        pose.position_m +=
            Eigen::Vector3d(change[station::kModelEast], change[station::kModelNorth],
                            setup_.has_height ? change[station::kModelHeight] : 0.0);
        pose.orientation_rad =
            measure::wrap_0_2pi(pose.orientation_rad + change[station::kModelOrientation]);
    }

    Diagnosis only_priors() const {
        Diagnosis out;
        Entry entry;
        entry.probability = 1.0;
        Explanation nothing;
        nothing.probability = 1.0;
        entry.members.push_back(nothing);
        out.entries.push_back(entry);
        out.beliefs.push_back(station::belief_of(solution_.pose));
        return out;
    }

    void weigh() {
        hypotheses_.clear();
        evidence_.clear();
        turns_.clear();
        patterns_ = internal::make_patterns(setup_, model_, table_);
        const double nothing = table_.of(Cause::nothing_wrong).frequency;
        hypotheses_.emplace_back();
        hypotheses_.back().log_weight = std::log(std::max(nothing, 1e-300));
        hypotheses_.back().prior = nothing;
        evidence_.reserve(patterns_.size());
        for (std::size_t p = 0; p < patterns_.size(); ++p) {
            evidence_.push_back(internal::evidence_of(model_, patterns_[p]));
            turns_.push_back(turn_by(patterns_[p]));
            const double share =
                patterns_[p].frequency / static_cast<double>(patterns_[p].sds.size());
            for (std::size_t s = 0; s < patterns_[p].sds.size(); ++s) {
                Hypothesis h;
                h.pattern = static_cast<int>(p);
                h.size = static_cast<int>(s);
                h.prior = share;
                h.fit = infer::fit_amounts(evidence_[p].data, patterns_[p].sds[s]);
                h.log_weight =
                    std::log(share) + h.fit.log_bayes - 0.5 * evidence_[p].statistic_change;
                if (std::abs(turn_of(h)) < kTurnTooFar_rad) hypotheses_.push_back(h);
            }
        }
        add_other_names();
        find_best();
    }

    static bool matters(const Eigen::Vector4d& change) {
        return std::abs(change[station::kModelOrientation]) >= kTurnMatters_rad;
    }

    /// Exchanged names are solved at their own pose; nothing has to move for them.
    Eigen::Vector4d pose_change_of_best() const {
        const Hypothesis& best = hypotheses_[best_];
        if (best.other >= 0) return Eigen::Vector4d::Zero();
        return pose_change(best);
    }

    void add_other_names() {
        for (std::size_t i = 0; i < others_.contenders.size(); ++i) {
            const OtherNames& other = others_.contenders[i];
            const int count =
                other.cause == Cause::names_swapped ? others_.swaps : others_.wrong_names;
            const double share = table_.of(other.cause).frequency / std::max(count, 1);
            if (share <= 0.0) continue;
            Hypothesis h;
            h.other = static_cast<int>(i);
            h.prior = share;
            // The linear model may have been set up again at another pose.
            h.log_weight = std::log(share) + other.log_likelihood +
                           0.5 * (model_.statistic - statistic_as_booked_);
            hypotheses_.push_back(h);
        }
    }

    void add_pairs() {
        // Frequencies of pairs are in proportion to the product of their members'.
        double sum = 0.0;
        double square = 0.0;
        std::vector<infer::Single<3>> singles;
        std::vector<std::size_t> single;  // into hypotheses_
        std::vector<double> log_weights, log_evidences;
        for (std::size_t i = 0; i < hypotheses_.size(); ++i) {
            const Hypothesis& h = hypotheses_[i];
            if (h.pattern < 0) continue;
            // A reading so gross that its rows are restated stands alone: its change does not add
            // up with that of another cause.
            const Pattern& pattern = patterns_[static_cast<std::size_t>(h.pattern)];
            if (!pattern.row_change.empty()) continue;
            singles.push_back({h.pattern, pattern.sds[static_cast<std::size_t>(h.size)], h.fit});
            single.push_back(i);
            log_weights.push_back(h.log_weight);
            log_evidences.push_back(h.fit.log_bayes);
            sum += h.prior;
        }
        for (const Pattern& pattern : patterns_) square += pattern.frequency * pattern.frequency;
        const double norm = 0.5 * (sum * sum - square);
        if (norm <= 0.0) return;

        const auto count = static_cast<std::size_t>(std::max(options_.pair_seeds, 1));
        const auto seeds = infer::choose_seeds(log_weights, log_evidences, count, count);
        const double best = hypotheses_[best_].log_weight;
        double tried = 0.0;
        std::vector<Hypothesis> found;
        const auto data = [&](int p) -> const infer::ColumnData<3>& {
            return evidence_[static_cast<std::size_t>(p)].data;
        };
        const auto between = [&](int b, int a) {
            return internal::project(patterns_[static_cast<std::size_t>(b)],
                                     evidence_[static_cast<std::size_t>(a)].reduced);
        };
        infer::for_pairs<3>(
            singles, seeds, data, between, [](int, int) { return true; },
            [&](std::size_t first, std::size_t at, const infer::AmountMean<3>& second,
                const Mat& cross) {
                const Hypothesis& a = hypotheses_[single[first]];
                const Hypothesis& b = hypotheses_[single[at]];
                const auto pa = static_cast<std::size_t>(a.pattern);
                const auto pb = static_cast<std::size_t>(b.pattern);
                const double prior = table_.pairs * a.prior * b.prior / norm;
                tried += prior;
                const double log_weight =
                    std::log(prior) + a.fit.log_bayes + second.log_bayes -
                    0.5 * (evidence_[pa].statistic_change + evidence_[pb].statistic_change);
                if (log_weight < best - kSmallPair) return;
                const double turn =
                    turn_of(a) + turns_[pb].base + turns_[pb].by_amount.dot(second.mean) -
                    turns_[pa].by_amount.dot(a.fit.covariance * cross.transpose() * second.mean);
                if (std::abs(turn) >= kTurnTooFar_rad) return;
                found.push_back(a);
                found.back().prior = prior;
                found.back().second = b.pattern;
                found.back().second_size = b.size;
                found.back().log_weight = log_weight;
            });
        pairs_not_tried_ = std::max(0.0, table_.pairs - tried);
        hypotheses_.insert(hypotheses_.end(), found.begin(), found.end());
    }

    void find_best() {
        best_ = 0;
        for (std::size_t i = 1; i < hypotheses_.size(); ++i)
            if (hypotheses_[i].log_weight > hypotheses_[best_].log_weight) best_ = i;
    }

    void normalise() {
        std::vector<double> logs(hypotheses_.size());
        for (std::size_t i = 0; i < logs.size(); ++i) logs[i] = hypotheses_[i].log_weight;
        weights_ = infer::shares_of(logs);
    }

    /// K·B and K·(y + row change) of a pattern.
    Eigen::Matrix<double, 4, 3> pose_by_amount(const Pattern& pattern) const {
        Eigen::Matrix<double, 4, 3> out = Eigen::Matrix<double, 4, 3>::Zero();
        for (std::size_t k = 0; k < pattern.rows.size(); ++k)
            out += model_.pose_from_misfit.col(pattern.rows[k]) * pattern.by_amount[k].transpose();
        return out;
    }
    Eigen::Vector4d base_shift(const Pattern& pattern) const {
        Eigen::Vector4d out = model_.pose_shift;
        for (std::size_t k = 0; k < pattern.row_change.size(); ++k)
            out += model_.pose_from_misfit.col(pattern.rows[k]) * pattern.row_change[k];
        return out;
    }

    /// How much a pattern turns the station: before its amount is known, and per amount.
    struct Turn {
        double base = 0.0;
        Vec by_amount = Vec::Zero();
    };
    Turn turn_by(const Pattern& p) const {
        constexpr int kRow = station::kModelOrientation;
        Turn out;
        for (std::size_t k = 0; k < p.row_change.size(); ++k)
            out.base += model_.pose_from_misfit(kRow, p.rows[k]) * p.row_change[k];
        for (std::size_t k = 0; k < p.rows.size(); ++k)
            out.by_amount -= model_.pose_from_misfit(kRow, p.rows[k]) * p.by_amount[k];
        return out;
    }
    double turn_of(const Hypothesis& h) const {
        const Turn& turn = turns_[static_cast<std::size_t>(h.pattern)];
        return model_.pose_shift[station::kModelOrientation] + turn.base +
               turn.by_amount.dot(h.fit.mean);
    }

    Eigen::Vector4d pose_change(const Hypothesis& h) const {
        if (h.pattern < 0) return model_.pose_shift;
        const Pattern& p = patterns_[static_cast<std::size_t>(h.pattern)];
        if (h.second < 0) return base_shift(p) - pose_by_amount(p) * h.fit.mean;
        const Pattern& b = patterns_[static_cast<std::size_t>(h.second)];
        const infer::AmountFit<6> both = fit_pair(h);
        return base_shift(p) + base_shift(b) - model_.pose_shift -
               pose_by_amount(p) * both.mean.head<3>() - pose_by_amount(b) * both.mean.tail<3>();
    }

    /// Rows of the state that an amount reaches directly, plus what it does through the pose.
    Eigen::Matrix<double, station::kStateSize, 3> state_by_amount(const Pattern& p) const {
        Eigen::Matrix<double, station::kStateSize, 3> out =
            Eigen::Matrix<double, station::kStateSize, 3>::Zero();
        out.topRows<4>() = -pose_by_amount(p);
        for (int c = 0; c < p.columns; ++c) {
            const int state = p.state[static_cast<std::size_t>(c)];
            if (state >= 0) out(state, c) += 1.0;
        }
        return out;
    }

    Belief belief(const Hypothesis& h) const {
        Belief out;
        out.covariance.topLeftCorner<4, 4>() = model_.pose_covariance;
        if (h.other >= 0) {
            const OtherNames& other = others_.contenders[static_cast<std::size_t>(h.other)];
            out.covariance.topLeftCorner<4, 4>() = other.covariance;
            const Eigen::Vector3d moved = other.pose.position_m - solution_.pose.position_m;
            out.mean.head<3>() << moved.x(), moved.y(),
                measure::wrap_pi(other.pose.orientation_rad - solution_.pose.orientation_rad);
            out.mean[station::state_height] = moved.z();
            return out;
        }
        out.mean.head<4>() = model_.pose_shift;
        if (h.pattern >= 0 && h.second < 0) {
            const Pattern& p = patterns_[static_cast<std::size_t>(h.pattern)];
            out.mean.head<4>() = base_shift(p);
            const auto by = state_by_amount(p);
            out.mean += by * h.fit.mean;
            out.covariance += by * h.fit.covariance * by.transpose();
        } else if (h.pattern >= 0) {
            const Pattern& a = patterns_[static_cast<std::size_t>(h.pattern)];
            const Pattern& b = patterns_[static_cast<std::size_t>(h.second)];
            const infer::AmountFit<6> both = fit_pair(h);
            Eigen::Matrix<double, station::kStateSize, 6> by;
            by << state_by_amount(a), state_by_amount(b);
            out.mean.head<4>() = base_shift(a) + base_shift(b) - model_.pose_shift;
            out.mean += by * both.mean;
            out.covariance += by * both.covariance * by.transpose();
        }
        out.mean += offset_;
        return out;
    }

    infer::AmountFit<6> fit_pair(const Hypothesis& h) const {
        const auto a = static_cast<std::size_t>(h.pattern);
        const auto b = static_cast<std::size_t>(h.second);
        const Mat between = internal::project(patterns_[b], evidence_[a].reduced);
        return infer::fit_amounts(
            infer::joined(evidence_[a].data, evidence_[b].data, between),
            infer::joined<3>(patterns_[a].sds[static_cast<std::size_t>(h.size)],
                             patterns_[b].sds[static_cast<std::size_t>(h.second_size)]));
    }

    /// The likeliest single explanations, for predicting further sights.
    std::shared_ptr<const Working> keep_working() const {
        std::vector<std::size_t> order;
        for (std::size_t i = 0; i < hypotheses_.size(); ++i)
            if (hypotheses_[i].second < 0 && weights_[i] > kSmallestBelief) order.push_back(i);
        std::sort(order.begin(), order.end(),
                  [&](std::size_t a, std::size_t b) { return weights_[a] > weights_[b]; });
        if (order.size() > kMostHeld) order.resize(kMostHeld);
        auto out = std::make_shared<Working>();
        out->model = model_;
        out->pose = pose_;
        double total = 0.0;
        for (const std::size_t i : order) total += weights_[i];
        for (const std::size_t i : order) {
            const Hypothesis& h = hypotheses_[i];
            const Explanation what = describe(h);
            Working::Held held;
            held.weight = weights_[i] / total;
            held.cause = what.cause;
            held.subjects = what.subjects;
            if (h.pattern >= 0) {
                held.pattern = patterns_[static_cast<std::size_t>(h.pattern)];
                held.sd = held.pattern.sds[static_cast<std::size_t>(h.size)];
            } else if (h.other >= 0) {
                const OtherNames& other = others_.contenders[static_cast<std::size_t>(h.other)];
                held.other_names = true;
                held.mark_a = other.mark_a;
                held.mark_b = other.mark_b;
                held.sight = other.sight;
                held.pose = other.pose;
                held.pose_covariance = other.covariance;
            }
            out->held.push_back(std::move(held));
        }
        return out;
    }

    std::string mark_name(int mark) const {
        return mark < 0 ? std::string{} : setup_.marks[static_cast<std::size_t>(mark)].name;
    }

    int input_order(int mark) const {
        return setup_.marks[static_cast<std::size_t>(mark)].input_index;
    }

    Explanation describe(const Pattern& pattern) const {
        Explanation out;
        out.cause = pattern.cause;
        if (pattern.mark >= 0) out.subjects.push_back(mark_name(pattern.mark));
        out.sight = pattern.sight;
        return out;
    }

    Explanation describe(const Hypothesis& h) const {
        if (h.other >= 0) {
            const OtherNames& other = others_.contenders[static_cast<std::size_t>(h.other)];
            Explanation out;
            out.cause = other.cause;
            int first = other.mark_a;
            int second = other.mark_b;
            // Swapped names in the order of the marks file; a wrong name as booked, then as likely.
            if (other.cause == Cause::names_swapped && input_order(second) < input_order(first))
                std::swap(first, second);
            out.subjects = {mark_name(first), mark_name(second)};
            out.sight = other.sight;
            return out;
        }
        if (h.pattern >= 0) return describe(patterns_[static_cast<std::size_t>(h.pattern)]);
        return {};
    }

    /// Orders explanations without their names: cause, then marks.
    using Key = std::array<int, 3>;
    static Key key_of(const Pattern& pattern) {
        return {static_cast<int>(pattern.cause), pattern.mark, -1};
    }
    Key key_of(const Hypothesis& h) const {
        if (h.pattern >= 0) return key_of(patterns_[static_cast<std::size_t>(h.pattern)]);
        if (h.other < 0) return {static_cast<int>(Cause::nothing_wrong), -1, -1};
        const OtherNames& other = others_.contenders[static_cast<std::size_t>(h.other)];
        return {static_cast<int>(other.cause), other.mark_a, other.mark_b};
    }

    Entry describe_pair(const Hypothesis& h, double weight) const {
        const Pattern& one = patterns_[static_cast<std::size_t>(h.pattern)];
        const Pattern& two = patterns_[static_cast<std::size_t>(h.second)];
        const infer::AmountFit<6> both = fit_pair(h);
        Explanation a = describe(one);
        Explanation b = describe(two);
        a.estimate =
            estimate_of(a.cause, both.mean.head<3>(), both.covariance.topLeftCorner<3, 3>());
        b.estimate =
            estimate_of(b.cause, both.mean.tail<3>(), both.covariance.bottomRightCorner<3, 3>());
        a.probability = b.probability = weight;
        a.pose_change = b.pose_change = belief(h).mean;
        Entry out;
        out.is_pair = true;
        out.probability = weight;
        out.members = {a, b};
        if (key_of(two) < key_of(one)) std::swap(out.members[0], out.members[1]);
        return out;
    }

    static Estimate estimate_of(Cause cause, const Vec& mean, const Mat& covariance) {
        Estimate out;
        const auto sd = [&](int i) { return std::sqrt(std::max(covariance(i, i), 0.0)); };
        switch (cause) {
            case Cause::mark_moved:
            case Cause::rod_not_plumb:
                out.east_m = mean[0];
                out.north_m = mean[1];
                out.sd_m = std::max(sd(0), sd(1));
                break;
            case Cause::mark_height_changed:
                out.height_m = mean[0];
                out.sd_m = sd(0);
                break;
            case Cause::rod_height_wrong:
            case Cause::rod_height_wrong_on_all:
            case Cause::prism_constant_wrong:
            case Cause::gross_distance:
                out.length_m = mean[0];
                out.sd_m = sd(0);
                break;
            case Cause::distance_scale_wrong:
                out.ratio = mean[0];
                break;
            case Cause::tripod_disturbed:
                out.east_m = mean[0];
                out.north_m = mean[1];
                out.sd_m = std::max(sd(0), sd(1));
                out.angle_rad = mean[2];
                out.sd_angle_rad = sd(2);
                break;
            case Cause::out_of_level:
                out.angle_rad = mean.head<2>().norm();
                out.sd_angle_rad = std::max(sd(0), sd(1));
                break;
            case Cause::vertical_index_wrong:
            case Cause::gross_direction:
            case Cause::gross_zenith:
                out.angle_rad = mean[0];
                out.sd_angle_rad = sd(0);
                break;
            default:
                break;
        }
        return out;
    }

    /// Beliefs about the pose that hardly differ are put together, moments kept: most of the
    /// unlikely explanations say nearly the same about the station, and every one costs time at
    /// every point. Near is: only the pose differs, by less than half a standard deviation, and the
    /// spreads are alike.
    static bool is_near(const Belief& a, const Belief& b) {
        for (int i = 4; i < station::kStateSize; ++i)
            if (a.covariance(i, i) != 0.0 || b.covariance(i, i) != 0.0 || a.mean[i] != b.mean[i])
                return false;
        for (int i = 0; i < 4; ++i) {
            const double va = a.covariance(i, i);
            const double vb = b.covariance(i, i);
            const double apart = a.mean[i] - b.mean[i];
            if (apart * apart > 0.25 * vb || va > 1.5 * vb || vb > 1.5 * va) return false;
        }
        return true;
    }

    /// All sizes, and all sights to the same name, of one explanation put together.
    struct Gathered {
        std::size_t hypothesis = 0;  ///< the likeliest
        double probability = 0.0;
        double prior = 0.0;
        double likelihood = 0.0;  ///< Σ prior · e^(log Bayes − top)
        double strongest = 0.0;
        infer::Normal<3> amount;
        State state = State::Zero();
    };

    Diagnosis report() const {
        Diagnosis out;
        out.model_usable = true;
        out.pairs_left_out = pairs_not_tried_;
        std::map<Key, Gathered> singles;
        struct PairGathered {
            double weight = 0.0;
            std::size_t strongest = 0;  ///< gives the amounts
        };
        std::map<std::pair<Key, Key>, PairGathered> pairs;
        const double top = hypotheses_[best_].log_weight;

        for (std::size_t i = 0; i < hypotheses_.size(); ++i) {
            const Hypothesis& h = hypotheses_[i];
            const bool keep = weights_[i] >= kSmallestBelief || i == best_;
            Belief held;
            if (keep) {
                held = belief(h);
                held.weight = weights_[i];
            }
            if (h.second >= 0) {
                const Key one = key_of(h);
                const Key two = key_of(patterns_[static_cast<std::size_t>(h.second)]);
                PairGathered& g = pairs[std::minmax(one, two)];
                if (g.weight == 0.0 || weights_[i] > weights_[g.strongest]) g.strongest = i;
                g.weight += weights_[i];
            } else {
                Gathered& g = singles[key_of(h)];
                if (weights_[i] > g.strongest || g.prior == 0.0) {
                    g.strongest = weights_[i];
                    g.hypothesis = i;
                }
                g.probability += weights_[i];
                g.prior += h.prior;
                g.likelihood += std::exp(h.log_weight - top);
                infer::put_together(g.amount,
                                    infer::Normal<3>{weights_[i], h.fit.mean, h.fit.covariance});
                if (keep) g.state += weights_[i] * held.mean;
            }
            if (keep) out.beliefs.push_back(held);
        }
        infer::normalise(out.beliefs);
        out.beliefs = infer::merge_near(std::move(out.beliefs), kMayMerge, is_near);

        const double nothing_log =
            hypotheses_.front().log_weight - std::log(std::max(hypotheses_.front().prior, 1e-300));
        std::vector<Explanation> list;
        for (const auto& [key, g] : singles) {
            Explanation e = describe(hypotheses_[g.hypothesis]);
            e.probability = g.probability;
            e.log_evidence = std::log(std::max(g.likelihood, 1e-300) / std::max(g.prior, 1e-300)) +
                             top - nothing_log;
            if (e.probability > 0.0) {
                e.estimate = estimate_of(e.cause, g.amount.mean, g.amount.covariance);
                e.pose_change = g.state / e.probability;
            }
            list.push_back(e);
        }
        out.entries = group(std::move(list));
        for (const auto& [key, g] : pairs)
            if (g.weight >= options_.smallest_listed)
                out.entries.push_back(describe_pair(hypotheses_[g.strongest], g.weight));
        std::stable_sort(out.entries.begin(), out.entries.end(), [](const auto& a, const auto& b) {
            return a.probability > b.probability;
        });
        drop_small(out);
        double weight = 0.0;
        for (const Explanation& e : out.entries.front().members) {
            out.best_state += e.probability * e.pose_change;
            weight += e.probability;
        }
        if (weight > 0.0) out.best_state /= weight;
        return out;
    }

    /// Entries too small to list give their probability back in proportion.
    void drop_small(Diagnosis& out) const {
        double kept = 0.0;
        std::vector<Entry> list;
        for (Entry& entry : out.entries) {
            const bool nothing =
                !entry.is_pair && entry.members.front().cause == Cause::nothing_wrong;
            if (!nothing && entry.probability < options_.smallest_listed) continue;
            kept += entry.probability;
            list.push_back(std::move(entry));
        }
        for (Entry& entry : list) {
            entry.probability /= kept;
            for (Explanation& e : entry.members) e.probability /= kept;
        }
        out.entries = std::move(list);
    }

    const Prepared& setup_;
    const station::Solution& solution_;
    const CauseTable& table_;
    const DiagnoseOptions& options_;
    MisfitModel model_;
    Pose pose_;
    State offset_ = State::Zero();
    std::vector<Pattern> patterns_;
    std::vector<Evidence> evidence_;
    std::vector<Turn> turns_;
    internal::OtherNamesResult others_;
    std::vector<Hypothesis> hypotheses_;
    std::vector<double> weights_;
    std::size_t best_ = 0;
    double pairs_not_tried_ = 0.0;
    double statistic_as_booked_ = 0.0;
};

}  // namespace

Diagnosis diagnose(const Prepared& setup, const station::Solution& solution,
                   const CauseTable& table, const std::vector<station::UsedMark>& others,
                   const DiagnoseOptions& options) {
    if (others.empty()) return Diagnoser(setup, solution, table, options).run();
    Prepared extended = setup;
    for (station::UsedMark mark : others) {
        mark.given_m -= setup.origin_m;
        extended.marks.push_back(std::move(mark));
    }
    return Diagnoser(extended, solution, table, options).run();
}

}  // namespace layproof::cause

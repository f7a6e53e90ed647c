#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <memory>
#include <utility>

#include "frame/rigid.hpp"
#include "infer/log_weights.hpp"
#include "measure/angle.hpp"
#include "station/observations.hpp"
#include "station/start_values.hpp"
#include "vet/list_function_internal.hpp"
#include "vet/network_internal.hpp"

namespace layproof::vet::internal {
namespace {

using adjust::ParameterId;
using Eigen::Vector2d;
using Eigen::VectorXd;

/// A pose that its sights leave open is kept from running away; far too weak to be felt else.
constexpr double kLoosePlace_m = 300.0;
constexpr double kLooseTurn_rad = 10.0;

/// Entries of the lists as one way of reading them has it, relative to the origin.
struct ReadEntry {
    int list = 0, mark = 0;
    bool has_plan = false, has_height = false;
    Vector2d plan_m = Vector2d::Zero();
    double height_m = 0.0;
};

struct Reading {
    std::vector<ReadEntry> entries;
    std::vector<Vector2d> start;  ///< per mark
    std::vector<double> start_height;
    Vector2d centre_m = Vector2d::Zero();  ///< of the list with free amounts
    double turn_rad = 0.0, scale = 1.0;
    Vector2d shift_m = Vector2d::Zero();
    bool fitted = true;  ///< free amounts could be found
};

Vector2d undone(const Vector2d& written, const Variant& v, const Vector2d& origin) {
    Vector2d p = written / v.ratio;
    if (v.swap) p = Vector2d(p.y(), p.x());
    p -= origin;
    if (v.mirror) p.x() = -p.x();
    return p;
}

/// Takes the free amounts out of the entries of the list, by what the other lists say.
void fit_free(const Variant& v, Reading& reading) {
    std::vector<Vector2d> local, target;
    for (const ReadEntry& e : reading.entries) {
        if (!v.applies_to(e.list) || !e.has_plan) continue;
        for (const ReadEntry& other : reading.entries)
            if (!v.applies_to(other.list) && other.mark == e.mark && other.has_plan) {
                local.push_back(e.plan_m);
                target.push_back(other.plan_m);
                break;
            }
    }
    const bool needs_two = v.free_turn || v.free_scale;
    if (local.size() < (needs_two ? 2U : 1U)) {
        reading.fitted = false;
        return;
    }
    Vector2d from = Vector2d::Zero();
    Vector2d to = Vector2d::Zero();
    for (std::size_t i = 0; i < local.size(); ++i) {
        from += local[i] / static_cast<double>(local.size());
        to += target[i] / static_cast<double>(local.size());
    }
    if (v.free_turn) reading.turn_rad = frame::rigid_fit(local, target).rotation_rad;
    if (v.free_scale) {
        double above = 0.0;
        double below = 0.0;
        for (std::size_t i = 0; i < local.size(); ++i) {
            above += (local[i] - from).dot(target[i] - to);
            below += (local[i] - from).squaredNorm();
        }
        reading.scale = below > 0.0 && above > 0.0 ? above / below : 1.0;
    }
    reading.shift_m = to - from;
    reading.centre_m = to;
    const double c = std::cos(reading.turn_rad);
    const double s = std::sin(reading.turn_rad);
    for (ReadEntry& e : reading.entries) {
        if (!v.applies_to(e.list) || !e.has_plan) continue;
        const Vector2d p = reading.scale * (e.plan_m - from);
        e.plan_m = to + Vector2d(c * p.x() + s * p.y(), c * p.y() - s * p.x());
    }
}

Reading read_lists(const Gathered& all, const Variant& v) {
    Reading out;
    for (const Entry& entry : all.entries) {
        if (entry.duplicate >= 0) {
            const auto d = static_cast<std::size_t>(entry.duplicate);
            if ((d < v.choice.size() ? v.choice[d] : 0) != entry.choice) continue;
        }
        ReadEntry e{entry.list,       entry.mark, entry.has_plan,
                    entry.has_height, {},         entry.height_m - all.height_origin_m};
        const bool spoilt = v.applies_to(entry.list);
        e.plan_m =
            spoilt ? undone(entry.plan_m, v, all.origin_m) : Vector2d(entry.plan_m - all.origin_m);
        if (spoilt && v.mark_a >= 0 && (e.mark == v.mark_a || e.mark == v.mark_b))
            e.mark = e.mark == v.mark_a ? v.mark_b : v.mark_a;
        out.entries.push_back(e);
    }
    if (v.is_free()) fit_free(v, out);
    const std::size_t n = all.marks.size();
    out.start.assign(n, Vector2d::Zero());
    out.start_height.assign(n, 0.0);
    std::vector<char> has_plan(n, 0);
    std::vector<char> has_height(n, 0);
    for (const ReadEntry& e : out.entries) {
        const auto m = static_cast<std::size_t>(e.mark);
        if (e.has_plan && has_plan[m] == 0) {
            out.start[m] = e.plan_m;
            has_plan[m] = 1;
        }
        if (e.has_height && has_height[m] == 0) {
            out.start_height[m] = e.height_m;
            has_height[m] = 1;
        }
    }
    return out;
}

}  // namespace

struct StartPose {
    double east_m = 0.0, north_m = 0.0, orientation_rad = 0.0, height_m = 0.0;
};

namespace {

double misfit_of(const SetupNode& setup, const StartPose& pose, const Reading& reading,
                 double scale_factor, StartPose* with_height) {
    double sum = 0.0;
    double height = 0.0;
    double height_square = 0.0;
    int heights = 0;
    for (const station::ControlSight& sight : setup.prepared.sights) {
        if (!sight.used) continue;
        const auto m =
            static_cast<std::size_t>(setup.mark_of[static_cast<std::size_t>(sight.mark)]);
        const Vector2d to = reading.start[m] - Vector2d(pose.east_m, pose.north_m);
        const double plan = to.norm() / scale_factor;
        const auto& r = sight.reduced;
        if (r.has_direction) {
            const double off = measure::wrap_pi(std::atan2(to.x(), to.y()) - pose.orientation_rad -
                                                r.direction_rad);
            sum += off * off * plan * plan;
        }
        if (r.has_distance) {
            const double level = station::ground_distance(r);
            sum += (plan - level) * (plan - level);
        }
        if (r.has_zenith && std::abs(std::sin(r.zenith_rad)) > 1e-3) {
            const double axes =
                reading.start_height[m] + r.target_height_m - plan / std::tan(r.zenith_rad);
            const double off = heights > 0 ? axes - height / heights : 0.0;
            height += axes;
            ++heights;
            // Welford's update: the spread about the mean.
            height_square += off * (axes - height / heights);
        }
    }
    if (with_height != nullptr && heights > 0) with_height->height_m = height / heights;
    return sum + height_square;
}

StartPose find_pose(const SetupNode& setup, const Reading& reading, double scale_factor,
                    double& square_sum) {
    station::Prepared prepared = setup.prepared;
    for (std::size_t i = 0; i < prepared.marks.size(); ++i) {
        const auto m = static_cast<std::size_t>(setup.mark_of[i]);
        prepared.marks[i].given_m.head<2>() = reading.start[m];
        prepared.marks[i].given_m.z() = reading.start_height[m];
    }
    StartPose best;
    double least = std::numeric_limits<double>::infinity();
    for (const station::StartValue& value : station::start_values(prepared)) {
        StartPose pose{value.east_m, value.north_m, value.orientation_rad, 0.0};
        const double sum = misfit_of(setup, pose, reading, scale_factor, &pose);
        if (sum < least) {
            least = sum;
            best = pose;
        }
    }
    if (!std::isfinite(least)) least = misfit_of(setup, best, reading, scale_factor, &best);
    square_sum = least;
    return best;
}

double ln_normal(double x, double sd) {
    return -0.5 * (x / sd) * (x / sd) - std::log(sd) - 0.5 * std::log(measure::kTwoPi);
}

/// ln of the prior density of the free amounts at what was found.
double ln_prior(const Variant& v, const Solved& s) {
    double out = 0.0;
    if (v.free_turn) {
        const double turn = measure::wrap_pi(s.turn_rad);
        const std::array logs{-std::log(measure::kTwoPi), ln_normal(turn, measure::kRadPerDeg)};
        out += infer::ln_mean_exp(logs);
    }
    if (v.free_scale) {
        std::vector<double> logs;
        for (const double sd : prior_of(Trap::grid_for_ground).sizes)
            logs.push_back(ln_normal(s.scale - 1.0, sd));
        out += infer::ln_mean_exp(logs);
    }
    if (v.free_shift) {
        std::vector<double> logs;
        for (const double sd : {0.3, 30.0, 3000.0, 300000.0})
            logs.push_back(ln_normal(s.shift_m.x(), sd) + ln_normal(s.shift_m.y(), sd));
        out += infer::ln_mean_exp(logs);
    }
    return out;
}

}  // namespace

/// Per set-up: the marks it sees as the plain reading has them, and the pose found from them.
struct PlainPoses {
    struct One {
        StartPose pose;
        double square_sum = 0.0;
    };
    std::vector<Vector2d> start;
    std::vector<double> start_height;
    std::vector<One> setups;
};

namespace {

StartPose start_pose(const Gathered& all, std::size_t s, const Reading& reading,
                     double* square_sum = nullptr) {
    const SetupNode& setup = all.setups[s];
    if (all.plain_poses != nullptr) {
        const PlainPoses& plain = *all.plain_poses;
        const bool is_same = std::all_of(setup.mark_of.begin(), setup.mark_of.end(), [&](int mark) {
            const auto m = static_cast<std::size_t>(mark);
            return plain.start[m] == reading.start[m] &&
                   plain.start_height[m] == reading.start_height[m];
        });
        if (is_same) {
            if (square_sum != nullptr) *square_sum = plain.setups[s].square_sum;
            return plain.setups[s].pose;
        }
    }
    double sum = 0.0;
    const StartPose pose = find_pose(setup, reading, all.scale_factor, sum);
    if (square_sum != nullptr) *square_sum = sum;
    return pose;
}

class Builder {
public:
    Builder(const Gathered& all, const Variant& v)
        : all_(all), v_(v), reading_(read_lists(all, v)) {}

    Solved run(const VectorXd* values) {
        values_given_ = values;
        build();
        Solved& out = out_;
        if (values != nullptr) {
            problem_.values().assign(values->data(), values->data() + values->size());
            out.converged = true;
        } else {
            adjust::SolveOptions options;
            options.max_iterations = 30;
            const adjust::SolveSummary summary = adjust::solve(problem_, options);
            if (summary.status == adjust::SolveStatus::not_finite) return std::move(out_);
            out.converged = summary.status == adjust::SolveStatus::converged;
        }
        linearise();
        return std::move(out_);
    }

private:
    static std::span<const double> one(const double& value) { return {&value, 1}; }

    ParameterId plan(const Vector2d& start) { return problem_.add_parameter({start.data(), 2}); }
    ParameterId number(double start) { return problem_.add_parameter(one(start)); }
    int offset(ParameterId id) const {
        return problem_.parameters()[static_cast<std::size_t>(id.index)].offset;
    }
    /// East and north at which the problem is taken.
    Vector2d place_of(ParameterId id) const {
        const double* from =
            values_given_ != nullptr ? values_given_->data() : problem_.values().data();
        return {from[offset(id)], from[offset(id) + 1]};
    }
    int difference(ParameterId a, ParameterId b, const VectorXd& value, const VectorXd& sd,
                   int first_size = 0) {
        const auto size = static_cast<std::size_t>(value.size());
        const int numbers = static_cast<int>(size);
        const ParameterId blocks[] = {a, b};
        const Eigen::MatrixXd covariance = sd.cwiseAbs2().asDiagonal();
        return problem_.add_observation(
            std::make_unique<station::DifferenceFunction>(
                std::span(value.data(), size), first_size > 0 ? first_size : numbers, numbers),
            blocks, covariance);
    }
    static Eigen::MatrixXd square(double sd) { return Eigen::MatrixXd::Constant(1, 1, sd * sd); }

    void build() {
        const std::size_t n = all_.marks.size();
        out_.plan_at.assign(n, -1);
        out_.height_at.assign(n, -1);
        out_.meant_plan_at.assign(n, -1);
        out_.meant_height_at.assign(n, -1);
        out_.rows.link_plan.assign(n, -1);
        out_.rows.link_height.assign(n, -1);
        out_.said_plan.assign(n, {});
        out_.said_height.assign(n, {});
        x_.assign(n, {});
        xh_.assign(n, {});
        n_.assign(n, {});
        nh_.assign(n, {});
        constexpr double kSmallestSd_m = 1e-5;  // a mark held fixed still needs a weight
        for (std::size_t m = 0; m < n; ++m) {
            const MarkNode& mark = all_.marks[m];
            if (mark.has_plan) {
                x_[m] = plan(reading_.start[m]);
                n_[m] = plan(reading_.start[m]);
                out_.plan_at[m] = offset(x_[m]);
                out_.meant_plan_at[m] = offset(n_[m]);
                out_.rows.link_plan[m] = difference(x_[m], n_[m], Vector2d::Zero(),
                                                    mark.sd_m.head<2>().cwiseMax(kSmallestSd_m));
            }
            if (mark.has_height) {
                xh_[m] = number(reading_.start_height[m]);
                nh_[m] = number(reading_.start_height[m]);
                out_.height_at[m] = offset(xh_[m]);
                out_.meant_height_at[m] = offset(nh_[m]);
                out_.rows.link_height[m] =
                    difference(xh_[m], nh_[m], VectorXd::Zero(1),
                               VectorXd::Constant(1, std::max(mark.sd_m.z(), kSmallestSd_m)));
            }
        }
        if (v_.is_free() && reading_.fitted) {
            const std::vector<double> zero(
                static_cast<std::size_t>(int{v_.free_turn} + int{v_.free_scale} +
                                         2 * int{v_.free_shift}),
                0.0);
            transform_ = problem_.add_parameter(zero);
        }
        add_lists();
        add_tapes();
        for (std::size_t s = 0; s < all_.setups.size(); ++s) add_setup(s);
    }

    void add_lists() {
        for (const ReadEntry& e : reading_.entries) {
            const auto m = static_cast<std::size_t>(e.mark);
            Rows::ListRow row{e.list, e.mark};
            if (e.has_plan) {
                const bool free = transform_.index >= 0 && v_.applies_to(e.list);
                auto function = std::make_unique<ListFunction>(
                    e.plan_m, reading_.centre_m, free && v_.free_turn, free && v_.free_scale,
                    free && v_.free_shift);
                std::vector<ParameterId> blocks{n_[m]};
                if (free) blocks.push_back(transform_);
                row.plan = problem_.add_observation(
                    std::move(function), blocks,
                    Eigen::Matrix2d::Identity() *
                        (network::kListRounding_m * network::kListRounding_m));
                if (e.list == 0) out_.said_plan[m] = e.plan_m;
            }
            if (e.has_height) {
                row.height = problem_.observe_directly(nh_[m], one(e.height_m),
                                                       square(network::kListRounding_m));
                if (e.list == 0) out_.said_height[m] = e.height_m;
            }
            out_.rows.lists.push_back(row);
        }
    }

    void add_tapes() {
        for (const TapeRow& tape : all_.tapes) {
            const auto a = static_cast<std::size_t>(tape.from);
            const auto b = static_cast<std::size_t>(tape.to);
            std::vector<ParameterId> blocks{x_[a], x_[b]};
            if (tape.is_slope) {
                blocks.push_back(xh_[a]);
                blocks.push_back(xh_[b]);
            }
            out_.rows.tapes.push_back(
                problem_.add_observation(std::make_unique<station::TapeFunction>(
                                             tape.value_m, all_.scale_factor, tape.is_slope),
                                         blocks, square(tape.sd_m)));
        }
        for (const TapeRow& level : all_.levels)
            out_.rows.levels.push_back(difference(
                xh_[static_cast<std::size_t>(level.to)], xh_[static_cast<std::size_t>(level.from)],
                VectorXd::Constant(1, level.value_m), VectorXd::Constant(1, level.sd_m)));
    }

    void add_setup(std::size_t s) {
        const SetupNode& setup = all_.setups[s];
        // Where the values are given the start is not asked for.
        const StartPose start =
            values_given_ != nullptr ? StartPose{} : start_pose(all_, s, reading_);
        const double pose_start[] = {start.east_m, start.north_m, start.orientation_rad};
        const ParameterId pose = problem_.add_parameter(pose_start);
        out_.pose_at.push_back(offset(pose));
        problem_.observe_directly(pose, pose_start,
                                  Eigen::Vector3d(kLoosePlace_m, kLoosePlace_m, kLooseTurn_rad)
                                      .cwiseAbs2()
                                      .asDiagonal()
                                      .toDenseMatrix());
        ParameterId axes;
        if (setup.has_height) {
            axes = number(start.height_m);
            problem_.observe_directly(axes, one(start.height_m), square(kLoosePlace_m));
        }
        out_.pose_height_at.push_back(setup.has_height ? offset(axes) : -1);
        const measure::Instrument& instrument = setup.prepared.instrument;
        if (setup.over_mark >= 0) {
            const auto m = static_cast<std::size_t>(setup.over_mark);
            const Eigen::Vector3d sd = station::over_mark_sd_m(instrument);
            if (x_[m].index >= 0) difference(pose, x_[m], Vector2d::Zero(), sd.head<2>(), 3);
            if (setup.has_height && xh_[m].index >= 0 && setup.over_height_m)
                difference(axes, xh_[m], VectorXd::Constant(1, *setup.over_height_m), sd.tail<1>());
        }
        for (std::size_t i = 0; i < setup.prepared.sights.size(); ++i) {
            const station::ControlSight& sight = setup.prepared.sights[i];
            if (!sight.used) continue;
            const int mark = setup.mark_of[static_cast<std::size_t>(sight.mark)];
            const auto m = static_cast<std::size_t>(mark);
            measure::ReducedSight reduced = sight.reduced;
            reduced.covariance = station::covariance_of(
                reduced, instrument, (place_of(x_[m]) - place_of(pose)).norm() / all_.scale_factor);
            const bool with_height =
                setup.has_height && xh_[m].index >= 0 && station::says_height(reduced);
            if (!with_height) reduced = station::level_part(reduced);
            if (reduced.size() == 0) continue;
            std::vector<ParameterId> blocks{pose, x_[m]};
            if (with_height) {
                blocks.push_back(axes);
                blocks.push_back(xh_[m]);
            }
            const int block =
                problem_.add_observation(std::make_unique<station::SightFunction>(
                                             reduced, all_.scale_factor, instrument.refraction_k,
                                             with_height, station::SightFunction::Blocks::split),
                                         blocks, station::present_covariance(reduced));
            if (block < 0) continue;
            if (!reduced.has_distance) without_distance_.push_back(block);
            out_.rows.sights.push_back({static_cast<int>(s), static_cast<int>(i), mark, block,
                                        reduced.has_direction, reduced.has_zenith,
                                        reduced.has_distance, with_height && reduced.has_zenith});
        }
    }

    void linearise() {
        const int rows = problem_.observation_count();
        const int unknowns = problem_.unknown_count();
        out_.misfit.setZero(rows);
        std::vector<Eigen::Triplet<double>> cells;
        bool is_finite = true;
        out_.values = Eigen::Map<const VectorXd>(
            problem_.values().data(), static_cast<Eigen::Index>(problem_.values().size()));
        const auto& blocks = problem_.block_list();
        for (const auto& observation : problem_.observations()) {
            std::vector<const double*> values;
            std::vector<std::vector<double>> parts;
            std::vector<double*> pointers;
            for (int b = 0; b < observation.block_count; ++b) {
                const auto& parameter = problem_.parameters()[static_cast<std::size_t>(
                    blocks[static_cast<std::size_t>(observation.block_begin + b)])];
                values.push_back(problem_.values().data() + parameter.offset);
                parts.emplace_back(static_cast<std::size_t>(observation.size * parameter.size));
            }
            for (auto& part : parts) pointers.push_back(part.data());
            VectorXd residual(observation.size);
            observation.function->evaluate(values, residual.data(), pointers.data());
            const Eigen::Map<
                const Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>>
                factor(problem_.factors().data() + observation.factor_begin, observation.size,
                       observation.size);
            out_.first_row.push_back(observation.first_row);
            out_.size.push_back(observation.size);
            out_.whitener.emplace_back(factor);
            out_.parts.emplace_back();
            out_.misfit.segment(observation.first_row, observation.size) = -factor * residual;
            for (int b = 0; b < observation.block_count; ++b) {
                const auto& parameter = problem_.parameters()[static_cast<std::size_t>(
                    blocks[static_cast<std::size_t>(observation.block_begin + b)])];
                const Eigen::Map<
                    const Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>>
                    part(parts[static_cast<std::size_t>(b)].data(), observation.size,
                         parameter.size);
                Solved::Part& whitened = out_.parts.back().emplace_back();
                whitened.at = parameter.offset;
                whitened.rows = factor * part;
                is_finite = is_finite && whitened.rows.allFinite();
                for (Eigen::Index c = 0; c < whitened.rows.cols(); ++c)
                    for (Eigen::Index r = 0; r < whitened.rows.rows(); ++r)
                        cells.emplace_back(observation.first_row + static_cast<int>(r),
                                           parameter.offset + static_cast<int>(c),
                                           whitened.rows(r, c));
            }
        }
        if (!is_finite || !out_.misfit.allFinite()) return;
        out_.jacobian.resize(rows, unknowns);
        out_.jacobian.setFromTriplets(cells.begin(), cells.end());
        auto factor = std::make_shared<NormalFactor>();
        if (!factor->compute(out_.jacobian)) return;
        const VectorXd g = out_.jacobian.transpose() * out_.misfit;
        const VectorXd step = factor->solve(g);
        out_.statistic = std::max(out_.misfit.squaredNorm() - g.dot(step), 0.0);
        out_.redundancy = rows - unknowns;
        const double log_det = factor->log_det();
        out_.normal = std::move(factor);
        out_.turn_rad = reading_.turn_rad;
        out_.scale = reading_.scale;
        out_.shift_m = reading_.shift_m;
        double extra = 0.0;
        if (transform_.index >= 0) {
            const int at = offset(transform_);
            int k = at;
            if (v_.free_turn) out_.turn_rad -= out_.values[k++];
            if (v_.free_scale) out_.scale /= 1.0 + out_.values[k++];
            if (v_.free_shift) out_.shift_m -= Vector2d(out_.values[k], out_.values[k + 1]);
            const int free = int{v_.free_turn} + int{v_.free_scale} + 2 * int{v_.free_shift};
            extra = ln_prior(v_, out_) + 0.5 * free * std::log(measure::kTwoPi);
        }
        // The other weights are common to all readings.
        for (const int block : without_distance_)
            extra += out_.whitener[static_cast<std::size_t>(block)].diagonal().array().log().sum();
        out_.log_evidence = -0.5 * out_.statistic - 0.5 * log_det + extra;
        out_.usable = v_.is_free() ? reading_.fitted : true;
    }

    const Gathered& all_;
    const Variant& v_;
    Reading reading_;
    const VectorXd* values_given_ = nullptr;
    std::vector<int> without_distance_;  ///< observation blocks whose weight hangs on the places
    adjust::Problem problem_;
    ParameterId transform_;
    std::vector<ParameterId> x_, xh_, n_, nh_;
    Solved out_;
};

}  // namespace

void keep_plain_poses(Gathered& all) {
    const Reading reading = read_lists(all, Variant{});
    auto plain = std::make_shared<PlainPoses>();
    plain->start = reading.start;
    plain->start_height = reading.start_height;
    for (const SetupNode& setup : all.setups) {
        PlainPoses::One one;
        one.pose = find_pose(setup, reading, all.scale_factor, one.square_sum);
        plain->setups.push_back(one);
    }
    all.plain_poses = std::move(plain);
}

double rough_statistic(const Gathered& all, const Variant& variant) {
    const Reading reading = read_lists(all, variant);
    if (!reading.fitted) return std::numeric_limits<double>::infinity();
    double sum = 0.0;
    for (const ReadEntry& e : reading.entries)
        if (e.has_plan)
            sum += (e.plan_m - reading.start[static_cast<std::size_t>(e.mark)]).squaredNorm() /
                   (2.0 * network::kListRounding_m * network::kListRounding_m);
    for (const TapeRow& tape : all.tapes) {
        const auto a = static_cast<std::size_t>(tape.from);
        const auto b = static_cast<std::size_t>(tape.to);
        double length = (reading.start[b] - reading.start[a]).norm() / all.scale_factor;
        if (tape.is_slope)
            length = std::hypot(length, reading.start_height[b] - reading.start_height[a]);
        const double sd = std::hypot(tape.sd_m, all.marks[a].sd_m.x(), all.marks[b].sd_m.x());
        sum += (length - tape.value_m) * (length - tape.value_m) / (sd * sd);
    }
    for (const ReadEntry& e : reading.entries)
        if (e.has_height) {
            const double off = e.height_m - reading.start_height[static_cast<std::size_t>(e.mark)];
            sum += off * off / (2.0 * network::kListRounding_m * network::kListRounding_m);
        }
    for (const TapeRow& level : all.levels) {
        const double off = reading.start_height[static_cast<std::size_t>(level.to)] -
                           reading.start_height[static_cast<std::size_t>(level.from)] -
                           level.value_m;
        sum += off * off / (level.sd_m * level.sd_m);
    }
    for (std::size_t s = 0; s < all.setups.size(); ++s) {
        double square_sum = 0.0;
        start_pose(all, s, reading, &square_sum);
        constexpr double kSightSd_m = 0.004;
        sum += square_sum / (kSightSd_m * kSightSd_m);
    }
    return sum;
}

Solved solve_variant(const Gathered& all, const Variant& variant) {
    return Builder(all, variant).run(nullptr);
}

void linearise_at(const Gathered& all, const Variant& variant, const VectorXd& values,
                  Solved& solved) {
    Solved out = Builder(all, variant).run(&values);
    if (out.usable) solved = std::move(out);
}

Gathered noise_free(const Gathered& all, const Solved& solved) {
    Gathered out = all;
    out.plain_poses = nullptr;  // other sights
    const auto plan = [&](int m) {
        const int at = solved.meant_plan_at[static_cast<std::size_t>(m)];
        return Vector2d(solved.values[at], solved.values[at + 1]);
    };
    const auto height = [&](int m) {
        return solved.values[solved.meant_height_at[static_cast<std::size_t>(m)]];
    };
    for (Entry& entry : out.entries) {
        if (entry.has_plan) entry.plan_m = plan(entry.mark) + all.origin_m;
        if (entry.has_height) entry.height_m = height(entry.mark) + all.height_origin_m;
    }
    for (TapeRow& tape : out.tapes) {
        double length = (plan(tape.to) - plan(tape.from)).norm() / all.scale_factor;
        if (tape.is_slope) length = std::hypot(length, height(tape.to) - height(tape.from));
        tape.value_m = length;
    }
    for (TapeRow& level : out.levels) level.value_m = height(level.to) - height(level.from);
    for (std::size_t s = 0; s < out.setups.size(); ++s) {
        SetupNode& setup = out.setups[s];
        const int at = solved.pose_at[s];
        const Eigen::Vector3d pose = solved.values.segment<3>(at);
        const bool has_height = solved.pose_height_at[s] >= 0;
        const double axes = has_height ? solved.values[solved.pose_height_at[s]] : 0.0;
        const double bend = station::bend_of(setup.prepared.instrument.refraction_k);
        for (station::ControlSight& sight : setup.prepared.sights) {
            const int m = setup.mark_of[static_cast<std::size_t>(sight.mark)];
            measure::ReducedSight& r = sight.reduced;
            const Vector2d to = plan(m) - pose.head<2>();
            const bool with_height = has_height &&
                                     all.marks[static_cast<std::size_t>(m)].has_height &&
                                     station::says_height(r);
            const double rise = with_height ? height(m) - axes : 0.0;
            const station::SightLine line = station::sight_line(
                {to.x(), to.y(), rise}, r.target_height_m, all.scale_factor, bend, with_height);
            r.direction_rad = measure::wrap_0_2pi(std::atan2(to.x(), to.y()) - pose.z());
            if (with_height) {
                if (r.has_zenith) r.zenith_rad = std::atan2(line.ground_m, line.rise_m);
                r.distance_m = r.distance_is_horizontal ? line.ground_m : line.slope_m;
            } else if (r.has_zenith && !r.distance_is_horizontal) {
                r.distance_m = line.ground_m / std::sin(r.zenith_rad);
            } else {
                r.distance_m = line.ground_m;
            }
        }
    }
    return out;
}

void plant(Gathered& all, const Variant& v) {
    constexpr double kTypicalTurn_rad = measure::kRadPerDeg;
    constexpr double kTypicalShift_m = 1.0;
    constexpr double kTypicalRatio = 100e-6;
    for (Entry& entry : all.entries) {
        if (!v.applies_to(entry.list) || !entry.has_plan) continue;
        Vector2d p = entry.plan_m;
        if (v.mirror) p.x() = 2.0 * all.origin_m.x() - p.x();
        if (v.free_turn) {
            const Vector2d r = p - all.origin_m;
            const double c = std::cos(kTypicalTurn_rad);
            const double s = std::sin(kTypicalTurn_rad);
            p = all.origin_m + Vector2d(c * r.x() + s * r.y(), c * r.y() - s * r.x());
        }
        if (v.free_scale) p = all.origin_m + (1.0 + kTypicalRatio) * (p - all.origin_m);
        if (v.free_shift && !v.free_turn && !v.free_scale && !v.mirror)
            p += Vector2d::Constant(kTypicalShift_m);
        if (v.swap) p = Vector2d(p.y(), p.x());
        entry.plan_m = p * v.ratio;
        if (v.mark_a >= 0 && (entry.mark == v.mark_a || entry.mark == v.mark_b))
            entry.mark = entry.mark == v.mark_a ? v.mark_b : v.mark_a;
    }
}

}  // namespace layproof::vet::internal

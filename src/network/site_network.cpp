#include "network/site_network.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <utility>

#include "adjust/front_library.hpp"
#include "base/index.hpp"
#include "measure/angle.hpp"
#include "network/site_network_internal.hpp"
#include "station/observations.hpp"

namespace layproof::network {
namespace {

using adjust::ObservationId;
using adjust::ParameterId;
using Eigen::Matrix2d;
using Eigen::MatrixXd;
using Eigen::Vector2d;
using Eigen::Vector3d;
using Eigen::VectorXd;
using internal::NetworkForm;
using internal::NetworkGathered;

class NetworkAdjusting {
public:
    explicit NetworkAdjusting(const NetworkInput& input)
        : in_(input), form_(std::make_shared<NetworkForm>()) {}

    Result<SiteNetwork> run() {
        all_ = internal::gather_network(in_);
        if (all_.chain.sights.empty() && all_.levels.empty() && all_.tapes.empty())
            return Refusal{ErrorCode::no_sights,
                           {},
                           "nothing to adjust",
                           "sights, levels or tapes between points"};
        chained_ = chain(all_.chain);
        internal::screen_gross(in_, all_, chained_, sheet_left_out_);
        choose_origin();
        build();
        if (form_->problem.unknown_count() > 0 && form_->problem.observation_count() > 0) {
            if (auto missing = adjust::lacks_front_library()) return std::move(*missing);
            adjust::SparseOptions options;
            options.keep_loose = true;
            adjust::SparseSolver solver(form_->problem, options);
            summary_ = solver.solve();
            if (summary_.status != adjust::SolveStatus::converged)
                return Refusal{ErrorCode::not_solvable,
                               {},
                               "the adjustment of the whole job",
                               "sights that hold together"};
            form_->analysis.emplace(solver.analyse());
            report();
        }
        return std::move(out_);
    }

private:
    void choose_origin() {
        Vector3d sum = Vector3d::Zero();
        Vector3d count = Vector3d::Zero();
        for (std::size_t p = 0; p < all_.points.size(); ++p) {
            if (chained_.point_plan[p]) {
                sum.head<2>() += *chained_.point_plan[p];
                count.head<2>().array() += 1.0;
            }
            if (chained_.point_height[p]) {
                sum.z() += *chained_.point_height[p];
                count.z() += 1.0;
            }
        }
        for (int i = 0; i < 3; ++i) out_.origin_m[i] = count[i] > 0.0 ? sum[i] / count[i] : 0.0;
    }

    void build() {
        add_setups();
        add_drift();
        add_points();
        add_sights();
        add_over();
        add_levels();
        add_tapes();
    }

    /// Times of the sights of each set-up in order; none where a sight lacks one.
    std::vector<std::vector<double>> times_of_setups() const {
        std::vector<std::vector<double>> out(in_.setups.size());
        std::vector<char> lacks(in_.setups.size(), 0);
        for (const NetworkSight& sight : all_.sights) {
            if (!sight.used) continue;
            if (sight.time_s)
                out[at(sight.setup)].push_back(*sight.time_s);
            else
                lacks[at(sight.setup)] = 1;
        }
        for (std::size_t s = 0; s < out.size(); ++s) {
            if (lacks[s] != 0) out[s].clear();
            std::sort(out[s].begin(), out[s].end());
        }
        return out;
    }

    void add_setups() {
        const auto times = times_of_setups();
        const auto moments = internal::standing_moments(times, in_.drift_per_s);
        for (const auto& of_setup : times)
            first_time_.push_back(of_setup.empty() ? 0.0 : of_setup.front());
        for (std::size_t s = 0; s < in_.setups.size(); ++s) {
            std::vector<internal::Standing> standings;
            for (const double from_s : moments[s]) {
                internal::Standing one;
                one.from_s = from_s;
                if (const auto& start = chained_.setup_plan[s]) {
                    const std::array<double, 3> values{start->plan_m.x() - out_.origin_m.x(),
                                                       start->plan_m.y() - out_.origin_m.y(),
                                                       start->orientation_rad};
                    one.pose = form_->problem.add_parameter(values);
                    if (chained_.setup_height[s]) {
                        const std::array<double, 1> height{*chained_.setup_height[s] -
                                                           out_.origin_m.z()};
                        one.axes = form_->problem.add_parameter(height);
                    }
                }
                standings.push_back(one);
            }
            form_->pose.push_back(standings.front().pose);
            form_->axes.push_back(standings.front().axes);
            form_->standings.push_back(std::move(standings));
        }
    }

    /// The standing at the moment of a sight.
    const internal::Standing& standing_of(const NetworkSight& sight) const {
        const auto& standings = form_->standings[at(sight.setup)];
        std::size_t k = 0;
        while (sight.time_s && k + 1 < standings.size() && standings[k + 1].from_s <= *sight.time_s)
            ++k;
        return standings[k];
    }

    /// From one standing to the next the place wanders.
    void add_drift() {
        std::vector<ParameterId> poses, axes;
        std::vector<double> pose_sds, axes_sds;
        for (std::size_t s = 0; s < form_->standings.size(); ++s) {
            const auto& standings = form_->standings[s];
            if (standings.front().pose.index < 0) continue;
            for (std::size_t k = 1; k < standings.size(); ++k) {
                // The first standing begins with the set-up, told by its first sight.
                const double before_s = k == 1 ? first_time_[s] : standings[k - 1].from_s;
                // What is said to stand still does so to a tenth of a micrometre.
                constexpr double kStill = 1e-7;
                const Eigen::Vector4d sd = (in_.drift_per_s * (standings[k].from_s - before_s))
                                               .cwiseSqrt()
                                               .cwiseMax(kStill);
                poses.insert(poses.end(), {standings[k].pose, standings[k - 1].pose});
                pose_sds.insert(pose_sds.end(), {sd[0], sd[1], sd[2]});
                if (standings[k].axes.index < 0) continue;
                axes.insert(axes.end(), {standings[k].axes, standings[k - 1].axes});
                axes_sds.push_back(sd[3]);
            }
        }
        add_still(std::move(poses), std::move(pose_sds), 3);
        add_still(std::move(axes), std::move(axes_sds), 1);
    }

    void add_still(std::vector<ParameterId> blocks, std::vector<double> sds, int size) {
        if (blocks.empty()) return;
        form_->problem.add_batch_with_sds(
            {size, {size, size}},
            std::make_unique<internal::DifferenceBatch>(std::vector<double>(sds.size(), 0.0), size,
                                                        size, size),
            blocks, sds);
    }

    void add_points() {
        std::vector<ParameterId> inner;
        std::vector<ParameterId> all_blocks;
        for (std::size_t p = 0; p < all_.points.size(); ++p) {
            ParameterId plan, height;
            if (const auto& start = chained_.point_plan[p]) {
                const std::array<double, 2> values{start->x() - out_.origin_m.x(),
                                                   start->y() - out_.origin_m.y()};
                plan = form_->problem.add_parameter(values);
                all_blocks.push_back(plan);
            }
            if (const auto& start = chained_.point_height[p]) {
                const std::array<double, 1> value{*start - out_.origin_m.z()};
                height = form_->problem.add_parameter(value);
                all_blocks.push_back(height);
            }
            form_->plan.push_back(plan);
            form_->height.push_back(height);
            form_->given_plan.emplace_back();
            form_->given_height.emplace_back();
            form_->given_sd_m.emplace_back(Vector3d::Zero());
            if (all_.points[p].mark < 0) continue;
            const frame::Mark& mark = in_.marks[at(all_.points[p].mark)];
            form_->given_sd_m[p] << mark.sd_east_m, mark.sd_north_m, mark.sd_height_m;
            give_plan(p, mark, inner);
            give_height(p, mark, inner);
        }
        if (in_.datum == Datum::inner)
            form_->problem.set_inner_datum(inner.empty() ? all_blocks : inner);
        form_->datum = in_.datum;
        form_->scale_factor = in_.scale_factor;
        // A frame of its own hangs on nothing: it is held by the smallest corrections too, plan and
        // height each for itself.
        if (in_.datum != Datum::inner && (chained_.own_frame || chained_.own_height)) {
            std::vector<ParameterId> own;
            for (std::size_t p = 0; p < all_.points.size(); ++p) {
                if (chained_.own_frame && form_->plan[p].index >= 0) own.push_back(form_->plan[p]);
                if (chained_.own_height && form_->height[p].index >= 0)
                    own.push_back(form_->height[p]);
            }
            form_->problem.set_inner_datum(std::move(own));
        }
    }

    void give_plan(std::size_t p, const frame::Mark& mark, std::vector<ParameterId>& inner) {
        const ParameterId plan = form_->plan[p];
        if (plan.index < 0 || !mark.has_plan()) return;
        inner.push_back(plan);
        if (sheet_left_out_[p] != 0 || in_.datum == Datum::inner) return;
        const bool hold =
            in_.datum == Datum::held || (mark.sd_east_m == 0.0 && mark.sd_north_m == 0.0);
        const std::array<double, 2> given{*mark.east_m - out_.origin_m.x(),
                                          *mark.north_m - out_.origin_m.y()};
        if (hold) {
            form_->problem.hold(plan);
            return;
        }
        const Vector2d sd(std::max(mark.sd_east_m, station::kHeldSd_m),
                          std::max(mark.sd_north_m, station::kHeldSd_m));
        form_->given_plan[p] = form_->problem.observe_directly(
            plan, given, sd.cwiseAbs2().asDiagonal().toDenseMatrix());
    }

    void give_height(std::size_t p, const frame::Mark& mark, std::vector<ParameterId>& inner) {
        const ParameterId height = form_->height[p];
        if (height.index < 0 || !mark.has_height()) return;
        inner.push_back(height);
        if (in_.datum == Datum::inner) return;
        if (in_.datum == Datum::held || mark.sd_height_m == 0.0) {
            form_->problem.hold(height);
            return;
        }
        const std::array<double, 1> given{*mark.height_m - out_.origin_m.z()};
        form_->given_height[p] = form_->problem.observe_directly(
            height, given, MatrixXd::Constant(1, 1, mark.sd_height_m * mark.sd_height_m));
    }

    struct SightBatchOf {
        std::vector<internal::SightBatch::One> sights;
        std::vector<ParameterId> blocks;
        std::vector<double> covariances;
        std::vector<std::size_t> number;
        int rows = 0;
        bool with_height = false;
    };

    /// A lean of the rod is an angle by the distance: where none was measured it comes from the
    /// start places.
    Eigen::Matrix3d covariance_from_start(const NetworkSight& sight) const {
        const Vector2d to =
            *chained_.point_plan[at(sight.point)] - chained_.setup_plan[at(sight.setup)]->plan_m;
        return station::covariance_of(sight.reduced, in_.setups[at(sight.setup)].instrument,
                                      to.norm() / in_.scale_factor);
    }

    void add_sights() {
        std::map<int, SightBatchOf> batches;
        for (std::size_t i = 0; i < all_.sights.size(); ++i) {
            NetworkSight& sight = all_.sights[i];
            if (!sight.used) continue;
            const ParameterId pose = standing_of(sight).pose;
            const ParameterId plan = form_->plan[at(sight.point)];
            if (pose.index < 0 || plan.index < 0) {
                sight.used = false;
                sight.why_not_used = "hangs on nothing";
                continue;
            }
            sight.reduced.covariance = covariance_from_start(sight);
            const ParameterId axes = standing_of(sight).axes;
            const ParameterId height = form_->height[at(sight.point)];
            const bool can_rise =
                axes.index >= 0 && height.index >= 0 && station::says_height(sight.reduced);
            if (!can_rise) sight.reduced = station::level_part(sight.reduced);
            if (sight.reduced.size() == 0) {
                sight.used = false;
                sight.why_not_used =
                    "what was measured and what is known of the height do not meet";
                continue;
            }
            const measure::ReducedSight& r = sight.reduced;
            const int key = int{r.has_direction} + 2 * int{r.has_zenith} + 4 * int{r.has_distance} +
                            8 * int{r.distance_is_horizontal} + 16 * int{can_rise};
            SightBatchOf& batch = batches[key];
            batch.rows = r.size();
            batch.with_height = can_rise;
            batch.sights.push_back(
                {r, station::bend_of(in_.setups[at(sight.setup)].instrument.refraction_k)});
            batch.blocks.push_back(pose);
            batch.blocks.push_back(plan);
            if (can_rise) {
                batch.blocks.push_back(axes);
                batch.blocks.push_back(height);
            }
            const MatrixXd covariance = station::present_covariance(r);
            batch.covariances.insert(batch.covariances.end(), covariance.data(),
                                     covariance.data() + covariance.size());
            batch.number.push_back(i);
        }
        form_->sights.assign(all_.sights.size(), ObservationId{});
        for (auto& [key, batch] : batches) {
            std::vector<int> sizes{3, 2};
            if (batch.with_height) sizes = {3, 2, 1, 1};
            const auto added = form_->problem.add_batch(
                {batch.rows, sizes},
                std::make_unique<internal::SightBatch>(std::move(batch.sights), in_.scale_factor,
                                                       batch.with_height),
                batch.blocks, batch.covariances);
            for (std::size_t k = 0; k < batch.number.size(); ++k) {
                NetworkSight& sight = all_.sights[batch.number[k]];
                if (added.batch < 0) {
                    sight.used = false;
                    sight.why_not_used = "its figures have no weight";
                    continue;
                }
                form_->sights[batch.number[k]] = {added.batch, static_cast<int>(k)};
            }
        }
    }

    /// One batch of differences of blocks.
    struct Differences {
        std::vector<ParameterId> blocks;
        std::vector<double> values, sds;
        std::vector<std::size_t> number;
    };

    void add_differences(Differences&& d, int rows, int first, int second,
                         std::vector<ObservationId>& ids) {
        if (d.number.empty()) return;
        const auto added = form_->problem.add_batch_with_sds(
            {rows, {first, second}},
            std::make_unique<internal::DifferenceBatch>(std::move(d.values), rows, first, second),
            d.blocks, d.sds);
        if (added.batch < 0) return;
        for (std::size_t k = 0; k < d.number.size(); ++k)
            ids[d.number[k]] = {added.batch, static_cast<int>(k)};
    }

    void add_over() {
        form_->over_plan.assign(in_.setups.size(), ObservationId{});
        form_->over_height.assign(in_.setups.size(), ObservationId{});
        Differences plan, height;
        for (std::size_t s = 0; s < in_.setups.size(); ++s) {
            const ChainSetup& setup = all_.chain.setups[s];
            if (setup.over_point < 0 || form_->pose[s].index < 0) continue;
            const Vector3d sd = station::over_mark_sd_m(in_.setups[s].instrument);
            if (form_->plan[at(setup.over_point)].index >= 0) {
                plan.blocks.insert(plan.blocks.end(),
                                   {form_->pose[s], form_->plan[at(setup.over_point)]});
                plan.values.insert(plan.values.end(), {0.0, 0.0});
                plan.sds.insert(plan.sds.end(), {sd[0], sd[1]});
                plan.number.push_back(s);
            }
            if (form_->axes[s].index >= 0 && form_->height[at(setup.over_point)].index >= 0 &&
                setup.instrument_height_m) {
                height.blocks.insert(height.blocks.end(),
                                     {form_->axes[s], form_->height[at(setup.over_point)]});
                height.values.push_back(*setup.instrument_height_m);
                height.sds.push_back(sd[2]);
                height.number.push_back(s);
            }
        }
        add_differences(std::move(plan), 2, 3, 2, form_->over_plan);
        add_differences(std::move(height), 1, 1, 1, form_->over_height);
    }

    void add_levels() {
        form_->levels.assign(all_.levels.size(), ObservationId{});
        Differences rises;
        for (std::size_t i = 0; i < all_.levels.size(); ++i) {
            const NetworkLine& line = all_.levels[i];
            const LevelRise& level = in_.levels[at(line.input)];
            if (line.from == line.to || form_->height[at(line.from)].index < 0 ||
                form_->height[at(line.to)].index < 0 || !(level.sd_m > 0.0))
                continue;
            rises.blocks.insert(rises.blocks.end(),
                                {form_->height[at(line.to)], form_->height[at(line.from)]});
            rises.values.push_back(level.rise_m);
            rises.sds.push_back(level.sd_m);
            rises.number.push_back(i);
        }
        add_differences(std::move(rises), 1, 1, 1, form_->levels);
    }

    void add_tapes() {
        form_->tapes.assign(all_.tapes.size(), ObservationId{});
        for (const bool slope : {false, true}) {
            std::vector<ParameterId> blocks;
            std::vector<double> values, sds;
            std::vector<std::size_t> number;
            for (std::size_t i = 0; i < all_.tapes.size(); ++i) {
                const NetworkLine& line = all_.tapes[i];
                const Tape& tape = in_.tapes[at(line.input)];
                const auto from = at(line.from);
                const auto to = at(line.to);
                if (line.from == line.to || form_->plan[from].index < 0 ||
                    form_->plan[to].index < 0 || !(tape.sd_m > 0.0))
                    continue;
                const bool has_heights =
                    form_->height[from].index >= 0 && form_->height[to].index >= 0;
                if ((tape.is_slope && has_heights) != slope) continue;
                blocks.insert(blocks.end(), {form_->plan[from], form_->plan[to]});
                if (slope) blocks.insert(blocks.end(), {form_->height[from], form_->height[to]});
                values.push_back(tape.distance_m);
                sds.push_back(tape.sd_m);
                number.push_back(i);
            }
            if (number.empty()) continue;
            std::vector<int> sizes{2, 2};
            if (slope) sizes = {2, 2, 1, 1};
            const auto added = form_->problem.add_batch_with_sds(
                {1, sizes},
                std::make_unique<internal::TapeBatch>(std::move(values), in_.scale_factor, slope),
                blocks, sds);
            if (added.batch < 0) continue;
            for (std::size_t k = 0; k < number.size(); ++k)
                form_->tapes[number[k]] = {added.batch, static_cast<int>(k)};
        }
    }

    void report() {
        out_.is_solved = true;
        out_.points = std::move(all_.points);
        out_.sights = std::move(all_.sights);
        out_.levels = std::move(all_.levels);
        out_.tapes = std::move(all_.tapes);
        out_.loose = std::move(chained_.loose);
        out_.notices = std::move(all_.notices);
        out_.own_frame = chained_.own_frame;
        out_.own_height = chained_.own_height;
        out_.unknowns = form_->problem.unknown_count();
        out_.observations = form_->problem.observation_count();
        out_.iterations = summary_.iterations;
        out_.global_test = adjust::global_test(summary_.weighted_square_sum, summary_.redundancy);
        for (std::size_t p = 0; p < out_.points.size(); ++p) report_point(p);
        for (std::size_t s = 0; s < in_.setups.size(); ++s) report_setup(s);
        for (std::size_t i = 0; i < out_.sights.size(); ++i) report_sight(i);
        for (std::size_t i = 0; i < out_.levels.size(); ++i)
            report_line(out_.levels[i], form_->levels[i], Group::levels);
        for (std::size_t i = 0; i < out_.tapes.size(); ++i)
            report_line(out_.tapes[i], form_->tapes[i], Group::tapes);
        for (const auto* ids : {&form_->over_plan, &form_->over_height})
            for (const ObservationId id : *ids) count_group(id, Group::instruments);
        for (const auto* ids : {&form_->given_plan, &form_->given_height})
            for (const ObservationId id : *ids) count_group(id, Group::marks);
        report_components();
        out_.form = form_;
    }

    void report_point(std::size_t p) {
        NetworkPoint& point = out_.points[p];
        const ParameterId plan = form_->plan[p];
        const ParameterId height = form_->height[p];
        point.has_plan = plan.index >= 0 && !form_->analysis->is_loose(plan);
        point.has_height = height.index >= 0 && !form_->analysis->is_loose(height);
        point.sheet_left_out = sheet_left_out_[p] != 0;
        if (point.has_plan) {
            const auto value = form_->problem.value(plan);
            point.place_m.head<2>() << value[0] + out_.origin_m.x(), value[1] + out_.origin_m.y();
            point.covariance.topLeftCorner<2, 2>() = form_->analysis->covariance(plan);
        }
        if (point.has_height) {
            point.place_m.z() = form_->problem.value(height)[0] + out_.origin_m.z();
            point.covariance(2, 2) = form_->analysis->covariance(height)(0, 0);
        }
        if (point.has_plan && point.has_height) {
            const MatrixXd cross = form_->analysis->covariance(plan, height);
            point.covariance.block<2, 1>(0, 2) = cross;
            point.covariance.block<1, 2>(2, 0) = cross.transpose();
        }
        if (point.mark < 0) return;
        const frame::Mark& mark = in_.marks[at(point.mark)];
        if (point.has_plan && mark.has_plan()) {
            point.off_east_m = point.place_m.x() - *mark.east_m;
            point.off_north_m = point.place_m.y() - *mark.north_m;
            see_plan(p, point);
        }
        if (point.has_height && mark.has_height()) {
            point.off_height_m = point.place_m.z() - *mark.height_m;
            see_height(p, point);
        }
    }

    /// With the sheet's figures taken out of the answer: x − l = (I − Q C⁻¹)⁻¹ v, Q' = (I − Q
    /// C⁻¹)⁻¹ Q.
    void see_plan(std::size_t p, NetworkPoint& point) const {
        const Vector2d v(*point.off_east_m, *point.off_north_m);
        const Matrix2d q = point.covariance.topLeftCorner<2, 2>();
        const Matrix2d c =
            form_->given_sd_m[p].head<2>().cwiseMax(station::kHeldSd_m).cwiseAbs2().asDiagonal();
        if (form_->given_plan[p].index < 0) {
            if (!point.sheet_left_out && in_.datum != Datum::inner) return;
            point.seen_off_m = v;
            point.seen_off_covariance = q + c;
            return;
        }
        const Matrix2d left = Matrix2d::Identity() - q * c.inverse();
        constexpr double kSeesNothing = 1e-6;
        if (!(std::abs(left.determinant()) > kSeesNothing)) return;
        const Matrix2d inverse = left.inverse();
        const Matrix2d without = inverse * q;
        point.seen_off_m = inverse * v;
        point.seen_off_covariance = 0.5 * (without + without.transpose()) + c;
    }

    void see_height(std::size_t p, NetworkPoint& point) const {
        const double q = point.covariance(2, 2);
        const double sd = std::max(form_->given_sd_m[p].z(), station::kHeldSd_m);
        if (form_->given_height[p].index < 0) {
            if (in_.datum != Datum::inner) return;
            point.seen_off_height_m = point.off_height_m;
            point.seen_off_height_sd_m = std::sqrt(q + sd * sd);
            return;
        }
        const double left = 1.0 - q / (sd * sd);
        constexpr double kSeesNothing = 1e-6;
        if (!(left > kSeesNothing)) return;
        point.seen_off_height_m = *point.off_height_m / left;
        point.seen_off_height_sd_m = std::sqrt(std::max(q / left, 0.0) + sd * sd);
    }

    void report_setup(std::size_t s) {
        NetworkStation station;
        station.name = in_.setups[s].setup.station;
        const ParameterId pose = form_->pose[s];
        const ParameterId axes = form_->axes[s];
        station.is_placed = pose.index >= 0 && !form_->analysis->is_loose(pose);
        if (station.is_placed) {
            const auto value = form_->problem.value(pose);
            station.pose.position_m.head<2>() << value[0] + out_.origin_m.x(),
                value[1] + out_.origin_m.y();
            station.pose.orientation_rad = measure::wrap_0_2pi(value[2]);
            // The pose's order is east, north, height, orientation.
            const Eigen::Matrix3d q = form_->analysis->covariance(pose);
            constexpr std::array<int, 3> kTo{0, 1, 3};
            for (int r = 0; r < 3; ++r)
                for (int c = 0; c < 3; ++c)
                    station.pose.covariance(kTo[at(r)], kTo[at(c)]) = q(r, c);
            station.pose.has_height = axes.index >= 0 && !form_->analysis->is_loose(axes);
            if (station.pose.has_height) {
                station.pose.position_m.z() = form_->problem.value(axes)[0] + out_.origin_m.z();
                station.pose.covariance(2, 2) = form_->analysis->covariance(axes)(0, 0);
                const MatrixXd cross = form_->analysis->covariance(pose, axes);
                for (int r = 0; r < 3; ++r)
                    station.pose.covariance(kTo[at(r)], 2) =
                        station.pose.covariance(2, kTo[at(r)]) = cross(r, 0);
            }
        }
        out_.setups.push_back(std::move(station));
    }

    void report_sight(std::size_t i) {
        NetworkSight& sight = out_.sights[i];
        const ObservationId id = form_->sights[i];
        if (!sight.used || id.batch < 0) return;
        NetworkPoint& point = out_.points[at(sight.point)];
        NetworkStation& station = out_.setups[at(sight.setup)];
        ++point.sights;
        if (point.setups.empty() || point.setups.back() != sight.setup)
            point.setups.push_back(sight.setup);
        ++station.sights;
        const int rows = form_->problem.batches()[at(id.batch)].rows;
        station.observations += rows;
        const VectorXd weighted = internal::weighted_residual(*form_, id);
        const auto first = at(id.index * rows);
        const auto residual = form_->analysis->residual(id.batch);
        const auto redundancy = form_->analysis->redundancy(id.batch);
        const auto standardised = form_->analysis->standardised(id.batch);
        int row = 0;
        const auto take = [&](std::optional<double> station::PartFigures::*part, Group group) {
            const std::size_t k = first + at(row);
            sight.residual.*part = residual[k];
            sight.redundancy.*part = redundancy[k];
            sight.standardised.*part = standardised[k];
            const double square = residual[k] * weighted[row];
            station.statistic += square;
            station.redundancy += redundancy[k];
            add_to(group, square, redundancy[k]);
            ++row;
        };
        if (sight.reduced.has_direction) take(&station::PartFigures::direction, Group::angles);
        if (sight.reduced.has_zenith) take(&station::PartFigures::zenith, Group::angles);
        if (sight.reduced.has_distance) take(&station::PartFigures::distance, Group::distances);
        sight.observation = id.index;
    }

    void report_line(NetworkLine& line, ObservationId id, Group group) {
        if (id.batch < 0) return;
        line.used = true;
        line.residual_m = form_->analysis->residual(id.batch)[at(id.index)];
        line.standardised = form_->analysis->standardised(id.batch)[at(id.index)];
        line.redundancy = form_->analysis->redundancy(id.batch)[at(id.index)];
        line.observation = id.index;
        count_group(id, group);
    }

    void count_group(ObservationId id, Group group) {
        if (id.batch < 0) return;
        const int rows = form_->problem.batches()[at(id.batch)].rows;
        const VectorXd residual = internal::residual_of(*form_, id);
        const VectorXd weighted = internal::weighted_residual(*form_, id);
        for (int r = 0; r < rows; ++r)
            add_to(group, residual[r] * weighted[r],
                   form_->analysis->redundancy(id.batch)[at(id.index * rows + r)]);
    }

    void add_to(Group group, double square, double redundancy) {
        VarianceComponent& one = groups_[static_cast<int>(group)];
        one.group = group;
        ++one.observations;
        one.statistic += square;
        one.redundancy += redundancy;
    }

    void report_components() {
        for (auto& [group, one] : groups_) {
            const double weight = std::max(one.redundancy, 0.0) + kPriorRedundancy;
            one.ratio = std::sqrt(std::max(one.statistic + kPriorRedundancy, 0.0) / weight);
            one.ratio_sd = one.ratio * std::sqrt(0.5 / weight);
            out_.components.push_back(one);
        }
    }

    const NetworkInput& in_;
    std::shared_ptr<NetworkForm> form_;
    NetworkGathered all_;
    Chained chained_;
    std::vector<char> sheet_left_out_;
    std::vector<double> first_time_;  ///< per set-up
    adjust::SparseSummary summary_;
    std::map<int, VarianceComponent> groups_;
    SiteNetwork out_;
};

}  // namespace

std::string_view to_word(Group group) {
    constexpr std::array<std::string_view, 6> kWords{"angles", "distances",   "levels",
                                                     "tapes",  "instruments", "marks"};
    return kWords[static_cast<std::size_t>(group)];
}

int SiteNetwork::point_named(const std::string& name) const {
    for (std::size_t p = 0; p < points.size(); ++p)
        if (points[p].name == name) return static_cast<int>(p);
    return -1;
}

Eigen::Matrix3d SiteNetwork::covariance_between(int first_point, int second_point) const {
    Eigen::Matrix3d out = Eigen::Matrix3d::Zero();
    if (!form || first_point < 0 || second_point < 0) return out;
    const std::array<ParameterId, 2> first{form->plan[at(first_point)],
                                           form->height[at(first_point)]};
    const std::array<ParameterId, 2> second{form->plan[at(second_point)],
                                            form->height[at(second_point)]};
    for (int r = 0; r < 2; ++r)
        for (int c = 0; c < 2; ++c) {
            if (first[at(r)].index < 0 || second[at(c)].index < 0) continue;
            const MatrixXd block = form->analysis->covariance(first[at(r)], second[at(c)]);
            out.block(2 * r, 2 * c, block.rows(), block.cols()) = block;
        }
    return out;
}

std::vector<std::vector<double>> internal::standing_moments(
    const std::vector<std::vector<double>>& times_s, const Eigen::Vector4d& drift_per_s) {
    // Below the hand's own error: what the place gains between two moments is not told apart.
    constexpr double kDriftUnseen_m = 0.0003;
    constexpr double kDriftUnseen_rad = 2.5 * measure::kRadPerArcsec;
    // All places of a job go into one dense matrix.
    constexpr double kMostMoments = 600.0;
    constexpr double kNever_s = 1e18;
    const Eigen::Vector4d unseen(kDriftUnseen_m, kDriftUnseen_m, kDriftUnseen_rad, kDriftUnseen_m);
    double apart_s = kNever_s;
    for (int i = 0; i < 4; ++i)
        if (drift_per_s[i] > 0.0)
            apart_s = std::min(apart_s, unseen[i] * unseen[i] / drift_per_s[i]);
    double spans_s = 0.0;
    for (const auto& times : times_s)
        if (!times.empty()) spans_s += times.back() - times.front();
    apart_s = std::max(apart_s, spans_s / kMostMoments);
    std::vector<std::vector<double>> out;
    for (const auto& times : times_s) {
        std::vector<double> moments{-kNever_s};
        double last = times.empty() ? 0.0 : times.front();
        for (const double t : times) {
            if (apart_s >= kNever_s || t - last < apart_s) continue;
            moments.push_back(t);
            last = t;
        }
        out.push_back(std::move(moments));
    }
    return out;
}

Result<SiteNetwork> adjust_network(const NetworkInput& input) {
    return NetworkAdjusting(input).run();
}

}  // namespace layproof::network

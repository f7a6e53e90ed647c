#include <fmt/format.h>

#include <algorithm>
#include <map>

#include "acts/points/places.hpp"
#include "acts/watch/watch_day.hpp"
#include "base/text/time.hpp"
#include "cause/joint_belief.hpp"
#include "station/misfit_model.hpp"

namespace layproof::acts::internal {
namespace {

using measure::Purpose;
using measure::Sight;

constexpr const char* kTimeExpected =
    "a time for every check and lay sight, such as 2026-03-04T07:45:00-05:00";

constexpr double kNoLimit_m = 1e6;

class DayMaker {
public:
    DayMaker(const OneSetup& one, const StationWork& work, const DayPoints& points)
        : one_(one), work_(work), points_(points), lay_(lay_setup(one, work)) {}

    Result<TimedDay> run() {
        out_.day.start =
            cause::joint_beliefs(work_.prepared, work_.assessment.diagnosis, work_.report.pose);
        out_.day.has_height = work_.report.pose.has_height;
        if (auto refusal = begin()) return *refusal;
        if (auto refusal = add_checks()) return *refusal;
        if (auto refusal = add_points()) return *refusal;
        return std::move(out_);
    }

private:
    std::optional<Refusal> begin() {
        const Sight* last = nullptr;
        const Sight* any = nullptr;
        for (const station::ControlSight& control : work_.prepared.sights) {
            for (const int i : control.booked) {
                const Sight& sight = one_.input.sights[static_cast<std::size_t>(i)];
                if (sight.purpose != Purpose::control) continue;
                if (any == nullptr) any = &sight;
                if (control.used && sight.time_s && (!last || *sight.time_s > *last->time_s))
                    last = &sight;
            }
        }
        const station::Setup& setup = one_.input.setup;
        if (last != nullptr) {
            out_.day.setup_time_s = *last->time_s;
            begin_text_ = last->time_text;
        } else if (setup.time_s) {
            out_.day.setup_time_s = *setup.time_s;
            begin_text_ = setup.time_text;
        } else {
            return Refusal{ErrorCode::value_missing, any ? any->place : setup.place,
                           fmt::format("no time for the control sights of {}", setup.station),
                           "times of the control sights, or of the set-up in the set-ups file"};
        }
        out_.offset_s = clock_offset_s(begin_text_);
        return std::nullopt;
    }

    std::optional<Refusal> check_time(const Sight& sight) const {
        if (!sight.time_s)
            return Refusal{ErrorCode::value_missing, sight.place,
                           fmt::format("no time for the sight to {}", sight.target), kTimeExpected};
        if (*sight.time_s < out_.day.setup_time_s)
            return Refusal{
                ErrorCode::out_of_range, sight.place,
                fmt::format("{}, before the last control sight of {} at {}", sight.time_text,
                            sight.station, begin_text_),
                "checks and lay sights after the set-up; later sights to marks have purpose check"};
        return std::nullopt;
    }

    /// Check sights get their rows in the misfit model; the pose stays the set-up's own.
    std::optional<Refusal> add_checks() {
        station::Prepared with_checks = work_.prepared;
        std::vector<std::size_t> checks;
        for (std::size_t i = 0; i < with_checks.sights.size(); ++i) {
            station::ControlSight& control = with_checks.sights[i];
            const Sight& sight =
                one_.input.sights[static_cast<std::size_t>(control.booked.front())];
            if (sight.purpose != Purpose::check) continue;
            if (auto refusal = check_time(sight)) return refusal;
            const auto& aside = one_.input.set_aside;
            if (std::find(aside.begin(), aside.end(), control.booked.front()) != aside.end())
                continue;
            control.used = true;
            checks.push_back(i);
        }
        if (checks.empty()) return std::nullopt;
        const station::MisfitModel model = station::misfit_model(with_checks, work_.report.pose);
        for (const std::size_t i : checks) {
            double time_s = out_.day.setup_time_s;
            for (const int b : with_checks.sights[i].booked) {
                const Sight& sight = one_.input.sights[static_cast<std::size_t>(b)];
                time_s = std::max(time_s, sight.time_s.value_or(time_s));
            }
            auto check = watch::check_of(with_checks, model, static_cast<int>(i), time_s);
            if (!check) {
                out_.notices.push_back(
                    fmt::format("The check at {} gives nothing to compare; it is left out.",
                                clock_text(time_s, out_.offset_s)));
                continue;
            }
            const auto mark = static_cast<std::size_t>(with_checks.sights[i].mark);
            watch::add_check(out_.day, std::move(*check), with_checks.marks[mark].sd_m);
        }
        return std::nullopt;
    }

    std::optional<Refusal> add_points() {
        std::vector<const Sight*> sights;
        for (const Sight& sight : one_.input.sights) {
            if (sight.purpose != Purpose::lay || points_.list.empty()) continue;
            if (auto refusal = check_time(sight)) return refusal;
            sights.push_back(&sight);
        }
        std::stable_sort(sights.begin(), sights.end(),
                         [](const Sight* a, const Sight* b) { return *a->time_s < *b->time_s; });
        std::map<std::size_t, int> laid;
        for (const Sight* sight : sights) {
            const auto at = points_.index.find(sight->target);
            if (at == points_.index.end()) return no_such_point(*sight);
            const auto place = place_of(*sight, one_, lay_, 0);
            if (!place) {
                out_.notices.push_back(
                    fmt::format("The sight to {} at {} gives no place; it is left out.",
                                sight->target, clock_text(*sight->time_s, out_.offset_s)));
                continue;
            }
            const LayPoint& point = points_.list[at->second];
            const station::LayTarget target = target_of(point, place->has_height);
            const Eigen::Vector3d deviation(
                place->place_m.x() - target.east_m, place->place_m.y() - target.north_m,
                target.height_m ? place->place_m.z() - *target.height_m : 0.0);
            const auto [known, is_first] =
                laid.emplace(at->second, static_cast<int>(out_.day.points.size()));
            if (is_first) {
                out_.day.points.push_back(
                    watch::laid_point(work_.report.pose, target, one_.input.instrument,
                                      sight->target_height_m, *sight->time_s, deviation));
            } else {
                out_.day.resights.push_back(watch::resight_of(
                    work_.report.pose, target, known->second, one_.input.instrument,
                    sight->target_height_m, *sight->time_s, deviation));
            }
        }
        return std::nullopt;
    }

    /// The day judges one radius and one ± of height; of two sides the smaller counts.
    static station::LayTarget target_of(const LayPoint& point, bool has_height) {
        station::LayTarget out;
        out.name = point.design.name;
        out.east_m = point.design.east_m;
        out.north_m = point.design.north_m;
        if (has_height) out.height_m = point.design.height_m;
        out.tolerance_plan_m = point.tolerance.plan_m.value_or(kDefaultTolerancePlan_m);
        const lay::Limits& height = point.tolerance.height;
        if (out.height_m && (height.minus_m || height.plus_m))
            out.tolerance_height_m =
                std::min(height.minus_m.value_or(kNoLimit_m), height.plus_m.value_or(kNoLimit_m));
        return out;
    }

    const OneSetup& one_;
    const StationWork& work_;
    const DayPoints& points_;
    lay::LaySetup lay_;
    std::string begin_text_;
    TimedDay out_;
};

}  // namespace

Result<TimedDay> day_of(const OneSetup& one, const StationWork& work, const DayPoints& points) {
    return DayMaker(one, work, points).run();
}

}  // namespace layproof::acts::internal

#include "watch/day.hpp"

#include <algorithm>
#include <utility>

namespace layproof::watch {

Start start_of(const station::Pose& pose) {
    const station::Belief belief = station::belief_of(pose);
    Start out;
    out.beliefs.push_back({1.0, belief.mean, belief.covariance});
    return out;
}

int add_mark(Start& start, const std::string& name, const Eigen::Vector3d& sd_m) {
    for (cause::JointBelief& belief : start.beliefs) {
        const Eigen::Index n = belief.mean.size();
        belief.mean.conservativeResize(n + 3);
        belief.mean.tail<3>().setZero();
        Eigen::MatrixXd larger = Eigen::MatrixXd::Zero(n + 3, n + 3);
        larger.topLeftCorner(n, n) = belief.covariance;
        larger.bottomRightCorner<3, 3>() = sd_m.cwiseAbs2().asDiagonal();
        belief.covariance = std::move(larger);
    }
    start.marks.push_back(name);
    return static_cast<int>(start.marks.size()) - 1;
}

Result<std::vector<Check>> checks_of(const station::StationInput& input,
                                     const station::Prepared& setup, const station::Pose& nominal) {
    station::Prepared with_checks = setup;
    std::vector<int> wanted;
    for (std::size_t i = 0; i < setup.sights.size(); ++i) {
        const auto first = static_cast<std::size_t>(setup.sights[i].booked.front());
        const measure::Sight& sight = input.sights[first];
        if (sight.purpose != measure::Purpose::check) continue;
        if (std::find(input.set_aside.begin(), input.set_aside.end(), static_cast<int>(first)) !=
            input.set_aside.end())
            continue;
        if (!sight.time_s)
            return Refusal{ErrorCode::value_missing, sight.place,
                           "a check of " + sight.target + " without a time",
                           "the time of every check"};
        with_checks.sights[i].used = true;
        wanted.push_back(static_cast<int>(i));
    }
    std::vector<Check> out;
    if (wanted.empty()) return out;
    const station::MisfitModel model = station::misfit_model(with_checks, nominal);
    for (const int i : wanted) {
        const auto first =
            static_cast<std::size_t>(setup.sights[static_cast<std::size_t>(i)].booked.front());
        if (auto check = check_of(with_checks, model, i, *input.sights[first].time_s))
            out.push_back(std::move(*check));
    }
    return out;
}

std::optional<Check> check_of(const station::Prepared& setup, const station::MisfitModel& model,
                              int sight, double time_s) {
    if (sight < 0 || sight >= static_cast<int>(model.sights.size())) return std::nullopt;
    const auto i = static_cast<std::size_t>(sight);
    const station::SightGeometry& geometry = model.sights[i];
    if (geometry.first_row < 0 || geometry.rows < 1) return std::nullopt;
    Check out;
    const int mark = setup.sights[i].mark;
    out.mark = setup.marks[static_cast<std::size_t>(mark)].name;
    out.mark_index = mark;
    out.time_s = time_s;
    out.rows = geometry.rows;
    const Eigen::Vector3d variance = setup.marks[static_cast<std::size_t>(mark)].sd_m.cwiseAbs2();
    station::ByState by_state = station::by_state(geometry);
    by_state.col(station::state_index) *= setup.sights[i].reduced.face_balance;
    for (int r = 0; r < out.rows; ++r) {
        const int row = geometry.first_row + r;
        out.misfit_m[r] = model.misfit[row];
        out.by_mark.row(r) = model.rows[static_cast<std::size_t>(row)].by_target.transpose();
        out.by_state.row(r) = out.by_mark.row(r) * by_state;
        out.by_state.row(r).head<4>() = model.by_pose.row(row);
    }
    out.own.topLeftCorner(out.rows, out.rows) =
        model.covariance.block(geometry.first_row, geometry.first_row, out.rows, out.rows);
    out.own -= out.by_mark * variance.asDiagonal() * out.by_mark.transpose();
    return out;
}

void add_check(Day& day, Check check, const Eigen::Vector3d& mark_sd_m) {
    const auto& names = day.start.marks;
    const auto at = std::find(names.begin(), names.end(), check.mark);
    check.mark_index = at != names.end() ? static_cast<int>(at - names.begin())
                                         : add_mark(day.start, check.mark, mark_sd_m);
    day.checks.push_back(std::move(check));
}

Check planned_check(const station::Pose& nominal, const std::string& mark,
                    const Eigen::Vector3d& place_m, bool with_height,
                    const measure::Instrument& instrument, double rod_height_m) {
    station::LayTarget target;
    target.east_m = place_m.x();
    target.north_m = place_m.y();
    if (with_height) target.height_m = place_m.z();
    measure::Instrument sighting = instrument;
    sighting.marking_m = 0.0;
    const station::LayModel lay = station::lay_model(nominal, target, sighting, rod_height_m);
    Check out;
    out.mark = mark;
    out.rows = lay.has_height ? 3 : 2;
    out.by_state.topRows(out.rows) = -lay.by_state.topRows(out.rows);
    out.by_mark.topLeftCorner(out.rows, out.rows).setIdentity();
    out.own.topLeftCorner(out.rows, out.rows) = lay.own.topLeftCorner(out.rows, out.rows);
    return out;
}

LaidPoint laid_point(const station::Pose& nominal, const station::LayTarget& target,
                     const measure::Instrument& instrument, double rod_height_m, double time_s,
                     const std::optional<Eigen::Vector3d>& deviation_m) {
    measure::Instrument used = instrument;
    if (deviation_m) used.marking_m = 0.0;
    const station::LayModel lay = station::lay_model(nominal, target, used, rod_height_m);
    LaidPoint out;
    out.target = target;
    out.time_s = time_s;
    out.deviation_m = deviation_m.value_or(Eigen::Vector3d::Zero());
    out.by_state = -lay.by_state;
    out.own = lay.own;
    out.has_height = lay.has_height;
    return out;
}

Resight resight_of(const station::Pose& nominal, const station::LayTarget& target, int point,
                   const measure::Instrument& instrument, double rod_height_m, double time_s,
                   const Eigen::Vector3d& deviation_m) {
    const LaidPoint as_laid =
        laid_point(nominal, target, instrument, rod_height_m, time_s, deviation_m);
    return {point, time_s, deviation_m, as_laid.by_state, as_laid.own, as_laid.has_height};
}

}  // namespace layproof::watch

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <memory>
#include <optional>

#include "adjust/analysis.hpp"
#include "adjust/problem.hpp"
#include "adjust/solve.hpp"
#include "measure/angle.hpp"
#include "station/misfit_model.hpp"
#include "station/observations.hpp"
#include "station/quick_solution_internal.hpp"
#include "station/solution.hpp"
#include "station/start_values.hpp"

namespace layproof::station {
namespace {

using adjust::ParameterId;
using measure::ReducedSight;

/// A second solution counts as a rival while e^(−Δ/2) is not negligible.
constexpr double kRivalStatistic = 25.0;
constexpr std::size_t kMostCandidates = 12;
constexpr int kMostStepsInMetres = 30;

/// Problem of one set-up, and where things are in it.
struct Built {
    adjust::Problem problem;
    ParameterId pose;
    std::vector<ParameterId> marks;      ///< index −1: the mark is in no used sight
    std::vector<int> sight_observation;  ///< observation block of each sight, −1 if not used
};

int pose_size(const Prepared& setup) {
    return setup.has_height ? 4 : 3;
}
int mark_size(const Prepared& setup) {
    return setup.has_height ? 3 : 2;
}

/// Covariance of a sight whose distance was not observed, at the distance the start value implies.
ReducedSight with_distance(const Prepared& setup, const ControlSight& sight,
                           const StartValue& start) {
    ReducedSight r = sight.reduced;
    const UsedMark& mark = setup.marks[static_cast<std::size_t>(sight.mark)];
    if (r.has_distance || !mark.has_plan) return r;
    const double plan_m =
        std::hypot(mark.given_m.x() - start.east_m, mark.given_m.y() - start.north_m);
    r.covariance = covariance_of(r, setup.instrument, plan_m / setup.scale_factor);
    return r;
}

void add_mark(const Prepared& setup, const UsedMark& mark, const StartValue& start, Built& built,
              const ReducedSight* sight, ParameterId& id) {
    Eigen::Vector3d value = mark.given_m;
    if (sight != nullptr && (!mark.has_plan || (!mark.has_height && setup.has_height))) {
        // What the sheet does not say starts where the sight points.
        const double plan_m = ground_distance(*sight);
        const double azimuth = sight->direction_rad + start.orientation_rad;
        if (!mark.has_plan) {
            value.x() = start.east_m + plan_m * std::sin(azimuth);
            value.y() = start.north_m + plan_m * std::cos(azimuth);
        }
        if (!mark.has_height) {
            const double reach =
                mark.has_plan ? std::hypot(value.x() - start.east_m, value.y() - start.north_m)
                              : plan_m;
            value.z() = sight->has_zenith ? start.height_m + reach / std::tan(sight->zenith_rad) -
                                                sight->target_height_m
                                          : start.height_m;
        }
    }
    const int size = mark_size(setup);
    id = built.problem.add_parameter({value.data(), static_cast<std::size_t>(size)});
    std::array<int, 3> components{};
    std::array<double, 3> given{};
    int known = 0;
    bool all_held = true;
    for (int i = 0; i < size; ++i) {
        if (i < 2 ? !mark.has_plan : !mark.has_height) {
            all_held = false;
            continue;
        }
        components[static_cast<std::size_t>(known)] = i;
        given[static_cast<std::size_t>(known)] = mark.given_m[i];
        ++known;
        all_held = all_held && mark.sd_m[i] == 0.0;
    }
    if (all_held) {
        built.problem.hold(id);
        return;
    }
    Eigen::MatrixXd covariance = Eigen::MatrixXd::Zero(known, known);
    for (int k = 0; k < known; ++k) {
        const double sd = std::max(mark.sd_m[components[static_cast<std::size_t>(k)]], kHeldSd_m);
        covariance(k, k) = sd * sd;
    }
    const std::array blocks{id};
    built.problem.add_observation(
        std::make_unique<GivenFunction>(
            std::span<const double>(given.data(), static_cast<std::size_t>(known)),
            std::span<const int>(components.data(), static_cast<std::size_t>(known)), size),
        blocks, covariance);
}

/// Covariance of a sight with that of its mark added, both seen from the start value.
Eigen::MatrixXd with_mark(const Prepared& setup, const SightFunction& function,
                          const UsedMark& mark, const StartValue& start,
                          const Eigen::MatrixXd& covariance) {
    const std::array pose{start.east_m, start.north_m, start.orientation_rad, start.height_m};
    const std::array<const double*, 2> blocks{pose.data(), mark.given_m.data()};
    std::array<double, 3> residual{};
    std::array<double, 9> by_mark{};
    const std::array<double*, 2> jacobians{nullptr, by_mark.data()};
    function.evaluate(blocks, residual.data(), jacobians.data());
    const Eigen::Index columns = mark_size(setup);
    const Eigen::Map<const Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>>
        j(by_mark.data(), covariance.rows(), columns);
    return covariance + j * mark.sd_m.head(columns).cwiseAbs2().asDiagonal() * j.transpose();
}

/// `hold_marks`: marks that are fully known are constants and their uncertainty is counted with the
/// sights.
Built build(const Prepared& setup, const StartValue& start, bool hold_marks) {
    Built built;
    const std::array pose{start.east_m, start.north_m, start.orientation_rad, start.height_m};
    built.pose =
        built.problem.add_parameter({pose.data(), static_cast<std::size_t>(pose_size(setup))});
    built.marks.assign(setup.marks.size(), ParameterId{});
    built.sight_observation.assign(setup.sights.size(), -1);
    if (setup.occupied_mark >= 0) {
        const auto at = static_cast<std::size_t>(setup.occupied_mark);
        add_mark(setup, setup.marks[at], start, built, nullptr, built.marks[at]);
        const bool with_height = setup.has_height && setup.setup.instrument_height_m.has_value() &&
                                 setup.marks[at].has_height;
        const Eigen::Vector3d variance = over_mark_sd_m(setup.instrument).cwiseAbs2();
        const Eigen::MatrixXd covariance = variance.head(with_height ? 3 : 2).asDiagonal();
        const std::array blocks{built.pose, built.marks[at]};
        built.problem.add_observation(
            over_mark(setup.setup.instrument_height_m.value_or(0.0), with_height, pose_size(setup)),
            blocks, covariance);
    }
    for (std::size_t i = 0; i < setup.sights.size(); ++i) {
        const ControlSight& sight = setup.sights[i];
        if (!sight.used) continue;
        const auto at = static_cast<std::size_t>(sight.mark);
        const ReducedSight reduced = with_distance(setup, sight, start);
        if (built.marks[at].index < 0)
            add_mark(setup, setup.marks[at], start, built, &sight.reduced, built.marks[at]);
        const std::array blocks{built.pose, built.marks[at]};
        auto function = std::make_unique<SightFunction>(
            reduced, setup.scale_factor, setup.instrument.refraction_k, setup.has_height);
        Eigen::MatrixXd covariance = present_covariance(reduced);
        const UsedMark& mark = setup.marks[at];
        if (hold_marks && mark.has_plan && (mark.has_height || !setup.has_height)) {
            built.problem.hold(built.marks[at]);
            covariance = with_mark(setup, *function, mark, start, covariance);
        }
        built.sight_observation[i] =
            built.problem.add_observation(std::move(function), blocks, covariance);
    }
    return built;
}

/// Internal pose order (east, north, orientation, height) to the public one.
Pose read_pose(const Prepared& setup, const adjust::Problem& problem, ParameterId id,
               const Eigen::MatrixXd* covariance) {
    const auto value = problem.value(id);
    Pose pose;
    pose.has_height = setup.has_height;
    pose.position_m << value[0] + setup.origin_m.x(), value[1] + setup.origin_m.y(),
        setup.has_height ? value[3] + setup.origin_m.z() : 0.0;
    pose.orientation_rad = measure::wrap_0_2pi(value[2]);
    if (covariance != nullptr) {
        constexpr std::array kPublic{0, 1, 3, 2};
        const int n = pose_size(setup);
        for (int i = 0; i < n; ++i)
            for (int j = 0; j < n; ++j)
                pose.covariance(kPublic[static_cast<std::size_t>(i)],
                                kPublic[static_cast<std::size_t>(j)]) = (*covariance)(i, j);
    }
    return pose;
}

void put(PartFigures& figures, int part, double value) {
    (part == 0 ? figures.direction : part == 1 ? figures.zenith : figures.distance) = value;
}

/// Residual of a sight that is not used, from the solved pose and the mark as it stands.
/// `mark_value`: its adjusted place, null when it takes no part in the solution.
void fill_unused(const Prepared& setup, const ControlSight& sight, const Pose& pose,
                 const Eigen::Vector3d* mark_value, SolvedSight& out) {
    const UsedMark& mark = setup.marks[static_cast<std::size_t>(sight.mark)];
    const bool plan_only_height = setup.has_height && !mark.has_height && mark_value == nullptr;
    if (!mark.has_plan && mark_value == nullptr) return;
    ReducedSight r = sight.reduced;
    if (plan_only_height) {
        r.has_zenith = false;
        if (!r.distance_is_horizontal) r.has_distance = false;
    }
    const Eigen::Vector3d at = pose.position_m - setup.origin_m;
    const SightPartials partials = sight_partials(
        r, setup.scale_factor, bend_of(setup.instrument.refraction_k), setup.has_height,
        (mark_value != nullptr ? *mark_value : mark.given_m) - at, pose.orientation_rad);
    if (r.has_direction) out.residual.direction = partials.residual[0];
    if (r.has_zenith) out.residual.zenith = partials.residual[1];
    if (r.has_distance) out.residual.distance = partials.residual[2];
}

/// The ordinary case: one start value, and nothing that the general solver has to decide.
std::optional<Solved> solve_quickly(const Prepared& setup, const StartValue& start) {
    std::vector<ReducedSight> reduced;
    reduced.reserve(setup.sights.size());
    for (const ControlSight& sight : setup.sights)
        reduced.push_back(with_distance(setup, sight, start));
    std::optional<Solution> solution = internal::quick_solution(setup, start, reduced);
    if (!solution) return std::nullopt;
    std::vector<bool> in(setup.marks.size(), false);
    for (const ControlSight& sight : setup.sights)
        if (sight.used) in[static_cast<std::size_t>(sight.mark)] = true;
    for (std::size_t i = 0; i < setup.sights.size(); ++i) {
        const ControlSight& sight = setup.sights[i];
        if (sight.used) continue;
        const auto mark = static_cast<std::size_t>(sight.mark);
        const bool taken = in[mark] || sight.mark == setup.occupied_mark;
        fill_unused(setup, sight, solution->pose,
                    taken ? &solution->marks[mark].adjusted_m : nullptr, solution->sights[i]);
    }
    Solved out;
    out.best = std::move(*solution);
    return out;
}

struct Candidate {
    Built built;
    adjust::SolveSummary summary;
};

/// The solutions reached from the start values. `open` is set when some direction stayed open.
std::vector<Candidate> solve_from(const Prepared& setup, const std::vector<StartValue>& starts,
                                  bool hold_marks, bool& open) {
    std::vector<Candidate> solved;
    for (std::size_t i = 0; i < std::min(starts.size(), kMostCandidates); ++i) {
        Candidate candidate{build(setup, starts[i], hold_marks), {}};
        if (candidate.built.problem.observation_count() < candidate.built.problem.unknown_count()) {
            open = true;
            continue;
        }
        candidate.summary = adjust::solve(candidate.built.problem);
        open = open || candidate.summary.status == adjust::SolveStatus::rank_deficient;
        if (candidate.summary.status == adjust::SolveStatus::converged)
            solved.push_back(std::move(candidate));
    }
    return solved;
}

/// The least-squares pose of the misfits in metres, which has no second minimum to fall into, with
/// the marks held. For sights that contradict each other by metres.
std::vector<Candidate> solve_in_metres(const Prepared& setup, const StartValue& start) {
    Pose pose;
    pose.has_height = setup.has_height;
    pose.position_m = setup.origin_m + Eigen::Vector3d(start.east_m, start.north_m,
                                                       setup.has_height ? start.height_m : 0.0);
    pose.orientation_rad = start.orientation_rad;
    for (int step = 0; step < kMostStepsInMetres; ++step) {
        const MisfitModel model = misfit_model(setup, pose);
        if (!model.usable || !model.pose_shift.allFinite()) return {};
        const Eigen::Vector4d& shift = model.pose_shift;
        pose.position_m += Eigen::Vector3d(shift[kModelEast], shift[kModelNorth],
                                           setup.has_height ? shift[kModelHeight] : 0.0);
        pose.orientation_rad = measure::wrap_0_2pi(pose.orientation_rad + shift[kModelOrientation]);
        if (shift.cwiseAbs().maxCoeff() < 1e-9) break;
    }
    const Eigen::Vector3d at = pose.position_m - setup.origin_m;
    std::vector<Candidate> out;
    out.push_back({build(setup, {at.x(), at.y(), pose.orientation_rad, at.z()}, true), {}});
    // No step: only the sum at this pose.
    out.front().summary = adjust::solve(out.front().built.problem, {.max_iterations = 0});
    out.front().summary.status = adjust::SolveStatus::converged;
    return out;
}

}  // namespace

Result<Solved> solve_station(const Prepared& setup) {
    const std::vector<StartValue> starts = start_values(setup);
    if (starts.size() == 1) {
        if (auto solved = solve_quickly(setup, starts.front())) return std::move(*solved);
    }
    return internal::solve_generally(setup, starts);
}

namespace internal {

Result<Solved> solve_generally(const Prepared& setup, const std::vector<StartValue>& starts) {
    const auto refuse = [&](std::string_view found) {
        return Refusal{
            ErrorCode::not_solvable, setup.setup.place,
            fmt::format("{} at station {}", found, setup.setup.station),
            "directions and distances to two marks, directions to three, or a mixture that "
            "fixes east, north and orientation"};
    };
    if (starts.empty()) return refuse("sights that do not place the instrument");

    // Marks as weighted unknowns are the model. With misfits of metres (names exchanged) it may
    // have no solution nearby; then the marks are held, so that there is an answer to be doubted.
    bool open = false;
    std::vector<Candidate> solved = solve_from(setup, starts, false, open);
    if (solved.empty()) solved = solve_from(setup, starts, true, open);
    if (solved.empty()) solved = solve_in_metres(setup, starts.front());
    if (solved.empty()) {
        return refuse(
            open ? "sights that leave a direction open (the marks and sights fix too little)"
                 : "sights for which no solution was reached");
    }
    std::stable_sort(solved.begin(), solved.end(), [](const Candidate& a, const Candidate& b) {
        return a.summary.weighted_square_sum < b.summary.weighted_square_sum;
    });

    const Candidate& best = solved.front();
    const adjust::Problem& problem = best.built.problem;
    const adjust::Analysis analysis(problem, best.summary);
    Solved out;
    Solution& solution = out.best;
    solution.iterations = best.summary.iterations;
    const Eigen::MatrixXd pose_covariance = analysis.covariance(best.built.pose);
    if (!pose_covariance.allFinite())
        return refuse("sights that leave a direction open (the marks and sights fix too little)");
    solution.pose = read_pose(setup, problem, best.built.pose, &pose_covariance);
    solution.global_test =
        adjust::global_test(best.summary.weighted_square_sum, best.summary.redundancy);

    solution.sights.resize(setup.sights.size());
    for (std::size_t i = 0; i < setup.sights.size(); ++i) {
        const int block = best.built.sight_observation[i];
        SolvedSight& sight = solution.sights[i];
        const ReducedSight& r = setup.sights[i].reduced;
        if (block < 0) continue;
        int row = problem.observations()[static_cast<std::size_t>(block)].first_row;
        for (int part = 0; part < 3; ++part) {
            if (part == 0 ? !r.has_direction : part == 1 ? !r.has_zenith : !r.has_distance)
                continue;
            put(sight.residual, part, analysis.residual()[row]);
            put(sight.standardised, part, analysis.standardised()[row]);
            put(sight.redundancy, part, analysis.redundancy()[row]);
            const double smallest = analysis.detectable()[row];
            if (std::isfinite(smallest)) put(sight.detectable, part, smallest);
            ++row;
        }
    }
    solution.marks.resize(setup.marks.size());
    for (std::size_t m = 0; m < setup.marks.size(); ++m) {
        solution.marks[m].adjusted_m = setup.marks[m].given_m;
        const ParameterId id = best.built.marks[m];
        if (id.index < 0) continue;
        const auto value = problem.value(id);
        for (std::size_t k = 0; k < value.size(); ++k)
            solution.marks[m].adjusted_m[static_cast<Eigen::Index>(k)] = value[k];
    }
    for (std::size_t i = 0; i < setup.sights.size(); ++i) {
        if (best.built.sight_observation[i] >= 0) continue;
        const auto mark = static_cast<std::size_t>(setup.sights[i].mark);
        fill_unused(setup, setup.sights[i], solution.pose,
                    best.built.marks[mark].index >= 0 ? &solution.marks[mark].adjusted_m : nullptr,
                    solution.sights[i]);
    }

    for (std::size_t i = 1; i < solved.size(); ++i) {
        if (solved[i].summary.weighted_square_sum >
            best.summary.weighted_square_sum + kRivalStatistic)
            break;
        const Pose rival = read_pose(setup, solved[i].built.problem, solved[i].built.pose, nullptr);
        const auto same = [&](const Pose& other) {
            return (rival.position_m - other.position_m).norm() < 0.001 &&
                   std::abs(measure::wrap_pi(rival.orientation_rad - other.orientation_rad)) < 1e-4;
        };
        if (same(solution.pose) || std::any_of(out.others.begin(), out.others.end(), same))
            continue;
        out.others.push_back(rival);
        out.others_statistic.push_back(solved[i].summary.weighted_square_sum);
    }
    return out;
}

}  // namespace internal
}  // namespace layproof::station

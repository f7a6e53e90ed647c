#include "acts/plan/plan.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <utility>

#include "acts/plan/plan_scene.hpp"
#include "acts/shared/progress.hpp"
#include "acts/shared/words.hpp"
#include "threads/threads.hpp"

namespace layproof::acts {
namespace {

using Eigen::Vector2d;
using Inside = PlanScene::Inside;

constexpr int kNamingDraws = 60;
/// A check mark is kept back where so many marks are in sight.
constexpr std::size_t kMarksForCheck = 5;
/// A blocked place and its neighbourhood.
constexpr double kBlocked_m = 2.5;
constexpr std::size_t kTurn = 64;

double weakest_sd(const Eigen::Matrix4d& c) {
    return std::sqrt(
        std::max(0.5 * (c(0, 0) + c(1, 1)) + std::hypot(0.5 * (c(0, 0) - c(1, 1)), c(0, 1)), 0.0));
}

/// A set-up while it is worked out.
struct Closer {
    plan::PlaceAnswer answer;
    std::vector<int> marks;
    int check = -1;
    double naming = 0.0;
    std::vector<plan::Naming> names;
};

/// Marks to sight and the one that is missed least.
void choose_marks(const Inside& scene, const Vector2d& at, plan::Surveyor& surveyor,
                  Closer& closer) {
    surveyor.ask(at, closer.answer);
    closer.marks = closer.answer.marks;
    if (closer.marks.size() < kMarksForCheck) return;
    std::vector<char> may_use(scene.site->marks().size(), 1);
    double best = -1.0;
    plan::PlaceAnswer without;
    for (const int m : closer.answer.marks) {
        may_use[static_cast<std::size_t>(m)] = 0;
        surveyor.ask(at, without, may_use);
        may_use[static_cast<std::size_t>(m)] = 1;
        // Of equal ones the nearest: it is checked soonest.
        if (without.expected > best + 1e-9) {
            best = without.expected;
            closer.check = m;
        }
    }
    std::erase(closer.marks, closer.check);
}

void look_closely(const Inside& scene, const Vector2d& at, const plan::CloseEffort& effort,
                  const plan::Draws& few, const plan::Draws& amounts, plan::Surveyor& surveyor,
                  Closer& closer) {
    choose_marks(scene, at, surveyor, closer);
    surveyor.ask_closely(at, closer.marks, effort, closer.answer);
    closer.names = surveyor.outlook().naming(few, amounts);
    for (const plan::Naming& n : closer.names)
        closer.naming += n.chance / static_cast<double>(closer.names.size());
}

std::string mark_name(const Inside& scene, int mark) {
    return scene.site->marks()[static_cast<std::size_t>(mark)].name;
}

/// Where a place is for somebody without a station: by the nearest mark.
std::string near_of(const Inside& scene, const Vector2d& at) {
    const plan::ControlMark* nearest = nullptr;
    double least = plan::kOpen_m;
    for (const plan::ControlMark& mark : scene.marks) {
        const double apart = (mark.at_m.head<2>() - at).norm();
        if (!(apart < least)) continue;
        least = apart;
        nearest = &mark;
    }
    if (nearest == nullptr || least < 0.1) return "";
    const Vector2d by = at - nearest->at_m.head<2>();
    return fmt::format("{} {} of {}", internal::rough(least, scene.style),
                       internal::compass(std::atan2(by.x(), by.y())), nearest->name);
}

void add_setup_remarks(const Inside& scene, const Closer& closer, PlanSetup& setup) {
    if (closer.marks.size() == 2)
        setup.remarks.emplace_back("Two marks only: they cannot check each other.");
    if (closer.check < 0 && closer.marks.size() > 2)
        setup.remarks.emplace_back("No mark to spare as a check: sight one of them again later.");
    double steepest = 0.0;
    double longest = 0.0;
    for (const int m : closer.marks) {
        const auto& mark = scene.site->marks()[static_cast<std::size_t>(m)];
        const double plan = (mark.at_m.head<2>() - Vector2d(setup.east_m, setup.north_m)).norm();
        if (mark.has_height)
            steepest =
                std::max(steepest, std::atan2(std::abs(mark.at_m.z() + scene.crew.mark_rod_m -
                                                       scene.site->axes_height_m()),
                                              plan));
        longest = std::max(longest, plan);
    }
    if (steepest > measure::kPi / 4.0)
        setup.remarks.push_back(
            fmt::format("Steepest sight {:.0f}° from level: level the instrument with care.",
                        steepest / measure::kRadPerDeg));
    if (longest > 80.0)
        setup.remarks.push_back(
            fmt::format("Longest sight to a mark {}.", internal::rough(longest, scene.style)));
}

plan::CoverProblem cover_of(const plan::ReachMap& map, std::size_t needed) {
    return {static_cast<std::size_t>(map.words), map.counted, needed};
}

void report_marks(const Inside& scene, PlanAnswer& answer) {
    for (std::size_t m = 0; m < scene.marks.size(); ++m) {
        const plan::ControlMark& mark = scene.marks[m];
        PlanMarkReport report;
        report.name = mark.name;
        report.east_m = mark.at_m.x();
        report.north_m = mark.at_m.y();
        if (const int over = scene.mark_cover[m]; over >= 0) {
            report.under = scene.obstacle_names[static_cast<std::size_t>(over)];
            answer.notices.push_back(fmt::format("{} stands over mark {}, so it cannot be sighted.",
                                                 report.under, mark.name));
        }
        answer.marks.push_back(std::move(report));
    }
}

std::string certificate_of(const plan::Choice& choice) {
    const auto n = choice.places.size();
    if (n == 0) return "";
    if (choice.is_best())
        return n == 1 ? "One is the fewest possible."
                      : fmt::format("{} are the fewest possible: fewer will not do (proven).", n);
    return fmt::format("At least {} are needed (proven), so at most {} could be saved.",
                       choice.at_least, n - choice.at_least);
}

int count_why(const PlanAnswer& answer, PlanPointWhy why) {
    return static_cast<int>(std::count_if(answer.point_reports.begin(), answer.point_reports.end(),
                                          [&](const auto& p) { return p.why == why; }));
}

/// What keeps points from being proven, most frequent first: "3 points are hidden from everywhere".
std::vector<std::string> reasons_of(const PlanAnswer& answer) {
    struct Reason {
        PlanPointWhy why;
        const char *one, *many;
    };
    static constexpr Reason kReasons[] = {
        {PlanPointWhy::covered, "lies under an obstacle", "lie under obstacles"},
        {PlanPointWhy::far, "is out of reach of every place for a tripod",
         "are out of reach of every place for a tripod"},
        {PlanPointWhy::hidden, "is hidden from every place for a tripod",
         "are hidden from every place for a tripod"},
        {PlanPointWhy::few_marks, "is seen only where fewer than two marks are",
         "are seen only where fewer than two marks are"},
        {PlanPointWhy::two_marks, "is seen only where two marks are, which cannot check each other",
         "are seen only where two marks are, which cannot check each other"},
        {PlanPointWhy::tolerance, "is seen, but from nowhere well enough for its tolerance",
         "are seen, but from nowhere well enough for their tolerance"},
    };
    std::vector<std::pair<int, std::string>> found;
    for (const Reason& r : kReasons)
        if (const int n = count_why(answer, r.why); n > 0)
            found.emplace_back(
                n, fmt::format("{} {}", internal::count(n, "point"), n == 1 ? r.one : r.many));
    std::stable_sort(found.begin(), found.end(),
                     [](const auto& a, const auto& b) { return a.first > b.first; });
    std::vector<std::string> out;
    for (auto& [n, words] : found) out.push_back(std::move(words));
    return out;
}

/// Nothing can be proven from anywhere: why, and what to do.
void say_nothing(std::size_t most_marks, const PlanAnswer& answer, Verdict& out) {
    const std::string points = internal::count(answer.points, "point");
    const int covered = count_why(answer, PlanPointWhy::covered);
    const int out_of_sight =
        covered + count_why(answer, PlanPointWhy::far) + count_why(answer, PlanPointWhy::hidden);
    if (answer.free_places == 0) {
        out.because = "There is no place on the floor where a tripod may stand.";
        out.next = "Free a place, or check the obstacles and no-go areas.";
    } else if (covered == answer.points) {
        out.because =
            fmt::format("Obstacles stand on {} {}.", answer.points == 1 ? "the" : "all", points);
        out.next =
            "Leave out obstacles that do not stand yet, such as the columns to be set here; "
            "otherwise check that obstacles and points have the same coordinates.";
    } else if (out_of_sight == answer.points) {
        out.because =
            fmt::format("No point is in sight from any place where a tripod may stand: {}.",
                        internal::listed(reasons_of(answer)));
        out.next = "Free a place nearer to the points, or open a line of sight.";
    } else if (most_marks == 0) {
        out.because =
            "No mark is in sight from any place on the floor: obstacles stand all round, or the "
            "marks lie too far away.";
        out.next = "Ask the surveyor for marks inside, or open a line of sight.";
    } else if (most_marks == 1) {
        out.because =
            "No place on the floor sees more than one mark, and one mark does not place a station.";
        out.next = "Ask the surveyor for a mark that is seen together with another.";
    } else if (most_marks == 2) {
        out.because =
            "No place on the floor sees more than two marks, and two cannot check each other: "
            "every point stays in doubt.";
        out.next = "Ask the surveyor for a third mark.";
    } else if (count_why(answer, PlanPointWhy::tolerance) + out_of_sight == answer.points) {
        out.because = fmt::format(
            "None of {} can be proven from anywhere, although up to {} marks are in sight: "
            "instrument and rod are not good enough for the tolerance.",
            points, most_marks);
        out.next =
            "Nothing that is tried here is enough: agree on the tolerance, or on another "
            "instrument.";
    } else {
        out.because = fmt::format("None of {} can be proven from anywhere: {}.", points,
                                  internal::listed(reasons_of(answer)));
        out.next = "Ask the surveyor for marks nearer to the points.";
    }
    if (!answer.advice.empty()) out.next = answer.advice.front().says;
}

Verdict verdict_of(const Inside& scene, const PlanAnswer& answer, std::size_t most_marks) {
    Verdict out;
    out.probability = answer.expected;
    const std::string points = internal::count(answer.points, "point");
    if (answer.setups.empty()) {
        out.word = station::Word::fails;
        say_nothing(most_marks, answer, out);
        return out;
    }
    const bool is_enough = answer.counted >= answer.wanted;
    out.word = is_enough ? station::Word::proven : station::Word::in_doubt;
    out.because =
        fmt::format("{} {} {} of {}. On average {} of all come out proven when nothing is wrong.",
                    internal::count(static_cast<int>(answer.setups.size()), "set-up"),
                    answer.setups.size() == 1 ? "proves" : "prove", answer.counted, points,
                    internal::percent(answer.expected));
    if (!is_enough)
        out.because +=
            fmt::format(" {} were wanted; no more than {} can be proven: {}.", answer.wanted,
                        answer.provable, internal::listed(reasons_of(answer)));
    const PlanSetup& first = answer.setups.front();
    out.next = fmt::format(
        "Set up at {}{} ({}, {}), and sight {}{}.", first.name,
        first.near.empty() ? "" : ", " + first.near,
        measure::format_length(first.east_m, scene.style),
        measure::format_length(first.north_m, scene.style), internal::listed(first.marks, 12),
        first.check.empty() ? "" : fmt::format("; keep {} as the check", first.check));
    if (!is_enough && !answer.advice.empty()) out.next += " " + answer.advice.front().says;
    return out;
}

}  // namespace

std::string_view to_word(PlanPointState state) {
    switch (state) {
        case PlanPointState::counted:
            return "counted";
        case PlanPointState::in_doubt:
            return "in-doubt";
        case PlanPointState::never_in_sight:
            return "never-in-sight";
        case PlanPointState::in_obstacle:
            return "in-obstacle";
        case PlanPointState::out_of_reach:
            return "out-of-reach";
    }
    return "in-doubt";
}

plan::ReachMap internal::plan_map(const Inside& scene, const plan::Site& site, double step_m,
                                  std::vector<float>& best) {
    plan::ReachMap map = plan::make_map(scene.low_m, scene.high_m, step_m, scene.points.size());
    std::vector<std::unique_ptr<plan::Surveyor>> surveyors;
    for (std::size_t w = 0; w < threads::most(); ++w)
        surveyors.push_back(std::make_unique<plan::Surveyor>(site));
    share_out(map.size(), kTurn, [&](std::size_t w, std::size_t from, std::size_t to) {
        plan::fill(map, from, to, *surveyors[w], scene.request.counts_from);
    });
    best.assign(scene.points.size(), -1.0F);
    for (const auto& surveyor : surveyors)
        for (std::size_t i = 0; i < best.size(); ++i)
            best[i] = std::max(best[i], surveyor->best_chance()[i]);
    return map;
}

std::size_t internal::provable_points(const plan::ReachMap& map) {
    std::vector<std::uint64_t> all(static_cast<std::size_t>(map.words), 0);
    for (std::size_t i = 0; i < map.counted.size(); ++i) all[i % all.size()] |= map.counted[i];
    std::size_t out = 0;
    for (const auto w : all) out += static_cast<std::size_t>(std::popcount(w));
    return out;
}

Result<PlanAnswer> run_plan(PlanScene& opened) {
    Inside& scene = opened.inside();
    const PlanRequest& request = scene.request;
    PlanAnswer answer;
    answer.unit = scene.unit;
    answer.style = scene.style;
    answer.confidence = request.confidence;
    answer.share = request.share;
    answer.counts_from = request.counts_from;
    answer.explain = request.explain;
    answer.notices = scene.notices;
    answer.points = static_cast<int>(scene.points.size());
    answer.wanted = static_cast<int>(std::ceil(request.share * answer.points - 1e-9));
    answer.floor_m = scene.floor_m;
    answer.rod_m = scene.crew.lay_rod_m;
    answer.mark_rod_m = scene.crew.mark_rod_m;
    answer.ground = request.ground;
    answer.drift_m = watch::drift_rate(request.ground).position_m;
    answer.obstacles = scene.prisms;
    answer.no_go = scene.no_go;
    report_marks(scene, answer);

    if (!go_on(request.progress, 0.0, "Looking around from every place")) return stopped();
    std::vector<float> best;
    answer.map = internal::plan_map(scene, *scene.site, request.step_m, best);
    answer.provable = static_cast<int>(internal::provable_points(answer.map));
    std::size_t most_marks = 0;
    for (std::size_t i = 0; i < answer.map.size(); ++i) {
        answer.free_places += answer.map.standing[i] == plan::Standing::free;
        most_marks = std::max<std::size_t>(most_marks, answer.map.marks[i]);
    }
    internal::report_points(scene, answer.map, best, answer);

    if (!go_on(request.progress, 0.4, "Choosing the fewest set-ups")) return stopped();
    auto advice = threads::begin([&scene, &request, &map = std::as_const(answer.map),
                                  provable = static_cast<std::size_t>(answer.provable)] {
        return request.advice ? internal::plan_advice(scene, map, provable)
                              : std::vector<PlanAdvice>{};
    });
    const plan::CoverProblem problem =
        cover_of(answer.map, static_cast<std::size_t>(answer.wanted));
    threads::SharedWorkers workers;
    const plan::Choice choice = plan::choose_places(problem, {}, &workers);
    answer.at_least = static_cast<int>(choice.at_least);
    answer.greedy = static_cast<int>(choice.greedy);
    answer.counted = static_cast<int>(choice.proven);
    answer.certificate = certificate_of(choice);
    std::vector<Vector2d> places;
    for (const std::size_t p : choice.places) places.push_back(answer.map.at(p));
    const std::vector<std::size_t> order = plan::short_walk(places);

    if (!go_on(request.progress, 0.7, "Working the set-ups out")) return stopped();
    const int mark_count = std::max(1, static_cast<int>(scene.site->marks().size()));
    const plan::Draws few(kNamingDraws, mark_count, 11);
    const plan::Draws amounts(kNamingDraws, mark_count, 12);
    std::vector<Closer> closers(order.size());
    std::vector<std::unique_ptr<plan::Surveyor>> surveyors;
    for (std::size_t w = 0; w < threads::most(); ++w)
        surveyors.push_back(std::make_unique<plan::Surveyor>(*scene.site));
    threads::share(order.size(), [&](std::size_t thread, std::size_t k) {
        // Random numbers of its own, so that chance averages out over the set-ups.
        plan::CloseEffort effort;
        effort.seed += 1000 * k;
        look_closely(scene, places[order[k]], effort, few, amounts, *surveyors[thread], closers[k]);
    });

    std::vector<double> missed(scene.points.size(), 1.0);
    std::vector<double> best_here(scene.points.size(), -1.0);
    std::vector<std::uint64_t> done(problem.words, 0);
    std::vector<int> sighted(scene.site->marks().size(), 0);
    for (std::size_t k = 0; k < order.size(); ++k) {
        const Closer& closer = closers[k];
        PlanSetup setup;
        setup.name = fmt::format("P{}", k + 1);
        const Vector2d at = places[order[k]];
        setup.east_m = at.x();
        setup.north_m = at.y();
        for (const int m : closer.marks) setup.marks.push_back(mark_name(scene, m));
        if (closer.check >= 0) setup.check = mark_name(scene, closer.check);
        setup.in_sight = static_cast<int>(closer.answer.seen.size());
        setup.expected = closer.answer.expected;
        setup.sd_plan_m = weakest_sd(closer.answer.pose_covariance);
        setup.nothing_wrong = closer.answer.nothing_wrong;
        setup.naming = closer.naming;
        for (std::size_t i = 0; i < closer.answer.seen.size(); ++i) {
            const auto p = static_cast<std::size_t>(closer.answer.seen[i]);
            const double c = closer.answer.chance[i];
            missed[p] *= 1.0 - c;
            if (c > best_here[p]) {
                best_here[p] = c;
                answer.point_reports[p].setup = static_cast<int>(k);
            }
        }
        const std::size_t place = choice.places[order[k]];
        for (std::size_t w = 0; w < problem.words; ++w) {
            const std::uint64_t bits = problem.bits[place * problem.words + w];
            setup.counted += std::popcount(bits);
            setup.first += std::popcount(bits & ~done[w]);
            done[w] |= bits;
        }
        for (const plan::Naming& n : closer.names) {
            auto& mark = answer.marks[static_cast<std::size_t>(n.mark)];
            mark.naming = mark.naming.value_or(0.0) + n.chance;
            ++sighted[static_cast<std::size_t>(n.mark)];
        }
        if (k > 0) {
            setup.walk_m = (at - places[order[k - 1]]).norm();
            answer.walk_m += setup.walk_m;
        }
        setup.near = near_of(scene, at);
        add_setup_remarks(scene, closer, setup);
        answer.setups.push_back(std::move(setup));
    }
    for (std::size_t m = 0; m < sighted.size(); ++m)
        if (sighted[m] > 0) *answer.marks[m].naming /= sighted[m];
    for (std::size_t i = 0; i < missed.size(); ++i) {
        answer.point_reports[i].chance = 1.0 - missed[i];
        answer.expected += (1.0 - missed[i]) / static_cast<double>(missed.size());
    }
    for (std::size_t k = 0; k < order.size(); ++k) {
        std::vector<std::size_t> others;
        for (std::size_t j = 0; j < order.size(); ++j)
            if (j != k) others.push_back(choice.places[order[j]]);
        std::vector<bool> allowed(answer.map.size());
        for (std::size_t p = 0; p < allowed.size(); ++p)
            allowed[p] = (answer.map.at(p) - places[order[k]]).norm() > kBlocked_m;
        const std::int64_t instead = plan::best_addition(problem, others, allowed);
        if (instead < 0) continue;
        others.push_back(static_cast<std::size_t>(instead));
        const Vector2d at = answer.map.at(static_cast<std::size_t>(instead));
        answer.setups[k].alternate =
            PlanAlternate{at.x(), at.y(), static_cast<int>(plan::proven_by(problem, others))};
    }
    answer.advice = advice.get();
    answer.verdict = verdict_of(scene, answer, most_marks);
    return answer;
}

Result<PlanAnswer> run_plan(const PlanRequest& request) {
    auto scene = open_plan(request);
    if (!scene) return scene.refusal();
    return run_plan(*scene);
}

bool is_proven(const PlanAnswer& answer) {
    return answer.verdict.word == station::Word::proven;
}

}  // namespace layproof::acts

#pragma once
// Scenes drawn from the causes table, answered by layproof, by the best possible classifier and by
// the rule of dropping the mark with the largest standardised residual, and counted.

#include <array>
#include <cmath>
#include <cstdio>
#include <map>
#include <thread>
#include <vector>

#include "cause/diagnose.hpp"
#include "cause/exact_posterior.hpp"
#include "cause/grouping.hpp"
#include "station/solution.hpp"
#include "support/scene.hpp"

namespace layproof::testing {

/// Critical value of the largest standardised residual: two-sided α 0.001 (statistical tables).
inline constexpr double kDropAbove = 3.2905;
inline constexpr int kStudyBands = 10;

struct Band {
    long n = 0;
    double hits = 0.0;
    double stated = 0.0;
    double square = 0.0;  ///< Σ over scenes of (Σ hit − stated)², for the standard error

    void add(double hit, double probability, long count = 1) {
        n += count;
        hits += hit;
        stated += probability;
        square += (hit - probability) * (hit - probability);
    }
    void add(const Band& other) {
        n += other.n;
        hits += other.hits;
        stated += other.stated;
        square += other.square;
    }
    double hit_rate() const { return hits / static_cast<double>(n); }
    double stated_mean() const { return stated / static_cast<double>(n); }
    double error() const { return hit_rate() - stated_mean(); }
    double standard_error() const { return std::sqrt(square) / static_cast<double>(n); }
};

struct Bands {
    std::array<Band, kStudyBands> band;
    Band all;
    static std::size_t of(double p) {
        return static_cast<std::size_t>(
            std::min(kStudyBands - 1, static_cast<int>(p * kStudyBands)));
    }
    void add(const Bands& other) {
        for (std::size_t i = 0; i < band.size(); ++i) band[i].add(other.band[i]);
        all.add(other.all);
    }
};

/// How one way of answering did.
struct Answers {
    long n = 0;
    long hits = 0;
    long single_hits = 0;   ///< the first member alone
    long subject_hits = 0;  ///< the right subject whatever the cause
    double members = 0.0;
    Bands bands;
    std::map<cause::Cause, std::pair<long, long>> by_cause;  ///< scenes, hits
    void add(const Answers& other) {
        n += other.n;
        hits += other.hits;
        single_hits += other.single_hits;
        subject_hits += other.subject_hits;
        members += other.members;
        bands.add(other.bands);
        for (const auto& [c, count] : other.by_cause) {
            by_cause[c].first += count.first;
            by_cause[c].second += count.second;
        }
    }
    double hit_rate() const { return static_cast<double>(hits) / static_cast<double>(n); }
};

struct StudyResult {
    Answers layproof;
    Answers best;
    Answers drop;
    long only_layproof = 0;  ///< scenes in which layproof alone is right
    long only_best = 0;
    double log_odds_square = 0.0;  ///< of P(truth) by the two, over scenes where it is not tiny
    long log_odds_n = 0;
    Bands points;
    long wrong_scenes = 0;
    long not_answered = 0;

    void add(const StudyResult& other) {
        layproof.add(other.layproof);
        best.add(other.best);
        drop.add(other.drop);
        only_layproof += other.only_layproof;
        only_best += other.only_best;
        points.add(other.points);
        log_odds_square += other.log_odds_square;
        log_odds_n += other.log_odds_n;
        wrong_scenes += other.wrong_scenes;
        not_answered += other.not_answered;
    }
};

struct StudyOptions {
    int scenes = 1500;
    std::uint64_t seed = 20260302;
    bool exact = true;
    int points_per_scene = 4;
    double tolerance_plan_m = 0.00635;
    double tolerance_height_m = 0.0127;
    int threads = 2;
    SceneOptions scene;
};

namespace study {

inline bool names_truth(const Scene& scene, const cause::Explanation& e) {
    return e.cause == scene.truth && e.subjects == scene.subjects;
}

inline bool same_subject(const Scene& scene, const std::vector<std::string>& subjects) {
    if (scene.subjects.empty() || subjects.empty()) return scene.subjects == subjects;
    for (const auto& s : subjects)
        for (const auto& t : scene.subjects)
            if (s == t) return true;
    return false;
}

inline bool count(Answers& answers, const Scene& scene, const cause::Entry& entry) {
    bool hit = false;
    bool subject = false;
    for (const auto& member : entry.members) {
        hit = hit || (!entry.is_pair && names_truth(scene, member));
        subject = subject || same_subject(scene, member.subjects);
    }
    ++answers.n;
    answers.hits += hit ? 1 : 0;
    answers.single_hits += !entry.is_pair && names_truth(scene, entry.members.front()) ? 1 : 0;
    answers.subject_hits += subject ? 1 : 0;
    answers.members += entry.is_pair ? 1.0 : static_cast<double>(entry.members.size());
    answers.bands.band[Bands::of(entry.probability)].add(hit ? 1.0 : 0.0, entry.probability);
    answers.bands.all.add(hit ? 1.0 : 0.0, entry.probability);
    auto& by = answers.by_cause[scene.truth];
    ++by.first;
    by.second += hit ? 1 : 0;
    return hit;
}

/// Drops the mark with the largest standardised residual if it is above the critical value.
inline cause::Entry drop_rule(const station::Prepared& setup, const station::Solution& solution) {
    double worst = kDropAbove;
    int mark = -1;
    for (std::size_t i = 0; i < solution.sights.size(); ++i) {
        const auto& w = solution.sights[i].standardised;
        for (const auto& part : {w.direction, w.zenith, w.distance}) {
            if (!part || std::abs(*part) <= worst) continue;
            worst = std::abs(*part);
            mark = setup.sights[i].mark;
        }
    }
    cause::Entry entry;
    cause::Explanation e;
    if (mark >= 0) {
        e.cause = cause::Cause::mark_moved;
        e.subjects = {setup.marks[static_cast<std::size_t>(mark)].name};
    }
    entry.members = {e};
    return entry;
}

/// Lays points from the reported pose with the true instrument, in which whatever is wrong still
/// is: the crew moves the rod until the readings are as wanted.
inline void lay_points(StudyResult& out, const Scene& scene, const station::Pose& reported,
                       const std::vector<station::Belief>& beliefs, const StudyOptions& options,
                       Random& random) {
    const auto& instrument = scene.input.instrument;
    std::vector<station::LayTarget> targets;
    while (static_cast<int>(targets.size()) < options.points_per_scene) {
        station::LayTarget target;
        target.east_m = 5000.0 + scene.site_m * random.uniform();
        target.north_m = 10000.0 + scene.site_m * random.uniform();
        target.height_m = 95.0 + random.uniform(-1.0, 1.0);
        target.tolerance_plan_m = options.tolerance_plan_m;
        target.tolerance_height_m = options.tolerance_height_m;
        const Eigen::Vector2d from(target.east_m - scene.position_m.x(),
                                   target.north_m - scene.position_m.y());
        if (from.norm() > 1.0) targets.push_back(target);
    }
    const auto forecast =
        station::forecast(reported, targets, instrument, scene.rod_m, beliefs, 0.95);
    std::array<Band, kStudyBands> here;
    for (std::size_t k = 0; k < targets.size(); ++k) {
        const auto& target = targets[k];
        const Eigen::Vector3d wanted(target.east_m, target.north_m, *target.height_m + scene.rod_m);
        const TrueReading t =
            read(reported.position_m, reported.orientation_rad, wanted, instrument.refraction_k);
        const double direction = t.direction_rad + instrument.angle_sd_rad * random.normal();
        const double zenith = t.zenith_rad + instrument.angle_sd_rad * random.normal();
        const double slope =
            (t.slope_m - scene.distance_constant_m) / (1.0 + scene.distance_ratio) +
            std::hypot(instrument.distance_sd_m, instrument.distance_ppm * 1e-6 * t.slope_m) *
                random.normal();
        const double azimuth = direction + scene.orientation_rad;
        const double ground = slope * std::sin(zenith);
        const double up = slope * std::cos(zenith) +
                          (1.0 - instrument.refraction_k) * ground * ground / (2.0 * 6371000.0);
        Eigen::Vector3d place = scene.position_m + Eigen::Vector3d(ground * std::sin(azimuth),
                                                                   ground * std::cos(azimuth), up);
        const double plumb = std::hypot(instrument.bubble_rad * scene.rod_m, instrument.centring_m);
        place.x() += plumb * random.normal();
        place.y() += plumb * random.normal();
        place.z() += -scene.rod_m + instrument.height_tape_m * random.normal();
        const bool within = std::hypot(place.x() - target.east_m, place.y() - target.north_m) <=
                                target.tolerance_plan_m &&
                            std::abs(place.z() - *target.height_m) <= *target.tolerance_height_m;
        const double p = forecast.points[k].probability;
        Band& band = here[Bands::of(p)];
        ++band.n;
        band.hits += within ? 1.0 : 0.0;
        band.stated += p;
    }
    // Points of one scene share its pose: the scene is the unit of the standard error.
    double hits = 0.0;
    double stated = 0.0;
    for (std::size_t b = 0; b < here.size(); ++b) {
        if (here[b].n == 0) continue;
        out.points.band[b].add(here[b].hits, here[b].stated, here[b].n);
        hits += here[b].hits;
        stated += here[b].stated;
    }
    out.points.all.add(hits, stated, options.points_per_scene);
}

inline double probability_of_truth(const Scene& scene,
                                   const std::vector<cause::Explanation>& list) {
    for (const auto& e : list)
        if (names_truth(scene, e)) return e.probability;
    return 0.0;
}

inline void run_scene(StudyResult& out, std::uint64_t seed, const cause::CauseTable& drawn_from,
                      const cause::CauseTable& given, const StudyOptions& options) {
    const auto among = main_causes();
    const Scene scene = draw_scene(seed, drawn_from, among, options.scene);
    const auto setup = station::prepare(scene.input);
    if (!setup.ok()) {
        ++out.not_answered;
        return;
    }
    const auto solved = station::solve_station(*setup);
    if (!solved.ok()) {
        ++out.not_answered;
        return;
    }
    out.wrong_scenes += scene.truth == cause::Cause::nothing_wrong ? 0 : 1;
    const auto diagnosis = cause::diagnose(*setup, solved->best, given);
    const bool hit = count(out.layproof, scene, diagnosis.entries.front());
    count(out.drop, scene, drop_rule(*setup, solved->best));
    Random random(seed ^ 0x5DEECE66DULL);
    lay_points(out, scene, solved->best.pose, diagnosis.beliefs, options, random);
    if (!options.exact) return;
    const auto exact = ExactPosterior(scene.input, drawn_from, among).run();
    const bool best_hit = count(out.best, scene, cause::group(exact).front());
    out.only_layproof += hit && !best_hit ? 1 : 0;
    out.only_best += best_hit && !hit ? 1 : 0;
    std::vector<cause::Explanation> all;
    for (const auto& entry : diagnosis.entries)
        if (!entry.is_pair) all.insert(all.end(), entry.members.begin(), entry.members.end());
    const double a = probability_of_truth(scene, all);
    const double b = probability_of_truth(scene, exact);
    if (a > 0.001 && b > 0.001) {
        out.log_odds_square += std::pow(std::log(a / b), 2);
        ++out.log_odds_n;
    }
}

inline void print_bands(const char* title, const Bands& bands) {
    std::printf(
        "%s\n| stated | n | stated mean | came true | difference | standard error |\n"
        "| --- | --- | --- | --- | --- | --- |\n",
        title);
    const auto line = [](const char* what, const Band& b) {
        if (b.n == 0) return;
        std::printf("| %s | %ld | %.3f | %.3f | %+.3f | %.3f |\n", what, b.n, b.stated_mean(),
                    b.hit_rate(), b.error(), b.standard_error());
    };
    for (int b = 0; b < kStudyBands; ++b) {
        char what[32];
        std::snprintf(what, sizeof what, "%d to %d %%", 10 * b, 10 * b + 10);
        line(what, bands.band[static_cast<std::size_t>(b)]);
    }
    line("all", bands.all);
}

}  // namespace study

inline StudyResult run_study(const cause::CauseTable& drawn_from, const cause::CauseTable& given,
                             const StudyOptions& options) {
    std::vector<StudyResult> parts(static_cast<std::size_t>(options.threads));
    std::vector<std::thread> threads;
    for (int t = 0; t < options.threads; ++t) {
        threads.emplace_back([&, t] {
            for (int i = t; i < options.scenes; i += options.threads)
                study::run_scene(
                    parts[static_cast<std::size_t>(t)],
                    options.seed * std::uint64_t{1000003} + static_cast<std::uint64_t>(i),
                    drawn_from, given, options);
        });
    }
    for (auto& thread : threads) thread.join();
    StudyResult out;
    for (const auto& part : parts) out.add(part);
    return out;
}

inline void print_study(const StudyResult& r) {
    const auto percent = [](double part, double whole) { return 100.0 * part / whole; };
    std::printf("| | layproof | best possible | drop the largest |\n| --- | --- | --- | --- |\n");
    const auto row = [&](const char* what, auto get) {
        std::printf("| %s | %.2f | %.2f | %.2f |\n", what, get(r.layproof), get(r.best),
                    get(r.drop));
    };
    const auto n = [](const Answers& a) { return static_cast<double>(std::max(a.n, 1L)); };
    row("cause and subject right, %",
        [&](const Answers& a) { return percent(double(a.hits), n(a)); });
    row("first name alone right, %",
        [&](const Answers& a) { return percent(double(a.single_hits), n(a)); });
    row("subject right whatever the cause, %",
        [&](const Answers& a) { return percent(double(a.subject_hits), n(a)); });
    row("mean members", [&](const Answers& a) { return a.members / n(a); });
    row("mean stated probability, %",
        [&](const Answers& a) { return percent(a.bands.all.stated, n(a)); });
    std::printf(
        "scenes %ld, not answered %ld, with something wrong %ld; only layproof right %ld, "
        "only the best right %ld; rms ln(P layproof / P best) of the truth %.3f\n",
        r.layproof.n, r.not_answered, r.wrong_scenes, r.only_layproof, r.only_best,
        std::sqrt(r.log_odds_square / static_cast<double>(std::max(r.log_odds_n, 1L))));
    std::printf(
        "\n| truth | scenes | layproof %% | best %% | drop %% |\n| --- | --- | --- | --- | --- "
        "|\n");
    for (const auto& entry : r.layproof.by_cause) {
        const auto rate = [&](const Answers& a) {
            const auto it = a.by_cause.find(entry.first);
            return it == a.by_cause.end()
                       ? 0.0
                       : percent(double(it->second.second), double(it->second.first));
        };
        std::printf("| %s | %ld | %.1f | %.1f | %.1f |\n",
                    std::string(to_word(entry.first)).c_str(), entry.second.first, rate(r.layproof),
                    rate(r.best), rate(r.drop));
    }
    study::print_bands("\ntop entry, layproof", r.layproof.bands);
    if (r.best.n > 0) study::print_bands("\ntop entry, best possible", r.best.bands);
    study::print_bands("\npoints", r.points);
}

}  // namespace layproof::testing

// What would help, worked out: the places of the map asked again with one thing changed, and the
// spot where a new mark would add most.
//
// On a floor of more places than kMostPlaces every second, third … is asked. They are places of the
// map itself, so what is counted from them is the least that the plan made again will count.

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>

#include "acts/plan/plan_scene.hpp"
#include "acts/shared/words.hpp"
#include "station/aids.hpp"

namespace layproof::acts::internal {
namespace {

using Eigen::Vector2d;
using Eigen::Vector3d;
using Inside = PlanScene::Inside;
using Bits = std::vector<std::uint64_t>;

/// Places that are asked again, at most.
constexpr double kMostPlaces = 2500.0;
constexpr double kMostMarkPlaces = 450.0;
constexpr double kMostTrialPlaces = 600.0;
/// Where a new mark is tried.
constexpr double kMostSpots = 70.0;
constexpr double kLeastSpotStep_m = 2.0;
/// Of the spots tried roughly, and of those around the best, so many are tried again.
constexpr std::size_t kFinalists = 4;
constexpr double kBetterShare = 0.5;
/// Tolerances tried in place of the wanted ones.
constexpr std::array kWider{1.25, 1.5, 1.75, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0};

struct Places {
    std::vector<std::size_t> list;
    bool are_all = true;
};

/// Every nth place of the map that a tripod may take.
Places places_of(const plan::ReachMap& map, double most) {
    Places out;
    const auto n = static_cast<std::size_t>(
        std::max(1.0, std::ceil(std::sqrt(static_cast<double>(map.size()) / most) - 1e-9)));
    out.are_all = n == 1;
    const auto columns = static_cast<std::size_t>(map.columns);
    for (std::size_t p = 0; p < map.size(); ++p)
        if (map.standing[p] == plan::Standing::free && p % columns % n == 0 && p / columns % n == 0)
            out.list.push_back(p);
    return out;
}

std::size_t number_of(const Bits& bits) {
    std::size_t out = 0;
    for (const auto word : bits) out += static_cast<std::size_t>(std::popcount(word));
    return out;
}

void count_into(const plan::PlaceAnswer& answer, double counts_from, Bits& bits) {
    for (std::size_t i = 0; i < answer.seen.size(); ++i)
        if (answer.chance[i] >= counts_from) {
            const auto p = static_cast<std::size_t>(answer.seen[i]);
            bits[p / 64] |= std::uint64_t{1} << (p % 64);
        }
}

class Advisor {
public:
    Advisor(const Inside& scene, const plan::ReachMap& map, std::size_t provable)
        : scene_(scene),
          map_(map),
          now_(provable),
          places_(places_of(map, kMostPlaces)),
          wanted_(static_cast<std::size_t>(
              std::ceil(scene.request.share * static_cast<double>(scene.points.size()) - 1e-9))) {}

    std::vector<PlanAdvice> run();

private:
    std::size_t counted_with(const plan::Site& site, const Places& places) const;
    void look(const char* aid, const plan::Crew& crew, const std::string& words);
    void look_at_crew();
    void look_at_marks();
    void look_at_tolerance();
    std::vector<Vector2d> spots() const;
    std::vector<Vector2d> best_spots(const std::vector<Vector2d>& at) const;
    std::size_t counted_with_mark(const Vector2d& at, const Places& places) const;
    plan::ControlMark mark_at(const Vector2d& at) const;
    bool may_be_marked(const Vector2d& at) const;
    std::vector<station::LayTarget> wider(double times) const;
    std::string gain_words(std::size_t then) const;
    void add(PlanAdvice advice, std::size_t then, const std::string& words);

    const Inside& scene_;
    const plan::ReachMap& map_;
    std::size_t now_;
    Places places_;
    std::size_t wanted_;
    double spot_step_m_ = kLeastSpotStep_m;
    std::size_t best_ = 0;
    std::vector<PlanAdvice> out_;
};

/// A single worker: the choice of set-ups runs beside it.
std::size_t Advisor::counted_with(const plan::Site& site, const Places& places) const {
    plan::Surveyor surveyor(site);
    plan::PlaceAnswer answer;
    Bits bits(static_cast<std::size_t>(map_.words), 0);
    for (const std::size_t p : places.list) {
        surveyor.ask(map_.at(p), answer);
        count_into(answer, scene_.request.counts_from, bits);
    }
    return number_of(bits);
}

std::string Advisor::gain_words(std::size_t then) const {
    return fmt::format("{}{} of {} could be proven instead of {}",
                       places_.are_all ? "" : "at least ", then,
                       count(static_cast<int>(scene_.points.size()), "point"), now_);
}

void Advisor::add(PlanAdvice advice, std::size_t then, const std::string& words) {
    advice.provable = static_cast<int>(then);
    advice.gained = static_cast<int>(then - now_);
    advice.says = fmt::format("{}: {}.", words, gain_words(then));
    best_ = std::max(best_, then);
    out_.push_back(std::move(advice));
}

void Advisor::look(const char* aid, const plan::Crew& crew, const std::string& words) {
    const auto site = scene_.other_site(crew, scene_.site->marks());
    const std::size_t then = counted_with(*site, places_);
    if (then <= now_) return;
    PlanAdvice advice;
    advice.aid = aid;
    add(std::move(advice), then, words);
}

void Advisor::look_at_crew() {
    plan::Crew all = scene_.crew;
    int changes = 0;
    plan::Crew crew = scene_.crew;
    if (crew.lay_rod_m > 2.0 * station::kShortRod_m) {
        crew.lay_rod_m = station::kShortRod_m;
        crew.mark_rod_m = std::min(crew.mark_rod_m, station::kShortRod_m);
        all.lay_rod_m = crew.lay_rod_m;
        all.mark_rod_m = crew.mark_rod_m;
        ++changes;
        look("short-rod", crew,
             fmt::format("The rod held at {} on points and marks",
                         small(station::kShortRod_m, scene_.style)));
    }
    crew = scene_.crew;
    crew.instrument.bubble_rad *= station::kBipodShare;
    all.instrument.bubble_rad = crew.instrument.bubble_rad;
    look("bipod", crew, "The rod on a bipod, on marks and points");
    crew = scene_.crew;
    crew.instrument.angle_sd_rad *= kBetterShare;
    all.instrument.angle_sd_rad = crew.instrument.angle_sd_rad;
    look("better-angles", crew,
         fmt::format("An instrument of {:.1f}\"",
                     crew.instrument.angle_sd_rad / measure::kRadPerArcsec));
    if (scene_.crew.faces == 1) {
        crew = scene_.crew;
        crew.faces = 2;
        all.faces = 2;
        look("two-faces", crew, "Marks sighted in two faces");
    }
    if (best_ >= wanted_) return;
    const std::size_t alone = best_;
    const auto site = scene_.other_site(all, scene_.site->marks());
    if (const std::size_t then = counted_with(*site, places_); then > alone) {
        PlanAdvice advice;
        advice.aid = "all-together";
        add(std::move(advice), then,
            fmt::format("{}bipod, instrument of {:.1f}\"{} together",
                        all.lay_rod_m < scene_.crew.lay_rod_m
                            ? fmt::format("Rod at {}, ", small(all.lay_rod_m, scene_.style))
                            : std::string("A "),
                        all.instrument.angle_sd_rad / measure::kRadPerArcsec,
                        scene_.crew.faces == 1 ? " and two faces" : ""));
    }
}

plan::ControlMark Advisor::mark_at(const Vector2d& at) const {
    plan::ControlMark mark;
    mark.name = "new";
    mark.at_m << at, scene_.floor_m;
    mark.sd_m.setConstant(frame::kDefaultMarkSd_m);
    return mark;
}

/// A mark needs a free foot and room for the rod's user.
bool Advisor::may_be_marked(const Vector2d& at) const {
    return !scene_.site->is_no_go(at) &&
           scene_.site->scene().has_room(at, 0.3, scene_.floor_m, scene_.floor_m + 1.9);
}

std::vector<Vector2d> Advisor::spots() const {
    const plan::ReachMap lattice =
        plan::make_map(scene_.low_m, scene_.high_m, spot_step_m_, scene_.points.size());
    std::vector<Vector2d> out;
    for (std::size_t s = 0; s < lattice.size(); ++s)
        if (may_be_marked(lattice.at(s))) out.push_back(lattice.at(s));
    return out;
}

/// The spots at which a mark adds most to what is counted from some places, the best first; of
/// equal ones that by which more is proven on average.
std::vector<Vector2d> Advisor::best_spots(const std::vector<Vector2d>& at) const {
    struct Tried {
        std::size_t counted = 0;
        double more = 0.0;
        std::size_t spot = 0;
    };
    const Places places = places_of(map_, kMostMarkPlaces);
    std::vector<plan::ControlMark> marks = scene_.site->marks();
    const std::size_t given = marks.size();
    for (const Vector2d& spot : at) marks.push_back(mark_at(spot));
    const auto site = scene_.other_site(scene_.crew, marks);
    plan::Surveyor surveyor(*site);
    std::vector<char> may_use(marks.size(), 0);
    std::fill_n(may_use.begin(), given, 1);
    plan::PlaceAnswer answer;
    Bits now(static_cast<std::size_t>(map_.words), 0);
    std::vector<double> here_now;
    for (const std::size_t p : places.list) {
        surveyor.ask(map_.at(p), answer, may_use);
        count_into(answer, scene_.request.counts_from, now);
        here_now.push_back(answer.expected);
    }
    std::vector<Tried> tried;
    for (std::size_t m = given; m < marks.size(); ++m) {
        may_use[m] = 1;
        Bits with = now;
        Tried here_tried;
        here_tried.spot = m - given;
        const Vector3d prism = marks[m].at_m + Vector3d(0.0, 0.0, scene_.crew.mark_rod_m);
        for (std::size_t k = 0; k < places.list.size(); ++k) {
            const Vector2d here = map_.at(places.list[k]);
            const Vector3d eye(here.x(), here.y(), site->axes_height_m());
            if ((prism - eye).head<2>().norm() > scene_.crew.farthest_mark_m ||
                !site->scene().is_free(eye, prism))
                continue;
            surveyor.ask(here, answer, may_use);
            count_into(answer, scene_.request.counts_from, with);
            here_tried.more += answer.expected - here_now[k];
        }
        may_use[m] = 0;
        here_tried.counted = number_of(with);
        tried.push_back(here_tried);
    }
    std::stable_sort(tried.begin(), tried.end(), [](const Tried& a, const Tried& b) {
        return a.counted > b.counted || (a.counted == b.counted && a.more > b.more);
    });
    std::vector<Vector2d> out;
    for (const Tried& t : tried) out.push_back(at[t.spot]);
    return out;
}

/// As the plan made again would: with the random numbers of that many marks.
std::size_t Advisor::counted_with_mark(const Vector2d& at, const Places& places) const {
    std::vector<plan::ControlMark> marks = scene_.site->marks();
    marks.push_back(mark_at(at));
    const auto site = scene_.other_site(scene_.crew, std::move(marks));
    return counted_with(*site, places);
}

void Advisor::look_at_marks() {
    const Vector2d size = scene_.high_m - scene_.low_m;
    spot_step_m_ =
        std::max(kLeastSpotStep_m, std::sqrt(std::max(size.x() * size.y(), 1.0) / kMostSpots));
    const std::vector<Vector2d> coarse = best_spots(spots());
    if (coarse.empty()) return;
    // Once more around the best one.
    std::vector<Vector2d> around;
    for (const double east : {-0.5, 0.0, 0.5})
        for (const double north : {-0.5, 0.0, 0.5}) {
            const Vector2d at = coarse.front() + spot_step_m_ * Vector2d(east, north);
            if ((east != 0.0 || north != 0.0) && may_be_marked(at)) around.push_back(at);
        }
    std::vector<Vector2d> finalists(
        coarse.begin(),
        coarse.begin() + static_cast<std::ptrdiff_t>(std::min(coarse.size(), kFinalists)));
    if (!around.empty()) {
        const std::vector<Vector2d> fine = best_spots(around);
        finalists.insert(
            finalists.end(), fine.begin(),
            fine.begin() + static_cast<std::ptrdiff_t>(std::min(fine.size(), kFinalists)));
    }
    const Places trial = places_of(map_, kMostTrialPlaces);
    const double metres = measure::metres_per(scene_.unit);
    Vector2d at = coarse.front();
    std::size_t most = 0;
    for (Vector2d spot : finalists) {
        // The mark stands where its printed coordinates say.
        for (double& c : spot) c = std::round(c / metres * 100.0) / 100.0 * metres;
        const std::size_t counted = counted_with_mark(spot, trial);
        if (counted <= most) continue;
        most = counted;
        at = spot;
    }
    if (most == 0) return;
    const std::size_t then = counted_with_mark(at, places_);
    if (then <= now_) return;
    PlanAdvice advice;
    advice.aid = "new-mark";
    advice.east_m = at.x();
    advice.north_m = at.y();
    add(std::move(advice), then,
        fmt::format("A new mark at about east {}, north {}", rough(at.x(), scene_.style),
                    rough(at.y(), scene_.style)));
}

std::vector<station::LayTarget> Advisor::wider(double times) const {
    std::vector<station::LayTarget> out = scene_.targets;
    for (station::LayTarget& target : out) {
        target.tolerance_plan_m *= times;
        if (target.tolerance_height_m) *target.tolerance_height_m *= times;
    }
    return out;
}

/// The least of a row of wider tolerances with which the wanted share could be proven.
void Advisor::look_at_tolerance() {
    const Places trial = places_of(map_, kMostTrialPlaces);
    const auto counted = [&](double times, const Places& places) {
        const auto site = scene_.other_site(scene_.crew, scene_.site->marks(), wider(times));
        return counted_with(*site, places);
    };
    const auto widest = counted(kWider.back(), trial);
    if (widest <= now_) return;
    const std::size_t aim = std::min(wanted_, widest);
    const auto found = std::partition_point(kWider.begin(), kWider.end() - 1, [&](double times) {
        return counted(times, trial) < aim;
    });
    const std::size_t then = counted(*found, places_);
    if (then <= now_) return;
    PlanAdvice advice;
    advice.aid = "wider-tolerance";
    advice.times_tolerance = *found;
    const auto [least, most] = std::minmax_element(
        scene_.targets.begin(), scene_.targets.end(),
        [](const auto& a, const auto& b) { return a.tolerance_plan_m < b.tolerance_plan_m; });
    add(std::move(advice), then,
        least->tolerance_plan_m == most->tolerance_plan_m
            ? fmt::format("A tolerance of {} in place of {}, if whoever sets it agrees",
                          tolerance(*found * most->tolerance_plan_m, scene_.style),
                          tolerance(most->tolerance_plan_m, scene_.style))
            : fmt::format("Tolerances {} times as wide, if whoever sets them agrees", *found));
}

std::vector<PlanAdvice> Advisor::run() {
    if (now_ == scene_.points.size() || places_.list.empty()) return {};
    best_ = now_;
    look_at_crew();
    look_at_marks();
    std::stable_sort(out_.begin(), out_.end(),
                     [](const auto& a, const auto& b) { return a.gained > b.gained; });
    if (now_ < wanted_) look_at_tolerance();
    return std::move(out_);
}

}  // namespace

std::vector<PlanAdvice> plan_advice(const PlanScene::Inside& scene, const plan::ReachMap& map,
                                    std::size_t provable) {
    return Advisor(scene, map, provable).run();
}

}  // namespace layproof::acts::internal

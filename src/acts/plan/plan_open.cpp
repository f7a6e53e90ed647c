#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "acts/plan/plan_scene.hpp"
#include "acts/shared/words.hpp"
#include "exchange/import/import.hpp"
#include "exchange/import/obstacles.hpp"
#include "exchange/tables/causes.hpp"
#include "exchange/tables/column_map.hpp"
#include "exchange/tables/instrument.hpp"

namespace layproof::acts {
namespace {

using exchange::Document;

/// Beyond the points on every side.
constexpr double kMargin_m = 3.0;
/// A floor larger than this is no floor: a coordinate is wrong.
constexpr double kLargestFloor_m = 5000.0;
constexpr int kPlaceDraws = 48;
/// Where a covered point or mark stands: sights to it are never free.
constexpr double kNowhere = std::numeric_limits<double>::quiet_NaN();
/// Obstacles farther than this from every point have coordinates of another kind.
constexpr double kElsewhere_m = 300.0;
/// Above the floor, what is higher is in nobody's way.
constexpr double kOverhead_m = 2.5;

struct PlanFigure {
    const char* what;
    double value, low, high;
    const char* expected;
};

std::optional<Refusal> check_plan_figures(const PlanRequest& r) {
    const PlanFigure figures[] = {
        {"confidence", r.confidence, 0.500001, 0.999999, "a share above 0.5 and below 1"},
        {"share", r.share, 1e-6, 1.0, "a share of the points, above 0 and up to 1"},
        {"counts from", r.counts_from, 0.5, 0.99, "a chance of 0.5 to 0.99"},
        {"step", r.step_m, 0.1, 10.0, "a lattice step of 0.1 m to 10 m"},
        {"clearance", r.clearance_m, 0.0, 1.0, "a clearance of 0 to 1 m"},
        {"instrument height", r.instrument_height_m, 0.1, 20.0, "0.1 m to 20 m over the floor"},
        {"rod", r.rod_m, 0.0, 20.0, "a rod height of 0 to 20 m"},
        {"rod on marks", r.mark_rod_m.value_or(r.rod_m), 0.0, 20.0, "a rod height of 0 to 20 m"},
        {"farthest", r.farthest_m, 3.0, 1000.0, "a sight of 3 m to 1,000 m"},
        {"faces", static_cast<double>(r.faces), 1.0, 2.0, "1 or 2"},
        {"floor", r.floor_m.value_or(0.0), -1e5, 1e5, "a height within 100,000 m of zero"},
    };
    for (const PlanFigure& f : figures)
        if (!(f.value >= f.low && f.value <= f.high))
            return Refusal{
                ErrorCode::out_of_range, {f.what, 0, 0}, fmt::format("{}", f.value), f.expected};
    return std::nullopt;
}

template <class Row>
Result<exchange::Table<Row>> read_planned(
    const Document& document, const std::optional<Document>& map_document,
    std::optional<measure::LengthUnit> unit,
    Result<exchange::Table<Row>> (*read)(const Document&, const exchange::ReadOptions&)) {
    exchange::ReadOptions options;
    options.unit = unit;
    if (!map_document) return read(document, options);
    const auto map = exchange::read_column_map(*map_document);
    if (!map) return map.refusal();
    options.map = &map.value();
    return read(document, options);
}

double median_of(std::vector<double> values) {
    std::sort(values.begin(), values.end());
    return values[values.size() / 2];
}

using Inside = PlanScene::Inside;

void add_obstacle(const exchange::ObstacleRow& row, bool all_no_go, Inside& scene) {
    using exchange::ObstacleKind;
    const plan::Reach reach{row.bottom_m.value_or(-plan::kOpen_m),
                            row.top_m.value_or(plan::kOpen_m)};
    const int number = static_cast<int>(scene.obstacle_names.size());
    if (row.kind == ObstacleKind::no_go || (all_no_go && row.corners.size() >= 3)) {
        scene.no_go.push_back(row.corners);
        return;
    }
    std::vector<plan::Prism> prisms;
    switch (row.kind) {
        case ObstacleKind::column:
            if (auto p = plan::rectangle(row.corners.front(), row.width_m, row.depth_m,
                                         row.turn_rad, reach, number))
                prisms.push_back(std::move(*p));
            break;
        case ObstacleKind::round:
            if (auto p = plan::round_prism(row.corners.front(), 0.5 * row.width_m, reach, number))
                prisms.push_back(std::move(*p));
            break;
        case ObstacleKind::wall:
            prisms = plan::wall(row.corners, row.width_m, reach, number);
            break;
        case ObstacleKind::outline:
        case ObstacleKind::no_go:
            prisms = plan::prisms_of_outline(row.corners, reach, number);
            break;
    }
    if (prisms.empty())
        scene.notices.push_back(
            fmt::format("{} has no area on the plan and hides nothing.", row.name));
    if (all_no_go) {
        for (plan::Prism& p : prisms)
            if (!p.is_round()) scene.no_go.push_back(p.corners);
        return;
    }
    scene.obstacle_names.push_back(row.name);
    for (plan::Prism& p : prisms) scene.prisms.push_back(std::move(p));
}

std::optional<Refusal> read_plan_obstacles(Inside& scene) {
    const PlanRequest& request = scene.request;
    const auto read = [&](const Document& document, bool all_no_go) -> std::optional<Refusal> {
        const std::size_t first = scene.prisms.size();
        auto table = read_planned<exchange::ObstacleRow>(
            document, request.obstacles_map,
            request.unit ? request.unit : std::optional(scene.unit), exchange::read_any_obstacles);
        if (!table) return table.refusal();
        scene.notices.insert(scene.notices.end(), table->notices.begin(), table->notices.end());
        if (!request.unit && exchange::format_of(document) == exchange::FileFormat::dxf)
            scene.notices.push_back(
                fmt::format("{}: taken to be drawn in {}, the unit of the points; state another "
                            "with --unit.",
                            document.name, measure::to_word(scene.unit)));
        for (const exchange::ObstacleRow& row : table->rows) add_obstacle(row, all_no_go, scene);
        if (scene.prisms.size() > first)
            scene.sources.push_back({document.name, first, scene.prisms.size()});
        return std::nullopt;
    };
    for (const Document& document : request.obstacles)
        if (auto refusal = read(document, false)) return refusal;
    for (const Document& document : request.no_go)
        if (auto refusal = read(document, true)) return refusal;
    for (const plan::Prism& prism : scene.prisms) {
        double size = prism.radius_m;
        for (const Eigen::Vector2d& c : prism.corners)
            size = std::max(size, (c - prism.centre_m).norm());
        scene.prism_sizes_m.push_back(1.000001 * size);
    }
    return std::nullopt;
}

struct PlanFiles {
    std::vector<frame::Mark> marks;
    std::vector<frame::DesignPoint> points;
    std::optional<measure::Instrument> instrument;
    std::optional<Document> causes;
    std::optional<measure::LengthUnit> unit;
};

Result<PlanFiles> read_plan_files(const PlanRequest& request, std::vector<std::string>& notices) {
    PlanFiles out;
    if (request.facts) {
        out.marks = request.facts->marks;
        out.points = request.facts->points;
        out.instrument = request.facts->instrument;
        out.causes = request.facts->causes;
        out.unit = request.facts->unit;
    } else {
        auto marks = read_planned<frame::Mark>(request.marks, request.marks_map, request.unit,
                                               exchange::read_any_marks);
        if (!marks) return marks.refusal();
        auto points = read_planned<frame::DesignPoint>(request.points, request.points_map,
                                                       request.unit, exchange::read_any_points);
        if (!points) return points.refusal();
        notices.insert(notices.end(), marks->notices.begin(), marks->notices.end());
        notices.insert(notices.end(), points->notices.begin(), points->notices.end());
        out.unit = marks->unit;
        out.marks = std::move(marks->rows);
        out.points = std::move(points->rows);
    }
    if (request.instrument) {
        auto file = exchange::read_instrument(*request.instrument);
        if (!file) return file.refusal();
        out.instrument = file->instrument;
        notices.insert(notices.end(), file->notices.begin(), file->notices.end());
    }
    if (request.causes) out.causes = request.causes;
    if (out.points.empty())
        return Refusal{ErrorCode::value_missing,
                       {request.facts ? request.facts->name : request.points.name, 0, 0},
                       "no point",
                       "the points to be laid: a plan is for them"};
    return out;
}

void choose_floor(const std::vector<frame::Mark>& marks, Inside& scene) {
    std::vector<double> heights;
    for (const frame::DesignPoint& p : scene.points)
        if (p.height_m) heights.push_back(*p.height_m);
    const bool of_points = !heights.empty();
    if (!of_points)
        for (const frame::Mark& mark : marks)
            if (mark.height_m) heights.push_back(*mark.height_m);
    scene.floor_m = scene.request.floor_m ? *scene.request.floor_m
                    : heights.empty()     ? 0.0
                                          : median_of(heights);
    if (!scene.request.floor_m)
        scene.notices.push_back(fmt::format("The floor is taken at {}: {}.",
                                            measure::format_length(scene.floor_m, scene.style),
                                            of_points         ? "the median height of the points"
                                            : heights.empty() ? "nothing has a height"
                                                              : "the median height of the marks"));
}

/// A file whose obstacles are all far away, or all above or below, has other coordinates than the
/// points: then nothing would hide anything, and nobody would be told.
void say_obstacles_elsewhere(Inside& scene) {
    for (const Inside::Source& source : scene.sources) {
        double nearest = plan::kOpen_m;
        plan::Reach all{plan::kOpen_m, -plan::kOpen_m};
        bool is_in_the_way = false;
        for (std::size_t i = source.first; i < source.last; ++i) {
            const plan::Prism& prism = scene.prisms[i];
            const Eigen::Vector2d inside =
                prism.centre_m.cwiseMax(scene.low_m).cwiseMin(scene.high_m);
            nearest = std::min(nearest, plan::plan_distance(prism, inside));
            all.bottom_m = std::min(all.bottom_m, prism.reach.bottom_m);
            all.top_m = std::max(all.top_m, prism.reach.top_m);
            is_in_the_way = is_in_the_way || (prism.reach.top_m > scene.floor_m &&
                                              prism.reach.bottom_m < scene.floor_m + kOverhead_m);
        }
        if (nearest > kElsewhere_m)
            scene.notices.push_back(fmt::format(
                "{}: its nearest obstacle is {} from the points, so it hides nothing. Are its "
                "coordinates those of the points?",
                source.name, internal::rough(nearest, scene.style)));
        else if (!is_in_the_way)
            scene.notices.push_back(fmt::format(
                "{}: its obstacles {}, none on the floor at {}, so it hides nothing. Are its "
                "heights those of the points?",
                source.name,
                all.top_m <= scene.floor_m
                    ? fmt::format("end at {}", measure::format_length(all.top_m, scene.style))
                    : fmt::format("begin at {}", measure::format_length(all.bottom_m, scene.style)),
                measure::format_length(scene.floor_m, scene.style)));
    }
}

}  // namespace

PlanScene::PlanScene(std::unique_ptr<Inside> inside) : inside_(std::move(inside)) {}
PlanScene::~PlanScene() = default;
PlanScene::PlanScene(PlanScene&&) noexcept = default;

Result<PlanScene> open_plan(const PlanRequest& request) {
    if (auto refusal = check_plan_figures(request)) return *refusal;
    auto scene = std::make_unique<Inside>();
    scene->request = request;
    auto files = read_plan_files(request, scene->notices);
    if (!files) return files.refusal();
    scene->unit = files->unit.value_or(request.unit.value_or(measure::LengthUnit::metre));
    scene->style.unit = scene->unit;
    if (request.show) scene->style = *request.show;
    scene->points = std::move(files->points);

    plan::Crew& crew = scene->crew;
    if (files->causes) {
        auto table = exchange::read_causes(*files->causes);
        if (!table) return table.refusal();
        crew.causes = std::move(table->table);
        scene->notices.insert(scene->notices.end(), table->notices.begin(), table->notices.end());
    } else {
        crew.causes = exchange::shipped_table();
    }
    crew.instrument = files->instrument.value_or(measure::Instrument{});
    if (!files->instrument)
        scene->notices.push_back(fmt::format(
            "No instrument file: an ordinary building instrument is assumed ({:.0f}\" per "
            "pointing, {} + {:.0f} ppm, rod bubble {:.0f}').",
            crew.instrument.angle_sd_rad / measure::kRadPerArcsec,
            internal::tolerance(crew.instrument.distance_sd_m, scene->style),
            crew.instrument.distance_ppm, crew.instrument.bubble_rad / measure::kRadPerArcmin));
    crew.instrument_height_m = request.instrument_height_m;
    crew.lay_rod_m = request.rod_m;
    crew.mark_rod_m = request.mark_rod_m.value_or(request.rod_m);
    crew.faces = request.faces;
    crew.confidence = request.confidence;
    crew.farthest_point_m = request.farthest_m;
    crew.farthest_mark_m = 1.5 * request.farthest_m;

    choose_floor(files->marks, *scene);
    if (auto refusal = read_plan_obstacles(*scene)) return *refusal;
    int untold = 0;
    scene->low_m = {plan::kOpen_m, plan::kOpen_m};
    scene->high_m = -scene->low_m;
    for (const frame::DesignPoint& p : scene->points) {
        untold += p.tolerance_plan_m ? 0 : 1;
        const Eigen::Vector2d at(p.east_m, p.north_m);
        scene->point_cover.push_back(internal::obstacle_on(*scene, at, p.height_m, crew.lay_rod_m));
        const bool is_covered = scene->point_cover.back() >= 0;
        scene->targets.push_back({p.name, is_covered ? kNowhere : p.east_m,
                                  is_covered ? kNowhere : p.north_m, p.height_m,
                                  p.tolerance_plan_m.value_or(kDefaultTolerancePlan_m),
                                  p.tolerance_height_m});
        scene->low_m = scene->low_m.cwiseMin(at);
        scene->high_m = scene->high_m.cwiseMax(at);
    }
    say_obstacles_elsewhere(*scene);
    if (untold > 0)
        scene->notices.push_back(fmt::format(
            "No tolerance given for {}: 1/4 in (6.35 mm) in plan taken.",
            untold == static_cast<int>(scene->points.size()) ? "the points"
                                                             : internal::count(untold, "point")));
    if ((scene->high_m - scene->low_m).maxCoeff() > kLargestFloor_m)
        return Refusal{
            ErrorCode::out_of_range,
            {request.facts ? request.facts->name : request.points.name, 0, 0},
            fmt::format("points {:.0f} m apart", (scene->high_m - scene->low_m).maxCoeff()),
            "the points of one floor, within 5,000 m"};
    scene->low_m.array() -= kMargin_m;
    scene->high_m.array() += kMargin_m;

    std::vector<plan::ControlMark> marks = plan::control_marks(files->marks);
    if (marks.size() < files->marks.size())
        scene->notices.push_back(fmt::format(
            "{} without a plan position cannot be planned with.",
            internal::count(static_cast<int>(files->marks.size() - marks.size()), "mark")));
    scene->marks = marks;
    for (plan::ControlMark& mark : marks) {
        const std::optional<double> height =
            mark.has_height ? std::optional(mark.at_m.z()) : std::nullopt;
        scene->mark_cover.push_back(
            internal::obstacle_on(*scene, mark.at_m.head<2>(), height, crew.mark_rod_m));
        if (scene->mark_cover.back() >= 0) mark.at_m.head<2>().setConstant(kNowhere);
    }
    scene->site = scene->other_site(crew, std::move(marks));
    scene->surveyor = std::make_unique<plan::Surveyor>(*scene->site);
    scene->draws = std::make_unique<plan::Draws>(
        kPlaceDraws, std::max(1, static_cast<int>(scene->site->marks().size())), 9);
    return PlanScene(std::move(scene));
}

PlanPlace plan_position(PlanScene& scene, double east_m, double north_m) {
    Inside& in = scene.inside();
    PlanPlace out;
    out.east_m = east_m;
    out.north_m = north_m;
    if (!std::isfinite(east_m) || !std::isfinite(north_m)) {
        out.standing = plan::Standing::no_room;
        out.says = "That is no place.";
        return out;
    }
    plan::PlaceAnswer answer;
    in.surveyor->ask({east_m, north_m}, answer, {}, *in.draws);
    out.standing = answer.standing;
    for (const int m : answer.marks)
        out.marks.push_back(in.site->marks()[static_cast<std::size_t>(m)].name);
    out.points = std::move(answer.seen);
    out.chance = std::move(answer.chance);
    out.expected = answer.expected;
    out.counted =
        static_cast<int>(std::count_if(out.chance.begin(), out.chance.end(),
                                       [&](double c) { return c >= in.request.counts_from; }));
    const int seen = static_cast<int>(out.points.size());
    const std::string points = internal::count(seen, "point");
    switch (out.standing) {
        case plan::Standing::no_go:
            out.says = "Nobody may stand here: it is a no-go area.";
            return out;
        case plan::Standing::inside_obstacle:
            out.says = "This place is inside an obstacle.";
            return out;
        case plan::Standing::no_room:
            out.says = fmt::format("No room for the tripod: an obstacle is nearer than {}.",
                                   internal::small(in.crew.room_m, in.style));
            return out;
        case plan::Standing::free:
            break;
    }
    if (out.marks.empty()) {
        out.says = seen == 0 ? "No mark and no point is in sight: obstacles all round."
                             : fmt::format("No mark is in sight, so nothing can be proven; {} {}.",
                                           points, seen == 1 ? "is" : "are");
    } else if (out.marks.size() == 1) {
        out.says = fmt::format("Only {} is in sight: one mark does not place a station.",
                               out.marks.front());
    } else if (!answer.is_solvable) {
        out.says = "The marks in sight do not place a station.";
    } else {
        const double sd = std::sqrt(
            0.5 * (answer.pose_covariance(0, 0) + answer.pose_covariance(1, 1)) +
            std::hypot(0.5 * (answer.pose_covariance(0, 0) - answer.pose_covariance(1, 1)),
                       answer.pose_covariance(0, 1)));
        out.sd_plan_m = sd;
        out.says = fmt::format(
            "{} in sight: {} of {} in sight will be proven{}.",
            internal::count(static_cast<int>(out.marks.size()), "mark"), out.counted, points,
            out.marks.size() == 2 && out.counted == 0 ? "; two marks cannot check each other" : "");
    }
    return out;
}

}  // namespace layproof::acts

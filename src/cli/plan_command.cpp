// layproof plan: where do I stand, on which marks, how many set-ups?

#include <CLI/CLI.hpp>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "acts/job/facts_to_plan.hpp"
#include "acts/plan/plan.hpp"
#include "cli/commands.hpp"
#include "cli/job_file.hpp"
#include "cli/lengths.hpp"
#include "cli/output_folder.hpp"
#include "cli/site_answer.hpp"
#include "cli/site_options.hpp"
#include "job/job.hpp"
#include "job/sources.hpp"

namespace layproof::cli {
namespace {

struct PlanOptions {
    std::string marks, points, instrument, causes;
    std::vector<std::string> obstacles, no_go;
    std::string map_marks, map_points, map_obstacles;
    std::string job, as_of, unit, show, out;
    std::string rod, rod_on_marks, instrument_height, clearance, floor, step, farthest;
    std::string ground = "slab";
    double confidence = 0.95;
    double share = 0.95;
    double counts_from = 0.8;
    int faces = 1;
    bool json = false;
    bool explain = false;
    bool no_advice = false;
};

std::optional<int> fill_plan(const PlanOptions& o, acts::PlanRequest& request) {
    if (!o.unit.empty()) request.unit = measure::length_unit_from_word(o.unit);
    if (!o.show.empty()) {
        request.show = read_style(o.show);
        if (!request.show)
            return usage("plan",
                         "--show " + o.show + ": m, ft, us-ft, ft-in or ft-in:32 was expected");
    }
    std::optional<int> status;
    const auto length = [&](const std::string& text, const char* name) -> std::optional<double> {
        if (text.empty() || status) return std::nullopt;
        auto read = read_typed_length(text, request.unit);
        if (!read)
            status = usage("plan", std::string(name) + " " + text +
                                       ": a length with its unit was expected, such as 0.4ft");
        return read;
    };
    if (const auto v = length(o.rod, "--rod")) request.rod_m = *v;
    if (const auto v = length(o.rod_on_marks, "--rod-on-marks")) request.mark_rod_m = *v;
    if (const auto v = length(o.instrument_height, "--instrument-height"))
        request.instrument_height_m = *v;
    if (const auto v = length(o.clearance, "--clearance")) request.clearance_m = *v;
    if (const auto v = length(o.floor, "--floor")) request.floor_m = *v;
    if (const auto v = length(o.step, "--step")) request.step_m = *v;
    if (const auto v = length(o.farthest, "--farthest")) request.farthest_m = *v;
    if (status) return status;
    request.confidence = o.confidence;
    request.share = o.share;
    request.counts_from = o.counts_from;
    request.faces = o.faces;
    request.explain = o.explain;
    request.advice = !o.no_advice;
    request.ground = watch::ground_from_word(o.ground).value_or(watch::Ground::slab);
    if (o.job.empty() && (o.marks.empty() || o.points.empty()))
        return usage("plan", "--marks and --points are required, or --job");
    if (!o.as_of.empty() && o.job.empty()) return usage("plan", "--as-of needs --job");
    std::optional<exchange::Document> marks;
    std::optional<exchange::Document> points;
    if (!read_into(o.marks, marks) || !read_into(o.points, points) ||
        !read_into(o.instrument, request.instrument) || !read_into(o.causes, request.causes) ||
        !read_into(o.map_marks, request.marks_map) ||
        !read_into(o.map_points, request.points_map) ||
        !read_into(o.map_obstacles, request.obstacles_map))
        return exit_refused;
    if (marks) request.marks = std::move(*marks);
    if (points) request.points = std::move(*points);
    if (!read_into(o.obstacles, request.obstacles)) return exit_refused;
    if (!read_into(o.no_go, request.no_go)) return exit_refused;
    if (o.job.empty()) return std::nullopt;
    job::AsOf as_of;
    if (!read_as_of(o.as_of, as_of)) return exit_refused;
    // Planning comes before the first sight: a job without any will do.
    job::SystemClock clock;
    job::SystemEntropy entropy;
    const auto job = job::Job::open(o.job, job::Mode::read, clock, entropy);
    if (!job) return refuse_job(job.refusal(), true);
    auto facts = acts::facts_to_plan(*job, as_of);
    if (!facts) return refuse_job(facts.refusal());
    request.facts = std::move(*facts);
    return std::nullopt;
}

std::vector<OutputFile> plan_files(const acts::PlanAnswer& answer) {
    return {{"plan.json", acts::to_json(answer)},
            {"plan.txt", acts::to_text(answer)},
            {"plan.svg", acts::to_svg(answer)},
            {"plan-setups.csv", acts::setups_csv(answer)}};
}

int run_plan_command(const PlanOptions& options) {
    acts::PlanRequest request;
    if (const auto status = fill_plan(options, request)) return *status;
    const auto answer = acts::run_plan(request);
    SiteOptions shown;
    shown.out = options.out;
    shown.json = options.json;
    return finish(shown, answer, plan_files);
}

}  // namespace

void add_plan(CLI::App& app, int& status) {
    auto o = std::make_shared<PlanOptions>();
    CLI::App* command =
        app.add_subcommand("plan", "Where do I stand, on which marks, how many set-ups?");
    auto* marks = command->add_option("--marks", o->marks, "control marks")->type_name("FILE");
    auto* points =
        command->add_option("--points", o->points, "the points to be laid, with tolerances")
            ->type_name("FILE");
    command
        ->add_option("--obstacles", o->obstacles,
                     "what stands on the floor (CSV, DXF, IFC); may be given several times")
        ->type_name("FILE");
    command->add_option("--no-go", o->no_go, "areas where nobody may stand (CSV, DXF)")
        ->type_name("FILE");
    command->add_option("--instrument", o->instrument, "how well instrument and rod measure (TOML)")
        ->type_name("FILE");
    auto* job = command->add_option("--job", o->job, "a job file in place of marks and points")
                    ->type_name("FILE");
    job->excludes(marks)->excludes(points);
    command->add_option("--as-of", o->as_of, "the job as it was known then")->type_name("TIME");
    command->add_option("--causes", o->causes, "how often and how large things go wrong (TOML)")
        ->type_name("FILE");
    command->add_option("--map-marks", o->map_marks, "column map of a foreign marks file (TOML)")
        ->type_name("FILE");
    command->add_option("--map-points", o->map_points, "the same for points")->type_name("FILE");
    command->add_option("--map-obstacles", o->map_obstacles, "the same for obstacles")
        ->type_name("FILE");
    command->add_option("--share", o->share, "share of the points that is wanted")
        ->check(CLI::Range(0.0, 1.0));
    command
        ->add_option("--counts-from", o->counts_from,
                     "chance of being proven from which a point counts")
        ->check(CLI::Range(0.5, 0.99));
    command->add_option("--rod", o->rod, "rod height on the points")->type_name("LENGTH");
    command->add_option("--rod-on-marks", o->rod_on_marks, "rod height on the marks, if another")
        ->type_name("LENGTH");
    command->add_option("--instrument-height", o->instrument_height, "axes over the floor")
        ->type_name("LENGTH");
    command->add_option("--floor", o->floor, "height of the floor")->type_name("LENGTH");
    command->add_option("--clearance", o->clearance, "of a sight from obstacles")
        ->type_name("LENGTH");
    command->add_option("--step", o->step, "between the places that are tried")
        ->type_name("LENGTH");
    command->add_option("--farthest", o->farthest, "longest sight to a point")->type_name("LENGTH");
    command->add_option("--faces", o->faces, "in which marks are sighted")->check(CLI::Range(1, 2));
    command->add_option("--ground", o->ground, "what the tripod stands on")
        ->check(CLI::IsMember({"slab", "soil", "deck", "steel"}));
    command->add_option("--unit", o->unit, "unit of lengths whose column states none")
        ->check(CLI::IsMember({"m", "ft", "us-ft", "mm", "in"}));
    command->add_option("--show", o->show, "unit of the text: m, ft, us-ft, ft-in[:16]")
        ->type_name("UNIT");
    command->add_option("--confidence", o->confidence, "probability that makes proven")
        ->check(CLI::Range(0.5, 1.0));
    command->add_flag("--json", o->json, "one JSON document on standard output");
    command->add_flag("--explain", o->explain, "list all set-ups, alternates and points");
    command->add_flag("--no-advice", o->no_advice, "leave out what would help");
    command->add_option("--out", o->out, "write map, text, JSON and set-ups into this folder")
        ->type_name("FOLDER");
    command->callback([o, &status] { status = run_plan_command(*o); });
}

}  // namespace layproof::cli

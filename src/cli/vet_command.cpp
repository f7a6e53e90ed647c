// layproof vet: is the control I was handed fit to lay from?

#include <CLI/CLI.hpp>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "acts/vet/vet.hpp"
#include "cli/commands.hpp"
#include "cli/job_file.hpp"
#include "cli/lengths.hpp"
#include "cli/map_options.hpp"
#include "cli/output_folder.hpp"
#include "cli/site_options.hpp"
#include "cli/vet_tools_command.hpp"
#include "exchange/text/file.hpp"
#include "job/job.hpp"

namespace layproof::cli {
namespace {

struct VetOptions {
    std::vector<std::string> marks, drawings, tapes, levels;
    std::string sights, setups, instrument;
    std::string map_marks, map_sights, map_setups, map_points, grid, map_grid;
    MapOptions map;
    std::string job, as_of, unit, show, out, tolerance, tolerance_height;
    double scale = 1.0;
    double confidence = 0.95;
    bool json = false;
    bool explain = false;
    bool match = false;
};

bool read_all(const std::vector<std::string>& paths, std::vector<exchange::Document>& into) {
    for (const std::string& path : paths) {
        std::optional<exchange::Document> document;
        if (!read_into(path, document)) return false;
        if (document) into.push_back(std::move(*document));
    }
    return true;
}

std::optional<int> read_tolerance(const std::string& text, const char* name,
                                  std::optional<measure::LengthUnit> unit,
                                  std::optional<double>& into) {
    if (text.empty()) return std::nullopt;
    const auto length = read_typed_length(text, unit);
    if (!length)
        return usage("vet", std::string(name) + " " + text +
                                ": a length with its unit was expected, such as 6mm or 1/4in");
    into = *length;
    return std::nullopt;
}

std::optional<int> fill_vet(const VetOptions& options, acts::VetRequest& request) {
    if (!options.unit.empty()) request.unit = measure::length_unit_from_word(options.unit);
    if (!options.show.empty()) {
        request.show = read_style(options.show);
        if (!request.show)
            return usage(
                "vet", "--show " + options.show + ": m, ft, us-ft, ft-in or ft-in:32 was expected");
    }
    request.scale_factor = options.scale;
    request.confidence = options.confidence;
    request.explain = options.explain;
    request.match = options.match;
    if (auto status = read_tolerance(options.tolerance, "--tolerance", request.unit,
                                     request.tolerance_plan_m))
        return status;
    if (auto status = read_tolerance(options.tolerance_height, "--tolerance-height", request.unit,
                                     request.tolerance_height_m))
        return status;
    if (auto status = fill(options.map, "vet", request.unit, request.site)) return status;
    if (options.marks.empty() && options.job.empty())
        return usage("vet", "--marks is required, or --job");
    if (!options.as_of.empty() && options.job.empty()) return usage("vet", "--as-of needs --job");
    if (!read_all(options.marks, request.marks) || !read_all(options.drawings, request.drawings) ||
        !read_all(options.tapes, request.tapes) || !read_all(options.levels, request.levels) ||
        !read_into(options.sights, request.sights) || !read_into(options.setups, request.setups) ||
        !read_into(options.instrument, request.instrument) ||
        !read_into(options.map_marks, request.marks_map) ||
        !read_into(options.map_sights, request.sights_map) ||
        !read_into(options.map_setups, request.setups_map) ||
        !read_into(options.map_points, request.points_map) ||
        !read_into(options.grid, request.grid) || !read_into(options.map_grid, request.grid_map))
        return exit_refused;
    if (options.job.empty()) return std::nullopt;
    job::AsOf as_of;
    if (!read_as_of(options.as_of, as_of)) return exit_refused;
    job::SystemClock clock;
    job::SystemEntropy entropy;
    const auto job = job::Job::open(options.job, job::Mode::read, clock, entropy);
    if (!job) return refuse_job(job.refusal(), true);
    const auto done = acts::fill_from_job(*job, as_of, request);
    if (!done) return refuse_job(done.refusal());
    return std::nullopt;
}

int run_command(const VetOptions& options) {
    acts::VetRequest request;
    if (const auto status = fill_vet(options, request)) return *status;
    const auto answer = acts::run_vet(request);
    if (!answer) {
        complain(answer.refusal().to_text());
        return exit_refused;
    }
    if (!options.out.empty()) {
        std::vector<OutputFile> files{{"vet.json", acts::to_json(*answer)},
                                      {"vet.txt", acts::to_text(*answer)},
                                      {"vet.svg", acts::to_svg(*answer)}};
        if (!answer->geojson.empty()) files.push_back({"marks.geojson", answer->geojson});
        if (!answer->grid_lines.empty()) files.push_back({"grid.csv", acts::grid_csv(*answer)});
        if (const auto problem = write_folder(options.out, files)) {
            complain(*problem);
            return exit_not_written;
        }
    }
    if (!put_out(options.json ? acts::to_json(*answer) : acts::to_text(*answer))) {
        complain("standard output could not be written");
        return exit_not_written;
    }
    return acts::is_proven(*answer) ? exit_proven : exit_not_proven;
}

}  // namespace

void add_vet(CLI::App& app, int& status) {
    auto options = std::make_shared<VetOptions>();
    CLI::App* command = app.add_subcommand("vet", "Is the control I was handed fit to lay from?");
    const auto file = [&](const char* name, std::string& into, const char* what) {
        return command->add_option(name, into, what)->type_name("FILE");
    };
    const auto files = [&](const char* name, std::vector<std::string>& into, const char* what) {
        return command->add_option(name, into, what)->type_name("FILE")->take_all()->expected(1);
    };
    files("--marks", options->marks, "a sheet of marks (CSV); again for each further sheet");
    files("--drawing,--points", options->drawings,
          "positions of the marks on a drawing (CSV of marks or points)");
    files("--tape", options->tapes, "tapes between marks: from, to, distance (CSV)");
    files("--levels", options->levels, "height differences (from, to, rise) or runs as read (CSV)");
    file("--sights", options->sights, "sights of any set-ups (CSV)");
    file("--setups", options->setups, "kind of set-up, mark and instrument height (CSV)");
    file("--instrument", options->instrument, "how well instrument and rod measure (TOML)");
    file("--job", options->job, "a job file: its sheets, sights and set-ups");
    command->add_option("--as-of", options->as_of, "the job as it was known then")
        ->type_name("TIME");
    command->add_option("--unit", options->unit, "unit of lengths whose column states none")
        ->check(CLI::IsMember({"m", "ft", "us-ft"}));
    command->add_option("--show", options->show, "unit of the text: m, ft, us-ft, ft-in[:16]")
        ->type_name("UNIT");
    command->add_option("--tolerance", options->tolerance, "in plan, else 1/4 in")
        ->type_name("LENGTH");
    command->add_option("--tolerance-height", options->tolerance_height, "in height, else 1/2 in")
        ->type_name("LENGTH");
    command->add_option("--scale", options->scale, "grid distance over ground distance")
        ->check(CLI::Range(0.9, 1.1));
    command->add_option("--confidence", options->confidence, "probability that makes proven")
        ->check(CLI::Range(0.5000001, 0.9999999));
    command->add_flag("--match", options->match,
                      "find out by geometry which mark of a list is which");
    file("--map-marks", options->map_marks, "column map of foreign sheets (TOML)");
    file("--map-sights", options->map_sights, "the same for sights");
    file("--map-setups", options->map_setups, "the same for set-ups");
    file("--map-points", options->map_points, "the same for drawings");
    file("--map-grid", options->map_grid, "the same for grid lines");
    file(
        "--grid", options->grid,
        "lines of the building grid in the drawing's coordinates: --out writes them as grid.csv in "
        "the site's");
    add_map_options(*command, options->map);
    add_place_option(*command, options->map);
    command->add_flag("--json", options->json, "one JSON document on standard output");
    command->add_flag("--explain", options->explain, "add the figures behind the verdict");
    command->add_option("--out", options->out, "write plan, text and JSON into this folder")
        ->type_name("FOLDER");
    command->require_subcommand(0, 1);
    add_vet_tools(*command, status);
    command->final_callback([command, options, &status] {
        if (command->get_subcommands().empty()) status = run_command(*options);
    });
}

}  // namespace layproof::cli

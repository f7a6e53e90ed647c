// layproof vet instrument and layproof vet rod: are the tools fit for today?

#include "cli/vet_tools_command.hpp"

#include <CLI/CLI.hpp>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "acts/vet/vet_tools.hpp"
#include "cli/commands.hpp"
#include "cli/job_file.hpp"
#include "cli/lengths.hpp"
#include "cli/output_folder.hpp"
#include "cli/site_options.hpp"
#include "job/job.hpp"

namespace layproof::cli {
namespace {

struct VetToolsOptions {
    std::string faces, sets, line, base, base_sd, turns;
    std::string instrument, unit, show, radius, tolerance, out, job;
    double confidence = 0.95;
    bool json = false;
    bool keep = false;
};

std::optional<int> length(const std::string& text, const char* name, const std::string& act,
                          std::optional<measure::LengthUnit> unit, double& into) {
    if (text.empty()) return std::nullopt;
    const auto read = read_typed_length(text, unit);
    if (!read)
        return usage(act, std::string(name) + " " + text +
                              ": a length with its unit was expected, such as 30m or 100ft");
    into = *read;
    return std::nullopt;
}

std::optional<int> fill_tool(const VetToolsOptions& options, const std::string& act,
                             acts::ToolRequest& request) {
    if (!options.unit.empty()) request.unit = measure::length_unit_from_word(options.unit);
    if (!options.show.empty()) {
        request.show = read_style(options.show);
        if (!request.show)
            return usage(
                act, "--show " + options.show + ": m, ft, us-ft, ft-in or ft-in:32 was expected");
    }
    request.confidence = options.confidence;
    if (options.keep && options.job.empty()) return usage(act, "--keep needs --job");
    if (auto status = length(options.radius, "--radius", act, request.unit, request.radius_m))
        return status;
    if (auto status =
            length(options.tolerance, "--tolerance", act, request.unit, request.tolerance_plan_m))
        return status;
    if (!read_into(options.instrument, request.instrument)) return exit_refused;
    return std::nullopt;
}

int finish_tool(const VetToolsOptions& options, const Result<acts::ToolAnswer>& answer) {
    if (!answer) {
        complain(answer.refusal().to_text());
        return exit_refused;
    }
    if (options.keep) {
        job::SystemClock clock;
        job::SystemEntropy entropy;
        auto job = job::Job::open(options.job, job::Mode::write, clock, entropy);
        if (!job) return refuse_job(job.refusal(), true);
        const auto kept = acts::keep(*job, *answer, clock.now_ms());
        if (!kept) return refuse_job(kept.refusal());
    }
    if (!options.out.empty()) {
        const std::vector<OutputFile> files{
            {"vet-" + answer->tool + ".json", acts::to_json(*answer)},
            {"vet-" + answer->tool + ".txt", acts::to_text(*answer)}};
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

int run_instrument(const VetToolsOptions& options) {
    const std::string act = "vet instrument";
    acts::InstrumentRequest request;
    if (const auto status = fill_tool(options, act, request.tool)) return *status;
    if (auto status =
            length(options.base_sd, "--base-sd", act, request.tool.unit, request.base_sd_m))
        return *status;
    if (options.faces.empty() && options.sets.empty() && options.line.empty() &&
        options.base.empty())
        return usage(act, "--sights, --sets, --line or --base is required");
    if (!read_into(options.faces, request.faces) || !read_into(options.sets, request.sets) ||
        !read_into(options.line, request.line) || !read_into(options.base, request.base))
        return exit_refused;
    return finish_tool(options, acts::run_vet_instrument(request));
}

int run_rod(const VetToolsOptions& options) {
    const std::string act = "vet rod";
    acts::RodRequest request;
    if (const auto status = fill_tool(options, act, request.tool)) return *status;
    if (options.turns.empty()) return usage(act, "--turns is required");
    std::optional<exchange::Document> turns;
    if (!read_into(options.turns, turns)) return exit_refused;
    request.turns = std::move(*turns);
    return finish_tool(options, acts::run_vet_rod(request));
}

void add_common(CLI::App& command, VetToolsOptions& options) {
    command.add_option("--instrument", options.instrument, "stated figures (TOML)")
        ->type_name("FILE");
    command.add_option("--unit", options.unit, "unit of lengths whose column states none")
        ->check(CLI::IsMember({"m", "ft", "us-ft"}));
    command.add_option("--show", options.show, "unit of the text: m, ft, us-ft, ft-in[:16]")
        ->type_name("UNIT");
    command.add_option("--radius", options.radius, "working radius, else 30 m")
        ->type_name("LENGTH");
    command.add_option("--tolerance", options.tolerance, "in plan, else 1/4 in")
        ->type_name("LENGTH");
    command.add_option("--confidence", options.confidence, "probability that makes proven")
        ->check(CLI::Range(0.5000001, 0.9999999));
    command.add_option("--job", options.job, "the job file that --keep writes to")
        ->type_name("FILE");
    command.add_flag("--keep", options.keep, "keep what was found in the job, with the time");
    command.add_flag("--json", options.json, "one JSON document on standard output");
    command.add_option("--out", options.out, "write text and JSON into this folder")
        ->type_name("FOLDER");
}

}  // namespace

void add_vet_tools(CLI::App& vet, int& status) {
    auto first = std::make_shared<VetToolsOptions>();
    CLI::App* instrument =
        vet.add_subcommand("instrument", "Is the instrument fit for today's work?");
    const auto file = [](CLI::App& command, const char* name, std::string& into, const char* what) {
        command.add_option(name, into, what)->type_name("FILE");
    };
    file(*instrument, "--sights", first->faces, "sights of some targets in both faces (CSV)");
    file(*instrument, "--sets", first->sets,
         "sets of directions: series, set, target, direction, zenith (CSV)");
    file(*instrument, "--line", first->line,
         "lengths between points in one line: from, to, distance (CSV)");
    file(*instrument, "--base", first->base, "lengths over known bases: known, measured (CSV)");
    instrument->add_option("--base-sd", first->base_sd, "standard deviation of a base, else 0.5 mm")
        ->type_name("LENGTH");
    add_common(*instrument, *first);
    instrument->final_callback([first, &status] { status = run_instrument(*first); });

    auto second = std::make_shared<VetToolsOptions>();
    CLI::App* rod = vet.add_subcommand("rod", "Is the rod fit for today's work?");
    file(*rod, "--turns", second->turns,
         "one mark with the rod turned: turn, direction, zenith, slope_distance, target_height "
         "(CSV)");
    add_common(*rod, *second);
    rod->final_callback([second, &status] { status = run_rod(*second); });
}

}  // namespace layproof::cli

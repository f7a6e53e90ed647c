// layproof prove: the whole job in one adjustment, its record, and a record checked against itself.

#include <CLI/CLI.hpp>
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include "acts/prove/prove.hpp"
#include "cli/commands.hpp"
#include "cli/job_file.hpp"
#include "cli/lengths.hpp"
#include "cli/record_output.hpp"
#include "cli/site_answer.hpp"
#include "cli/site_options.hpp"

namespace layproof::cli {
namespace {

struct ProveOptions : SiteOptions {
    std::string grid, from;
    std::string ground = "slab";
    std::vector<std::string> tapes, levels;
};

std::vector<OutputFile> files_of(const acts::ProveAnswer& answer) {
    std::vector<OutputFile> out{{"prove.json", acts::to_json(answer)},
                                {"prove.txt", acts::to_text(answer)},
                                {"prove.csv", acts::prove_points_csv(answer)},
                                {"prove.svg", acts::to_svg(answer)}};
    if (std::string levels = acts::prove_levels_csv(answer); !levels.empty())
        out.push_back({"prove-levels.csv", std::move(levels)});
    return out;
}

/// Nothing was asked that a record does not heed.
bool is_as_recorded(const ProveOptions& options) {
    return options.set_aside.empty() && !options.station && options.only.empty() &&
           options.instrument.empty() && options.causes.empty() && options.unit.empty() &&
           options.grid.empty() && options.ground == "slab" && options.tapes.empty() &&
           options.levels.empty();
}

/// The answer and its files, with the record of the job beside them.
int run_with_record(const ProveOptions& options, const acts::ProveRequest& request) {
    acts::RecordOptions record;
    if (!read_as_of(options.as_of, record.as_of)) return exit_refused;
    if (!options.show.empty()) record.show = read_style(options.show);
    record.confidence = options.confidence;
    record.scale_factor = options.scale;
    const bool once = is_as_recorded(options);
    std::optional<Result<acts::ProveAnswer>> asked;
    if (!once) {
        asked = acts::run_prove(request);
        if (!*asked) return refuse(asked->refusal());
    }
    std::vector<OutputFile> kept;
    std::optional<acts::ProveAnswer> whole;
    if (const auto status = add_record_files(options.job, record, kept, &whole)) return *status;
    if (once && whole) {
        // A record does not know where the job lies.
        whole->job = options.job;
        whole->explain = options.explain;
        asked = std::move(*whole);
    } else if (once) {
        asked = acts::run_prove(request);
        if (!*asked) return refuse(asked->refusal());
    }
    const acts::ProveAnswer& answer = **asked;
    std::vector<OutputFile> files = files_of(answer);
    for (OutputFile& one : kept) files.push_back(std::move(one));
    if (const auto problem = write_folder(options.out, files)) return not_written(*problem);
    return show(options.json ? acts::to_json(answer) : acts::to_text(answer),
                acts::is_proven(answer));
}

int run_command(const ProveOptions& options) {
    if (!options.from.empty()) return check_record_file(options.from, options.json);
    acts::ProveRequest request;
    if (const auto status = fill(options, "prove", request.station)) return *status;
    request.ground = watch::ground_from_word(options.ground).value_or(watch::Ground::slab);
    if (!read_into(options.grid, request.grid) || !read_into(options.tapes, request.tapes) ||
        !read_into(options.levels, request.levels))
        return exit_refused;
    if (!options.job.empty() && !options.out.empty()) return run_with_record(options, request);
    return finish(options, acts::run_prove(request), files_of);
}

}  // namespace

void add_prove(CLI::App& app, int& status) {
    auto options = std::make_shared<ProveOptions>();
    CLI::App* command = app.add_subcommand(
        "prove", "The whole job in one adjustment: what is proven, what moved, what is in doubt?");
    add_site_options(*command, *options);
    command
        ->add_option(
            "--grid", options->grid,
            "lines of the building grid (CSV, DXF or IFC); with --job in place of the job's")
        ->type_name("FILE");
    command->add_option("--tape", options->tapes, "tapes between points: from, to, distance (CSV)")
        ->type_name("FILE");
    command
        ->add_option("--levels", options->levels,
                     "height differences (from, to, rise) or runs as read (CSV)")
        ->type_name("FILE");
    command
        ->add_option("--from", options->from,
                     "a record (PDF or HTML): compute it again and say whether it agrees")
        ->type_name("FILE");
    command->add_option("--ground", options->ground, "what the tripods stand on")
        ->check(CLI::IsMember({"slab", "soil", "deck", "steel"}));
    command->callback([options, &status] { status = run_command(*options); });
}

}  // namespace layproof::cli

// layproof station: may I start laying from here?

#include <CLI/CLI.hpp>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "acts/station.hpp"
#include "cli/commands.hpp"
#include "cli/lengths.hpp"
#include "cli/output_folder.hpp"
#include "cli/site_options.hpp"

namespace layproof::cli {
namespace {

struct Options : SiteOptions {
    std::string radius;
};

std::vector<OutputFile> files_of(const acts::StationAnswer& answer) {
    std::vector<OutputFile> files{{"station.json", acts::to_json(answer)},
                                  {"station.txt", acts::to_text(answer)}};
    const std::vector<std::string> plans = acts::to_svg(answer);
    std::set<std::string> taken;
    for (std::size_t i = 0; i < plans.size(); ++i) {
        const std::string base = "station-" + file_name_of(answer.stations[i].station);
        std::string name = base;
        for (int n = 2; !taken.insert(name).second; ++n) name = base + "-" + std::to_string(n);
        files.push_back({name + ".svg", plans[i]});
    }
    return files;
}

int run_command(const Options& options) {
    acts::StationRequest request;
    if (const auto status = fill(options, "station", request)) return *status;
    if (!options.radius.empty()) {
        request.radius_m = read_typed_length(options.radius, request.unit);
        if (!request.radius_m)
            return usage("station",
                         "--radius " + options.radius +
                             ": a length with its unit was expected, such as 25m or 80ft");
    }
    const auto answer = acts::run_station(request);
    if (!answer) {
        complain(answer.refusal().to_text());
        return exit_refused;
    }
    if (!options.out.empty()) {
        if (const auto problem = write_folder(options.out, files_of(*answer))) {
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

void add_station(CLI::App& app, int& status) {
    auto options = std::make_shared<Options>();
    CLI::App* command = app.add_subcommand("station", "May I start laying from here?");
    add_site_options(*command, *options);
    command->add_option("--radius", options->radius, "working radius when no points are given")
        ->type_name("LENGTH");
    command->callback([options, &status] { status = run_command(*options); });
}

}  // namespace layproof::cli

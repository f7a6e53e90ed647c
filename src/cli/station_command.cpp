// layproof station: may I start laying from here?

#include <CLI/CLI.hpp>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "acts/station/station.hpp"
#include "cli/commands.hpp"
#include "cli/lengths.hpp"
#include "cli/site_answer.hpp"
#include "cli/site_options.hpp"

namespace layproof::cli {
namespace {

struct StationOptions : SiteOptions {
    std::string radius;
};

std::vector<OutputFile> files_of(const acts::StationAnswer& answer) {
    std::vector<OutputFile> files{{"station.json", acts::to_json(answer)},
                                  {"station.txt", acts::to_text(answer)}};
    const std::vector<std::string> plans = acts::to_svg(answer);
    std::vector<std::string> stations;
    for (const auto& one : answer.stations) stations.push_back(one.station);
    const std::vector<std::string> names = file_bases("station", stations);
    for (std::size_t i = 0; i < plans.size(); ++i) {
        files.push_back({names[i] + ".svg", plans[i]});
    }
    return files;
}

int run_command(const StationOptions& options) {
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
    return finish(options, answer, files_of);
}

}  // namespace

void add_station(CLI::App& app, int& status) {
    auto options = std::make_shared<StationOptions>();
    CLI::App* command = app.add_subcommand("station", "May I start laying from here?");
    add_site_options(*command, *options);
    add_point_choice(*command, *options);
    command->add_option("--radius", options->radius, "working radius when no points are given")
        ->type_name("LENGTH");
    command->callback([options, &status] { status = run_command(*options); });
}

}  // namespace layproof::cli

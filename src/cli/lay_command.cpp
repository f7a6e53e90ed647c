// layproof lay: where does each point go, and where is it now?

#include <CLI/CLI.hpp>
#include <memory>
#include <string>
#include <vector>

#include "acts/lay/lay.hpp"
#include "cli/commands.hpp"
#include "cli/lengths.hpp"
#include "cli/site_answer.hpp"
#include "cli/site_options.hpp"

namespace layproof::cli {
namespace {

struct LayOptions : SiteOptions {
    std::string grid, rod;
    std::string ground = "slab";
    bool anyway = false;
};

std::vector<OutputFile> files_of(const acts::LayAnswer& answer) {
    std::vector<OutputFile> files{{"lay.json", acts::to_json(answer)},
                                  {"lay.txt", acts::to_text(answer)},
                                  {"as-laid.csv", acts::as_laid_csv(answer)},
                                  {"as-laid.xml", acts::as_laid_landxml(answer)},
                                  {"as-laid.dxf", acts::as_laid_dxf(answer)}};
    const std::vector<std::string> plans = acts::to_svg(answer);
    std::vector<std::string> stations;
    for (const auto& one : answer.stations) stations.push_back(one.station.station);
    const std::vector<std::string> names = file_bases("lay", stations);
    for (std::size_t i = 0; i < plans.size(); ++i) {
        files.push_back({names[i] + ".svg", plans[i]});
        files.push_back({names[i] + ".csv", acts::setting_out_csv(answer, answer.stations[i])});
    }
    return files;
}

int run_command(const LayOptions& options) {
    acts::LayRequest request;
    if (const auto status = fill(options, "lay", request.station)) return *status;
    if (!options.rod.empty()) {
        request.rod_height_m = read_typed_length(options.rod, request.station.unit);
        if (!request.rod_height_m)
            return usage("lay", "--rod " + options.rod +
                                    ": a length with its unit was expected, such as 1.5m or 5ft");
    }
    if (!read_into(options.grid, request.grid)) return exit_refused;
    request.ground = watch::ground_from_word(options.ground).value_or(watch::Ground::slab);
    request.anyway = options.anyway;
    const auto answer = acts::run_lay(request);
    return finish(options, answer, files_of);
}

}  // namespace

void add_lay(CLI::App& app, int& status) {
    auto options = std::make_shared<LayOptions>();
    CLI::App* command = app.add_subcommand("lay", "Where does each point go, and where is it now?");
    add_site_options(*command, *options);
    add_point_choice(*command, *options);
    command
        ->add_option(
            "--grid", options->grid,
            "lines of the building grid (CSV, DXF or IFC); with --job in place of the job's")
        ->type_name("FILE");
    command->add_option("--rod", options->rod, "rod height for setting out")->type_name("LENGTH");
    command->add_option("--ground", options->ground, "what the tripods stand on")
        ->check(CLI::IsMember({"slab", "soil", "deck", "steel"}));
    command->add_flag("--anyway", options->anyway,
                      "set out although the station fails or files are wrong");
    command->callback([options, &status] { status = run_command(*options); });
}

}  // namespace layproof::cli

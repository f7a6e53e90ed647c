// layproof watch: is the station still where it was, and if not, since when?

#include <CLI/CLI.hpp>
#include <memory>
#include <string>
#include <vector>

#include "acts/watch/watch.hpp"
#include "cli/commands.hpp"
#include "cli/site_answer.hpp"
#include "cli/site_options.hpp"

namespace layproof::cli {
namespace {

struct WatchOptions : SiteOptions {
    std::string ground = "slab";
    double check_every_min = 60.0;
};

std::vector<OutputFile> files_of(const acts::WatchAnswer& answer) {
    std::vector<OutputFile> files{{"watch.json", acts::to_json(answer)},
                                  {"watch.txt", acts::to_text(answer)},
                                  {"watch.csv", acts::day_csv(answer)}};
    const std::vector<std::string> strips = acts::to_svg(answer);
    std::vector<std::string> stations;
    for (const auto& one : answer.stations) stations.push_back(one.station.station);
    const std::vector<std::string> names = file_bases("day", stations);
    for (std::size_t i = 0; i < strips.size(); ++i) {
        files.push_back({names[i] + ".svg", strips[i]});
    }
    return files;
}

int run_command(const WatchOptions& options) {
    acts::WatchRequest request;
    if (const auto status = fill(options, "watch", request.station)) return *status;
    request.ground = watch::ground_from_word(options.ground).value_or(watch::Ground::slab);
    request.check_every_s = options.check_every_min * 60.0;
    const auto answer = acts::run_watch(request);
    return finish(options, answer, files_of);
}

}  // namespace

void add_watch(CLI::App& app, int& status) {
    auto options = std::make_shared<WatchOptions>();
    CLI::App* command = app.add_subcommand(
        "watch", "Is the station still where it was, and which points are in doubt?");
    add_site_options(*command, *options);
    command->add_option("--ground", options->ground, "what the tripod stands on")
        ->check(CLI::IsMember({"slab", "soil", "deck", "steel"}));
    command->add_option("--check-every", options->check_every_min, "minutes between checks")
        ->check(CLI::Range(1.0, 1440.0))
        ->type_name("MINUTES");
    command->callback([options, &status] { status = run_command(*options); });
}

}  // namespace layproof::cli

// layproof watch: is the station still where it was, and if not, since when?

#include <CLI/CLI.hpp>
#include <memory>
#include <set>
#include <string>
#include <vector>

#include "acts/watch.hpp"
#include "cli/commands.hpp"
#include "cli/output_folder.hpp"
#include "cli/site_options.hpp"

namespace layproof::cli {
namespace {

struct Options : SiteOptions {
    std::string ground = "slab";
    double check_every_min = 60.0;
};

std::vector<OutputFile> files_of(const acts::WatchAnswer& answer) {
    std::vector<OutputFile> files{{"watch.json", acts::to_json(answer)},
                                  {"watch.txt", acts::to_text(answer)},
                                  {"watch.csv", acts::day_csv(answer)}};
    const std::vector<std::string> strips = acts::to_svg(answer);
    std::set<std::string> taken;
    for (std::size_t i = 0; i < strips.size(); ++i) {
        const std::string base = "day-" + file_name_of(answer.stations[i].station.station);
        std::string name = base;
        for (int n = 2; !taken.insert(name).second; ++n) name = base + "-" + std::to_string(n);
        files.push_back({name + ".svg", strips[i]});
    }
    return files;
}

int run_command(const Options& options) {
    acts::WatchRequest request;
    if (const auto status = fill(options, "watch", request.station)) return *status;
    request.ground = watch::ground_from_word(options.ground).value_or(watch::Ground::slab);
    request.check_every_s = options.check_every_min * 60.0;
    const auto answer = acts::run_watch(request);
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

void add_watch(CLI::App& app, int& status) {
    auto options = std::make_shared<Options>();
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

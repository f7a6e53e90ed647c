// layproof causes: the table of what goes wrong, to be copied and changed.

#include <CLI/CLI.hpp>

#include "acts/station/causes.hpp"
#include "cli/commands.hpp"

namespace layproof::cli {

void add_causes(CLI::App& app, int& status) {
    CLI::App* command =
        app.add_subcommand("causes", "Print the table of what goes wrong and how often (TOML)");
    command->callback(
        [&status] { status = put_out(acts::shipped_causes()) ? exit_proven : exit_not_written; });
}

}  // namespace layproof::cli

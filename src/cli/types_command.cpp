// layproof types: the TypeScript types of the page. For developers, and not listed.

#include <CLI/CLI.hpp>

#include "cli/commands.hpp"
#include "door/shapes.hpp"

namespace layproof::cli {

void add_types(CLI::App& app, int& status) {
    CLI::App* command = app.add_subcommand("types", "Print web/src/generated/acts.ts.")->group("");
    command->callback(
        [&status] { status = put_out(acts::typescript()) ? exit_proven : exit_not_written; });
}

}  // namespace layproof::cli

#include "cli/vet_tools_command.hpp"

#include <CLI/CLI.hpp>

namespace layproof::cli {

void add_vet_tools(CLI::App& /*vet*/, int& /*status*/) {}

}  // namespace layproof::cli

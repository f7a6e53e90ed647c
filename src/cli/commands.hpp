#pragma once
// What the commands share. A command is made of options and a function that returns the exit
// status.

#include <string>
#include <string_view>

namespace CLI {
class App;
}

namespace layproof::cli {

enum ExitStatus : int {
    exit_proven = 0,
    exit_not_proven = 1,
    exit_usage = 2,
    exit_refused = 3,
    exit_not_written = 4,
};

/// Adds the command; when it is chosen, `status` is what it ends with.
void add_plan(CLI::App& app, int& status);
void add_station(CLI::App& app, int& status);
void add_lay(CLI::App& app, int& status);
void add_watch(CLI::App& app, int& status);
void add_vet(CLI::App& app, int& status);
void add_prove(CLI::App& app, int& status);
void add_job(CLI::App& app, int& status);
void add_causes(CLI::App& app, int& status);
void add_serve(CLI::App& app, int& status);
void add_types(CLI::App& app, int& status);

/// Writes all to standard output. A reader that has gone away is no failure; a full disk is.
bool put_out(std::string_view text);
/// One line on standard error.
void complain(std::string_view text);

}  // namespace layproof::cli

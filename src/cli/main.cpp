#include <CLI/CLI.hpp>
#include <cerrno>
#include <csignal>
#include <cstdio>
#include <exception>
#include <new>
#include <string>

#include "acts/shared/version.hpp"
#include "cli/commands.hpp"

namespace layproof::cli {

bool put_out(std::string_view text) {
    const bool written = std::fwrite(text.data(), 1, text.size(), stdout) == text.size();
    const int first = errno;
    const bool flushed = std::fflush(stdout) == 0;
    if (written && flushed) return true;
    return (written ? errno : first) == EPIPE;
}

void complain(std::string_view text) {
    std::fwrite(text.data(), 1, text.size(), stderr);
    std::fputc('\n', stderr);
}

namespace {

int run(int argc, char** argv) {
    CLI::App app{"layproof: may I start laying from here, and can I prove it?", "layproof"};
    app.set_version_flag("--version", "layproof " + std::string(acts::version()));
    app.require_subcommand(0, 1);
    int status = exit_usage;
    add_plan(app, status);
    add_station(app, status);
    add_lay(app, status);
    add_watch(app, status);
    add_vet(app, status);
    add_prove(app, status);
    add_job(app, status);
    add_causes(app, status);
    add_serve(app, status);
    add_types(app, status);
    try {
        app.parse(argc, argv);
    } catch (const CLI::CallForHelp&) {
        return put_out(app.help()) ? exit_proven : exit_not_written;
    } catch (const CLI::CallForVersion& asked) {
        return put_out(std::string(asked.what()) + "\n") ? exit_proven : exit_not_written;
    } catch (const CLI::ParseError& error) {
        complain(error.what());
        complain("layproof --help lists the acts, layproof ACT --help the options of one.");
        return exit_usage;
    }
    if (app.get_subcommands().empty()) complain(app.help());
    return status;
}

}  // namespace
}  // namespace layproof::cli

int main(int argc, char** argv) {
    using namespace layproof::cli;
    // A pager that is closed early must not end the program with a signal.
    std::signal(SIGPIPE, SIG_IGN);
    try {
        return run(argc, argv);
    } catch (const std::bad_alloc&) {
        complain("layproof: not enough memory for this job; nothing was written.");
    } catch (const std::exception& error) {
        complain("layproof: something went wrong inside: " + std::string(error.what()));
    } catch (...) {
        complain("layproof: something went wrong inside.");
    }
    return exit_not_written;
}

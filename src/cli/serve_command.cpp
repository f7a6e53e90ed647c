// layproof serve: a job as a page, for phone, tablet and desk.

#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <memory>
#include <string>

#include "cli/commands.hpp"
#include "cli/job_file.hpp"
#include "cli/lengths.hpp"
#include "cli/site_options.hpp"
#include "server/server.hpp"

namespace layproof::cli {
namespace {

struct ServeOptions {
    std::string job, listen, inbox, unit, show;
    std::uint16_t port = 7410;
};

std::string address_text(const std::string& address, std::uint16_t port) {
    const bool is_v6 = address.find(':') != std::string::npos;
    return is_v6 ? fmt::format("http://[{}]:{}/", address, port)
                 : fmt::format("http://{}:{}/", address, port);
}

constexpr const char* kOpenNetwork =
    "Others on this network can reach it. What goes over it is not encrypted: use it on a network "
    "that you trust only, such as the crew's own, and end it when you are done.\n";

int run_command(const ServeOptions& options) {
    server::ServerOptions asked;
    if (!options.show.empty()) {
        asked.door.show = read_style(options.show);
        if (!asked.door.show)
            return usage("serve", "--show " + options.show +
                                      ": m, ft, us-ft, ft-in or ft-in:32 was expected");
    }
    if (!options.unit.empty()) asked.door.unit = measure::length_unit_from_word(options.unit);
    asked.door.inbox = options.inbox;
    asked.port = options.port;
    asked.must_pair = !options.listen.empty();
    if (asked.must_pair) asked.address = options.listen;
    asked.log = [](std::string_view line) { complain(line); };
    asked.show_code = [](std::string_view code) {
        put_out(code.empty() ? std::string("No random bits: no device can be paired.\n")
                             : fmt::format("Pairing code: {}\n", code));
    };

    job::SystemClock clock;
    job::SystemEntropy entropy;
    const auto server = server::Server::start(options.job, asked, clock, entropy);
    if (!server) return refuse_job(server.refusal(), true);
    (*server)->heed_signals();
    std::string says = fmt::format("{} is open at {}\n", options.job,
                                   address_text(asked.address, (*server)->port()));
    if (!(*server)->is_loopback()) says += kOpenNetwork;
    if (!options.inbox.empty())
        says += fmt::format("Files that appear in {} are taken.\n", options.inbox);
    if (!put_out(says + "Ctrl-C ends it.\n")) {
        complain("standard output could not be written");
        return exit_not_written;
    }
    (*server)->wait();
    (*server)->stop();
    put_out("\nEnded.\n");
    return exit_proven;
}

}  // namespace

void add_serve(CLI::App& app, int& status) {
    auto options = std::make_shared<ServeOptions>();
    CLI::App* command =
        app.add_subcommand("serve", "Open a job as a page, for phone, tablet and desk.");
    command->add_option("JOB", options->job, "the job file")->required();
    command->add_option("--port", options->port, "port; 0 takes any that is free")
        ->check(CLI::Range(0, 65535));
    command
        ->add_option("--listen", options->listen,
                     "an address of this machine that others can reach; devices are then paired "
                     "by a code")
        ->type_name("ADDRESS");
    command->add_option("--inbox", options->inbox, "take files as they appear in this folder")
        ->type_name("FOLDER");
    command->add_option("--unit", options->unit, "unit of lengths whose column states none")
        ->check(CLI::IsMember({"m", "ft", "us-ft"}));
    command->add_option("--show", options->show, "unit of the words: m, ft, us-ft, ft-in[:16]")
        ->type_name("UNIT");
    command->callback([options, &status] { status = run_command(*options); });
}

}  // namespace layproof::cli

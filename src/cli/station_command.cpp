// layproof station: may I start laying from here?

#include <CLI/CLI.hpp>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "acts/station.hpp"
#include "cli/commands.hpp"
#include "cli/lengths.hpp"
#include "cli/output_folder.hpp"
#include "exchange/file.hpp"

namespace layproof::cli {
namespace {

struct Options {
    std::string marks, sights, setups, instrument, points, causes;
    std::string map_marks, map_sights, map_setups, map_points;
    std::string unit, show, radius, out;
    double scale = 1.0;
    double confidence = 0.95;
    std::vector<std::string> set_aside;
    bool json = false;
    bool explain = false;
};

int usage(const std::string& text) {
    complain(text);
    complain("layproof station --help lists the options.");
    return exit_usage;
}

/// "S1:H3=reason", "S1:H3#2=reason" for the second pointing only.
std::optional<acts::SetAside> read_set_aside(const std::string& text) {
    const std::size_t equals = text.find('=');
    const std::size_t colon = text.find(':');
    if (equals == std::string::npos || colon == std::string::npos || colon > equals)
        return std::nullopt;
    acts::SetAside out;
    out.station = text.substr(0, colon);
    out.target = text.substr(colon + 1, equals - colon - 1);
    out.reason = text.substr(equals + 1);
    const std::size_t hash = out.target.rfind('#');
    if (hash != std::string::npos) {
        const std::string number = out.target.substr(hash + 1);
        if (number.empty() || number.size() > 4 ||
            number.find_first_not_of("0123456789") != std::string::npos || std::stoi(number) < 1)
            return std::nullopt;
        out.which = std::stoi(number);
        out.target.resize(hash);
    }
    if (out.station.empty() || out.target.empty() || out.reason.empty()) return std::nullopt;
    return out;
}

/// Reads a file if it was named; false when it could not be read, said on standard error.
bool read_into(const std::string& path, std::optional<exchange::Document>& into) {
    if (path.empty()) return true;
    auto document = exchange::read_document(path);
    if (!document) {
        complain(document.refusal().to_text());
        return false;
    }
    into = std::move(document).value();
    return true;
}

std::vector<OutputFile> files_of(const acts::StationAnswer& answer) {
    std::vector<OutputFile> files{{"station.json", acts::to_json(answer)},
                                  {"station.txt", acts::to_text(answer)}};
    const std::vector<std::string> plans = acts::to_svg(answer);
    std::set<std::string> taken;
    for (std::size_t i = 0; i < plans.size(); ++i) {
        const std::string base = "station-" + file_name_of(answer.stations[i].station);
        std::string name = base;
        for (int n = 2; !taken.insert(name).second; ++n) name = base + "-" + std::to_string(n);
        files.push_back({name + ".svg", plans[i]});
    }
    return files;
}

int run_command(const Options& options) {
    acts::StationRequest request;
    if (!options.unit.empty()) request.unit = measure::length_unit_from_word(options.unit);
    if (!options.show.empty()) {
        request.show = read_style(options.show);
        if (!request.show)
            return usage("--show " + options.show +
                         ": m, ft, us-ft, ft-in or ft-in:32 was expected");
    }
    if (!options.radius.empty()) {
        request.radius_m = read_typed_length(options.radius, request.unit);
        if (!request.radius_m)
            return usage("--radius " + options.radius +
                         ": a length with its unit was expected, such as 25m or 80ft");
    }
    for (const std::string& text : options.set_aside) {
        auto aside = read_set_aside(text);
        if (!aside)
            return usage("--set-aside \"" + text + "\": \"STATION:TARGET=reason\" was expected");
        request.set_aside.push_back(std::move(*aside));
    }
    request.scale_factor = options.scale;
    request.confidence = options.confidence;
    request.explain = options.explain;

    std::optional<exchange::Document> marks;
    std::optional<exchange::Document> sights;
    if (!read_into(options.marks, marks) || !read_into(options.sights, sights) ||
        !read_into(options.setups, request.setups) ||
        !read_into(options.instrument, request.instrument) ||
        !read_into(options.points, request.points) || !read_into(options.causes, request.causes) ||
        !read_into(options.map_marks, request.marks_map) ||
        !read_into(options.map_sights, request.sights_map) ||
        !read_into(options.map_setups, request.setups_map) ||
        !read_into(options.map_points, request.points_map))
        return exit_refused;
    request.marks = std::move(*marks);
    request.sights = std::move(*sights);

    const auto answer = acts::run_station(request);
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

void add_station(CLI::App& app, int& status) {
    auto options = std::make_shared<Options>();
    CLI::App* command = app.add_subcommand("station", "May I start laying from here?");
    const auto file = [&](const char* name, std::string& into, const char* what) {
        return command->add_option(name, into, what)->type_name("FILE");
    };
    const auto not_empty = CLI::Validator(
        [](std::string& text) { return text.empty() ? std::string("a name") : std::string(); }, "");
    file("--marks", options->marks, "control marks (CSV)")->required()->check(not_empty);
    file("--sights", options->sights, "what was observed (CSV)")->required()->check(not_empty);
    file("--setups", options->setups, "kind of set-up, mark and instrument height (CSV)");
    file("--instrument", options->instrument, "how well instrument and rod measure (TOML)");
    file("--points", options->points, "the points to be laid, with tolerances (CSV)");
    file("--causes", options->causes,
         "how often and how large things go wrong (TOML), else the table shown by layproof causes");
    command->add_option("--unit", options->unit, "unit of lengths whose column states none")
        ->check(CLI::IsMember({"m", "ft", "us-ft"}));
    command->add_option("--show", options->show, "unit of the text: m, ft, us-ft, ft-in[:16]")
        ->type_name("UNIT");
    file("--map-marks", options->map_marks, "column map of a foreign marks file (TOML)");
    file("--map-sights", options->map_sights, "the same for sights");
    file("--map-setups", options->map_setups, "the same for set-ups");
    file("--map-points", options->map_points, "the same for points");
    command->add_option("--scale", options->scale, "grid distance over ground distance")
        ->check(CLI::Range(0.9, 1.1));
    command->add_option("--radius", options->radius, "working radius when no points are given")
        ->type_name("LENGTH");
    command->add_option("--confidence", options->confidence, "probability that makes proven")
        ->check(CLI::Range(0.5000001, 0.9999999));
    command
        ->add_option("--set-aside", options->set_aside,
                     "keep sights out, with a reason: \"STATION:TARGET=reason\"")
        ->type_name("TEXT")
        ->take_all()
        ->expected(1);
    command->add_flag("--json", options->json, "one JSON document on standard output");
    command->add_flag("--explain", options->explain, "add the figures behind the verdict");
    command->add_option("--out", options->out, "write plan, text and JSON into this folder")
        ->type_name("FOLDER");
    command->callback([options, &status] { status = run_command(*options); });
}

}  // namespace layproof::cli

#include "cli/site_options.hpp"

#include <CLI/CLI.hpp>

#include "cli/commands.hpp"
#include "cli/job_file.hpp"
#include "cli/lengths.hpp"
#include "exchange/text/file.hpp"

namespace layproof::cli {
namespace {

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

}  // namespace

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

bool read_into(const std::vector<std::string>& paths, std::vector<exchange::Document>& into) {
    for (const std::string& path : paths) {
        std::optional<exchange::Document> document;
        if (!read_into(path, document)) return false;
        if (document) into.push_back(std::move(*document));
    }
    return true;
}

int refuse(const Refusal& refusal) {
    complain(refusal.to_text());
    return exit_refused;
}

int not_written(const std::string& what) {
    complain(what);
    return exit_not_written;
}

int usage(const std::string& act, const std::string& text) {
    complain(text);
    complain("layproof " + act + " --help lists the options.");
    return exit_usage;
}

std::optional<int> fill(const SiteOptions& options, const std::string& act,
                        acts::StationRequest& request) {
    if (!options.unit.empty()) request.unit = measure::length_unit_from_word(options.unit);
    if (!options.show.empty()) {
        request.show = read_style(options.show);
        if (!request.show)
            return usage(
                act, "--show " + options.show + ": m, ft, us-ft, ft-in or ft-in:32 was expected");
    }
    for (const std::string& text : options.set_aside) {
        auto aside = read_set_aside(text);
        if (!aside)
            return usage(act,
                         "--set-aside \"" + text + "\": \"STATION:TARGET=reason\" was expected");
        request.set_aside.push_back(std::move(*aside));
    }
    request.scale_factor = options.scale;
    request.confidence = options.confidence;
    request.explain = options.explain;
    request.only_station = options.station;
    request.only_points = options.only;

    if (!options.job.empty()) {
        job::AsOf as_of;
        if (!read_as_of(options.as_of, as_of) || !read_into(options.causes, request.causes) ||
            !read_into(options.instrument, request.instrument))
            return exit_refused;
        request.marks.name = options.job;
        request.sights.name = options.job;
        return read_job(options.job, as_of, request.facts);
    }
    if (!options.as_of.empty()) return usage(act, "--as-of needs --job");
    if (options.marks.empty()) return usage(act, "--marks is required, or --job");
    if (options.sights.empty()) return usage(act, "--sights is required, or --job");

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
    return std::nullopt;
}

void add_site_options(CLI::App& command, SiteOptions& options) {
    const auto file = [&](const char* name, std::string& into, const char* what) {
        return command.add_option(name, into, what)->type_name("FILE");
    };
    const auto not_empty = CLI::Validator(
        [](std::string& text) { return text.empty() ? std::string("a name") : std::string(); }, "");
    CLI::Option* marks = file("--marks", options.marks, "control marks (CSV)")->check(not_empty);
    CLI::Option* sights =
        file("--sights", options.sights, "what was observed (CSV)")->check(not_empty);
    CLI::Option* setups =
        file("--setups", options.setups, "kind of set-up, mark and instrument height (CSV)");
    file("--instrument", options.instrument,
         "how well instrument and rod measure (TOML); with --job in place of the job's");
    CLI::Option* points =
        file("--points", options.points, "the points to be laid, with tolerances (CSV)");
    file("--job", options.job, "a job file in place of these files")
        ->check(not_empty)
        ->excludes(marks)
        ->excludes(sights)
        ->excludes(setups)
        ->excludes(points);
    command
        .add_option_function<std::string>(
            "--station", [&options](const std::string& name) { options.station = name; },
            "this station only")
        ->check(not_empty)
        ->type_name("NAME");
    command.add_option("--as-of", options.as_of, "the job as it was known then")->type_name("TIME");
    file("--causes", options.causes,
         "how often and how large things go wrong (TOML), else the table shown by layproof causes");
    command.add_option("--unit", options.unit, "unit of lengths whose column states none")
        ->check(CLI::IsMember({"m", "ft", "us-ft", "mm", "in"}));
    command.add_option("--show", options.show, "unit of the text: m, ft, us-ft, ft-in[:16]")
        ->type_name("UNIT");
    file("--map-marks", options.map_marks, "column map of a foreign marks file (TOML)");
    file("--map-sights", options.map_sights, "the same for sights");
    file("--map-setups", options.map_setups, "the same for set-ups");
    file("--map-points", options.map_points, "the same for points");
    command.add_option("--scale", options.scale, "grid distance over ground distance")
        ->check(CLI::Range(0.9, 1.1));
    command.add_option("--confidence", options.confidence, "probability that makes proven")
        ->check(CLI::Range(0.5000001, 0.9999999));
    command
        .add_option("--set-aside", options.set_aside,
                    "keep sights out, with a reason: \"STATION:TARGET=reason\"")
        ->type_name("TEXT")
        ->take_all()
        ->expected(1);
    command.add_flag("--json", options.json, "one JSON document on standard output");
    command.add_flag("--explain", options.explain, "add the figures behind the verdict");
    command.add_option("--out", options.out, "write plan, text and JSON into this folder")
        ->type_name("FOLDER");
}

void add_point_choice(CLI::App& command, SiteOptions& options) {
    command
        .add_option("--only", options.only,
                    "these points only, by name; may be given several times")
        ->type_name("POINT[,POINT...]")
        ->delimiter(',')
        ->take_all()
        ->expected(1);
}

}  // namespace layproof::cli

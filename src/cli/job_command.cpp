// layproof job: the facts of a site in one file.

#include <CLI/CLI.hpp>
#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <system_error>
#include <vector>

#include "acts/job/job.hpp"
#include "acts/job/merge.hpp"
#include "cli/commands.hpp"
#include "cli/job_file.hpp"
#include "cli/lengths.hpp"
#include "cli/map_options.hpp"
#include "cli/site_options.hpp"
#include "exchange/text/file.hpp"

namespace layproof::cli {
namespace {

struct JobOptions {
    std::string file, title, crew;
    std::string marks, sights, setups, points, instrument, causes, grid;
    std::string tapes, levels, drawing, tolerance, tolerance_height;
    MapOptions map;
    std::string map_marks, map_sights, map_setups, map_points;
    std::string unit, revision, note;
    std::string as_of, out, document, other;
    std::vector<std::string> heads;
    std::string decision, subject, reason, initials;
    bool other_job = false;
    bool json = false;
};

/// What opens a job file reads time and random bits here.
struct Machine {
    job::SystemClock clock;
    job::SystemEntropy entropy;

    Result<job::Job> open(const std::string& path, job::Mode mode) {
        return job::Job::open(path, mode, clock, entropy);
    }
};

int answer_with(const std::string& text, int status = exit_proven) {
    if (put_out(text)) return status;
    complain("standard output could not be written");
    return exit_not_written;
}

template <class Answer>
int answer_with(const Answer& answer, bool json, int status = exit_proven) {
    return answer_with(json ? acts::to_json(answer) : acts::to_text(answer), status);
}

int run_new(const JobOptions& options) {
    Machine machine;
    const auto made = job::Job::create(options.file, {options.title, options.crew, {}},
                                       machine.clock, machine.entropy);
    if (!made) return refuse_job(made.refusal());
    return answer_with("Job " + made->id().to_text() + " begun in " + options.file + "\n");
}

int run_take(const JobOptions& options) {
    acts::TakeRequest request;
    if (!options.unit.empty()) request.unit = measure::length_unit_from_word(options.unit);
    request.revision = options.revision;
    request.note = options.note;
    if (const auto status = fill(options.map, "job take", request.unit, request.site))
        return *status;
    for (const auto& [text, into] :
         {std::pair{&options.tolerance, &request.tolerance_plan_m},
          std::pair{&options.tolerance_height, &request.tolerance_height_m}}) {
        if (text->empty()) continue;
        *into = read_typed_length(*text, request.unit);
        if (!*into)
            return usage("job take", "a tolerance of " + *text +
                                         ": a length with its unit was expected, such as 6mm");
    }
    if (!read_into(options.marks, request.marks) || !read_into(options.sights, request.sights) ||
        !read_into(options.setups, request.setups) || !read_into(options.points, request.points) ||
        !read_into(options.instrument, request.instrument) ||
        !read_into(options.causes, request.causes) || !read_into(options.grid, request.grid) ||
        !read_into(options.map_marks, request.marks_map) ||
        !read_into(options.map_sights, request.sights_map) ||
        !read_into(options.map_setups, request.setups_map) ||
        !read_into(options.map_points, request.points_map) ||
        !read_into(options.tapes, request.tapes) || !read_into(options.levels, request.levels) ||
        !read_into(options.drawing, request.drawing))
        return exit_refused;
    if (!request.marks && !request.sights && !request.setups && !request.points &&
        !request.instrument && !request.causes && !request.grid && !request.tapes &&
        !request.levels && !request.drawing && !request.tolerance_plan_m &&
        !request.tolerance_height_m)
        return usage("job take",
                     "--marks, --sights, --setups, --points, --instrument, --causes, --grid, "
                     "--tape, --levels, --drawing or a tolerance was expected");
    Machine machine;
    auto job = machine.open(options.file, job::Mode::write);
    if (!job) return refuse_job(job.refusal(), true);
    const auto answer = acts::take(*job, request);
    if (!answer) return refuse_job(answer.refusal());
    return answer_with(*answer, options.json);
}

int run_show(const JobOptions& options) {
    job::AsOf as_of;
    if (!read_as_of(options.as_of, as_of)) return exit_refused;
    Machine machine;
    const auto job = machine.open(options.file, job::Mode::read);
    if (!job) return refuse_job(job.refusal(), true);
    const auto view = acts::view_of(*job, as_of);
    if (!view) return refuse_job(view.refusal());
    return answer_with(*view, options.json);
}

int run_give(const JobOptions& options) {
    std::optional<job::Digest> digest;
    if (!options.document.empty()) {
        digest = job::Digest::from_text(options.document);
        if (!digest)
            return usage("job give", "--document " + options.document +
                                         ": 64 hexadecimal digits were expected, as job show "
                                         "gives them");
    }
    Machine machine;
    const auto job = machine.open(options.file, job::Mode::read);
    if (!job) return refuse_job(job.refusal(), true);
    if (digest) {
        const auto bytes = job->document_bytes(*digest);
        if (!bytes) return refuse_job(bytes.refusal());
        // As with a copy: what is there, the job itself perhaps, is never replaced.
        std::error_code ignored;
        if (std::filesystem::exists(std::filesystem::symlink_status(options.out, ignored)))
            return refuse_job({ErrorCode::cannot_write,
                               {options.out, 0, 0},
                               "a file of that name",
                               "a name that is free"});
        const auto done = exchange::write_file_whole(
            options.out, {reinterpret_cast<const char*>(bytes->data()), bytes->size()});
        if (!done) return refuse_job(done.refusal());
    } else {
        const auto done = job->copy_to(options.out);
        if (!done) return refuse_job(done.refusal());
    }
    return answer_with("Written to " + options.out + "\n");
}

int run_merge(const JobOptions& options) {
    Machine machine;
    auto job = machine.open(options.file, job::Mode::write);
    if (!job) return refuse_job(job.refusal(), true);
    const auto report =
        acts::merge(*job, options.other, {options.other_job}, machine.clock.now_ms());
    if (!report) return refuse_job(report.refusal(), true);
    return answer_with(*report, options.json);
}

int run_verify(const JobOptions& options) {
    std::vector<job::Digest> noted;
    for (const std::string& text : options.heads) {
        const auto head = job::Digest::from_text(text);
        if (!head)
            return usage("job verify", "--head " + text + ": 64 hexadecimal digits were expected");
        noted.push_back(*head);
    }
    Machine machine;
    const auto job = machine.open(options.file, job::Mode::read);
    if (!job) return refuse_job(job.refusal(), true);
    const auto report = job->verify(noted);
    if (!report) return refuse_job(report.refusal());
    return answer_with(*report, options.json, report->sound() ? exit_proven : exit_not_proven);
}

int run_decide(const JobOptions& options) {
    Machine machine;
    auto job = machine.open(options.file, job::Mode::write);
    if (!job) return refuse_job(job.refusal(), true);
    acts::DecideRequest request;
    request.kind =
        job::decision_kind_from_word(options.decision).value_or(job::DecisionKind::set_aside);
    request.subject = options.subject;
    request.reason = options.reason;
    request.initials = options.initials;
    request.time_ms = machine.clock.now_ms();
    const auto answer = acts::decide(*job, request);
    if (!answer) return refuse_job(answer.refusal());
    return answer_with(*answer, options.json);
}

/// Not an empty text.
CLI::Validator some_text() {
    return CLI::Validator(
        [](std::string& text) { return text.empty() ? std::string("not empty") : std::string(); },
        "");
}

using Shared = std::shared_ptr<JobOptions>;

CLI::App* add(CLI::App& job, const char* name, const char* what, const Shared& options, int& status,
              int (*run)(const JobOptions&)) {
    CLI::App* command = job.add_subcommand(name, what);
    command->add_option("FILE", options->file, "the job file")->required()->check(some_text());
    command->callback([options, &status, run] { status = run(*options); });
    return command;
}

void add_json(CLI::App& command, JobOptions& options) {
    command.add_flag("--json", options.json, "one JSON document on standard output");
}

void add_take(CLI::App& job, const Shared& options, int& status) {
    CLI::App* take = add(job, "take", "take files into the job", options, status, run_take);
    const auto file = [&](const char* name, std::string& into, const char* what) {
        take->add_option(name, into, what)->type_name("FILE");
    };
    file("--marks", options->marks, "control marks (CSV)");
    file("--sights", options->sights, "what was observed (CSV)");
    file("--setups", options->setups, "kind of set-up, mark and instrument height (CSV)");
    file("--points", options->points, "the points to be laid (CSV)");
    file("--instrument", options->instrument, "how well instrument and rod measure (TOML)");
    file("--grid", options->grid, "lines of the building grid (CSV, DXF or IFC)");
    file("--tape", options->tapes, "tapes between marks (CSV)");
    file("--levels", options->levels, "height differences between marks, or runs as read (CSV)");
    file("--drawing", options->drawing, "positions of the marks on a drawing, for vet");
    file("--causes", options->causes, "how often and how large things go wrong (TOML)");
    file("--map-marks", options->map_marks, "column map of a foreign marks file (TOML)");
    file("--map-sights", options->map_sights, "the same for sights");
    file("--map-setups", options->map_setups, "the same for set-ups");
    file("--map-points", options->map_points, "the same for points");
    take->add_option("--unit", options->unit, "unit of lengths whose column states none")
        ->check(CLI::IsMember({"m", "ft", "us-ft", "mm", "in"}));
    take->add_option("--tolerance", options->tolerance,
                     "how far a mark may be off in plan, for vet")
        ->type_name("LENGTH");
    take->add_option("--tolerance-height", options->tolerance_height, "the same in height")
        ->type_name("LENGTH");
    add_map_options(*take, options->map);
    take->add_option("--revision", options->revision, "revision of the sheets or drawings taken");
    take->add_option("--note", options->note, "where they came from");
    add_json(*take, *options);
}

void add_decide(CLI::App& job, const Shared& options, int& status) {
    CLI::App* decide =
        add(job, "decide", "record a decision with its reason", options, status, run_decide);
    decide->add_option("WHAT", options->decision, "set-aside, put-back, accept or mark-moved")
        ->required()
        ->check(CLI::IsMember({"set-aside", "put-back", "accept", "mark-moved"}));
    decide
        ->add_option("SUBJECT", options->subject,
                     "STATION:TARGET[#n] or a fact's id; the mark that moved")
        ->required();
    decide->add_option("--reason", options->reason, "why")->required()->check(some_text());
    decide->add_option("--initials", options->initials, "who decided")
        ->required()
        ->check(some_text());
    add_json(*decide, *options);
}

}  // namespace

void add_job(CLI::App& app, int& status) {
    auto options = std::make_shared<JobOptions>();
    CLI::App* job = app.add_subcommand("job", "Keep the facts of a site in one file.");
    job->require_subcommand(1);

    CLI::App* begin = add(*job, "new", "begin a job file", options, status, run_new);
    begin->add_option("--title", options->title, "of the job")->required()->check(some_text());
    begin->add_option("--crew", options->crew, "who writes into this file")
        ->required()
        ->check(some_text());

    add_take(*job, options, status);

    CLI::App* show = add(*job, "show", "what is in the job", options, status, run_show);
    show->add_option("--as-of", options->as_of, "as it was known then, such as 2031-05-15T12:00Z")
        ->type_name("TIME");
    add_json(*show, *options);

    CLI::App* give =
        add(*job, "give", "a copy for another crew, or a kept document", options, status, run_give);
    give->add_option("--out", options->out, "the file to write")
        ->required()
        ->check(some_text())
        ->type_name("PATH");
    give->add_option("--document", options->document, "digest of a kept document")
        ->type_name("DIGEST");

    CLI::App* merge =
        add(*job, "merge", "take over another crew's facts", options, status, run_merge);
    merge->add_option("OTHER", options->other, "the other job file")
        ->required()
        ->check(some_text());
    merge->add_flag("--other-job", options->other_job, "though it was begun as another job");
    add_json(*merge, *options);

    CLI::App* verify =
        add(*job, "verify", "was anything changed afterwards?", options, status, run_verify);
    verify->add_option("--head", options->heads, "a head written down earlier")
        ->type_name("HEX")
        ->take_all();
    add_json(*verify, *options);

    add_decide(*job, options, status);
}

}  // namespace layproof::cli

#include "door/door.hpp"

#include <map>
#include <memory>
#include <utility>

#include "acts/belief/solved_jobs.hpp"
#include "acts/job/facts_to_plan.hpp"
#include "acts/shared/describe.hpp"
#include "base/text/time.hpp"
#include "door/book.hpp"
#include "door/door_answers.hpp"
#include "door/door_plan_internal.hpp"
#include "door/door_requests_internal.hpp"
#include "door/door_tools_internal.hpp"
#include "door/file_shelf.hpp"
#include "door/inbox.hpp"
#include "door/record_shelf.hpp"
#include "door/shape_check_internal.hpp"
#include "door/sheet.hpp"
#include "door/sights.hpp"
#include "door/typed.hpp"
#include "door/work_list.hpp"

namespace layproof::acts {

using internal::Json;

struct Door::State {
    State(std::unique_ptr<OpenJob> open_job, DoorOptions door_options, job::Clock& job_clock,
          job::Entropy& entropy, std::function<void(const WorkNote&)> notes)
        : job(std::move(open_job)),
          options(std::move(door_options)),
          clock(job_clock),
          records(entropy),
          works(std::move(notes)),
          inbox_folder(options.inbox, options.unit) {}

    using Text = Result<std::string>;

    Text sheet(const Json& request, Progress& progress) {
        const auto as_of = internal::as_of_in(request);
        if (!as_of) return as_of.refusal();
        const auto sheet = sheet_of(*job, *as_of, &progress);
        if (!sheet) return sheet.refusal();
        return to_json(*sheet);
    }

    static StationRequest& stations_of(StationRequest& asked) { return asked; }
    template <class Asked>
    static StationRequest& stations_of(Asked& asked) {
        return asked.station;
    }

    /// Station, lay or watch, with the facts, what the server was started with, and the progress.
    template <class Asked, class Answer>
    Text from_facts(const Json& request, Progress& progress, Asked asked,
                    Result<Answer> (*run)(const Asked&)) {
        const auto as_of = internal::as_of_in(request);
        if (!as_of) return as_of.refusal();
        const auto facts = job->facts(*as_of);
        if (!facts) return facts.refusal();
        StationRequest& stations = stations_of(asked);
        stations.facts = **facts;
        stations.marks.name = stations.sights.name = job->path();
        stations.unit = options.unit;
        stations.show = options.show;
        stations.progress = &progress;
        stations.solved = solved;
        const auto answer = run(asked);
        if (!answer) return answer.refusal();
        return to_json(*answer);
    }

    Text station(const Json& request, Progress& progress) {
        return from_facts(request, progress, internal::station_request(request), &run_station);
    }
    Text lay(const Json& request, Progress& progress) {
        return from_facts(request, progress, internal::lay_request(request), &run_lay);
    }
    Text watch(const Json& request, Progress& progress) {
        return from_facts(request, progress, internal::watch_request(request), &run_watch);
    }

    Text prove(const Json& request, Progress& progress) {
        return from_facts(request, progress, internal::prove_request(request), &run_prove);
    }

    /// Its files are kept: the answer says where the server gives them.
    Text record(const Json& request, Progress& progress) {
        const auto as_of = internal::as_of_in(request);
        if (!as_of) return as_of.refusal();
        const auto state = job->state();
        if (!state) return state.refusal();
        RecordOptions wanted;
        wanted.as_of = *as_of;
        wanted.show = options.show;
        auto facts = job->read([&](const job::Job& open) { return record_facts_of(open, wanted); });
        if (!facts) return facts.refusal();
        const auto answer = run_record(std::move(*facts), &progress);
        if (!answer) return answer.refusal();
        auto files = record_files(*answer);
        if (!files) return files.refusal();
        KeptRecord out;
        out.head = state->head;
        out.as_of = internal::text_in(request, "as_of");
        out.verdict = answer->verdict;
        out.proven = answer->proven;
        out.in_doubt = answer->in_doubt;
        out.fails = answer->fails;
        out.digest = answer->facts_digest;
        for (const RecordFile& file : *files)
            out.files.push_back({file.name, {}, file.mime, file.description, file.bytes.size()});
        const std::string ticket = records.keep(std::move(*files));
        for (KeptFile& file : out.files) file.path = "/record/" + ticket + "/" + file.name;
        return json_document(out);
    }

    Result<PlanRequest> asked_plan(const Json& request, Progress* progress) {
        const auto as_of = internal::as_of_in(request);
        if (!as_of) return as_of.refusal();
        auto facts = job->read([&](const job::Job& open) { return facts_to_plan(open, *as_of); });
        if (!facts) return facts.refusal();
        auto asked = internal::plan_request(
            request, [this](const std::string& digest) { return kept_file(digest); });
        if (!asked) return asked;
        asked->unit = facts->unit ? facts->unit : options.unit;
        asked->facts = std::move(*facts);
        asked->marks.name = asked->points.name = job->path();
        asked->show = options.show;
        asked->progress = progress;
        return asked;
    }

    /// What a site made ready for planning hangs on.
    Result<std::string> plan_key(const Json& request) {
        const auto state = job->state();
        if (!state) return state.refusal();
        return std::to_string(state->generation) + " " + request.dump();
    }

    Text plan(const Json& request, Progress& progress) {
        const auto key = plan_key(request);
        if (!key) return key.refusal();
        const auto asked = asked_plan(request, &progress);
        if (!asked) return asked.refusal();
        const auto answer = desk.plan(*key, *asked);
        if (!answer) return answer.refusal();
        return to_json(*answer);
    }

    Text place(const Json& request, Progress&) {
        const Json& plan = request["plan"];
        const auto key = plan_key(plan);
        if (!key) return key.refusal();
        const auto unit = unit_for(Json::object());
        if (!unit) return unit.refusal();
        const double metres = measure::metres_per(unit->value_or(measure::LengthUnit::metre));
        const auto answer = desk.place(
            *key, [&] { return asked_plan(plan, nullptr); }, request["east"].get<double>() * metres,
            request["north"].get<double>() * metres);
        if (!answer) return answer.refusal();
        return to_json(*answer);
    }

    Text vet(const Json& request, Progress& progress) {
        const auto as_of = internal::as_of_in(request);
        if (!as_of) return as_of.refusal();
        VetRequest asked = internal::vet_request(request);
        asked.unit = options.unit;
        asked.show = options.show;
        asked.progress = &progress;
        asked.solved = solved;
        const auto ready = job->read([&](const job::Job& open) {
            // It may be looked at more than once: what an earlier look left is not added to.
            asked.job_lists.clear();
            return fill_from_job(open, *as_of, asked);
        });
        if (!ready) return ready.refusal();
        const auto answer = run_vet(asked);
        if (!answer) return answer.refusal();
        return to_json(*answer);
    }

    Result<ToolAnswer> checked(const Json& request) {
        internal::ToolsDefaults defaults;
        const auto unit = unit_for(request);
        if (!unit) return unit.refusal();
        const auto instruments =
            job->read([](const job::Job& open) { return open.current<measure::Instrument>(); });
        if (!instruments) return instruments.refusal();
        defaults.unit = *unit;
        defaults.show = options.show;
        if (!instruments->empty()) defaults.stated = instruments->back().value;
        return internal::run_tools(request, defaults,
                                   [this](const std::string& digest) { return kept_file(digest); });
    }

    Text tools(const Json& request, Progress&) {
        const auto answer = checked(request);
        if (!answer) return answer.refusal();
        return to_json(*answer);
    }

    Text keep(const Json& request, Progress&) {
        const auto answer = checked(request);
        if (!answer) return answer.refusal();
        const auto kept =
            job->write([&](job::Job& open) { return acts::keep(open, *answer, clock.now_ms()); });
        if (!kept) return kept.refusal();
        return json_document(KeepAnswer{*kept});
    }

    Text sights(const Json& request, Progress&) {
        const auto as_of = internal::as_of_in(request);
        if (!as_of) return as_of.refusal();
        const auto sights = job->read([&](const job::Job& open) {
            return sights_at(open, internal::text_in(request, "station"), *as_of);
        });
        if (!sights) return sights.refusal();
        return to_json(*sights);
    }

    Text decide(const Json& request, Progress&) {
        DecideRequest asked;
        asked.kind = job::decision_kind_from_word(internal::text_in(request, "kind"))
                         .value_or(job::DecisionKind::set_aside);
        asked.subject = internal::text_in(request, "subject");
        asked.reason = internal::text_in(request, "reason");
        asked.initials = internal::text_in(request, "initials");
        asked.time_ms = clock.now_ms();
        const auto answer = job->write([&](job::Job& open) { return acts::decide(open, asked); });
        if (!answer) return answer.refusal();
        return to_json(*answer);
    }

    Result<exchange::Document> kept_file(const std::string& digest) {
        auto file = shelf.find(digest);
        if (file) return *std::move(file);
        return Refusal{ErrorCode::file_not_kept,
                       {"digest", 0, 0},
                       "a file that is not here: " + digest.substr(0, 64),
                       "the digest of a file sent a short time ago; send it again"};
    }

    Text preview(const Json& request, Progress&) {
        PreviewRequest asked;
        asked.digest = internal::text_in(request, "digest");
        auto file = kept_file(asked.digest);
        if (!file) return file.refusal();
        asked.file = std::move(*file);
        asked.role = internal::text_in(request, "role");
        asked.unit = internal::unit_in(request);
        asked.map = internal::map_in(request);
        return to_json(preview_of(asked));
    }

    Text take(const Json& request, Progress& progress) {
        std::vector<TakeFile> files;
        for (const Json& one : request["files"]) {
            auto file = kept_file(internal::text_in(one, "digest"));
            if (!file) return file.refusal();
            auto unit = internal::unit_in(one);
            files.push_back(take_file(std::move(*file), internal::text_in(one, "role"),
                                      unit ? unit : options.unit, internal::map_in(one)));
            files.back().revision = internal::text_in(one, "revision");
            files.back().note = internal::text_in(one, "note");
        }
        const auto answer =
            job->write([&](job::Job& open) { return acts::take(open, files, &progress); });
        if (!answer) return answer.refusal();
        return to_json(*answer);
    }

    Text read(const Json& request, Progress&) {
        const auto unit = unit_for(request);
        if (!unit) return unit.refusal();
        ReadAnswer answer;
        for (const auto& [field, text] : request["fields"].items())
            answer.fields.push_back(read_field(field, text.get<std::string>(), *unit));
        return to_json(answer);
    }

    /// That of the request, else of the server's start, else of the job.
    Result<std::optional<measure::LengthUnit>> unit_for(const Json& request) {
        if (const auto unit = internal::unit_in(request)) return unit;
        if (options.unit) return options.unit;
        return job->read([](const job::Job& open) -> Result<std::optional<measure::LengthUnit>> {
            const auto settings = open.current<job::Setting>();
            if (!settings) return settings.refusal();
            for (const auto& kept : *settings)
                if (kept.value.name == "unit")
                    return measure::length_unit_from_word(kept.value.value);
            return std::optional<measure::LengthUnit>{};
        });
    }

    Text inbox(const Json&, Progress&) { return to_json(inbox_folder.report()); }

    Text stop(const Json& request, Progress&) {
        return json_document(StopAnswer{works.stop(internal::text_in(request, "work"))});
    }

    Asked book(const Json& request);

    struct Act {
        Text (State::*run)(const Json&, Progress&);
        bool only_reads = false;
    };

    static const std::map<std::string, Act, std::less<>>& acts() {
        static const std::map<std::string, Act, std::less<>> kActs{
            {"sheet", {&State::sheet, true}}, {"station", {&State::station, true}},
            {"lay", {&State::lay, true}},     {"watch", {&State::watch, true}},
            {"vet", {&State::vet, true}},     {"sights", {&State::sights, true}},
            {"read", {&State::read}},         {"decide", {&State::decide}},
            {"preview", {&State::preview}},   {"take", {&State::take}},
            {"stop", {&State::stop}},         {"inbox", {&State::inbox}},
            {"prove", {&State::prove, true}}, {"record", {&State::record}},
            {"plan", {&State::plan}},         {"place", {&State::place}},
            {"tools", {&State::tools}},       {"keep", {&State::keep}},
        };
        return kActs;
    }

    std::unique_ptr<OpenJob> job;
    DoorOptions options;
    job::Clock& clock;
    FileShelf shelf;
    AnswerStore answers;
    RecordShelf records;
    internal::PlanDesk desk;
    WorkList works;
    std::shared_ptr<SolvedJobs> solved = std::make_shared<SolvedJobs>();
    Inbox inbox_folder;
};

namespace {

Asked refused(Refusal refusal, std::string field = {}) {
    return {nullptr, RefusedRequest{std::move(refusal), std::move(field)}};
}

/// Which of the four is booked; refused unless it is exactly one.
Result<BookRequest> book_request(const Json& request) {
    BookRequest out;
    int count = 0;
    for (const char* what : {"sight", "setup", "mark", "point"}) {
        const auto at = request.find(what);
        if (at == request.end()) continue;
        ++count;
        out.what = what;
        for (const auto& [field, text] : at->items()) out.typed[field] = text.get<std::string>();
    }
    if (count != 1)
        return Refusal{ErrorCode::request_field_missing,
                       {},
                       count == 0 ? "nothing to book" : "several facts in one request",
                       "one of sight, setup, mark and point"};
    if (const auto unit = internal::unit_in(request)) out.unit = *unit;
    return out;
}

}  // namespace

Door::Door(std::unique_ptr<State> state) : state_(std::move(state)) {}
Door::~Door() = default;

Result<std::unique_ptr<Door>> Door::open(const std::string& path, const DoorOptions& options,
                                         job::Clock& clock, job::Entropy& entropy,
                                         std::function<void(const WorkNote&)> notes) {
    auto job = OpenJob::open(path, clock, entropy);
    if (!job) return job.refusal();
    return std::unique_ptr<Door>(new Door(
        std::make_unique<State>(std::move(*job), options, clock, entropy, std::move(notes))));
}

Asked Door::State::book(const Json& request) {
    const auto asked = book_request(request);
    if (!asked) return refused(asked.refusal());
    Booked booked = acts::book(*job, *asked);
    if (!booked.answer) return {nullptr, std::move(booked.refused)};
    return {std::make_shared<const std::string>(to_json(*booked.answer)), {}};
}

Asked Door::ask(std::string_view act, std::string_view text) {
    const auto request = internal::read_request(act, text);
    if (!request) return refused(request.refusal(), request.refusal().place.file);
    if (act == "book") return state_->book(*request);
    const auto known = State::acts().find(act);
    if (known == State::acts().end())
        return refused({ErrorCode::act_unknown, {}, std::string(act), "an act of this door"});
    const State::Act& how = known->second;
    const auto make = [&]() -> Asked {
        const auto progress = state_->works.begin(act);
        auto answer = (state_.get()->*how.run)(*request, *progress);
        if (!answer) return refused(std::move(answer).refusal());
        return {std::make_shared<const std::string>(std::move(*answer)), {}};
    };
    if (!how.only_reads) return make();
    const auto state = state_->job->state();
    if (!state) return refused(state.refusal());
    return state_->answers.get(state->generation, std::string(act) + "\n" + request->dump(), make);
}

Asked Door::keep_file(std::string name, std::string bytes) {
    PreviewRequest request;
    request.file = {std::move(name), std::move(bytes)};
    request.digest = state_->shelf.keep(request.file);
    return {std::make_shared<const std::string>(to_json(preview_of(request))), {}};
}

std::shared_ptr<const RecordFile> Door::record_file(std::string_view ticket,
                                                    std::string_view name) const {
    return state_->records.find(ticket, name);
}

Result<JobState> Door::state() {
    return state_->job->state();
}

void Door::look_at_work() {
    state_->works.look();
}

std::vector<WorkNote> Door::work_going_on() {
    return state_->works.going_on();
}

bool Door::look_at_inbox() {
    return state_->inbox_folder.look(*state_->job);
}

void Door::close() {
    state_->works.stop_all();
}

}  // namespace layproof::acts

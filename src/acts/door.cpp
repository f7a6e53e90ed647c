#include "acts/door.hpp"

#include <map>
#include <utility>

#include "acts/book.hpp"
#include "acts/door_requests_internal.hpp"
#include "acts/file_shelf.hpp"
#include "acts/inbox.hpp"
#include "acts/shape_check_internal.hpp"
#include "acts/sheet.hpp"
#include "acts/sights.hpp"
#include "acts/typed.hpp"
#include "acts/work_list.hpp"

namespace layproof::acts {

using internal::Json;

struct Door::State {
    State(std::unique_ptr<OpenJob> open_job, DoorOptions door_options, job::Clock& job_clock,
          std::function<void(const WorkNote&)> notes)
        : job(std::move(open_job)),
          options(std::move(door_options)),
          clock(job_clock),
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

    /// The facts for a request of station, lay or watch, and what the server was started with.
    Result<Done> add_facts(const Json& request, StationRequest& out) {
        const auto as_of = internal::as_of_in(request);
        if (!as_of) return as_of.refusal();
        const auto facts = job->facts(*as_of);
        if (!facts) return facts.refusal();
        out.facts = **facts;
        out.marks.name = out.sights.name = job->path();
        out.unit = options.unit;
        out.show = options.show;
        return Done{};
    }

    Text station(const Json& request, Progress& progress) {
        StationRequest asked;
        internal::fill(request, asked);
        asked.progress = &progress;
        const auto ready = add_facts(request, asked);
        if (!ready) return ready.refusal();
        const auto answer = run_station(asked);
        if (!answer) return answer.refusal();
        return to_json(*answer);
    }

    Text lay(const Json& request, Progress& progress) {
        LayRequest asked = internal::lay_request(request);
        asked.station.progress = &progress;
        const auto ready = add_facts(request, asked.station);
        if (!ready) return ready.refusal();
        const auto answer = run_lay(asked);
        if (!answer) return answer.refusal();
        return to_json(*answer);
    }

    Text watch(const Json& request, Progress& progress) {
        WatchRequest asked = internal::watch_request(request);
        asked.station.progress = &progress;
        const auto ready = add_facts(request, asked.station);
        if (!ready) return ready.refusal();
        const auto answer = run_watch(asked);
        if (!answer) return answer.refusal();
        return to_json(*answer);
    }

    Text vet(const Json& request, Progress&) {
        const auto as_of = internal::as_of_in(request);
        if (!as_of) return as_of.refusal();
        VetRequest asked = internal::vet_request(request);
        asked.unit = options.unit;
        asked.show = options.show;
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
        std::vector<ReadField> fields;
        for (const auto& [field, text] : request["fields"].items())
            fields.push_back(read_field(field, text.get<std::string>(), *unit));
        return to_json(fields);
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
        const Json out{{"act", "stop"},
                       {"stopped", works.stop(internal::text_in(request, "work"))}};
        return out.dump(2) + "\n";
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
        };
        return kActs;
    }

    std::unique_ptr<OpenJob> job;
    DoorOptions options;
    job::Clock& clock;
    FileShelf shelf;
    AnswerStore answers;
    WorkList works;
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
    return std::unique_ptr<Door>(
        new Door(std::make_unique<State>(std::move(*job), options, clock, std::move(notes))));
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

Result<JobState> Door::state() {
    return state_->job->state();
}

std::string Door::state_json(const JobState& state) {
    return Json{{"facts", state.facts}, {"head", state.head}, {"time", instant_text(state.last_ms)}}
        .dump();
}

std::string Door::note_json(const WorkNote& note) {
    return Json{{"work", note.work},
                {"says", note.says},
                {"done", internal::fixed(note.done, 4)},
                {"ended", note.ended}}
        .dump(-1, ' ', false, Json::error_handler_t::replace);
}

bool Door::look_at_inbox() {
    return state_->inbox_folder.look(*state_->job);
}

void Door::close() {
    state_->works.stop_all();
}

}  // namespace layproof::acts

#include <fmt/chrono.h>
#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>
#include <type_traits>

#include "acts/job/merge.hpp"
#include "acts/shared/words.hpp"
#include "door/sheet.hpp"

namespace layproof::acts {
namespace {

constexpr std::int64_t kOneMoment_ms = 1000;

struct Event {
    job::FactId id;
    job::WriterId writer;
    std::int64_t recorded_ms = 0;
    std::string what;
    std::string noun;      ///< "sight"
    std::string name;      ///< of the fact
    std::string document;  ///< it came from
};

template <class T>
std::string noun_of() {
    if constexpr (std::is_same_v<T, frame::Mark>) return "mark";
    if constexpr (std::is_same_v<T, measure::Sight>) return "sight";
    if constexpr (std::is_same_v<T, station::Setup>) return "set-up";
    if constexpr (std::is_same_v<T, frame::DesignPoint>) return "point";
    if constexpr (std::is_same_v<T, job::Tolerance>) return "tolerance";
    if constexpr (std::is_same_v<T, measure::Instrument>) return "instrument";
    if constexpr (std::is_same_v<T, job::Document>) return "document";
    return "";  // a setting or column map is no thing to count
}

template <class T>
std::string name_of(const T& value) {
    if constexpr (std::is_same_v<T, measure::Sight>) {
        return fmt::format("{} to {}", value.station, value.target);
    } else if constexpr (std::is_same_v<T, station::Setup>) {
        return value.station;
    } else if constexpr (std::is_same_v<T, job::Decision>) {
        return fmt::format("{} {}: {} ({})", job::to_word(value.kind), value.subject.name,
                           value.reason, value.initials);
    } else if constexpr (std::is_same_v<T, job::Tolerance>) {
        return value.subject;
    } else {
        return value.name;
    }
}

using DocumentNames = std::map<job::Digest, std::string>;

template <class T>
Result<Done> add_events(const job::Job& job, const DocumentNames& names, std::vector<Event>& out) {
    const auto facts = job.all<T>();
    if (!facts) return facts.refusal();
    for (const auto& kept : *facts) {
        Event event{kept.id, kept.writer, kept.recorded_ms, "book", noun_of<T>(), {}, {}};
        event.name = name_of(kept.value);
        if constexpr (std::is_same_v<T, job::Decision>) event.what = "decide";
        if constexpr (std::is_same_v<T, job::Document>) {
            event.what = "take";
            event.document = kept.value.name;
        } else if (kept.source.document) {
            event.what = "take";
            const auto name = names.find(*kept.source.document);
            if (name != names.end()) event.document = name->second;
        }
        if constexpr (std::is_same_v<T, job::Setting>) {
            event.what.clear();  // goes with what it was set by
            event.name = fmt::format("{} is {}", kept.value.name, kept.value.value);
            if (kept.value.name.starts_with(kMergeNote)) {
                event.what = "merge";
                event.name = "merged " + kept.value.value;
            }
        }
        out.push_back(std::move(event));
    }
    return Done{};
}

/// "day-sights.csv: 31 sights; setups.csv: 2 set-ups".
std::string taken_words(const std::vector<const Event*>& events) {
    std::vector<std::string> documents;
    std::map<std::string, std::map<std::string, int>> counts;
    for (const Event* event : events) {
        if (event->document.empty()) continue;
        if (counts.find(event->document) == counts.end()) documents.push_back(event->document);
        auto& nouns = counts[event->document];
        if (!event->noun.empty() && event->noun != "document") ++nouns[event->noun];
    }
    std::string out;
    for (const std::string& document : documents) {
        std::vector<std::string> parts;
        for (const auto& [noun, number] : counts[document])
            parts.push_back(internal::count(number, noun));
        out += out.empty() ? "" : "; ";
        out += parts.empty() ? document : document + ": " + internal::listed(parts);
    }
    return out;
}

std::string booked_words(const std::vector<const Event*>& events) {
    std::vector<std::string> names;
    for (const Event* event : events)
        if (!event->noun.empty()) names.push_back(event->noun + " " + event->name);
    if (!names.empty()) return "By hand: " + internal::listed(names, 4);
    for (const Event* event : events) names.push_back(event->name);
    return internal::capital(internal::listed(names, 4));
}

std::string decided_words(const std::vector<const Event*>& events) {
    std::string out;
    for (const Event* event : events)
        if (event->what == "decide") out += (out.empty() ? "" : "; ") + event->name;
    return out;
}

class Grouping {
public:
    explicit Grouping(const std::map<job::WriterId, std::string>& crews) : crews_(crews) {}

    std::vector<Moment> run(std::vector<Event>& events) {
        std::sort(events.begin(), events.end(),
                  [](const Event& a, const Event& b) { return a.id < b.id; });
        for (const Event& event : events) {
            if (!belongs(event)) close();
            open_.push_back(&event);
            if (what_.empty()) what_ = event.what;
        }
        close();
        return std::move(moments_);
    }

private:
    bool belongs(const Event& event) const {
        if (open_.empty()) return true;
        return event.writer == open_.back()->writer &&
               event.recorded_ms - open_.back()->recorded_ms <= kOneMoment_ms &&
               (event.what.empty() || what_.empty() || event.what == what_);
    }

    void close() {
        if (open_.empty()) return;
        Moment moment;
        moment.what = what_.empty() ? "book" : what_;
        moment.time_ms = open_.back()->recorded_ms;
        moment.facts = static_cast<int>(open_.size());
        moment.says = moment.what == "take"     ? taken_words(open_)
                      : moment.what == "decide" ? decided_words(open_)
                                                : booked_words(open_);
        const auto crew = crews_.find(open_.back()->writer);
        if (crews_.size() > 1 && crew != crews_.end()) moment.says += " (" + crew->second + ")";
        moments_.push_back(std::move(moment));
        open_.clear();
        what_.clear();
    }

    const std::map<job::WriterId, std::string>& crews_;
    std::vector<const Event*> open_;
    std::string what_;
    std::vector<Moment> moments_;
};

}  // namespace

Result<std::vector<Moment>> moments_of(const job::Job& job) {
    const auto documents = job.all<job::Document>();
    if (!documents) return documents.refusal();
    DocumentNames names;
    for (const auto& kept : *documents) names.emplace(kept.value.digest, kept.value.name);
    const auto summary = job.summary();
    if (!summary) return summary.refusal();
    std::map<job::WriterId, std::string> crews;
    for (const job::WriterEntry& writer : summary->writers) crews.emplace(writer.id, writer.name);

    std::vector<Event> events;
    auto done = add_events<job::Document>(job, names, events);
    if (done) done = add_events<frame::Mark>(job, names, events);
    if (done) done = add_events<measure::Sight>(job, names, events);
    if (done) done = add_events<station::Setup>(job, names, events);
    if (done) done = add_events<frame::DesignPoint>(job, names, events);
    if (done) done = add_events<job::Tolerance>(job, names, events);
    if (done) done = add_events<measure::Instrument>(job, names, events);
    if (done) done = add_events<job::ColumnMap>(job, names, events);
    if (done) done = add_events<job::Decision>(job, names, events);
    if (done) done = add_events<job::Setting>(job, names, events);
    if (!done) return done.refusal();
    return Grouping(crews).run(events);
}

}  // namespace layproof::acts

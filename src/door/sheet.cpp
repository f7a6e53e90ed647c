#include "door/sheet.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <utility>

#include "acts/setup/site_grid.hpp"
#include "acts/shared/progress.hpp"
#include "acts/shared/words.hpp"
#include "acts/vet/vet_tools.hpp"

namespace layproof::acts {
namespace {

using job::Decision;
using job::DecisionKind;
using job::Kept;

template <class T>
void put_by_id(std::vector<Kept<T>>& facts) {
    std::sort(facts.begin(), facts.end(), [](const auto& a, const auto& b) { return a.id < b.id; });
}

/// Reads the job's facts into a sheet; the stations are not placed yet.
class SheetReading {
public:
    SheetReading(const job::Job& job, const job::AsOf& as_of) : job_(job), as_of_(as_of) {}

    Result<Sheet> run() {
        out_.as_of = as_of_;
        out_.id = job_.id();
        out_.file = internal::file_name(job_.path());
        auto done = settings();
        if (done) done = documents();
        if (done) done = decisions();
        if (done) done = marks();
        if (done) done = points();
        if (done) done = stations();
        if (done) done = grid();
        if (!done) return done.refusal();
        auto conflicts = job_.conflicts(as_of_);
        if (!conflicts) return conflicts.refusal();
        out_.conflicts = std::move(*conflicts);
        auto moments = moments_of(job_);
        if (!moments) return moments.refusal();
        out_.moments = std::move(*moments);
        return std::move(out_);
    }

private:
    Result<Done> settings() {
        const auto settings = job_.current<job::Setting>(as_of_);
        if (!settings) return settings.refusal();
        for (const auto& kept : *settings) {
            if (kept.value.name == "unit")
                out_.unit = measure::length_unit_from_word(kept.value.value);
            if (kept.value.name == "title") out_.title = kept.value.value;
            if (kept.value.name.starts_with(kCheckedNote))
                out_.checked.push_back(
                    {kept.value.name.substr(kCheckedNote.size()), kept.value.value});
            if (kept.value.name == "unit of grid")
                grid_unit_ = measure::length_unit_from_word(kept.value.value);
            if (kept.value.name == "map of grid")
                grid_map_ = job::Digest::from_text(kept.value.value);
        }
        return Done{};
    }

    Result<Done> documents() {
        auto documents = job_.all<job::Document>(as_of_);
        if (!documents) return documents.refusal();
        put_by_id(*documents);
        for (auto& kept : *documents) {
            names_.emplace(kept.value.digest, kept.value.name);
            index_.emplace(kept.value.digest, out_.documents.size());
            out_.documents.push_back({std::move(kept.value), kept.recorded_ms, {}});
        }
        return Done{};
    }

    /// A document has no revision of its own: the facts from it do.
    void note_revision(const job::Source& source) {
        if (!source.document || source.revision.empty()) return;
        const auto at = index_.find(*source.document);
        if (at != index_.end()) out_.documents[at->second].revision = source.revision;
    }

    Result<Done> decisions() {
        auto decisions = job_.all<Decision>(as_of_);
        if (!decisions) return decisions.refusal();
        put_by_id(*decisions);
        out_.decisions = std::move(*decisions);
        const auto aside = job_.set_aside(as_of_);
        if (!aside) return aside.refusal();
        aside_ = *aside;
        return Done{};
    }

    bool is_aside(const job::FactId& id) const {
        return std::binary_search(aside_.begin(), aside_.end(), id);
    }

    Result<Done> marks() {
        auto marks = job_.current<frame::Mark>(as_of_);
        if (!marks) return marks.refusal();
        put_by_id(*marks);
        for (auto& kept : *marks) {
            note_revision(kept.source);
            if (is_aside(kept.id)) continue;
            SheetMark mark;
            const auto name =
                kept.source.document ? names_.find(*kept.source.document) : names_.end();
            if (name != names_.end()) mark.from = name->second;
            mark.revision = kept.source.revision;
            mark.is_moved = std::any_of(
                out_.decisions.begin(), out_.decisions.end(), [&](const Kept<Decision>& d) {
                    return d.value.kind == DecisionKind::mark_moved &&
                           d.value.subject.name == kept.value.name && d.id > kept.id;
                });
            mark.mark = std::move(kept.value);
            out_.marks.push_back(std::move(mark));
        }
        return Done{};
    }

    Result<Done> points() {
        auto points = job_.current<frame::DesignPoint>(as_of_);
        if (!points) return points.refusal();
        put_by_id(*points);
        for (auto& kept : *points) {
            note_revision(kept.source);
            if (!is_aside(kept.id)) out_.points.push_back(std::move(kept.value));
        }
        return Done{};
    }

    Result<Done> stations() {
        std::map<std::string, std::size_t> index;
        const auto station = [&](const std::string& name) -> SheetStation& {
            const auto [at, is_new] = index.emplace(name, out_.stations.size());
            if (is_new) out_.stations.push_back({name, {}, {}, {}, 0, {}, {}});
            return out_.stations[at->second];
        };
        auto setups = job_.current<station::Setup>(as_of_);
        if (!setups) return setups.refusal();
        put_by_id(*setups);
        for (auto& kept : *setups) {
            note_revision(kept.source);
            SheetStation& one = station(kept.value.station);
            one.first = one.last = kept.value.time_text;
            one.setup = std::move(kept.value);
        }
        auto sights = job_.all<measure::Sight>(as_of_);
        if (!sights) return sights.refusal();
        put_by_id(*sights);
        std::map<std::string, std::pair<double, double>> spans;
        for (const auto& kept : *sights) {
            note_revision(kept.source);
            const measure::Sight& sight = kept.value;
            SheetStation& one = station(sight.station);
            ++one.sights;
            if (!sight.time_s) continue;
            const auto [span, is_new] =
                spans.try_emplace(sight.station, *sight.time_s, *sight.time_s);
            if (is_new || *sight.time_s < span->second.first) {
                span->second.first = *sight.time_s;
                one.first = sight.time_text;
            }
            if (is_new || *sight.time_s > span->second.second) {
                span->second.second = *sight.time_s;
                one.last = sight.time_text;
            }
        }
        return Done{};
    }

    Result<exchange::Document> document_of(const std::string& name, const job::Digest& digest) {
        const auto bytes = job_.document_bytes(digest);
        if (!bytes) return bytes.refusal();
        return exchange::Document{name, std::string(bytes->begin(), bytes->end())};
    }

    /// The grid of the last document of that role, read with what it was taken with.
    Result<Done> grid() {
        for (auto at = out_.documents.rbegin(); at != out_.documents.rend(); ++at) {
            if (at->document.role != "grid") continue;
            const auto document = document_of(at->document.name, at->document.digest);
            if (!document) return document.refusal();
            std::optional<exchange::Document> map;
            if (grid_map_) {
                auto file = document_of("column map of the grid lines", *grid_map_);
                if (!file) return file.refusal();
                map = std::move(*file);
            }
            auto lines =
                internal::read_grid_file(*document, map, grid_unit_ ? grid_unit_ : out_.unit);
            if (!lines) return lines.refusal();
            out_.grid = std::move(lines->rows);
            break;
        }
        return Done{};
    }

    const job::Job& job_;
    job::AsOf as_of_;
    Sheet out_;
    std::map<job::Digest, std::string> names_;
    std::map<job::Digest, std::size_t> index_;
    std::vector<job::FactId> aside_;
    std::optional<measure::LengthUnit> grid_unit_;
    std::optional<job::Digest> grid_map_;
};

/// Places the stations one by one: one that its sights do not place leaves the others theirs.
Result<Done> place_stations(OpenJob& job, Sheet& sheet, Progress* progress) {
    if (sheet.stations.empty() || sheet.stations.size() > kMostSolved) return Done{};
    const auto facts = job.facts(sheet.as_of);
    if (!facts) return Done{};  // no marks yet, or two crews under one name: nothing is placed
    StationRequest request;
    request.marks.name = request.sights.name = job.path();
    const auto keys = station_keys(**facts);
    int number = 0;
    for (SheetStation& one : sheet.stations) {
        const auto before = static_cast<double>(number++);
        if (!go_on(progress, before / static_cast<double>(sheet.stations.size()),
                   "Placing " + one.name))
            return stopped();
        const auto key = keys.find(one.name);
        if (one.sights == 0 || key == keys.end()) continue;
        auto place = job.places().find(key->second);
        if (!place) {
            place.emplace();
            request.facts = **facts;
            request.only_station = one.name;
            const auto answer = run_station(request);
            if (answer && answer->stations.size() == 1) {
                place->pose = answer->stations.front().pose;
                place->word = answer->stations.front().verdict.word;
            }
            job.places().keep(key->second, *place);
        }
        one.pose = place->pose;
        one.word = place->word;
    }
    return Done{};
}

}  // namespace

Result<Sheet> sheet_of(OpenJob& job, const job::AsOf& as_of, Progress* progress) {
    const auto state = job.state();
    if (!state) return state.refusal();
    auto sheet = job.read([&](const job::Job& open) { return SheetReading(open, as_of).run(); });
    if (!sheet) return sheet;
    sheet->state = *state;
    const auto placed = place_stations(job, *sheet, progress);
    if (!placed) return placed.refusal();
    return sheet;
}

}  // namespace layproof::acts

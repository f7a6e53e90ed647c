#include "acts/vet/vet.hpp"

#include "acts/belief/job_belief.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <utility>

#include "acts/job/job.hpp"
#include "acts/job/job_measured.hpp"
#include "acts/setup/setup_inputs.hpp"
#include "acts/shared/levelled.hpp"
#include "acts/shared/progress.hpp"
#include "acts/shared/words.hpp"
#include "acts/vet/vet_fits_internal.hpp"
#include "acts/vet/vet_words_internal.hpp"
#include "cause/traps.hpp"
#include "exchange/geojson/geojson.hpp"
#include "exchange/import/import.hpp"
#include "exchange/import/sheet.hpp"
#include "exchange/tables/column_map.hpp"
#include "exchange/tables/control_readers.hpp"
#include "exchange/tables/instrument.hpp"
#include "measure/angle.hpp"
#include "threads/threads.hpp"

namespace layproof::acts {
namespace {

using exchange::Document;

std::optional<Refusal> check_figures(const VetRequest& request) {
    const auto bad = [](const char* what, double value, const char* expected) {
        return Refusal{ErrorCode::out_of_range, {what, 0, 0}, fmt::format("{}", value), expected};
    };
    if (!(request.scale_factor >= 0.9 && request.scale_factor <= 1.1))
        return bad("scale", request.scale_factor, "a scale from 0.9 to 1.1");
    if (!(request.confidence > 0.5 && request.confidence < 1.0))
        return bad("confidence", request.confidence, "a probability above 0.5 and below 1");
    for (const auto& t : {request.tolerance_plan_m, request.tolerance_height_m})
        if (t && !(*t > 0.0 && *t <= 1.0))
            return bad("tolerance", *t, "a tolerance above 0, at most 1 m");
    return std::nullopt;
}

template <class Row>
Result<exchange::Table<Row>> read(
    const Document& document, const std::optional<Document>& map, const exchange::ReadOptions& base,
    std::vector<std::string>& notices,
    Result<exchange::Table<Row>> (*reader)(const Document&, const exchange::ReadOptions&)) {
    exchange::ReadOptions options = base;
    std::optional<exchange::ColumnMap> columns;
    if (map) {
        auto read_map = exchange::read_column_map(*map);
        if (!read_map) return read_map.refusal();
        columns = std::move(*read_map);
        options.map = &*columns;
    }
    auto table = reader(document, options);
    if (table) notices.insert(notices.end(), table->notices.begin(), table->notices.end());
    return table;
}

class Reading {
public:
    Reading(const VetRequest& request, const std::optional<exchange::SiteFrame>& site,
            VetAnswer& answer)
        : request_(request), answer_(answer) {
        options_.unit = request.unit;
        options_.site = site ? &*site : nullptr;
        options_.apply_map_conversion = request.site.map_conversion;
    }

    Result<network::Evidence> run() {
        evidence_.scale_factor = request_.scale_factor;
        if (auto refusal = lists()) return *std::move(refusal);
        if (evidence_.lists.empty())
            return Refusal{ErrorCode::no_marks,
                           {"vet", 0, 0},
                           "no sheet of marks",
                           "at least one sheet (--marks) or a job that holds marks"};
        evidence_.tapes = request_.job_tapes;
        internal::Levelled levelled;
        levelled.add(request_.job_levels);
        for (const network::LevelRun& run : request_.job_runs) levelled.add(run);
        for (const Document& document : request_.tapes) {
            auto table = read<network::Tape>(document, std::nullopt, options_, answer_.notices,
                                             exchange::read_tapes);
            if (!table) return table.refusal();
            evidence_.tapes.insert(evidence_.tapes.end(), table->rows.begin(), table->rows.end());
        }
        for (const Document& document : request_.levels) {
            const auto done = levelled.add(document, options_);
            if (!done) return done.refusal();
        }
        evidence_.levels = levelled.rises();
        answer_.notices.insert(answer_.notices.end(), levelled.notices().begin(),
                               levelled.notices().end());
        if (auto refusal = sights()) return *std::move(refusal);
        units();
        return std::move(evidence_);
    }

private:
    void add_list(network::MarkList list, std::optional<measure::LengthUnit> unit) {
        // Two sheets of one file name would be one in every sentence.
        int same = 1;
        const std::string plain = list.name;
        const auto taken = [&] {
            return std::any_of(evidence_.lists.begin(), evidence_.lists.end(),
                               [&](const auto& other) { return other.name == list.name; });
        };
        while (taken()) list.name = fmt::format("{} ({})", plain, ++same);
        answer_.lists.push_back({list.name, list.is_drawing, list.revision,
                                 static_cast<int>(list.entries.size()), unit});
        evidence_.lists.push_back(std::move(list));
    }

    std::optional<Refusal> lists() {
        for (const network::MarkList& list : request_.job_lists)
            add_list(list, request_.facts ? request_.facts->marks_unit : std::nullopt);
        for (const bool drawing : {false, true}) {
            const auto& documents = drawing ? request_.drawings : request_.marks;
            const auto& map = drawing ? request_.points_map : request_.marks_map;
            for (const Document& document : documents) {
                auto table = read<frame::Mark>(
                    document, map, options_, answer_.notices,
                    drawing ? exchange::read_any_drawing : exchange::read_any_sheet);
                if (!table) return table.refusal();
                network::MarkList list;
                list.name = internal::file_name(document.name);
                list.is_drawing = drawing;
                list.entries = std::move(table->rows);
                add_list(std::move(list), table->unit);
            }
        }
        return std::nullopt;
    }

    std::optional<Refusal> sights() {
        StationRequest asked;
        asked.scale_factor = request_.scale_factor;
        asked.confidence = request_.confidence;
        JobFacts facts;
        if (request_.facts) facts = *request_.facts;
        if (request_.sights) {
            auto table = read<measure::Sight>(*request_.sights, request_.sights_map, options_,
                                              answer_.notices, exchange::read_any_sights);
            if (!table) return table.refusal();
            facts.sights.insert(facts.sights.end(), table->rows.begin(), table->rows.end());
        }
        if (request_.setups) {
            auto table = read<station::Setup>(*request_.setups, request_.setups_map, options_,
                                              answer_.notices, exchange::read_any_setups);
            if (!table) return table.refusal();
            facts.setups.insert(facts.setups.end(), table->rows.begin(), table->rows.end());
        }
        if (request_.instrument) {
            auto file = exchange::read_instrument(*request_.instrument);
            if (!file) return file.refusal();
            facts.instrument = file->instrument;
            answer_.notices.insert(answer_.notices.end(), file->notices.begin(),
                                   file->notices.end());
        }
        if (facts.sights.empty()) return std::nullopt;
        if (facts.name.empty()) facts.name = request_.sights ? request_.sights->name : "sights";
        facts.marks = evidence_.lists.front().entries;
        asked.facts = std::move(facts);
        auto inputs = internal::read_inputs(asked);
        if (!inputs) return inputs.refusal();
        answer_.notices.insert(answer_.notices.end(), inputs->notices.begin(),
                               inputs->notices.end());
        for (internal::OneSetup& one : inputs->setups)
            evidence_.setups.push_back(std::move(one.input));
        return std::nullopt;
    }

    /// Files in both feet, and coordinates so large that the kind of foot moves them.
    void units() {
        double largest = 0.0;
        for (const network::MarkList& list : evidence_.lists)
            for (const frame::Mark& mark : list.entries)
                largest = std::max({largest, std::abs(mark.east_m.value_or(0.0)),
                                    std::abs(mark.north_m.value_or(0.0))});
        for (std::size_t l = 1; l < answer_.lists.size(); ++l)
            for (const cause::Trap& trap :
                 cause::traps_of_units(answer_.lists[0].unit, answer_.lists[l].unit, largest))
                if (trap.kind == cause::TrapKind::foot_kinds_mixed)
                    answer_.notices.push_back(
                        fmt::format("{} is in {} and {} in {}: what is far from zero moves by {}.",
                                    answer_.lists[0].name, measure::to_word(*answer_.lists[0].unit),
                                    answer_.lists[l].name, measure::to_word(*answer_.lists[l].unit),
                                    internal::rough(trap.amount_m, answer_.style)));
    }

    const VetRequest& request_;
    VetAnswer& answer_;
    exchange::ReadOptions options_;
    network::Evidence evidence_;
};

std::vector<Eigen::Vector2d> places_of(const network::MarkList& list, std::vector<int>& index) {
    std::vector<Eigen::Vector2d> out;
    for (std::size_t i = 0; i < list.entries.size(); ++i) {
        if (!list.entries[i].has_plan()) continue;
        out.emplace_back(*list.entries[i].east_m, *list.entries[i].north_m);
        index.push_back(static_cast<int>(i));
    }
    return out;
}

int common_names(const network::MarkList& first, const network::MarkList& other) {
    std::set<std::string> names;
    for (const frame::Mark& mark : first.entries) names.insert(mark.name);
    return static_cast<int>(
        std::count_if(other.entries.begin(), other.entries.end(),
                      [&](const frame::Mark& mark) { return names.contains(mark.name); }));
}

bool tells_of_same_marks(const network::MarkList& newer, const network::MarkList& older) {
    if (common_names(newer, older) >= 2) return true;
    std::vector<int> ignored;
    const auto match = vet::match_places(places_of(newer, ignored), places_of(older, ignored));
    return match.state != vet::MatchState::none;
}

/// A newer list that repeats hardly a mark of the older one adds to it: both are laid from. Of a
/// mark on both, the newer place counts.
void supplement(network::MarkList& newer, network::MarkList older) {
    std::set<std::string> names;
    for (const frame::Mark& mark : newer.entries) names.insert(mark.name);
    std::erase_if(older.entries,
                  [&](const frame::Mark& mark) { return names.contains(mark.name); });
    older.entries.insert(older.entries.end(), newer.entries.begin(), newer.entries.end());
    newer.entries = std::move(older.entries);
    newer.name = fmt::format("{} with {}", older.name, newer.name);
}

std::string match_says(const VetMatch& match, std::size_t first_marks) {
    const vet::Assignment& best = match.figures.best;
    std::string how;
    if (best.mirrored) how += ", as a mirror image";
    if (std::abs(measure::wrap_pi(best.turn_rad)) > 1e-4)
        how += fmt::format(", turned {}", measure::format_dms(measure::wrap_pi(best.turn_rad), 0));
    if (std::abs(best.scale - 1.0) > 1e-3) how += fmt::format(", scale {:.4f}", best.scale);
    const auto n = static_cast<int>(best.pairs.size());
    switch (match.figures.state) {
        case vet::MatchState::matched:
            return fmt::format("{} of {} are found on {} by their geometry{}, {:.1f} mm rms.", n,
                               internal::count(static_cast<int>(first_marks), "mark"), match.list,
                               how, best.rms_m * 1000.0);
        case vet::MatchState::ambiguous:
            return fmt::format(
                "{} fits the first list in {} ways ({} marks each): which mark is "
                "which cannot be told from the geometry. It takes one more mark "
                "off the pattern, or one name.",
                match.list, match.figures.rivals.size() + 1, n);
        case vet::MatchState::none:
            return fmt::format("No three marks of the first list are found on {}.", match.list);
    }
    return "";
}

/// Gives lists that speak other names the first list's, where the geometry tells.
void match_lists(const VetRequest& request, network::Evidence& evidence, VetAnswer& answer) {
    std::vector<int> first_index;
    const auto first = places_of(evidence.lists.front(), first_index);
    for (std::size_t l = 1; l < evidence.lists.size(); ++l) {
        network::MarkList& list = evidence.lists[l];
        const int common = common_names(evidence.lists.front(), list);
        if (common >= 2 && !request.match) continue;
        std::vector<int> index;
        const auto places = places_of(list, index);
        VetMatch match;
        match.list = list.name;
        match.figures = vet::match_places(first, places);
        match.says = match_says(match, first.size());
        std::set<std::string> known;
        for (const frame::Mark& mark : evidence.lists.front().entries) known.insert(mark.name);
        if (match.figures.state == vet::MatchState::matched) {
            std::map<int, std::string> renamed;
            for (const auto& [i, k] : match.figures.best.pairs)
                renamed[index[static_cast<std::size_t>(k)]] =
                    evidence.lists.front()
                        .entries[static_cast<std::size_t>(first_index[static_cast<std::size_t>(i)])]
                        .name;
            std::vector<frame::Mark> kept;
            for (const auto& [k, name] : renamed) {
                kept.push_back(list.entries[static_cast<std::size_t>(k)]);
                if (kept.back().name != name)
                    kept.back().note = "called " + kept.back().name + " there";
                kept.back().name = name;
            }
            list.entries = std::move(kept);
        } else if (common < 2) {
            list.entries.clear();
        }
        answer.matches.push_back(std::move(match));
    }
    // A list of many points is about the marks alone.
    std::set<std::string> names;
    for (const frame::Mark& mark : evidence.lists.front().entries) names.insert(mark.name);
    for (std::size_t l = 1; l < evidence.lists.size(); ++l) {
        network::MarkList& list = evidence.lists[l];
        if (!list.is_drawing) continue;
        std::vector<frame::Mark> kept;
        for (frame::Mark& mark : list.entries)
            if (names.contains(mark.name)) kept.push_back(std::move(mark));
        list.entries = std::move(kept);
    }
    for (std::size_t l = evidence.lists.size(); l-- > 1;)
        if (evidence.lists[l].entries.empty()) {
            answer.notices.push_back(
                fmt::format("{} does not fit the first list by name or place; it is left out.",
                            evidence.lists[l].name));
            evidence.lists.erase(evidence.lists.begin() + static_cast<std::ptrdiff_t>(l));
        }
}

/// The marks of the first list on the map.
Result<std::string> marks_geojson(const VetAnswer& answer, const exchange::SiteFrame& site) {
    std::vector<exchange::GeographicPoint> points;
    for (const vet::MarkVerdict& mark : answer.figures.marks) {
        if (!mark.east_m || !mark.north_m) continue;
        auto point = exchange::geographic_point(
            site, mark.name, {*mark.east_m, *mark.north_m}, mark.height_m,
            fmt::format("control, {}", station::to_word(mark.word)));
        if (!point) return point.refusal();
        points.push_back(std::move(*point));
    }
    return exchange::write_geojson(points);
}

/// What is known of the job from its sights. Nothing where there are none, or where it cannot be
/// adjusted as a whole: then a mark has the word of the lists. Refuses with `stopped` alone.
Result<std::optional<internal::JobBelief>> belief_of(const VetRequest& request,
                                                     const network::Evidence& evidence,
                                                     const measure::LengthStyle& style) {
    std::optional<internal::JobBelief> none;
    if (evidence.setups.empty()) return none;
    StationRequest asked;
    asked.facts = request.facts;
    if (!asked.facts) {
        if (request.marks.empty() || !request.sights) return none;
        asked.marks = request.marks.front();
        asked.marks_map = request.marks_map;
        asked.sights = *request.sights;
        asked.sights_map = request.sights_map;
        asked.setups = request.setups;
        asked.setups_map = request.setups_map;
        asked.instrument = request.instrument;
    }
    asked.unit = request.unit;
    asked.scale_factor = request.scale_factor;
    asked.confidence = request.confidence;
    asked.progress = request.progress;
    asked.solved = request.solved;
    const auto inputs = internal::read_inputs(asked);
    if (!inputs) return none;
    auto belief = internal::believe_alone(asked, *inputs, style, &request.tapes, &request.levels);
    if (belief) return std::optional<internal::JobBelief>(std::move(*belief));
    if (belief.refusal().code == ErrorCode::stopped) return belief.refusal();
    return none;
}

/// A mark that was sighted has the word that the belief of the job gives it.
void heed_belief(const internal::JobBelief& belief, VetAnswer& answer) {
    answer.job_causes = belief.causes;
    for (vet::MarkVerdict& mark : answer.figures.marks) {
        const auto chance = belief.chance_of(
            mark.name, {answer.tolerance_plan_m, answer.tolerance_height_m}, answer.confidence);
        if (!chance) continue;
        mark.probability = chance->probability;
        mark.word = chance->word;
    }
}

}  // namespace

Result<VetAnswer> run_vet(const VetRequest& request) {
    if (auto refusal = check_figures(request)) return *refusal;
    VetAnswer answer;
    answer.confidence = request.confidence;
    answer.explain = request.explain;
    answer.tolerance_plan_m = request.tolerance_plan_m.value_or(
        request.job_tolerance_plan_m.value_or(kDefaultTolerancePlan_m));
    answer.tolerance_height_m = request.tolerance_height_m.value_or(
        request.job_tolerance_height_m.value_or(kDefaultToleranceHeight_m));
    if (request.unit) answer.unit = *request.unit;
    answer.style.unit = answer.unit;
    if (request.show) answer.style = *request.show;
    const auto site = open_site(request.site);
    if (!site) return site.refusal();
    auto evidence = Reading(request, *site, answer).run();
    if (!evidence) return evidence.refusal();
    if (answer.lists.front().unit) answer.unit = *answer.lists.front().unit;
    if (request.facts && request.facts->unit) answer.unit = *request.facts->unit;
    answer.style.unit = answer.unit;
    if (request.show) answer.style = *request.show;
    match_lists(request, *evidence, answer);
    const auto fitted = internal::fit_lists(request, *evidence, *site, answer);
    if (!fitted) return fitted.refusal();
    if (evidence->tapes.empty() && evidence->levels.empty() && evidence->setups.empty())
        answer.notices.emplace_back(
            "Nothing was measured: the lists can only be held against each other.");
    const auto belief = belief_of(request, *evidence, answer.style);
    if (!belief) return belief.refusal();
    vet::VetOptions options;
    options.tolerance_plan_m = answer.tolerance_plan_m;
    options.tolerance_height_m = answer.tolerance_height_m;
    options.confidence = request.confidence;
    const std::string weighing =
        "Weighing " +
        internal::count(static_cast<int>(evidence->lists.front().entries.size()), "mark");
    threads::SharedWorkers workers([&weighing, progress = request.progress](double fraction) {
        return go_on(progress, fraction, weighing);
    });
    options.workers = &workers;
    answer.figures = vet::vet(*evidence, options);
    if (answer.figures.stopped) return stopped();
    answer.notices.insert(answer.notices.end(), answer.figures.notices.begin(),
                          answer.figures.notices.end());
    if (*belief) heed_belief(**belief, answer);
    internal::put_into_words(answer);
    if (*site) {
        auto written = marks_geojson(answer, **site);
        if (!written) return written.refusal();
        answer.geojson = std::move(*written);
    }
    return answer;
}

namespace {

/// Rows of a kind that are not set aside, oldest first, one list for each source.
class JobLists {
public:
    JobLists(const std::vector<job::Kept<job::Document>>& documents,
             const std::vector<job::FactId>& aside)
        : documents_(documents), aside_(aside) {}

    bool is_aside(const job::FactId& id) const {
        return std::find(aside_.begin(), aside_.end(), id) != aside_.end();
    }

    /// Newest first; what was booked by hand is a list of its own.
    template <class Fact, class MarkOf>
    std::vector<network::MarkList> lists(std::vector<job::Kept<Fact>> facts, MarkOf mark_of) const {
        std::sort(facts.begin(), facts.end(),
                  [](const auto& a, const auto& b) { return a.id > b.id; });
        std::vector<std::pair<job::Source, network::MarkList>> found;
        for (const auto& kept : facts) {
            if (is_aside(kept.id)) continue;
            auto at = std::find_if(found.begin(), found.end(),
                                   [&](const auto& list) { return list.first == kept.source; });
            if (at == found.end()) {
                found.emplace_back(kept.source, named(kept.source));
                at = found.end() - 1;
            }
            at->second.entries.push_back(mark_of(kept.value));
        }
        std::vector<network::MarkList> out;
        for (auto& [source, list] : found) {
            std::reverse(list.entries.begin(), list.entries.end());
            out.push_back(std::move(list));
        }
        return out;
    }

private:
    network::MarkList named(const job::Source& source) const {
        network::MarkList list;
        list.name = "booked by hand";
        list.revision = source.revision;
        for (const auto& document : documents_)
            if (source.document && document.value.digest == *source.document)
                list.name = document.value.name;
        if (!list.revision.empty()) list.name += fmt::format(" (revision {})", list.revision);
        return list;
    }

    const std::vector<job::Kept<job::Document>>& documents_;
    const std::vector<job::FactId>& aside_;
};

Result<Done> fill_tolerances(const job::Job& job, const job::AsOf& as_of, VetRequest& request) {
    const auto tolerances = job.current<job::Tolerance>(as_of);
    if (!tolerances) return tolerances.refusal();
    request.job_tolerance_plan_m.reset();
    request.job_tolerance_height_m.reset();
    for (const auto& kept : *tolerances) {
        if (!kept.value.subject.empty()) continue;
        const double amount = std::min(kept.value.minus_m, kept.value.plus_m);
        if (!(amount > 0.0 && amount <= 1.0)) continue;
        if (kept.value.quantity == "plan") request.job_tolerance_plan_m = amount;
        if (kept.value.quantity == "height") request.job_tolerance_height_m = amount;
    }
    return Done{};
}

}  // namespace

Result<Done> fill_from_job(const job::Job& job, const job::AsOf& as_of, VetRequest& request) {
    auto facts = facts_of(job, as_of);
    if (!facts && facts.refusal().code != ErrorCode::no_sights) return facts.refusal();
    if (facts) {
        request.facts = std::move(*facts);
    } else {
        request.facts.emplace();
        request.facts->name = job.path();
    }
    auto marks = job.all<frame::Mark>(as_of);
    if (!marks) return marks.refusal();
    auto drawn = job.all<job::DrawnMark>(as_of);
    if (!drawn) return drawn.refusal();
    const auto documents = job.all<job::Document>(as_of);
    if (!documents) return documents.refusal();
    const auto aside = job.set_aside(as_of);
    if (!aside) return aside.refusal();
    const JobLists reading(*documents, *aside);
    request.job_lists.clear();
    for (network::MarkList& list :
         reading.lists(std::move(*marks), [](const frame::Mark& mark) { return mark; })) {
        if (request.job_lists.empty() || tells_of_same_marks(request.job_lists.front(), list))
            request.job_lists.push_back(std::move(list));
        else
            supplement(request.job_lists.front(), std::move(list));
    }
    for (network::MarkList& list :
         reading.lists(std::move(*drawn), [](const job::DrawnMark& d) { return d.mark; })) {
        list.is_drawing = true;
        request.job_lists.push_back(std::move(list));
    }
    JobFacts measured;
    const auto done = internal::add_measured(job, as_of, {aside->begin(), aside->end()}, measured);
    if (!done) return done.refusal();
    request.job_tapes = std::move(measured.tapes);
    request.job_levels = std::move(measured.levels);
    request.job_runs = std::move(measured.level_runs);
    if (request.site.crs.empty()) {
        auto site = site_of(job, as_of);
        if (!site) return site.refusal();
        site->place = request.site.place;
        if (request.site.height_m) site->height_m = request.site.height_m;
        site->map_conversion = request.site.map_conversion;
        request.site = std::move(*site);
    }
    return fill_tolerances(job, as_of, request);
}

bool is_proven(const VetAnswer& answer) {
    return answer.verdict.word == station::Word::proven;
}

}  // namespace layproof::acts

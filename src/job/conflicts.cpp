#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "job/job_internal.hpp"
#include "job/revision.hpp"

namespace layproof::job {
namespace {

bool differ(std::optional<double> a_m, std::optional<double> b_m) {
    if (a_m.has_value() != b_m.has_value()) return true;
    return a_m.has_value() && std::abs(*a_m - *b_m) > kSamePlace_m;
}
bool differ(const frame::Mark& a, const frame::Mark& b) {
    return differ(a.east_m, b.east_m) || differ(a.north_m, b.north_m) ||
           differ(a.height_m, b.height_m);
}
bool differ(const frame::DesignPoint& a, const frame::DesignPoint& b) {
    return differ(a.east_m, b.east_m) || differ(a.north_m, b.north_m) ||
           differ(a.height_m, b.height_m);
}
bool differ(const station::Setup& a, const station::Setup& b) {
    return a.kind != b.kind || a.mark != b.mark ||
           differ(a.instrument_height_m, b.instrument_height_m) || differ(a.time_s, b.time_s);
}

std::string shown(const std::string& revision) {
    return revision.empty() ? std::string("no revision") : "revision " + revision;
}

using Accepts = std::map<Digest, FactId>;

/// What counts among facts of one name.
template <class T>
const Read<T>* winner(const std::vector<const Read<T>*>& facts, const Accepts& accepts) {
    const Read<T>* now = nullptr;
    for (const Read<T>* next : facts) {
        if (now == nullptr || takes_place(now->kept.source, now->content, next->kept.source,
                                          next->content, accepts)) {
            now = next;
        }
    }
    return now;
}

template <class T>
Conflict conflict_of(ConflictKind kind, const std::string& name,
                     const std::vector<const Read<T>*>& facts, const FactId& counts,
                     const Accepts& accepts) {
    Conflict out;
    out.kind = kind;
    out.name = name;
    for (const Read<T>* fact : facts) {
        out.facts.push_back(fact->kept.id);
        if (fact->kept.id == counts) out.used = counts;
        if (accepts.contains(fact->content)) out.settled = true;
    }
    return out;
}

/// Coordinates of marks or points: the same revision in two places, and revisions without an order.
template <class T>
Result<Done> coordinates(Db& db, const AsOf& as_of, const Accepts& accepts, ConflictKind kind,
                         std::vector<Conflict>& out) {
    // Most jobs name each point once: then there is nothing to compare.
    static const std::string kTwice =
        std::string("SELECT count(*) - count(DISTINCT name) FROM ") + Kind<T>::kWord;
    const auto twice = db.integer(kTwice.c_str());
    if (!twice) return twice.refusal();
    if (*twice == 0) return Done{};
    auto reads = read_facts<T>(db, as_of);
    if (!reads) return reads.refusal();
    std::map<std::string, std::vector<const Read<T>*>> names;
    for (const Read<T>& read : *reads) names[read.kept.value.name].push_back(&read);
    for (const auto& [name, facts] : names) {
        if (facts.size() < 2) continue;
        const FactId counts = winner(facts, accepts)->kept.id;
        std::vector<std::vector<const Read<T>*>> revisions;
        for (const Read<T>* fact : facts) {
            const auto same = std::find_if(revisions.begin(), revisions.end(), [&](const auto& r) {
                return compare_revisions(r[0]->kept.source.revision, fact->kept.source.revision) ==
                       std::strong_ordering::equal;
            });
            if (same == revisions.end()) {
                revisions.push_back({fact});
            } else {
                same->push_back(fact);
            }
        }
        for (const auto& revision : revisions) {
            const bool apart = std::any_of(revision.begin(), revision.end(), [&](const auto* fact) {
                return differ(revision[0]->kept.value, fact->kept.value);
            });
            if (!apart) continue;
            Conflict conflict = conflict_of(kind, name, revision, counts, accepts);
            conflict.revision = revision[0]->kept.source.revision;
            conflict.because =
                fmt::format("{} has different coordinates at {}.", name, shown(conflict.revision));
            out.push_back(std::move(conflict));
        }
        for (std::size_t i = 0; i < revisions.size(); ++i) {
            for (std::size_t k = i + 1; k < revisions.size(); ++k) {
                const std::string& a = revisions[i][0]->kept.source.revision;
                const std::string& b = revisions[k][0]->kept.source.revision;
                if (compare_revisions(a, b).has_value()) continue;
                std::vector<const Read<T>*> both = revisions[i];
                both.insert(both.end(), revisions[k].begin(), revisions[k].end());
                std::sort(both.begin(), both.end(),
                          [](const auto* x, const auto* y) { return x->kept.id < y->kept.id; });
                Conflict conflict =
                    conflict_of(ConflictKind::revision_order, name, both, counts, accepts);
                conflict.because =
                    fmt::format("It is not clear which of {} and {} of {} is the later.", shown(a),
                                shown(b), name);
                out.push_back(std::move(conflict));
            }
        }
    }
    return Done{};
}

/// Whether two chains may have been written side by side. A chain that goes on after the end of the
/// other is the same crew with the file copied or moved.
class Crews {
public:
    static Result<Crews> read(Db& db) {
        Crews out;
        auto writers = writers_of(db);
        if (!writers) return writers.refusal();
        for (const auto& [seq, writer] : *writers) out.writers_[writer.id] = writer;
        auto heads = heads_of(db);
        if (!heads) return heads.refusal();
        for (const ChainHead& head : *heads) {
            out.ends_[head.writer] = std::max(out.ends_[head.writer], head.position);
        }
        return out;
    }

    bool is_one() const { return writers_.size() < 2; }

    bool side_by_side(const WriterId& a, const WriterId& b) const {
        return a != b && !follows(a, b) && !follows(b, a);
    }

private:
    bool follows(WriterId later, const WriterId& earlier) const {
        // A chain can name only chains begun before it: no more steps than writers.
        for (std::size_t step = 0; step < writers_.size(); ++step) {
            const auto at = writers_.find(later);
            if (at == writers_.end() || !at->second.after_writer) return false;
            const auto end = ends_.find(*at->second.after_writer);
            if (end == ends_.end() || end->second > at->second.after_position) return false;
            if (*at->second.after_writer == earlier) return true;
            later = *at->second.after_writer;
        }
        return false;
    }

    std::map<WriterId, WriterRecord> writers_;
    std::map<WriterId, std::int64_t> ends_;
};

Result<Done> setups(Db& db, const AsOf& as_of, const Accepts& accepts, const Crews& crews,
                    const std::string* only, std::vector<Conflict>& out,
                    std::set<std::string>& described) {
    auto reads = read_facts<station::Setup>(db, as_of, only);
    if (!reads) return reads.refusal();
    std::map<std::string, std::vector<const Read<station::Setup>*>> names;
    for (const auto& read : *reads) names[read.kept.value.station].push_back(&read);
    for (const auto& [name, facts] : names) {
        described.insert(name);
        // A writer's last word on a set-up counts: what it said before was corrected.
        std::map<WriterId, const Read<station::Setup>*> last;
        for (const auto* fact : facts) last[fact->kept.writer] = fact;
        std::vector<const Read<station::Setup>*> apart;
        for (const auto& one : last) {
            const bool against = std::any_of(last.begin(), last.end(), [&](const auto& other) {
                return crews.side_by_side(one.first, other.first) &&
                       differ(one.second->kept.value, other.second->kept.value);
            });
            if (against) apart.push_back(one.second);
        }
        if (apart.empty()) continue;
        std::sort(apart.begin(), apart.end(),
                  [](const auto* x, const auto* y) { return x->kept.id < y->kept.id; });
        Conflict conflict = conflict_of(ConflictKind::setup_name, name, apart,
                                        winner(facts, accepts)->kept.id, accepts);
        conflict.because =
            fmt::format("Two crews have a set-up {} and describe it differently.", name);
        out.push_back(std::move(conflict));
    }
    return Done{};
}

/// Sights of two crews under one station name, with no set-up that both have.
Result<Done> stations(Db& db, const AsOf& as_of, const Crews& crews, const std::string* only,
                      const std::set<std::string>& described, std::vector<Conflict>& out) {
    const std::string select =
        "SELECT sight.station, writer.id, min(fact.id) FROM sight CROSS JOIN fact "
        "ON fact.seq = sight.seq JOIN writer ON writer.seq = fact.writer WHERE fact.id <= ?1 ";
    const std::string group = "GROUP BY sight.station, fact.writer";
    auto rows = db.use(select + (only != nullptr ? "AND sight.station = ?2 " : "") + group);
    if (!rows) return rows.refusal();
    (*rows)->bind_blob(1, last_id(as_of).bytes);
    if (only != nullptr) (*rows)->bind(2, std::string_view{*only});
    std::map<std::string, std::vector<std::pair<FactId, WriterId>>> names;
    auto done = each_row(db, **rows, [&](const Statement& row) {
        auto& [fact, writer] = names[row.text(0)].emplace_back();
        (void)row.blob_into(1, writer.bytes);
        (void)row.blob_into(2, fact.bytes);
    });
    if (!done) return done;
    for (auto& [name, firsts] : names) {
        if (firsts.size() < 2 || described.contains(name)) continue;
        std::sort(firsts.begin(), firsts.end());
        Conflict conflict;
        for (const auto& one : firsts) {
            const bool against = std::any_of(firsts.begin(), firsts.end(), [&](const auto& other) {
                return crews.side_by_side(one.second, other.second);
            });
            if (against) conflict.facts.push_back(one.first);
        }
        if (conflict.facts.empty()) continue;
        conflict.kind = ConflictKind::station_name;
        conflict.name = name;
        conflict.because = fmt::format("Two crews booked sights under the station name {}.", name);
        out.push_back(std::move(conflict));
    }
    return Done{};
}

Result<Done> branches(Db& db, std::vector<Conflict>& out) {
    auto heads = heads_of(db);
    if (!heads) return heads.refusal();
    std::map<WriterId, std::vector<const ChainHead*>> writers;
    for (const ChainHead& head : *heads) writers[head.writer].push_back(&head);
    for (const auto& [writer, ends] : writers) {
        if (ends.size() < 2) continue;
        Conflict conflict;
        conflict.kind = ConflictKind::chain_branched;
        conflict.name = writer.to_text();
        for (const ChainHead* head : ends) {
            auto row = db.use("SELECT id FROM fact WHERE hash = ? AND position = ?");
            if (!row) return row.refusal();
            (*row)->bind_blob(1, head->hash.bytes);
            (*row)->bind(2, head->position);
            FactId id;
            if ((*row)->step() == SQLITE_ROW && (*row)->blob_into(0, id.bytes)) {
                conflict.facts.push_back(id);
            }
        }
        std::sort(conflict.facts.begin(), conflict.facts.end());
        conflict.because =
            "A file and its copy were both written to as if they were one; all their facts are "
            "kept.";
        out.push_back(std::move(conflict));
    }
    return Done{};
}

}  // namespace

Result<std::vector<Conflict>> Job::conflicts(AsOf as_of,
                                             const std::optional<std::string>& only_station) const {
    Db& db = state_->db;
    const std::string* only = only_station ? &*only_station : nullptr;
    auto accepts = accepted(db, as_of);
    if (!accepts) return accepts.refusal();
    auto crews = Crews::read(db);
    if (!crews) return crews.refusal();
    std::vector<Conflict> out;
    auto done = coordinates<frame::Mark>(db, as_of, *accepts, ConflictKind::mark_coordinates, out);
    if (!done) return done.refusal();
    done =
        coordinates<frame::DesignPoint>(db, as_of, *accepts, ConflictKind::point_coordinates, out);
    if (!done) return done.refusal();
    // One chain is one crew.
    if (!crews->is_one()) {
        std::set<std::string> described;
        done = setups(db, as_of, *accepts, *crews, only, out, described);
        if (!done) return done.refusal();
        done = layproof::job::stations(db, as_of, *crews, only, described, out);
        if (!done) return done.refusal();
    }
    done = branches(db, out);
    if (!done) return done.refusal();
    return out;
}

}  // namespace layproof::job

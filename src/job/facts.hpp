#pragma once
// What a job file keeps besides the structs of the rooms to its left: documents, tolerances, column
// maps, settings and decisions, and what every kept fact carries.
//
// The kinds of facts are: Document, frame::Mark, station::Setup, measure::Sight,
// frame::DesignPoint, Tolerance, measure::Instrument, ColumnMap, Decision, Setting, network::Tape,
// network::LevelRise, DrawnMark, network::LevelReading. A further kind is a struct, its columns in
// kinds_internal.hpp, and a migration step that makes its table.

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.hpp"
#include "frame/mark.hpp"
#include "job/digest.hpp"
#include "job/fact_id.hpp"
#include "measure/instrument.hpp"
#include "measure/sight.hpp"
#include "network/evidence.hpp"
#include "network/level_run.hpp"
#include "station/setup.hpp"

namespace layproof::job {

/// Where a fact comes from. `document` is the digest of an imported document kept in the job; none
/// means booked by hand or straight from the instrument. `revision` is that of the sheet or
/// drawing.
struct Source {
    std::optional<Digest> document;
    std::string revision;

    friend bool operator==(const Source&, const Source&) = default;
};

/// An imported file. Its bytes are kept whole and asked for by digest.
struct Document {
    std::string name;  ///< file name as imported
    std::string role;  ///< "marks", "sights", "setups", "points", "instrument", "drawing", …
    std::string note;  ///< where it came from: sender, drawing number, date
    std::int64_t size_bytes = 0;
    Digest digest;  ///< SHA-256 of the bytes
};

/// How far a laid point may be off. The subject is a point's name, an element's word, or empty for
/// the whole job; the quantity is a word such as "plan", "height", "rod-to-rod".
struct Tolerance {
    std::string subject;
    std::string quantity;
    double minus_m = 0.0;
    double plus_m = 0.0;
    std::string formula;
    std::string original_text;
    std::string standard;
    std::string edition;
    std::string clause;
    bool from_memory = false;  ///< not seen in the standard: check the contract documents
    std::string note;
    Place place;
};

/// Which column of a foreign delimited file is what, as TOML text.
struct ColumnMap {
    std::string name;
    std::string reads;  ///< "marks", "sights", …
    std::string toml;
};

/// A named word of the job: "title", "unit", … A later one of the same name counts.
struct Setting {
    std::string name;
    std::string value;
};

/// A mark as a drawing has it: evidence about the control, never coordinates to lay from.
struct DrawnMark {
    frame::Mark mark;
};

enum class DecisionKind { set_aside, put_back, accept, mark_moved };
enum class SubjectKind { sight, mark, setup, point, station, document, other };

/// What a decision is about: a kept fact by id, or a thing by name, or both.
struct Subject {
    SubjectKind kind = SubjectKind::other;
    std::string name;
    std::optional<FactId> fact;

    friend bool operator==(const Subject&, const Subject&) = default;
};

/// Somebody decided something. Set aside and put back name a kept fact; accept names a fact or a
/// name; mark-moved names a mark. Reason and initials are never empty.
struct Decision {
    DecisionKind kind = DecisionKind::set_aside;
    Subject subject;
    std::string reason;
    double time_s = 0.0;    ///< UTC seconds since 1970-01-01: when it was decided
    std::string time_text;  ///< as written, with the site's offset
    std::string initials;
};

/// "set-aside", "put-back", "accept", "mark-moved".
std::string_view to_word(DecisionKind kind);
std::optional<DecisionKind> decision_kind_from_word(std::string_view word);
/// "sight", "mark", "setup", "point", "station", "document", "other".
std::string_view to_word(SubjectKind kind);
std::optional<SubjectKind> subject_kind_from_word(std::string_view word);

/// A fact as kept: its id is in order of recording, `recorded_ms` is when it was booked into a job
/// file (not when it was measured), `writer` the chain it stands in.
template <class T>
struct Kept {
    T value;
    FactId id;
    WriterId writer;
    std::int64_t recorded_ms = 0;
    Source source;
};

/// The moment as of which to read: only facts recorded at or before it count. Empty: all.
using AsOf = std::optional<std::int64_t>;

}  // namespace layproof::job

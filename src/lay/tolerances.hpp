#pragma once
// How far a thing may be off, by standard, edition and clause: the table of tolerances and how an
// element's word finds its row.
//
// The shipped table is tolerances.csv beside this file, gathered for layproof; another text of the
// same columns can take its place. A limit that was not seen in its source says so, and every
// answer carries from_memory_words then. What a point states for itself always wins, and so do the
// contract documents.

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.hpp"
#include "frame/mark.hpp"
#include "lay/formula.hpp"

namespace layproof::lay {

/// What a limit is on.
enum class Binds {
    plan,             ///< radius around the design position
    height,           ///< ± of the design height
    plan_and_height,  ///< both
    spacing,          ///< distance of two points of one group
    group_spacing,    ///< distance of neighbouring group centres
    build_up,         ///< along a line through many groups
    line_offset,      ///< distance from a grid line
    plumb,
    size,  ///< a dimension of the thing, or between axes
    clear_space,
    angle,  ///< degrees instead of millimetres
    sd,     ///< a standard deviation, not a limit
    other,
};

/// kebab-case word of the table and of JSON.
std::string_view to_word(Binds binds);

/// S: in the source itself; S2: in a text that reports it; M: from memory.
enum class Seen { in_source, reported, from_memory };

struct ToleranceRow {
    std::string id;
    std::string element;
    std::string quantity;
    Binds binds = Binds::other;
    std::optional<double> minus_m;  ///< how far below, as a positive length; nothing: no limit
    std::optional<double> plus_m;
    std::string formula;            ///< gives both sides; wins over minus_m and plus_m
    std::string size;               ///< "diameter", "length", "height", "width" or empty
    double above_m = 0.0;           ///< the row holds for sizes above this …
    std::optional<double> up_to_m;  ///< … and up to this
    std::string original_text;
    std::string kind;  ///< "finished": where the built thing may be; "layout"; "practice"
    std::string standard, edition, clause;
    std::string applies_when;
    Seen seen = Seen::from_memory;
    std::string confidence;

    /// "ACI 117 (06/10), 2.3: 1/4 in, rod dia 3/4-7/8 in".
    std::string source_words() const;
};

inline constexpr std::string_view kFromMemoryWords = "from memory: check the contract documents";

struct ToleranceTable {
    std::vector<ToleranceRow> rows;

    const ToleranceRow* find(std::string_view id) const;
};

/// The text of the shipped tolerances.csv.
std::string_view shipped_tolerances_csv();

/// Reads a table: comment lines with #, a header that names the columns, fields parted by commas,
/// no quotes. Error codes: empty_file, column_missing, row_too_short, row_too_long, word_unknown,
/// not_a_number, out_of_range, duplicate_point (an id twice), and what a formula is refused with.
Result<ToleranceTable> parse_tolerances(std::string_view text, const std::string& file);

/// One-dimensional limits: −minus … +plus about the design value. An absent side does not bind.
struct Limits {
    std::optional<double> minus_m;
    std::optional<double> plus_m;
};

/// A row's limits for these sizes. Refuses as `evaluate` when the formula's size is not given.
/// Angles (Binds::angle) are in degrees here as in the table and are refused: out_of_range.
Result<Limits> limits_of(const ToleranceRow& row, const Sizes& sizes = {});

/// Rows that an element's text means: an exact id, several ids ("AR6a + AR5"), else the rows whose
/// element is that word (case does not matter, a plural s and "bolt" for "rod" neither), narrowed
/// by the sizes that are known.
std::vector<const ToleranceRow*> rows_for(const ToleranceTable& table, std::string_view element,
                                          const Sizes& sizes = {});

/// The one row for a kind of limit among rows_for. Nothing when there is none or when several are
/// left; the candidates are then all that could be meant.
struct Lookup {
    const ToleranceRow* row = nullptr;
    std::vector<const ToleranceRow*> candidates;
};
Lookup look_up(const ToleranceTable& table, std::string_view element, Binds binds,
               const Sizes& sizes = {});

/// Where a point's limit comes from.
enum class LimitOrigin { none, point, table, default_value };
std::string_view to_word(LimitOrigin origin);

struct LimitSource {
    LimitOrigin origin = LimitOrigin::none;
    std::string id;     ///< of the table's row
    std::string words;  ///< standard, edition, clause and its text, or "stated for this point"
    bool from_memory = false;
};

/// How far one point may be off.
struct PointTolerance {
    std::optional<double> plan_m;  ///< radius
    Limits height;
    LimitSource plan_source;
    LimitSource height_source;
    /// Why a limit is missing although the element was looked up, and what could be meant.
    std::vector<std::string> notices;

    bool has_height() const { return height.minus_m || height.plus_m; }
};

/// The point's own values, else the table's for its element, else the default radius (the caller's,
/// said to be so). A table's plan limit counts with its smaller side. A formula that lacks its size
/// gives no limit but a notice.
PointTolerance tolerance_of(const frame::DesignPoint& point, const ToleranceTable& table,
                            const Sizes& sizes = {},
                            std::optional<double> default_plan_m = std::nullopt);

}  // namespace layproof::lay

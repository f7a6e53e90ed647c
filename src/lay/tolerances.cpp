#include "lay/tolerances.hpp"

#include <fast_float/fast_float.h>
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <system_error>
#include <utility>

namespace layproof::lay {
namespace {

constexpr double kMetresPerMm = 0.001;

struct BindsEntry {
    Binds binds;
    std::string_view word;
};
constexpr std::array<BindsEntry, 13> kBinds{{
    {Binds::plan, "plan"},
    {Binds::height, "height"},
    {Binds::plan_and_height, "plan-and-height"},
    {Binds::spacing, "spacing"},
    {Binds::group_spacing, "group-spacing"},
    {Binds::build_up, "build-up"},
    {Binds::line_offset, "line-offset"},
    {Binds::plumb, "plumb"},
    {Binds::size, "size"},
    {Binds::clear_space, "clear-space"},
    {Binds::angle, "angle"},
    {Binds::sd, "sd"},
    {Binds::other, "other"},
}};

constexpr std::array<std::string_view, 18> kColumns{
    "id",       "element", "quantity", "binds",        "minus_mm",      "plus_mm",
    "formula",  "size",    "above_m",  "up_to_m",      "original_text", "kind",
    "standard", "edition", "clause",   "applies_when", "seen",          "confidence"};

std::string_view trimmed(std::string_view text) {
    constexpr std::string_view kBlank = " \t\r";
    const auto first = text.find_first_not_of(kBlank);
    if (first == std::string_view::npos) return {};
    return text.substr(first, text.find_last_not_of(kBlank) - first + 1);
}

std::vector<std::string_view> fields_of(std::string_view line) {
    std::vector<std::string_view> fields;
    while (true) {
        const auto comma = line.find(',');
        fields.push_back(trimmed(line.substr(0, comma)));
        if (comma == std::string_view::npos) return fields;
        line.remove_prefix(comma + 1);
    }
}

class TableParser {
public:
    TableParser(std::string_view text, const std::string& file) : text_(text), file_(file) {}

    Result<ToleranceTable> run() {
        while (!text_.empty() && !refusal_) {
            const auto end = text_.find('\n');
            const std::string_view line = trimmed(text_.substr(0, end));
            text_.remove_prefix(end == std::string_view::npos ? text_.size() : end + 1);
            ++line_;
            if (line.empty() || line.front() == '#') continue;
            fields_ = fields_of(line);
            if (header_.empty()) {
                read_header();
            } else {
                read_row();
            }
        }
        if (!refusal_ && header_.empty()) {
            refuse(ErrorCode::empty_file, 0, "no header", "a table of tolerances");
        }
        if (refusal_) return *refusal_;
        return std::move(table_);
    }

private:
    void refuse(ErrorCode code, std::size_t field, std::string found, std::string expected) {
        if (refusal_) return;
        refusal_ = Refusal{code,
                           {file_, line_, static_cast<int>(field) + 1},
                           std::move(found),
                           std::move(expected)};
    }

    void read_header() {
        for (const std::string_view column : kColumns) {
            const auto at = std::find(fields_.begin(), fields_.end(), column);
            if (at == fields_.end()) {
                refuse(ErrorCode::column_missing, 0, "no column " + std::string(column),
                       "all columns of the shipped table");
                return;
            }
            header_.push_back(static_cast<std::size_t>(at - fields_.begin()));
        }
        width_ = fields_.size();
    }

    std::size_t field(std::string_view column) const {
        const auto at = std::find(kColumns.begin(), kColumns.end(), column);
        return header_[static_cast<std::size_t>(at - kColumns.begin())];
    }
    std::string text(std::string_view column) const { return std::string(fields_[field(column)]); }

    std::optional<double> number(std::string_view column, double factor) {
        const std::string_view cell = fields_[field(column)];
        if (cell.empty()) return std::nullopt;
        double value = 0.0;
        const auto [end, error] =
            fast_float::from_chars(cell.data(), cell.data() + cell.size(), value);
        if (error != std::errc{} || end != cell.data() + cell.size() || !std::isfinite(value)) {
            refuse(ErrorCode::not_a_number, field(column), fmt::format("\"{}\"", cell),
                   "a number such as 12.7");
            return std::nullopt;
        }
        if (value < 0.0) {
            refuse(ErrorCode::out_of_range, field(column), fmt::format("\"{}\"", cell),
                   "a length without sign");
            return std::nullopt;
        }
        return value * factor;
    }

    void read_row() {
        if (fields_.size() != width_) {
            refuse(fields_.size() < width_ ? ErrorCode::row_too_short : ErrorCode::row_too_long, 0,
                   fmt::format("{} fields", fields_.size()), fmt::format("{} fields", width_));
            return;
        }
        ToleranceRow row;
        row.id = text("id");
        if (row.id.empty()) refuse(ErrorCode::value_missing, field("id"), "no id", "an id");
        if (table_.find(row.id) != nullptr) {
            refuse(ErrorCode::duplicate_point, field("id"), row.id + " again",
                   "an id of its own for each row");
        }
        row.element = text("element");
        row.quantity = text("quantity");
        const auto* const binds =
            std::find_if(kBinds.begin(), kBinds.end(),
                         [&](const BindsEntry& e) { return e.word == fields_[field("binds")]; });
        if (binds == kBinds.end()) {
            refuse(ErrorCode::word_unknown, field("binds"), "\"" + text("binds") + "\"",
                   "plan, height, spacing or another word of the shipped table");
            return;
        }
        row.binds = binds->binds;
        row.minus_m = number("minus_mm", kMetresPerMm);
        row.plus_m = number("plus_mm", kMetresPerMm);
        row.formula = text("formula");
        row.size = text("size");
        row.above_m = number("above_m", 1.0).value_or(0.0);
        row.up_to_m = number("up_to_m", 1.0);
        row.original_text = text("original_text");
        row.kind = text("kind");
        row.standard = text("standard");
        row.edition = text("edition");
        row.clause = text("clause");
        row.applies_when = text("applies_when");
        const std::string seen = text("seen");
        row.seen = seen == "S"    ? Seen::in_source
                   : seen == "S2" ? Seen::reported
                                  : Seen::from_memory;
        row.confidence = text("confidence");
        if (!row.formula.empty()) {
            // Any sizes will do to see whether the text is a formula at all.
            const auto tried = evaluate(row.formula, {10.0, 10.0, 1.0, {}}, {file_, line_, 0});
            if (!tried && !refusal_) refusal_ = tried.refusal();
        }
        table_.rows.push_back(std::move(row));
    }

    std::string_view text_;
    const std::string& file_;
    int line_ = 0;
    std::size_t width_ = 0;
    std::vector<std::string_view> fields_;
    std::vector<std::size_t> header_;
    ToleranceTable table_;
    std::optional<Refusal> refusal_;
};

/// Lower case, one blank between words, "bolt" as "rod", without a plural s.
std::string folded(std::string_view text) {
    std::string out;
    std::string word;
    const auto finish = [&] {
        if (word.empty()) return;
        if (word.size() > 3 && word.back() == 's' && word[word.size() - 2] != 's') word.pop_back();
        // The trade says both; the table's own "foundation bolt" folds the same way.
        if (word == "bolt") word = "rod";
        if (!out.empty()) out += ' ';
        out += word;
        word.clear();
    };
    for (const char c : text) {
        if (c == ' ' || c == '\t' || c == '-' || c == '_') {
            finish();
        } else {
            word += c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
        }
    }
    finish();
    return out;
}

std::optional<double> size_named(std::string_view name, const Sizes& sizes) {
    if (name == "diameter") return sizes.diameter_m;
    if (name == "length") return sizes.length_m;
    if (name == "height") return sizes.height_m;
    if (name == "width") return sizes.width_m;
    return std::nullopt;
}

bool holds_for(const ToleranceRow& row, const Sizes& sizes) {
    const auto size = size_named(row.size, sizes);
    if (!size) return true;
    return *size > row.above_m && (!row.up_to_m || *size <= *row.up_to_m);
}

bool binds_so(const ToleranceRow& row, Binds binds) {
    if (row.binds == binds) return true;
    return row.binds == Binds::plan_and_height && (binds == Binds::plan || binds == Binds::height);
}

std::vector<const ToleranceRow*> by_ids(const ToleranceTable& table, std::string_view element) {
    std::vector<const ToleranceRow*> rows;
    constexpr std::string_view kBetween = " \t,;+/&";
    while (true) {
        const auto first = element.find_first_not_of(kBetween);
        if (first == std::string_view::npos) return rows;
        element.remove_prefix(first);
        const auto end = std::min(element.find_first_of(kBetween), element.size());
        const ToleranceRow* row = table.find(element.substr(0, end));
        // One word that is no id makes the whole text a description.
        if (row == nullptr) return {};
        if (std::find(rows.begin(), rows.end(), row) == rows.end()) rows.push_back(row);
        element.remove_prefix(end);
    }
}

std::string ids_of(const std::vector<const ToleranceRow*>& rows) {
    std::string text;
    for (const ToleranceRow* row : rows) text += (text.empty() ? "" : ", ") + row->id;
    return text;
}

LimitSource source_of(const ToleranceRow& row) {
    return {LimitOrigin::table, row.id, row.source_words(), row.seen == Seen::from_memory};
}

/// The smaller side of a limit: a radius has only one.
std::optional<double> smaller_side(const Limits& limits) {
    if (limits.minus_m && limits.plus_m) return std::min(*limits.minus_m, *limits.plus_m);
    return limits.minus_m ? limits.minus_m : limits.plus_m;
}

std::optional<Limits> take(const Lookup& lookup, std::string_view element, std::string_view what,
                           const Sizes& sizes, LimitSource& source,
                           std::vector<std::string>& notices) {
    if (lookup.row == nullptr) {
        if (lookup.candidates.size() > 1) {
            notices.push_back(fmt::format(
                "\"{}\" has several {} limits in the table ({}): write one of them as the element.",
                element, what, ids_of(lookup.candidates)));
        }
        return std::nullopt;
    }
    const auto limits = limits_of(*lookup.row, sizes);
    if (!limits) {
        notices.push_back(fmt::format("{} gives no {} limit: found {}, expected {}.",
                                      lookup.row->id, what, limits.refusal().found,
                                      limits.refusal().expected));
        return std::nullopt;
    }
    source = source_of(*lookup.row);
    return *limits;
}

}  // namespace

std::string_view to_word(Binds binds) {
    for (const BindsEntry& entry : kBinds) {
        if (entry.binds == binds) return entry.word;
    }
    return "other";
}

std::string_view to_word(LimitOrigin origin) {
    switch (origin) {
        case LimitOrigin::none:
            return "none";
        case LimitOrigin::point:
            return "point";
        case LimitOrigin::table:
            return "table";
        case LimitOrigin::default_value:
            return "default";
    }
    return "none";
}

std::string ToleranceRow::source_words() const {
    std::string words = standard;
    if (!edition.empty()) words += fmt::format(" ({})", edition);
    if (!clause.empty()) words += fmt::format(", {}", clause);
    const std::string& limit = original_text.empty() ? formula : original_text;
    if (!limit.empty()) words += fmt::format(": {}", limit);
    if (!applies_when.empty()) words += fmt::format(", {}", applies_when);
    if (seen == Seen::from_memory) words += fmt::format(" ({})", kFromMemoryWords);
    return words;
}

const ToleranceRow* ToleranceTable::find(std::string_view id) const {
    for (const ToleranceRow& row : rows) {
        if (row.id == id) return &row;
    }
    return nullptr;
}

Result<ToleranceTable> parse_tolerances(std::string_view text, const std::string& file) {
    return TableParser(text, file).run();
}

Result<Limits> limits_of(const ToleranceRow& row, const Sizes& sizes) {
    if (row.binds == Binds::angle) {
        return Refusal{ErrorCode::out_of_range,
                       {},
                       fmt::format("{}, which limits an angle", row.id),
                       "a limit that is a length"};
    }
    if (row.formula.empty()) return Limits{row.minus_m, row.plus_m};
    const auto value = evaluate(row.formula, sizes);
    if (!value) return value.refusal();
    const double limit_m = *value * kMetresPerMm;
    return Limits{limit_m, limit_m};
}

std::vector<const ToleranceRow*> rows_for(const ToleranceTable& table, std::string_view element,
                                          const Sizes& sizes) {
    auto rows = by_ids(table, element);
    if (!rows.empty()) return rows;
    const std::string wanted = folded(element);
    if (wanted.empty()) return rows;
    for (const ToleranceRow& row : table.rows) {
        if (folded(row.element) == wanted && holds_for(row, sizes)) rows.push_back(&row);
    }
    return rows;
}

Lookup look_up(const ToleranceTable& table, std::string_view element, Binds binds,
               const Sizes& sizes) {
    Lookup out;
    for (const ToleranceRow* row : rows_for(table, element, sizes)) {
        if (binds_so(*row, binds)) out.candidates.push_back(row);
    }
    if (out.candidates.size() == 1) out.row = out.candidates.front();
    return out;
}

PointTolerance tolerance_of(const frame::DesignPoint& point, const ToleranceTable& table,
                            const Sizes& sizes, std::optional<double> default_plan_m) {
    PointTolerance out;
    constexpr std::string_view kStated = "stated for this point";
    if (point.tolerance_plan_m) {
        out.plan_m = point.tolerance_plan_m;
        out.plan_source = {LimitOrigin::point, "", std::string(kStated), false};
    } else if (const auto limits =
                   take(look_up(table, point.element, Binds::plan, sizes), point.element, "plan",
                        sizes, out.plan_source, out.notices)) {
        out.plan_m = smaller_side(*limits);
    }
    if (!out.plan_m && default_plan_m) {
        out.plan_m = default_plan_m;
        out.plan_source = {LimitOrigin::default_value, "", "the limit set for all points", false};
    }
    if (point.tolerance_height_m) {
        out.height = {point.tolerance_height_m, point.tolerance_height_m};
        out.height_source = {LimitOrigin::point, "", std::string(kStated), false};
    } else if (const auto limits =
                   take(look_up(table, point.element, Binds::height, sizes), point.element,
                        "height", sizes, out.height_source, out.notices)) {
        out.height = *limits;
    }
    return out;
}

}  // namespace layproof::lay

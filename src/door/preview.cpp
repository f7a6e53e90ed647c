#include "door/preview.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "acts/shared/describe_shared.hpp"
#include "acts/shared/refusal_json.hpp"
#include "exchange/tables/causes.hpp"
#include "exchange/tables/instrument.hpp"
#include "exchange/tables/table.hpp"
#include "exchange/text/csv.hpp"
#include "exchange/text/text.hpp"

namespace layproof::acts {
namespace {

using exchange::Document;
using exchange::TableSpec;

constexpr std::array<std::string_view, 5> kTables{"sights", "setups", "points", "grid_lines",
                                                  "marks"};

std::string table_of(const std::string& role) {
    return role == "grid" ? "grid_lines" : role;
}

/// A header cell as the readers compare it: without brackets, "east [m]" and "East" alike.
std::string field_name(std::string_view cell) {
    const std::size_t bracket = cell.find('[');
    return exchange::normal_name(exchange::trimmed(cell.substr(0, bracket)));
}

bool is_toml_name(const std::string& name) {
    return exchange::lower(name).ends_with(".toml");
}

struct Rows {
    std::vector<std::string> columns;
    std::vector<std::vector<std::string>> rows;
    int total = 0;
};

/// As far as the text can be read; what is wrong with it is said by the readers.
Rows rows_of(const Document& file) {
    Rows out;
    if (exchange::check_text(file)) return out;
    const std::string_view text = exchange::without_bom(file.bytes);
    exchange::CsvStyle style;
    style.separator = exchange::separator_of(text, style);
    exchange::CsvReader reader(file.name, text, style);
    exchange::CsvRow row;
    bool is_header = true;
    while (true) {
        const auto more = reader.next(row);
        if (!more || !*more) return out;
        if (row.is_comment) continue;
        if (!is_header) ++out.total;
        if (!is_header && out.rows.size() >= Preview::kMostRows) continue;
        std::vector<std::string> cells;
        for (const exchange::CsvField& field : row.fields) cells.emplace_back(field.text);
        if (is_header) {
            out.columns = std::move(cells);
        } else {
            out.rows.push_back(std::move(cells));
        }
        is_header = false;
    }
}

bool names_all(const TableSpec& spec, const std::vector<std::string>& names) {
    const auto has = [&](std::string_view name) {
        return std::find(names.begin(), names.end(), name) != names.end();
    };
    return std::all_of(spec.columns.begin(), spec.columns.end(), [&](const auto& column) {
        if (!column.is_required || has(column.name)) return true;
        const bool can_be_replaced = std::find(spec.replaceable.begin(), spec.replaceable.end(),
                                               column.name) != spec.replaceable.end();
        return can_be_replaced && has(spec.instead);
    });
}

std::string role_of(const std::vector<std::string>& columns) {
    std::vector<std::string> names;
    for (const std::string& column : columns) names.push_back(field_name(column));
    for (const std::string_view table : kTables)
        if (names_all(*exchange::table_spec(table), names))
            return table == "grid_lines" ? "grid" : std::string(table);
    // What was measured between marks: both name two ends and one length.
    const auto has = [&](std::string_view name) {
        return std::find(names.begin(), names.end(), name) != names.end();
    };
    if (has("from") && has("to") && has("distance")) return "tapes";
    if (has("from") && has("to") && has("rise")) return "levels";
    if (has("run") && has("point") && has("backsight") && has("foresight")) return "levels";
    return {};
}

std::string role_of_toml(const Document& file) {
    if (exchange::read_instrument(file)) return "instrument";
    if (exchange::read_causes(file)) return "causes";
    return {};
}

std::vector<PreviewField> fields_of(const TableSpec& spec, const std::vector<std::string>& columns,
                                    const ColumnChoice& map) {
    std::vector<PreviewField> out;
    for (const exchange::ColumnSpec& column : spec.columns) {
        PreviewField field;
        field.field = column.name;
        field.needed = column.is_required;
        field.unit_kind = column.kind == exchange::CellKind::length  ? "length"
                          : column.kind == exchange::CellKind::angle ? "angle"
                                                                     : "none";
        const auto chosen = map.find(field.field);
        for (const std::string& cell : columns) {
            const bool fits = chosen != map.end() ? cell == chosen->second
                                                  : map.empty() && field_name(cell) == field.field;
            if (fits && field.column.empty()) field.column = cell;
        }
        out.push_back(std::move(field));
    }
    return out;
}

/// A text in quotes of TOML, whatever is in it.
std::string toml_text(const std::string& text) {
    std::string out = "\"";
    for (const char c : text) {
        if (c == '"' || c == '\\') {
            out += '\\';
            out += c;
        } else if (static_cast<unsigned char>(c) < 0x20U || c == 0x7F) {
            out += fmt::format("\\u{:04X}", static_cast<unsigned char>(c));
        } else {
            out += c;
        }
    }
    return out + "\"";
}

}  // namespace

std::string guessed_role(const Document& file) {
    if (is_toml_name(file.name)) return role_of_toml(file);
    return role_of(rows_of(file).columns);
}

TakeFile take_file(Document file, const std::string& role, std::optional<measure::LengthUnit> unit,
                   const ColumnChoice& map) {
    TakeFile out;
    if (!map.empty()) {
        std::string toml = fmt::format("table = {}\n\n[columns]\n", toml_text(table_of(role)));
        for (const auto& [field, column] : map)
            toml += fmt::format("{} = {}\n", toml_text(field), toml_text(column));
        out.map = Document{file.name + " columns", std::move(toml)};
    }
    out.document = std::move(file);
    out.role = role;
    out.unit = unit;
    return out;
}

Preview preview_of(const PreviewRequest& request) {
    Preview out;
    out.digest = request.digest;
    out.name = request.file.name;
    const bool is_toml = is_toml_name(request.file.name);
    Rows rows;
    if (!is_toml) rows = rows_of(request.file);
    out.role = !request.role.empty() ? request.role
               : is_toml             ? role_of_toml(request.file)
                                     : role_of(rows.columns);
    out.columns = std::move(rows.columns);
    out.rows = std::move(rows.rows);
    out.rows_total = rows.total;
    if (out.role.empty()) {
        out.refusal = exchange::check_text(request.file);
        if (!out.refusal)
            out.refusal = Refusal{ErrorCode::column_missing,
                                  {request.file.name, 1, 1},
                                  is_toml ? "keys of no file that layproof takes"
                                          : "a header that names none of our tables",
                                  "what the file is, and which of its columns is what"};
        return out;
    }
    if (const TableSpec* spec = exchange::table_spec(table_of(out.role)))
        out.fields = fields_of(*spec, out.columns, request.map);
    const TakeFile plain = take_file(request.file, out.role, {}, request.map);
    const auto without_unit = would_refuse(plain);
    out.needs_unit = without_unit && without_unit->code == ErrorCode::unit_missing;
    TakeFile as_asked = plain;
    as_asked.unit = request.unit;
    out.refusal = request.unit ? would_refuse(as_asked) : without_unit;
    return out;
}

void describe(Fields& f, const PreviewField& field) {
    f.is("PreviewField");
    f.text("field", field.field);
    f.flag("needed", field.needed);
    f.word("unit_kind", field.unit_kind, {"length", "angle", "none"});
    f.text_or_null("column", field.column, "of the file");
}

void describe(Fields& f, const Preview& preview) {
    f.is("PreviewAnswer");
    f.word("act", "preview", {"preview"});
    f.text("digest", preview.digest);
    f.text("name", preview.name);
    f.or_null(!preview.role.empty())
        .word("role", preview.role, kRoleWords, "as asked for, else guessed from the header");
    f.texts("columns", preview.columns);
    f.list(
        "rows", preview.rows, [&](const std::vector<std::string>& row) { f.texts({}, row); },
        "the first eight");
    f.records("fields", preview.fields);
    f.flag("needs_unit", preview.needs_unit);
    f.or_null(preview.refusal.has_value())
        .record("refusal", RefusedRequest{preview.refusal.value_or(Refusal{}), {}},
                "what take would say");
    f.whole("rows_total", preview.rows_total);
}

std::string to_json(const Preview& preview) {
    return json_document(preview);
}

}  // namespace layproof::acts

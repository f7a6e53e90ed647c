#include "exchange/tables/column_map.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <utility>
#include <vector>

#include "exchange/tables/column_specs.hpp"
#include "exchange/text/text.hpp"
#include "exchange/text/toml_text.hpp"

namespace layproof::exchange {
namespace {

constexpr int kMostColumns = 1000;
constexpr int kMostSkippedLines = 100000;

class MapReader {
public:
    MapReader(const Document& document, const toml::table& root)
        : file_(document.name), root_(&root) {
        map_.name = document.name;
    }

    Result<ColumnMap> read() {
        read_table();
        if (!refusal_) read_settings();
        if (!refusal_) read_columns();
        if (!refusal_) read_words();
        if (refusal_) return *std::move(refusal_);
        return std::move(map_);
    }

private:
    void refuse(ErrorCode code, const Place& place, std::string found, std::string expected) {
        if (!refusal_) refusal_ = Refusal{code, place, std::move(found), std::move(expected)};
    }
    void bad(const Place& place, std::string found, std::string expected) {
        refuse(ErrorCode::column_map_bad, place, std::move(found), std::move(expected));
    }
    Place at(const toml::key& key) const { return place_of(file_, key.source()); }

    /// Refuses keys that are not in `known`.
    void check_keys(const toml::table& table, const std::vector<std::string>& known) {
        for (const auto& [key, node] : table) {
            if (std::find(known.begin(), known.end(), key.str()) != known.end()) continue;
            const auto guess = nearest(normal_name(key.str()), known);
            refuse(ErrorCode::key_unknown, at(key), in_quotes(key.str()),
                   guess ? *guess : fmt::format("one of {}", listed(known)));
        }
    }

    void read_table() {
        const auto word = (*root_)["table"].value<std::string>();
        spec_ = word ? table_spec(*word) : nullptr;
        if (spec_ == nullptr) {
            Place place{file_, 0, 0};
            for (const auto& [key, node] : *root_) {
                if (key.str() == "table") place = at(key);
            }
            bad(place, word ? in_quotes(*word) : "no table",
                "table = \"marks\", \"sights\", \"setups\", \"points\" or \"grid_lines\"");
            return;
        }
        map_.table = *word;
    }

    void read_settings() {
        static const std::vector<std::string> kKnown{"table",  "separator", "decimal",
                                                     "header", "comment",   "skip_lines",
                                                     "unit",   "columns",   "words"};
        check_keys(*root_, kKnown);
        for (const auto& [key, node] : *root_) {
            const std::string_view name = key.str();
            const auto text = node.is_string() ? node.value<std::string>() : std::nullopt;
            if (name == "separator") read_separator(text, at(key));
            if (name == "decimal") {
                if (!text || (*text != "," && *text != ".")) {
                    bad(at(key), "a decimal sign that is neither", "decimal = \".\" or \",\"");
                } else {
                    map_.decimal_comma = *text == ",";
                }
            }
            if (name == "comment") {
                if (!text) bad(at(key), "a comment that is no text", "comment = \"#\" or \"\"");
                map_.comment = text.value_or("");
            }
            if (name == "header") {
                if (!node.is_boolean()) bad(at(key), "no yes or no", "header = true or false");
                map_.has_header = node.value<bool>().value_or(true);
            }
            if (name == "skip_lines") {
                map_.skip_lines = read_count(node, at(key), 0, kMostSkippedLines, "skip_lines");
            }
            if (name == "unit") {
                const auto unit = text ? measure::length_unit_from_word(*text) : std::nullopt;
                if (!unit) {
                    refuse(ErrorCode::unit_unknown, at(key), text ? in_quotes(*text) : "no text",
                           std::string(known_units(CellKind::length)));
                }
                map_.unit = unit;
            }
        }
    }

    void read_separator(const std::optional<std::string>& text, const Place& place) {
        if (text == "tab") {
            map_.separator = '\t';
        } else if (text == "space") {
            map_.separator = ' ';
        } else if (text && text->size() == 1 && (*text)[0] > ' ' && (*text)[0] < 0x7F &&
                   std::string_view(",;|:/!~^").find((*text)[0]) != std::string_view::npos) {
            map_.separator = (*text)[0];
        } else {
            bad(place, text ? in_quotes(*text) : "no text",
                "separator = one of , ; | : / ! ~ ^ or \"tab\" or \"space\"");
        }
    }

    int read_count(const toml::node& node, const Place& place, int low, int high,
                   std::string_view what) {
        const auto value = node.is_integer() ? node.value<std::int64_t>() : std::nullopt;
        if (value && *value >= low && *value <= high) return static_cast<int>(*value);
        bad(place, fmt::format("{} that is no such number", what),
            fmt::format("a whole number from {} to {}", low, high));
        return low;
    }

    void read_columns() {
        const toml::table* columns = (*root_)["columns"].as_table();
        if (columns == nullptr || columns->empty()) {
            bad({file_, 0, 0}, "no columns", "a table [columns] with a line for each column");
            return;
        }
        std::vector<std::string> names;
        for (const ColumnSpec& column : spec_->columns) names.emplace_back(column.name);
        for (const auto& [key, node] : *columns) {
            if (std::find(names.begin(), names.end(), key.str()) == names.end()) {
                const auto guess = nearest(normal_name(key.str()), names);
                bad(at(key), fmt::format("the column {}", in_quotes(key.str())),
                    guess ? *guess : fmt::format("one of {}", listed(names)));
                return;
            }
            read_column(key, node);
        }
    }

    void read_column(const toml::key& key, const toml::node& node) {
        MapColumn column;
        column.place = at(key);
        int stated = 0;
        const auto take_from = [&](const toml::node& from, const Place& place) {
            ++stated;
            if (from.is_string()) {
                column.from_name = from.value<std::string>().value_or("");
                if (!map_.has_header || normal_name(column.from_name).empty()) {
                    bad(place, fmt::format("the name {}", in_quotes(column.from_name)),
                        "a column's number, as the file has no such header");
                }
            } else {
                column.from_number = read_count(from, place, 1, kMostColumns, "a column");
            }
        };
        if (const toml::table* table = node.as_table()) {
            check_keys(*table, {"from", "value", "unit"});
            for (const auto& [part, value] : *table) {
                if (part.str() == "from") take_from(value, at(part));
                if (part.str() == "unit") read_unit(key.str(), value, at(part), column);
                if (part.str() == "value") {
                    ++stated;
                    column.value = value_text(value, at(part));
                    column.place = at(part);
                }
            }
        } else {
            take_from(node, column.place);
        }
        if (stated != 1) {
            bad(column.place, fmt::format("{} with {} sources", key.str(), stated),
                "exactly one of from and value");
        }
        map_.columns.emplace(std::string(key.str()), std::move(column));
    }

    void read_unit(std::string_view name, const toml::node& node, const Place& place,
                   MapColumn& column) {
        const CellKind kind = spec_->columns[column_index(*spec_, name)].kind;
        column.unit = node.is_string() ? node.value<std::string>().value_or("") : "";
        if (std::holds_alternative<std::monostate>(unit_from_word(kind, column.unit))) {
            refuse(ErrorCode::unit_unknown, place, in_quotes(column.unit),
                   fmt::format("{} for {}", known_units(kind), name));
        }
    }

    /// A constant as the cell's text would be.
    std::string value_text(const toml::node& node, const Place& place) {
        if (node.is_string()) return node.value<std::string>().value_or("");
        if (node.is_integer()) return fmt::format("{}", node.value<std::int64_t>().value_or(0));
        if (node.is_floating_point()) return fmt::format("{}", node.value<double>().value_or(0.0));
        bad(place, "a value that is neither text nor number", "value = \"control\" or 5.0");
        return {};
    }

    void read_words() {
        if (!root_->contains("words")) return;
        const toml::table* words = (*root_)["words"].as_table();
        if (words == nullptr) {
            bad({file_, 0, 0}, "words that are no table", "tables such as [words.purpose]");
            return;
        }
        for (const auto& [key, node] : *words) {
            const toml::table* table = node.as_table();
            const std::string_view name = key.str();
            const bool is_column = std::any_of(
                spec_->columns.begin(), spec_->columns.end(),
                [&](const ColumnSpec& c) { return c.name == name && c.kind == CellKind::text; });
            if (table == nullptr || !is_column) {
                bad(at(key), fmt::format("words for {}", in_quotes(key.str())),
                    "a table for a column that holds words, such as [words.purpose]");
                return;
            }
            auto& translated = map_.words[std::string(key.str())];
            for (const auto& [word, ours] : *table) {
                const auto text = ours.is_string() ? ours.value<std::string>() : std::nullopt;
                if (!text) bad(at(word), "a word that is no text", "BS = \"control\"");
                translated.emplace(std::string(word.str()), text.value_or(""));
            }
        }
    }

    std::string file_;
    const toml::table* root_;
    const TableSpec* spec_ = nullptr;
    ColumnMap map_;
    std::optional<Refusal> refusal_;
};

}  // namespace

Result<ColumnMap> read_column_map(const Document& document) {
    const auto parsed = parse_toml(document);
    if (!parsed) return parsed.refusal();
    return MapReader(document, *parsed).read();
}

}  // namespace layproof::exchange

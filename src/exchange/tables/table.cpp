#include "exchange/tables/table.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <utility>

#include "base/text/utf8.hpp"
#include "exchange/text/text.hpp"
#include "exchange/text/time.hpp"

namespace layproof::exchange {
namespace {

constexpr int kLongestName = 100;

/// "height [ft]" as "height" and "ft".
std::pair<std::string_view, std::string_view> split_unit(std::string_view cell) {
    const std::size_t open = cell.rfind('[');
    if (cell.empty() || cell.back() != ']' || open == std::string_view::npos) return {cell, {}};
    return {trimmed(cell.substr(0, open)), cell.substr(open + 1, cell.size() - open - 2)};
}

bool has_brackets(std::string_view cell) {
    return split_unit(cell).first.size() != cell.size();
}

std::vector<std::string> cell_words(const CsvRow& row) {
    constexpr std::size_t kMost = 30;
    std::vector<std::string> words;
    for (const CsvField& field : row.fields) {
        if (words.size() == kMost) {
            words.emplace_back("more");
            break;
        }
        words.push_back(in_quotes(field.text));
    }
    return words;
}

std::string column_words(const TableSpec& spec) {
    std::vector<std::string> words;
    for (const ColumnSpec& column : spec.columns) {
        if (column.is_required) words.emplace_back(column.name);
    }
    return listed(words);
}

std::vector<std::string> column_names(const TableSpec& spec) {
    std::vector<std::string> names;
    for (const ColumnSpec& column : spec.columns) names.emplace_back(column.name);
    return names;
}

std::optional<std::size_t> find_column(const TableSpec& spec, std::string_view name) {
    for (std::size_t i = 0; i < spec.columns.size(); ++i) {
        if (spec.columns[i].name == name) return i;
    }
    return std::nullopt;
}

bool digit_stands(std::string_view text, std::size_t i) {
    return i < text.size() && text[i] >= '0' && text[i] <= '9';
}

/// A point or comma next to a digit: a decimal sign, if the cell is a number.
bool has_decimal(std::string_view text, char sign) {
    const std::size_t at = text.find(sign);
    return at != std::string_view::npos &&
           (digit_stands(text, at + 1) || (at > 0 && digit_stands(text, at - 1)));
}

CsvStyle style_of(const Document& document, const ReadOptions& options) {
    CsvStyle style;
    if (options.map != nullptr) {
        style.comment = options.map->comment;
        style.skip_lines = options.map->skip_lines;
    }
    style.separator = options.map != nullptr && options.map->separator
                          ? *options.map->separator
                          : separator_of(without_bom(document.bytes), style);
    return style;
}

}  // namespace

TableReader::TableReader(const Document& document, const TableSpec& spec,
                         const ReadOptions& options, CsvStyle style)
    : document_(&document),
      spec_(&spec),
      map_(options.map),
      default_unit_(options.unit),
      reader_(document.name, document.bytes, style),
      decimal_comma_(style.separator == ';'),
      sources_(spec.columns.size()) {
    if (map_ != nullptr && map_->unit) default_unit_ = map_->unit;
    if (map_ != nullptr && map_->decimal_comma) decimal_comma_ = *map_->decimal_comma;
}

Result<TableReader> TableReader::open(const Document& document, const TableSpec& spec,
                                      const ReadOptions& options) {
    if (auto refusal = check_text(document)) return *std::move(refusal);
    if (options.map != nullptr && options.map->table != spec.table) {
        return Refusal{ErrorCode::column_map_bad,
                       {options.map->name, 0, 0},
                       fmt::format("a column map for {}", options.map->table),
                       fmt::format("one with table = \"{}\"", spec.table)};
    }
    TableReader reader(document, spec, options, style_of(document, options));
    if (auto done = reader.read_header(); !done) return std::move(done).refusal();
    return reader;
}

Result<Done> TableReader::read_header() {
    if (map_ != nullptr && !map_->has_header) return bind_map({});
    CsvRow header;
    do {
        const auto more = reader_.next(header);
        if (!more) return more.refusal();
        if (!*more) {
            return Refusal{ErrorCode::header_missing,
                           {document_->name, 1, 1},
                           "no line that holds columns",
                           fmt::format("a header with the columns {}", column_words(*spec_))};
        }
    } while (header.is_comment);
    field_count_ = header.fields.size();
    auto done = map_ != nullptr ? bind_map(header) : bind_own(header);
    if (done) note_unknown_columns();
    return done;
}

Result<Done> TableReader::bind_own(const CsvRow& header) {
    const auto is_known = [&](const CsvField& field) {
        return find_column(*spec_, normal_name(split_unit(field.text).first)).has_value();
    };
    if (std::none_of(header.fields.begin(), header.fields.end(), is_known)) {
        return Refusal{ErrorCode::header_missing,
                       {document_->name, header.line, header.fields.front().column},
                       in_quotes(header.fields.front().text),
                       fmt::format("a header with the columns {}", column_words(*spec_))};
    }
    for (std::size_t i = 0; i < header.fields.size(); ++i) {
        const CsvField& field = header.fields[i];
        const auto [name, unit] = split_unit(field.text);
        const auto column = find_column(*spec_, normal_name(name));
        const Place place{document_->name, field.line, field.column};
        if (!column) {
            add_extra(field, i);
            continue;
        }
        if (sources_[*column].field >= 0) {
            return Refusal{
                ErrorCode::column_twice, place, in_quotes(field.text),
                fmt::format("the column {} only once; it also stands at column {}",
                            spec_->columns[*column].name, sources_[*column].place.column)};
        }
        sources_[*column].field = static_cast<int>(i);
        sources_[*column].place = place;
        if (!has_brackets(field.text)) continue;
        if (auto done = set_unit(*column, unit, place); !done) return done;
    }
    return check_required(header);
}

Result<Done> TableReader::bind_map(const CsvRow& header) {
    std::vector<bool> is_taken(header.fields.size(), false);
    for (const auto& [name, entry] : map_->columns) {
        const std::size_t column = column_index(*spec_, name);
        Source& source = sources_[column];
        source.place = entry.place;
        if (entry.value) {
            source.constant = entry.value;
        } else if (entry.from_number > 0) {
            const auto number = static_cast<std::size_t>(entry.from_number);
            if (map_->has_header && number > header.fields.size()) {
                return Refusal{ErrorCode::column_map_bad, entry.place,
                               fmt::format("column number {} for {}", number, name),
                               fmt::format("at most {}, the columns of {}", header.fields.size(),
                                           document_->name)};
            }
            source.field = entry.from_number - 1;
            if (!map_->has_header) field_count_ = std::max(field_count_, number);
        } else {
            const std::string wanted = normal_name(entry.from_name);
            for (std::size_t i = 0; i < header.fields.size() && source.field < 0; ++i) {
                const std::string_view cell = header.fields[i].text;
                if (normal_name(cell) == wanted || normal_name(split_unit(cell).first) == wanted) {
                    source.field = static_cast<int>(i);
                }
            }
            if (source.field < 0) {
                return Refusal{
                    ErrorCode::column_map_bad, entry.place,
                    fmt::format("the name {} for {}", in_quotes(entry.from_name), name),
                    fmt::format("a column of {}: {}", document_->name, listed(cell_words(header)))};
            }
        }
        if (!entry.unit.empty()) {
            if (auto done = set_unit(column, entry.unit, entry.place); !done) return done;
        }
        if (source.field < 0 || !map_->has_header) continue;
        const CsvField& cell = header.fields[static_cast<std::size_t>(source.field)];
        is_taken[static_cast<std::size_t>(source.field)] = true;
        source.place = {document_->name, cell.line, cell.column};
        const CellKind kind = spec_->columns[column].kind;
        const bool takes_unit = kind != CellKind::text && kind != CellKind::time;
        if (!entry.unit.empty() || !takes_unit || !has_brackets(cell.text)) continue;
        const auto unit = split_unit(cell.text).second;
        if (auto done = set_unit(column, unit, source.place); !done) return done;
    }
    for (std::size_t i = 0; i < header.fields.size(); ++i) {
        if (!is_taken[i]) add_extra(header.fields[i], i);
    }
    return check_required(header);
}

Result<Done> TableReader::check_required(const CsvRow& header) const {
    const auto is_there = [&](std::size_t i) {
        return sources_[i].field >= 0 || sources_[i].constant.has_value();
    };
    std::vector<std::string> missing;
    for (std::size_t i = 0; i < spec_->columns.size(); ++i) {
        const ColumnSpec& column = spec_->columns[i];
        if (!column.is_required || is_there(i)) continue;
        const bool can_be_replaced = std::find(spec_->replaceable.begin(), spec_->replaceable.end(),
                                               column.name) != spec_->replaceable.end();
        if (can_be_replaced && is_there(column_index(*spec_, spec_->instead))) continue;
        missing.emplace_back(column.name);
    }
    if (missing.empty()) return Done{};
    const std::string expected =
        fmt::format("also the column{} {}", missing.size() > 1 ? "s" : "", listed(missing));
    if (map_ != nullptr) {
        return Refusal{ErrorCode::column_map_bad,
                       {map_->name, 0, 0},
                       "a column map without all columns",
                       expected};
    }
    return Refusal{ErrorCode::column_missing,
                   {document_->name, header.line, header.fields.front().column},
                   fmt::format("the columns {}", listed(cell_words(header))),
                   expected};
}

Result<Done> TableReader::set_unit(std::size_t column, std::string_view word, const Place& place) {
    const ColumnSpec& spec = spec_->columns[column];
    const CellUnit unit = unit_from_word(spec.kind, word);
    if (std::holds_alternative<std::monostate>(unit)) {
        return Refusal{ErrorCode::unit_unknown, place, fmt::format("the unit [{}]", trimmed(word)),
                       fmt::format("{} in column {}", known_units(spec.kind), spec.name)};
    }
    sources_[column].unit = unit;
    return Done{};
}

void TableReader::add_extra(const CsvField& cell, std::size_t field) {
    extras_.push_back({std::string(cell.text), field});
}

void TableReader::note_unknown_columns() {
    if (map_ != nullptr) return;
    const std::vector<std::string> names = column_names(*spec_);
    const bool has_note = find_column(*spec_, "note").has_value();
    for (const Extra& extra : extras_) {
        if (extra.name.empty()) continue;
        const auto guess = nearest(normal_name(split_unit(extra.name).first), names);
        add_notice(fmt::format("The column {} is not one of the {} table; {}{}",
                               in_quotes(extra.name), spec_->table,
                               has_note ? "it is kept as a note." : "it is not used.",
                               guess ? fmt::format(" Is it {}?", *guess) : ""));
    }
}

Result<bool> TableReader::next() {
    while (true) {
        const auto more = reader_.next(row_);
        if (!more || !*more) return more;
        if (!row_.is_comment) break;
        // A mark may be called #5: a comment that looks like a row of data is worth a word.
        if (field_count_ > 2 && row_.fields.size() == field_count_) {
            add_notice(fmt::format("Line {} starts with {} and was skipped as a comment.",
                                   row_.line, map_ != nullptr ? map_->comment : "#"));
        }
    }
    if (row_.fields.size() < field_count_) {
        return Refusal{ErrorCode::row_too_short,
                       {document_->name, row_.end_line, row_.end_column},
                       fmt::format("the end of a row with {} fields", row_.fields.size()),
                       fmt::format("{} fields, as many as the header has", field_count_)};
    }
    const bool has_header = map_ == nullptr || map_->has_header;
    if (has_header && row_.fields.size() > field_count_) {
        const CsvField& field = row_.fields[field_count_];
        return Refusal{ErrorCode::row_too_long,
                       {document_->name, field.line, field.column},
                       fmt::format("field {} of {}: {}", field_count_ + 1, row_.fields.size(),
                                   in_quotes(field.text)),
                       fmt::format("{} fields, as many as the header has; text that holds the "
                                   "separator stands in quotes",
                                   field_count_)};
    }
    return true;
}

std::string_view TableReader::text(std::size_t column) const {
    const Source& source = sources_[column];
    std::string_view found;
    if (source.constant) {
        found = trimmed(*source.constant);
    } else if (source.field >= 0) {
        found = row_.fields[static_cast<std::size_t>(source.field)].text;
    }
    if (map_ == nullptr) return found;
    const auto words = map_->words.find(std::string(spec_->columns[column].name));
    if (words == map_->words.end()) return found;
    const auto word = words->second.find(std::string(found));
    return word == words->second.end() ? found : std::string_view(word->second);
}

Place TableReader::place(std::size_t column) const {
    const Source& source = sources_[column];
    if (source.constant) return source.place;
    if (source.field < 0) return row_place();
    const CsvField& field = row_.fields[static_cast<std::size_t>(source.field)];
    return {document_->name, field.line, field.column};
}

void TableReader::refuse(ErrorCode code, std::size_t column, std::string found,
                         std::string expected) {
    if (refusal_) return;
    refusal_ = Refusal{code, place(column), std::move(found), std::move(expected)};
}

std::optional<double> TableReader::keep(Result<double> result) {
    if (result) return *result;
    if (!refusal_) refusal_ = std::move(result).refusal();
    return std::nullopt;
}

std::string TableReader::name(std::size_t column) {
    const std::string_view found = text(column);
    const std::string_view what = spec_->columns[column].name;
    if (found.empty()) {
        refuse(ErrorCode::value_missing, column, fmt::format("no {}", what), "a name");
    } else if (character_count(found) > kLongestName) {
        refuse(ErrorCode::out_of_range, column, in_quotes(found),
               fmt::format("a name of at most {} characters", kLongestName));
    }
    return std::string(found);
}

std::string TableReader::number_text(std::size_t column) {
    std::string result(text(column));
    if (sources_[column].constant) return result;
    const bool is_single = std::count(result.begin(), result.end(), ',') == 1;
    const bool has_comma = decimal_comma_ && is_single && has_decimal(result, ',');
    const bool has_point = has_decimal(result, '.');
    // A comma and a point in one cell stay as they are: the parser refuses them.
    if (has_comma == has_point) return result;
    const int line = place(column).line;
    int& first = has_comma ? first_comma_line_ : first_point_line_;
    if (first == 0) first = line;
    if (decimal_comma_ && first_comma_line_ > 0 && first_point_line_ > 0) {
        refuse(ErrorCode::not_a_number, column, in_quotes(result),
               fmt::format("a decimal {} as in line {}, all through the file",
                           has_comma ? "point" : "comma",
                           has_comma ? first_point_line_ : first_comma_line_));
    }
    if (has_comma) std::replace(result.begin(), result.end(), ',', '.');
    return result;
}

std::optional<measure::LengthUnit> TableReader::length_unit(std::size_t column) const {
    if (const auto* unit = std::get_if<measure::LengthUnit>(&sources_[column].unit)) return *unit;
    const std::string_view from = spec_->columns[column].unit_from;
    if (!from.empty()) return length_unit(column_index(*spec_, from));
    return default_unit_;
}

std::optional<double> TableReader::length_m(std::size_t column, const Range& range) {
    if (is_blank(column)) return std::nullopt;
    const std::string_view name = spec_->columns[column].name;
    const auto unit = length_unit(column);
    if (!unit) {
        if (refusal_) return std::nullopt;
        // A file without header has no better place to point at than the number itself.
        const Source& source = sources_[column];
        const bool has_header = map_ == nullptr || map_->has_header;
        refusal_ = Refusal{
            ErrorCode::unit_missing, has_header ? source.place : place(column),
            fmt::format("no unit for column {}", name),
            fmt::format("an answer: which unit are the numbers of column {} in? Say so in the {}, "
                        "or with --unit m | ft | us-ft",
                        name,
                        map_ == nullptr ? fmt::format("header, as {} [ft]", name)
                                        : "column map, as unit = \"ft\"")};
        return std::nullopt;
    }
    const auto value = keep(read_length(number_text(column), *unit, place(column)));
    if (!value) return std::nullopt;
    const bool is_inside =
        (range.low_is_inside ? *value >= range.low : *value > range.low) && *value <= range.high;
    if (is_inside) return value;
    refuse(ErrorCode::out_of_range, column,
           fmt::format("{} {}", in_quotes(text(column)), measure::to_word(*unit)),
           std::string(range.what));
    return std::nullopt;
}

double TableReader::needed_length_m(std::size_t column, const Range& range) {
    if (is_blank(column)) {
        refuse(ErrorCode::value_missing, column, fmt::format("no {}", spec_->columns[column].name),
               std::string(range.what));
    }
    return length_m(column, range).value_or(0.0);
}

std::optional<double> TableReader::angle_rad(std::size_t column) {
    if (is_blank(column)) return std::nullopt;
    const auto* format = std::get_if<AngleFormat>(&sources_[column].unit);
    return keep(read_angle(number_text(column), format != nullptr ? *format : AngleFormat::degrees,
                           place(column)));
}

std::optional<double> TableReader::temperature_k(std::size_t column) {
    if (is_blank(column)) return std::nullopt;
    const auto* unit = std::get_if<TemperatureUnit>(&sources_[column].unit);
    if (unit != nullptr) return keep(read_temperature(number_text(column), *unit, place(column)));
    if (!refusal_) {
        refusal_ = Refusal{ErrorCode::unit_missing, sources_[column].place,
                           "no unit for column temperature",
                           "an answer: degrees Celsius or Fahrenheit? Say so in the header, as "
                           "temperature [C] or temperature [F]"};
    }
    return std::nullopt;
}

std::optional<double> TableReader::pressure_hpa(std::size_t column) {
    if (is_blank(column)) return std::nullopt;
    const auto* unit = std::get_if<PressureUnit>(&sources_[column].unit);
    if (unit != nullptr) return keep(read_pressure(number_text(column), *unit, place(column)));
    if (!refusal_) {
        refusal_ =
            Refusal{ErrorCode::unit_missing, sources_[column].place, "no unit for column pressure",
                    "an answer: which unit? Say so in the header, as pressure [hPa] or "
                    "pressure [inHg]"};
    }
    return std::nullopt;
}

std::optional<double> TableReader::time_s(std::size_t column) {
    if (is_blank(column)) return std::nullopt;
    return keep(parse_time(text(column), place(column)));
}

std::string TableReader::note() const {
    std::string result;
    const auto append = [&](std::string_view part) {
        if (!result.empty()) result += "; ";
        result += part;
    };
    if (const auto column = find_column(*spec_, "note"); column && !is_blank(*column)) {
        append(text(*column));
    }
    for (const Extra& extra : extras_) {
        const std::string_view value = row_.fields[extra.field].text;
        if (value.empty()) continue;
        append(fmt::format(
            "{}={}", extra.name.empty() ? fmt::format("column {}", extra.field + 1) : extra.name,
            value));
    }
    return result;
}

std::vector<std::string> TableReader::take_notices() {
    return std::exchange(notices_, {});
}

}  // namespace layproof::exchange

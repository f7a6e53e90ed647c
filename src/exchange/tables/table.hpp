#pragma once
// One of our tables, read row by row: which columns it has, their units, and cells as numbers.
//
// Units: a length column takes the unit in its header's brackets, else that of the column it goes
// with (sd_east goes with east), else the map's, else --unit; with none of these its first value is
// refused with the question (unit_missing). Angles are degrees unless the header says gon.
// Temperatures and pressures must say theirs. Decimal commas are taken when fields are separated by
// semicolons (or the map says so); a file that uses both commas and points is refused, because one
// of them may be a thousands separator.

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.hpp"
#include "exchange/tables/column_map.hpp"
#include "exchange/tables/column_specs.hpp"
#include "exchange/text/csv.hpp"
#include "exchange/text/document.hpp"
#include "exchange/text/units.hpp"

namespace layproof::exchange {

class SiteFrame;

struct ReadOptions {
    std::optional<measure::LengthUnit> unit;  ///< of --unit: for length columns that state none
    const ColumnMap* map = nullptr;
    const SiteFrame* site = nullptr;    ///< GeoJSON becomes its coordinates; refused without it
    bool apply_map_conversion = false;  ///< IFC: map coordinates in place of the model's own
};

/// What a value must lie in; `what` completes "expected".
struct Range {
    double low = 0.0;
    double high = 0.0;
    bool low_is_inside = true;
    std::string_view what;
};

/// Cells are asked for by column number. The first refusal of a row is kept and later ones are
/// dropped, so a reader asks for all its cells and looks at refusal() once.
class TableReader {
public:
    /// Error codes: empty_file, not_utf8, file_too_large, quote_open, header_missing,
    /// column_missing, column_twice, unit_unknown, column_map_bad. `document`, `options.map` and
    /// `spec` must outlive the reader.
    static Result<TableReader> open(const Document& document, const TableSpec& spec,
                                    const ReadOptions& options);

    /// The next row; false at the end. Error codes: row_too_short, row_too_long, quote_open,
    /// file_too_large.
    Result<bool> next();

    bool is_blank(std::size_t column) const { return text(column).empty(); }
    std::string_view text(std::size_t column) const;
    Place place(std::size_t column) const;
    Place row_place() const { return {document_->name, row_.line, 1}; }

    /// A name: value_missing when blank, out_of_range above 100 characters.
    std::string name(std::size_t column);
    /// Nothing when blank, or when refused.
    std::optional<double> length_m(std::size_t column, const Range& range);
    std::optional<double> angle_rad(std::size_t column);
    std::optional<double> temperature_k(std::size_t column);
    std::optional<double> pressure_hpa(std::size_t column);
    std::optional<double> time_s(std::size_t column);
    /// length_m that refuses a blank cell with value_missing.
    double needed_length_m(std::size_t column, const Range& range);

    /// The note column's text with "name=value" of every unknown column that holds something.
    std::string note() const;

    void refuse(ErrorCode code, std::size_t column, std::string found, std::string expected);
    const std::optional<Refusal>& refusal() const { return refusal_; }

    /// The unit that the cells of a length column are in, if anything says so.
    std::optional<measure::LengthUnit> length_unit(std::size_t column) const;

    void add_notice(std::string notice) { notices_.push_back(std::move(notice)); }
    std::vector<std::string> take_notices();

private:
    struct Source {
        int field = -1;  ///< of the row; -1: not there
        std::optional<std::string> constant;
        Place place;  ///< header cell or map entry
        CellUnit unit;
    };
    struct Extra {
        std::string name;
        std::size_t field = 0;
    };

    TableReader(const Document& document, const TableSpec& spec, const ReadOptions& options,
                CsvStyle style);

    Result<Done> read_header();
    Result<Done> bind_own(const CsvRow& header);
    Result<Done> bind_map(const CsvRow& header);
    Result<Done> check_required(const CsvRow& header) const;
    Result<Done> set_unit(std::size_t column, std::string_view word, const Place& place);
    void add_extra(const CsvField& cell, std::size_t field);
    void note_unknown_columns();
    std::string number_text(std::size_t column);
    std::string_view header_word(std::size_t column) const;
    std::optional<double> keep(Result<double> result);

    const Document* document_;
    const TableSpec* spec_;
    const ColumnMap* map_;
    std::optional<measure::LengthUnit> default_unit_;
    CsvReader reader_;
    CsvRow row_;
    bool decimal_comma_ = false;
    std::vector<Source> sources_;
    std::vector<Extra> extras_;
    std::size_t field_count_ = 0;  ///< of the header; without header the highest that the map names
    int first_comma_line_ = 0;
    int first_point_line_ = 0;
    std::optional<Refusal> refusal_;
    std::vector<std::string> notices_;
};

}  // namespace layproof::exchange

#pragma once
// The act "preview": what a file would be taken as, before it is taken.

#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "acts/job/job.hpp"
#include "base/result.hpp"
#include "exchange/text/document.hpp"
#include "measure/length.hpp"

namespace layproof::acts {

class Fields;

/// Our field -> a column of the file, by its header.
using ColumnChoice = std::map<std::string, std::string>;

struct PreviewRequest {
    std::string digest;
    exchange::Document file;
    std::string role;  ///< empty: guessed
    std::optional<measure::LengthUnit> unit;
    ColumnChoice map;
};

struct PreviewField {
    std::string field;
    bool needed = false;
    std::string unit_kind;  ///< "length", "angle", "none"
    std::string column;     ///< of the file; empty: none
};

struct Preview {
    std::string digest;
    std::string name;
    std::string role;  ///< empty: the header names none of ours
    std::vector<std::string> columns;
    std::vector<std::vector<std::string>> rows;  ///< the first kMostRows
    std::vector<PreviewField> fields;            ///< of the role's table
    bool needs_unit = false;                     ///< nothing in the file or map states one
    std::optional<Refusal> refusal;              ///< what take would say
    int rows_total = 0;

    static constexpr std::size_t kMostRows = 8;
};

/// Never refuses: what is wrong with the file is part of the answer.
Preview preview_of(const PreviewRequest& request);

/// The role that the columns of a table, or the keys of a TOML file, name; empty when none.
std::string guessed_role(const exchange::Document& file);

/// A file to be taken, its map written out as the readers take it.
TakeFile take_file(exchange::Document file, const std::string& role,
                   std::optional<measure::LengthUnit> unit, const ColumnChoice& map);

/// The record PreviewAnswer.
std::string to_json(const Preview& preview);
void describe(Fields& f, const Preview& preview);

}  // namespace layproof::acts

#pragma once
// An ISO 10303-21 exchange file (clear text): records by number, read when asked for.
//
// The first pass finds where each record "#12= TYPE(...);" begins and which type it is, passing
// over strings, comments and binaries; nothing else is kept. record() then reads one record's
// values. Strings are UTF-8: '' for a quote, \X2\..\X0\, \X4\..\X0\, \X\hh, \S\c with \PA\ to
// \PI\ (taken as ISO 8859-1), and bytes above 127 taken as UTF-8 or else ISO 8859-1.
//
// Error codes: empty_file, format_unknown (another beginning), not_well_formed, nested_too_deep
// (lists more than 32 deep), file_too_large (more than 20,000,000 records, or a record of more than
// 16 MiB).

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <unordered_map>
#include <vector>

#include "base/result.hpp"
#include "exchange/text/document.hpp"

namespace layproof::exchange {

struct StepValue {
    enum class Kind { missing, derived, number, text, word, reference, list };
    Kind kind = Kind::missing;
    double number = 0.0;
    std::uint64_t reference = 0;
    std::string text;  ///< of a text or a word (.ADDED. without points); type of a typed value
    std::vector<StepValue> list;  ///< of a list; one element of a typed value is put in its place

    bool is_missing() const { return kind == Kind::missing || kind == Kind::derived; }
};

struct StepRecord {
    std::uint64_t id = 0;
    std::string type;  ///< capital letters
    std::vector<StepValue> values;
    int line = 0;

    /// A missing value when the record has fewer.
    const StepValue& at(std::size_t i) const;
    std::optional<double> number(std::size_t i) const;
    std::optional<std::uint64_t> reference(std::size_t i) const;
    std::string text(std::size_t i) const;
    /// The references of a list.
    std::vector<std::uint64_t> references(std::size_t i) const;
    std::vector<double> numbers(std::size_t i) const;
};

class StepFile {
public:
    static Result<StepFile> open(const Document& document);

    const std::string& schema() const { return schema_; }
    std::size_t size() const { return entries_.size(); }
    bool has(std::uint64_t id) const { return find(id) != nullptr; }
    /// Numbers of the records of a type, in the order of the file.
    const std::vector<std::uint64_t>& of_type(std::string_view type) const;
    /// Error codes: reference_missing, and those of the file.
    Result<StepRecord> record(std::uint64_t id) const;
    /// Type of a record; empty when there is none.
    std::string_view type(std::uint64_t id) const;
    Place place(std::uint64_t id) const;

private:
    struct Entry {
        std::uint64_t id;
        std::uint32_t line;
        std::uint32_t type;
        std::size_t begin;  ///< of the type's name
    };

    explicit StepFile(const Document& document) : document_(&document) {}
    const Entry* find(std::uint64_t id) const;
    Result<Done> index();

    const Document* document_;
    std::string schema_;
    std::vector<Entry> entries_;
    std::vector<std::string> type_names_;
    std::unordered_map<std::string_view, std::uint32_t> type_numbers_;
    std::vector<std::vector<std::uint64_t>> by_type_;
};

/// The text between the quotes of a string, as people read it.
std::string step_text(std::string_view raw);

}  // namespace layproof::exchange

#pragma once
// The objects of a PDF as stretches of the text they stand in (ISO 32000-1, 7.2 and 7.3): whatever
// the blanks, comments and spellings of names between them. Nothing is decoded that nobody asks
// for.

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace layproof::paper {

bool is_pdf_blank(char c);
bool is_pdf_delimiter(char c);
/// Behind the string that begins at `at` with "("; nothing when it does not end.
std::optional<std::size_t> end_of_pdf_string(std::string_view text, std::size_t at);

/// Goes through a text, object by object.
class PdfReading {
public:
    explicit PdfReading(std::string_view text, std::size_t at = 0) : text_(text), at_(at) {}

    /// Where it stands: behind what was taken last.
    std::size_t at() const { return at_; }
    /// The next object: a dictionary, array, string, name, number, reference ("12 0 R"), boolean or
    /// null. Nothing, and it stays where it is, when none begins here or it is not whole.
    std::optional<std::string_view> object();
    /// Whether that word comes next; if so it stands behind it.
    bool takes(std::string_view word);
    /// A whole number without a sign, likewise.
    std::optional<std::size_t> number();

private:
    void skip_blanks();
    bool skip_object(int depth);
    std::string_view word_here() const;

    std::string_view text_;
    std::size_t at_ = 0;
};

struct PdfKey {
    std::string_view name;  ///< as it is spelt, with its "/"
    std::string_view value;
};

/// The keys of a dictionary in their order; nothing for anything else.
std::optional<std::vector<PdfKey>> keys_of(std::string_view object);
/// What a dictionary says under "/Key".
std::optional<std::string_view> value_of(std::string_view dictionary, std::string_view key);
/// The elements of an array; an object that is none is its own only element.
std::vector<std::string_view> elements_of(std::string_view object);
/// Whether an object is that name, whatever its spelling ("/P#61ge" is "/Page").
bool is_name(std::string_view object, std::string_view name);
/// The number of the object that "12 0 R" refers to.
std::optional<int> reference_of(std::string_view object);
std::optional<std::size_t> whole_number_of(std::string_view object);
/// A dictionary that says `value` under "/Key", in place of what it said there or as its last key.
std::string with_key(std::string_view dictionary, std::string_view key, std::string_view value);

}  // namespace layproof::paper

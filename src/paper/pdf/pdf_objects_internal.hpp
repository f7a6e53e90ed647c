#pragma once
// The objects of a PDF, to be added to and written anew: what is no stream packed several to a
// stream (ISO 32000-1, 7.5.7), the table as a stream too (7.5.8). Reads one plain table of all
// objects (7.5.4), as Cairo 1.16 writes it; a PDF laid out otherwise is first written plainly by
// qpdf, which takes longer.

#include <cstddef>
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.hpp"

namespace layproof::paper {

/// Packed by Flate, quickly rather than tightly, and back. Throws std::runtime_error for what
/// cannot be unpacked.
std::string packed(std::string_view bytes);
std::string unpacked(std::string_view bytes);

/// A string of ISO 32000-1, 7.9.2.2: of UTF-8 text.
std::string pdf_text(const std::string& text);
/// A name: "/text#2Fcsv".
std::string pdf_name(std::string_view text);

class PdfObjects {
public:
    /// The bytes must outlive the objects. cannot_write, with what was found, when they are no PDF
    /// or hold what is not understood: encryption, objects cut short.
    static Result<PdfObjects> read(std::string_view bytes);

    int root() const { return root_; }
    /// 0: there is none.
    int info() const { return info_; }
    void set_info(int number) { info_ = number; }
    /// Numbers are 1 to count() − 1.
    int count() const { return static_cast<int>(objects_.size()); }
    /// "null" for a number that stands for nothing, as the standard has it; of a stream its
    /// dictionary.
    std::string_view body(int number) const;
    void set_body(int number, std::string body);
    /// What a dictionary says under "/Key"; where that is a reference, the object that it names.
    std::optional<std::string_view> value(int number, std::string_view key) const;
    /// Into a dictionary, in place of what it says under that key: "/F", "4".
    void set_key(int number, std::string_view key, std::string_view value);
    /// The object behind "12 0 R"; any other is itself.
    std::string_view at_end_of(std::string_view object) const;

    int add(std::string body);
    /// `make` gives the bytes as they stand in the file; called while writing, on any thread.
    /// `keys`: of its dictionary besides the length: "/Filter /FlateDecode".
    int add_stream(std::string keys, std::function<std::string()> make);
    void replace_stream(int number, std::string keys, std::function<std::string()> make);
    bool is_stream(int number) const { return at(number).is_stream; }
    /// As they stand in the file.
    std::string_view stream(int number) const;

    std::string write() const;

private:
    struct One {
        std::string_view read;  ///< as it was; of a stream the dictionary
        std::string own;        ///< in its place, unless empty
        std::string_view stream;
        bool is_stream = false;
        bool is_gone = true;
        std::function<std::string()> make;
    };
    One& at(int number) { return objects_[static_cast<std::size_t>(number)]; }
    const One& at(int number) const { return objects_[static_cast<std::size_t>(number)]; }
    static Result<PdfObjects> read_plain(std::string_view bytes);
    std::optional<Refusal> read_table(std::string_view bytes);
    std::optional<Refusal> find_streams(std::string_view bytes);

    std::shared_ptr<const std::string> written_plainly_;  ///< by qpdf, where it had to be
    std::vector<One> objects_;
    std::vector<std::size_t> stream_begin_;  ///< per object while reading; 0: none
    int root_ = 0, info_ = 0;
};

}  // namespace layproof::paper

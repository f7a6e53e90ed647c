#pragma once
// The objects of a PDF as Cairo writes it (a plain table of all objects at its end, lengths of
// streams as objects of their own), to be added to and written anew: what is no stream packed
// several to a stream (ISO 32000-1, 7.5.7), the table as a stream too (7.5.8). Knows just as much
// of the format as that asks for; a PDF from elsewhere is not read.

#include <cstddef>
#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

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
    /// Nothing when the bytes are no such PDF. They must outlive the objects.
    static std::optional<PdfObjects> read(std::string_view plain);

    int root() const { return root_; }
    int info() const { return info_; }
    /// Numbers are 1 to count() − 1.
    int count() const { return static_cast<int>(objects_.size()); }
    std::string_view body(int number) const;
    void set_body(int number, std::string body);
    /// Into a dictionary: " /F 4".
    void add_key(int number, std::string_view key_and_value);
    /// The number behind "/Contents" in "/Contents 12 0 R"; 0: none.
    int reference(int number, std::string_view key) const;

    int add(std::string body);
    /// `make` gives the bytes as they stand in the file; called while writing, on any thread.
    /// `keys`: of its dictionary besides the length: "/Filter /FlateDecode".
    int add_stream(std::string keys, std::function<std::string()> make);
    void replace_stream(int number, std::string keys, std::function<std::string()> make);
    /// As they stand in the file.
    std::string_view stream(int number) const;

    std::string write() const;

private:
    struct One {
        std::string_view read;  ///< as Cairo wrote it
        std::string own;        ///< in its place, unless empty
        std::string_view stream;
        bool is_stream = false;
        bool is_gone = false;
        std::function<std::string()> make;
    };
    One& at(int number) { return objects_[static_cast<std::size_t>(number)]; }
    const One& at(int number) const { return objects_[static_cast<std::size_t>(number)]; }
    bool find_streams();

    std::vector<One> objects_;
    int root_ = 0, info_ = 0;
};

}  // namespace layproof::paper

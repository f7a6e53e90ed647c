#pragma once
// A record as a list of blocks, to be set as PDF (pdf.hpp) or HTML (html.hpp). Plain data: decides
// nothing, knows no unit; every figure comes as the text that is to be read.
//
// Texts may hold any bytes; what is no UTF-8 becomes U+FFFD. Names written from right to left keep
// their own direction inside a line.

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "drawing/picture.hpp"
#include "drawing/svg_plan.hpp"

namespace layproof::paper {

/// Level 1 to 3; levels 1 and 2 stand in the outline. `anchor` is what links name; may be empty.
struct Heading {
    int level = 1;
    std::string text;
    std::string anchor;
    bool new_page = false;
};

enum class Tone { plain, strong, quiet };

struct Paragraph {
    std::string text;
    Tone tone = Tone::plain;
};

/// One entry each; numbered for things to be done in that order.
struct Bullets {
    std::vector<std::string> items;
    bool numbered = false;
};

/// "Instrument height: 5.120 ft", one line each.
struct Pairs {
    struct Entry {
        std::string name;
        std::string value;
        bool is_code = false;  ///< a hash: set in a face of one width, broken anywhere
    };
    std::vector<Entry> entries;
};

/// A verdict in a frame of its own: its word and sign, why, and what comes next.
struct VerdictBox {
    drawing::PlanWord word = drawing::PlanWord::in_doubt;
    std::string headline;
    std::string because;
    std::string next;  ///< may be empty
};

enum class Align { left, right };

struct Column {
    std::string head;
    Align align = Align::left;
    bool wraps = false;  ///< long texts go over several lines instead of widening the column
};

struct Cell {
    std::string text;
    std::optional<drawing::PlanWord> word;  ///< its sign stands before the text
    std::string link;                       ///< anchor of a heading; empty: none
};

struct Row {
    std::vector<Cell> cells;
    std::string under;  ///< a line of its own below the cells
};

/// Heads are repeated on every page; a row is never split over two.
struct Table {
    std::string caption;  ///< what the table shows, one sentence
    std::vector<Column> columns;
    std::vector<Row> rows;
};

struct Drawing {
    drawing::Picture picture;
    std::string words;         ///< the same in words, for who cannot see it
    double most_height = 0.0;  ///< points on paper; 0: as high as a page
};

/// What must not be overlooked.
struct Caution {
    std::string text;
};

using Block = std::variant<Heading, Paragraph, Bullets, Pairs, VerdictBox, Table, Drawing, Caution>;

/// A file carried in the record.
struct Attachment {
    std::string name;
    std::string mime;
    std::string description;
    std::string bytes;
    bool is_source = false;  ///< a file as it was handed over; else data of the record
};

struct Paper {
    std::string title;
    std::string subject;  ///< of the document's properties
    std::string language = "en-US";
    std::string made_by;       ///< program and version
    std::int64_t date_ms = 0;  ///< UTC; no clock is read
    std::string footer;        ///< at the left of every page's foot
    std::string footer_caution;
    bool is_letter = false;  ///< US letter paper, else A4
    std::vector<Block> blocks;
    std::vector<Attachment> attachments;
};

}  // namespace layproof::paper

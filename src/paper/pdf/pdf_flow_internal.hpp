#pragma once
// Pieces of a paper put on pages: first all are measured, then put on pages, then drawn, so that
// every page knows how many there are.

#include <cstdint>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "paper/paper.hpp"
#include "paper/pdf/pdf_text_internal.hpp"

namespace layproof::paper {

struct PageSize {
    double width = 595.28;
    double height = 841.89;
    static constexpr double kSide = 45.0;
    static constexpr double kTop = 45.0;
    static constexpr double kBottom = 62.0;  ///< holds the foot

    double text_width() const { return width - 2.0 * kSide; }
    double text_height() const { return height - kTop - kBottom; }
    static PageSize of(const Paper& paper) {
        return paper.is_letter ? PageSize{612.0, 792.0} : PageSize{};
    }
};

/// Never split over two pages.
struct Piece {
    double before = 0.0;  ///< room above, none at the top of a page
    double height = 0.0;
    bool with_next = false;
    bool new_page = false;
    /// Draws with its upper edge at y; `repeated`: a table's head once more.
    std::function<void(cairo_t* cr, double y, bool repeated)> draw;
    int head = -1;                  ///< the piece that is repeated above this one at a page's top
    std::vector<std::string> open;  ///< tags begun before it
    int close = 0;                  ///< tags ended after it
};

struct OutlineEntry {
    int level = 1;
    std::string text;
    std::string anchor;
};

struct Flow {
    std::vector<Piece> pieces;
    std::vector<OutlineEntry> outline;
    std::vector<std::string> figure_words;  ///< of the drawings, in their order
    std::shared_ptr<void> keeps;            ///< what the pieces point to
};

/// The pieces refer to the paper and the setter, which must outlive them.
Flow flow_of(const Paper& paper, const PageSize& page, TextSetter& text);

struct PlacedPiece {
    std::size_t piece = 0;
    double y = 0.0;
    bool repeated = false;
};
std::vector<std::vector<PlacedPiece>> paginate(const std::vector<Piece>& pieces,
                                               const PageSize& page);

/// The plain PDF, without what Cairo cannot write.
Result<std::string> draw_pages(const Paper& paper, const PageSize& page, const Flow& flow,
                               TextSetter& text);

/// Adds the language, metadata, the colour space meant, descriptions of figures and the attached
/// files.
Result<std::string> finish_pdf(const std::string& plain, const Paper& paper,
                               const std::vector<std::string>& figure_words);

}  // namespace layproof::paper

#include <cairo-pdf.h>
#include <fmt/chrono.h>
#include <fmt/format.h>

#include <array>
#include <memory>

#include "base/text/time.hpp"
#include "drawing/svg_canvas.hpp"
#include "paper/pdf/pdf_flow_internal.hpp"

namespace layproof::paper {
namespace {

struct FreeSurface {
    void operator()(cairo_surface_t* surface) const { cairo_surface_destroy(surface); }
};
struct FreeCairo {
    void operator()(cairo_t* cr) const { cairo_destroy(cr); }
};

cairo_status_t append_bytes(void* closure, const unsigned char* data, unsigned length) {
    static_cast<std::string*>(closure)->append(reinterpret_cast<const char*>(data), length);
    return CAIRO_STATUS_SUCCESS;
}

void draw_foot(cairo_t* cr, const Paper& paper, const PageSize& page, std::size_t number,
               std::size_t count, TextSetter& text) {
    const double top = page.height - PageSize::kBottom + 20.0;
    const double width = page.text_width();
    const auto c = colour_of(drawing::ink::kLine);
    cairo_set_source_rgb(cr, c[0], c[1], c[2]);
    cairo_set_line_width(cr, 0.5);
    cairo_move_to(cr, PageSize::kSide, top - 4.0);
    cairo_line_to(cr, PageSize::kSide + width, top - 4.0);
    cairo_stroke(cr);
    const std::string page_words = fmt::format("Page {} of {}", number, count);
    const double right = text.width(page_words, Face::foot) + 14.0;
    text.draw(cr, PageSize::kSide, top, settable(paper.footer), Face::foot, width - right, 1);
    text.draw(cr, PageSize::kSide, top, page_words, Face::foot, width, 1, Align::right);
    text.draw(cr, PageSize::kSide, top + style_of(Face::foot).leading,
              settable(paper.footer_caution), Face::foot, width, 1);
}

void set_properties(cairo_surface_t* surface, const Paper& paper) {
    const auto set = [&](cairo_pdf_metadata_t what, const std::string& value) {
        if (!value.empty()) cairo_pdf_surface_set_metadata(surface, what, settable(value).c_str());
    };
    set(CAIRO_PDF_METADATA_TITLE, paper.title);
    set(CAIRO_PDF_METADATA_SUBJECT, paper.subject);
    set(CAIRO_PDF_METADATA_CREATOR, paper.made_by);
    // Else Cairo looks at the clock.
    set(CAIRO_PDF_METADATA_CREATE_DATE, instant_to_second(paper.date_ms));
    set(CAIRO_PDF_METADATA_MOD_DATE, instant_to_second(paper.date_ms));
}

}  // namespace

Result<std::string> draw_pages(const Paper& paper, const PageSize& page, const Flow& flow,
                               TextSetter& text) {
    const auto pages = paginate(flow.pieces, page);
    std::string out;
    const std::unique_ptr<cairo_surface_t, FreeSurface> surface(
        cairo_pdf_surface_create_for_stream(append_bytes, &out, page.width, page.height));
    cairo_pdf_surface_restrict_to_version(surface.get(), CAIRO_PDF_VERSION_1_5);
    set_properties(surface.get(), paper);
    const std::unique_ptr<cairo_t, FreeCairo> cr(cairo_create(surface.get()));
    cairo_tag_begin(cr.get(), "Document", nullptr);
    std::vector<std::string> open;
    for (std::size_t n = 0; n < pages.size(); ++n) {
        for (const PlacedPiece& placed : pages[n]) {
            const Piece& piece = flow.pieces[placed.piece];
            if (!placed.repeated) {
                for (const std::string& tag : piece.open) {
                    cairo_tag_begin(cr.get(), tag.c_str(), nullptr);
                    open.push_back(tag);
                }
            }
            piece.draw(cr.get(), placed.y, placed.repeated);
            if (!placed.repeated) {
                for (int k = 0; k < piece.close && !open.empty(); ++k) {
                    cairo_tag_end(cr.get(), open.back().c_str());
                    open.pop_back();
                }
            }
        }
        if (n + 1 == pages.size()) cairo_tag_end(cr.get(), "Document");
        draw_foot(cr.get(), paper, page, n + 1, pages.size(), text);
        cairo_show_page(cr.get());
    }
    std::array<int, 3> parents{CAIRO_PDF_OUTLINE_ROOT, CAIRO_PDF_OUTLINE_ROOT,
                               CAIRO_PDF_OUTLINE_ROOT};
    for (const OutlineEntry& entry : flow.outline) {
        const auto level = static_cast<std::size_t>(entry.level);
        const int id = cairo_pdf_surface_add_outline(
            surface.get(), parents[level - 1], entry.text.c_str(),
            fmt::format("dest='{}'", entry.anchor).c_str(),
            entry.level == 1 ? CAIRO_PDF_OUTLINE_FLAG_OPEN : CAIRO_PDF_OUTLINE_FLAG_BOLD);
        for (std::size_t k = level; k < parents.size(); ++k) parents[k] = id;
    }
    cairo_surface_finish(surface.get());
    for (const cairo_status_t status :
         {cairo_status(cr.get()), cairo_surface_status(surface.get())}) {
        if (status != CAIRO_STATUS_SUCCESS)
            return Refusal{ErrorCode::cannot_write,
                           {"record.pdf", 0, 0},
                           cairo_status_to_string(status),
                           "pages that can be drawn"};
    }
    return out;
}

}  // namespace layproof::paper

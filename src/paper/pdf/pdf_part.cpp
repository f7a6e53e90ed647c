// The part layproof_pdf.so: papers drawn by Cairo and Pango, PDFs finished and read by qpdf.

#include "paper/pdf_part.hpp"
#include "paper/pdf/pdf_contents_internal.hpp"
#include "paper/pdf/pdf_flow_internal.hpp"

namespace {

using namespace layproof;
using namespace layproof::paper;

Result<std::string> write(const Paper& paper) {
    auto text = TextSetter::make();
    if (!text) return text.refusal();
    const PageSize page = PageSize::of(paper);
    const Flow flow = flow_of(paper, page, *text);
    auto plain = draw_pages(paper, page, flow, *text);
    if (!plain) return plain.refusal();
    return finish_pdf(*plain, paper, flow.figure_words);
}

}  // namespace

LAYPROOF_PART_ENTRY const late::Part<internal::PdfPart> layproof_pdf_part;
const late::Part<internal::PdfPart> layproof_pdf_part{late::made_for(),
                                                      {write, attachments_of_pdf, producer_of_pdf}};

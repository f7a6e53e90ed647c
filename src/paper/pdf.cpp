#include "paper/pdf.hpp"

#include "paper/pdf_flow_internal.hpp"

namespace layproof::paper {

Result<std::string> write_pdf(const Paper& paper) {
    auto text = TextSetter::make();
    if (!text) return text.refusal();
    const PageSize page = PageSize::of(paper);
    const Flow flow = flow_of(paper, page, *text);
    auto plain = draw_pages(paper, page, flow, *text);
    if (!plain) return plain.refusal();
    return finish_pdf(*plain, paper, flow.figure_words);
}

}  // namespace layproof::paper

#include "paper/pdf.hpp"

#include "paper/pdf_part.hpp"

namespace layproof::paper {

Result<std::string> write_pdf(const Paper& paper) {
    const auto part = internal::pdf_part();
    return part ? (*part)->write(paper) : part.refusal();
}

}  // namespace layproof::paper

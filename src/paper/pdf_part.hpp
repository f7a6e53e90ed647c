#pragma once
// What the part layproof_pdf.so hands over: all that needs Cairo, Pango and qpdf.

#include <string>
#include <string_view>
#include <vector>

#include "base/result.hpp"
#include "late/part.hpp"
#include "paper/paper.hpp"

namespace layproof::paper::internal {

struct PdfPart {
    Result<std::string> (*write)(const Paper& paper);
    Result<std::vector<Attachment>> (*attachments)(std::string_view bytes);
    std::string (*producer)(std::string_view bytes);
};

inline Result<const PdfPart*> pdf_part() {
    return late::part<PdfPart>("pdf");
}

}  // namespace layproof::paper::internal

#pragma once
// What a PDF of a record says and carries, read by qpdf. As of attachments.hpp.

#include <string>
#include <string_view>
#include <vector>

#include "base/result.hpp"
#include "paper/paper.hpp"

namespace layproof::paper {

Result<std::vector<Attachment>> attachments_of_pdf(std::string_view bytes);
std::string producer_of_pdf(std::string_view bytes);

}  // namespace layproof::paper

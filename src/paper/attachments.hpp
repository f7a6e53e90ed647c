#pragma once
// The files carried in a record, taken out again.

#include <string>
#include <string_view>
#include <vector>

#include "base/result.hpp"
#include "paper/paper.hpp"

namespace layproof::paper {

/// Of a PDF (by its first bytes) or else a page as write_html makes it; in the order of their names
/// (PDF) or of the page. Refuses: format_unknown for anything else, not_well_formed for a damaged
/// one, file_too_large above 512 MiB unpacked.
Result<std::vector<Attachment>> attachments_of(std::string_view bytes);

/// The program, libraries and fonts that drew a record, as it says itself; empty when it does not.
std::string made_with(std::string_view bytes);

}  // namespace layproof::paper

#pragma once
// A paper as a PDF: tagged, with outline, links, embedded fonts, searchable text and the attached
// files, after the rules of PDF/A-3 as far as docs/record.md tells.
//
// The same bytes for the same paper with the same fonts and libraries: no clock, no setting of the
// user or the machine is read. Fonts are those of the system's folder; signs that none of them has
// are shown as boxes with their number.
//
// Cost: 2,000 points on 50 pages about a second.

#include <string>

#include "base/result.hpp"
#include "paper/paper.hpp"

namespace layproof::paper {

/// cannot_read when the fonts are not installed; cannot_write when a library gave up.
Result<std::string> write_pdf(const Paper& paper);

}  // namespace layproof::paper

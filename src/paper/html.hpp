#pragma once
// A paper as one page for a browser: all in one file, no script, nothing asked of a network. Same
// bytes for the same paper. The attached files lie in it as links that can be saved
// (attachments.hpp finds them again). Prints on A4 or letter paper.

#include <string>

#include "paper/paper.hpp"

namespace layproof::paper {

std::string write_html(const Paper& paper);

}  // namespace layproof::paper

#pragma once
// What a page draws outside its tagged content: rules, grounds, frames, feet, heads of tables once
// more. ISO 32000-1, 14.8.2.2: it is marked as an artifact, so that nobody is read a line.

#include <string>
#include <string_view>

namespace layproof::paper {

/// The content of a page with every path, text and picture that stands outside marked content put
/// between /Artifact BMC and EMC. Nothing else is changed. Marks never straddle a text object, nor
/// a graphics state that ends.
std::string with_artifacts(std::string_view content);

}  // namespace layproof::paper

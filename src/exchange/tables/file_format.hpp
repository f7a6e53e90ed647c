#pragma once
// Which format a file is in, told from its first bytes.

#include <string_view>

#include "exchange/text/document.hpp"

namespace layproof::exchange {

enum class FileFormat { delimited, landxml, dxf, dxf_binary, ifc, geojson, other_xml, other_json };

/// By content, from the first bytes; `delimited` for everything that is none of the others.
FileFormat format_of(const Document& document);

/// "LandXML", "DXF", "binary DXF", "IFC", "GeoJSON", "delimited text" …
std::string_view to_word(FileFormat format);

}  // namespace layproof::exchange

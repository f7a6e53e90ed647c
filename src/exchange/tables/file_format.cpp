#include "exchange/tables/file_format.hpp"

#include <algorithm>

#include "exchange/text/text.hpp"

namespace layproof::exchange {
namespace {

constexpr std::string_view kBinaryDxf = "AutoCAD Binary DXF";
constexpr std::size_t kLookBytes = 4096;

bool is_dxf(std::string_view head) {
    // Comments (999) may stand before the first section.
    for (int pair = 0; pair < 16 && !head.empty(); ++pair) {
        const auto line = [&]() -> std::string_view {
            const std::size_t end = std::min(head.find('\n'), head.size());
            const std::string_view text = trimmed(head.substr(0, end));
            head.remove_prefix(std::min(end + 1, head.size()));
            return text;
        };
        const std::string_view code = line();
        const std::string_view value = line();
        if (code == "0") return value == "SECTION" || value == "EOF";
        if (code != "999") return false;
    }
    return false;
}

bool is_geojson(std::string_view head) {
    for (const char* word :
         {"\"FeatureCollection\"", "\"Feature\"", "\"coordinates\"", "\"GeometryCollection\""}) {
        if (head.find(word) != std::string_view::npos) return true;
    }
    return false;
}

}  // namespace

std::string_view to_word(FileFormat format) {
    switch (format) {
        case FileFormat::delimited:
            return "delimited text";
        case FileFormat::landxml:
            return "LandXML";
        case FileFormat::dxf:
            return "DXF";
        case FileFormat::dxf_binary:
            return "binary DXF";
        case FileFormat::ifc:
            return "IFC";
        case FileFormat::geojson:
            return "GeoJSON";
        case FileFormat::other_xml:
            return "XML";
        case FileFormat::other_json:
            break;
    }
    return "JSON";
}

FileFormat format_of(const Document& document) {
    std::string_view head = without_bom(document.bytes);
    head = head.substr(0, kLookBytes);
    if (head.starts_with(kBinaryDxf)) return FileFormat::dxf_binary;
    head = trimmed(head);
    if (head.starts_with("ISO-10303-21")) return FileFormat::ifc;
    if (head.starts_with("<")) {
        return head.find("LandXML") != std::string_view::npos ? FileFormat::landxml
                                                              : FileFormat::other_xml;
    }
    // UTF-16 with a byte order mark, as some Windows programs write XML.
    if (head.size() > 3 && (head.starts_with("\xFF\xFE<") || head.starts_with("\xFE\xFF"))) {
        return FileFormat::landxml;
    }
    if (head.starts_with("{")) {
        return is_geojson(head) ? FileFormat::geojson : FileFormat::other_json;
    }
    if (is_dxf(head)) return FileFormat::dxf;
    return FileFormat::delimited;
}

}  // namespace layproof::exchange

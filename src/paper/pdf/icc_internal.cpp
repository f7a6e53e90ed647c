#include "paper/pdf/icc_internal.hpp"

#include <array>
#include <cmath>
#include <cstdint>
#include <string_view>
#include <utility>
#include <vector>

namespace layproof::paper {
namespace {

void be16(std::string& out, std::uint32_t value) {
    out += static_cast<char>((value >> 8U) & 0xFFU);
    out += static_cast<char>(value & 0xFFU);
}
void be32(std::string& out, std::uint32_t value) {
    be16(out, value >> 16U);
    be16(out, value & 0xFFFFU);
}

/// ICC.1:2001-04, 6.5.26; values in 1/65536.
std::string xyz_tag(std::uint32_t x, std::uint32_t y, std::uint32_t z) {
    std::string out = "XYZ ";
    be32(out, 0);
    for (const std::uint32_t v : {x, y, z}) be32(out, v);
    return out;
}

/// 6.5.17 with an empty Unicode and Macintosh part.
std::string description_tag(std::string_view text) {
    std::string out = "desc";
    be32(out, 0);
    be32(out, static_cast<std::uint32_t>(text.size()) + 1);
    out.append(text);
    out += '\0';
    be32(out, 0);
    be32(out, 0);
    be16(out, 0);
    out += '\0';
    out.append(67, '\0');
    return out;
}

std::string text_tag(std::string_view text) {
    std::string out = "text";
    be32(out, 0);
    out.append(text);
    out += '\0';
    return out;
}

/// IEC 61966-2-1: linear up to 0.04045, then ((v + 0.055) / 1.055)^2.4.
std::string curve_tag() {
    constexpr std::uint32_t kSteps = 1024;
    std::string out = "curv";
    be32(out, 0);
    be32(out, kSteps);
    for (std::uint32_t i = 0; i < kSteps; ++i) {
        const double v = i / (kSteps - 1.0);
        const double linear = v <= 0.04045 ? v / 12.92 : std::pow((v + 0.055) / 1.055, 2.4);
        be16(out, static_cast<std::uint32_t>(std::lround(linear * 65535.0)));
    }
    return out;
}

}  // namespace

std::string srgb_profile() {
    const std::string curve = curve_tag();
    // Primaries of sRGB adapted to D50 by the linear Bradford transform, in 1/65536. From memory;
    // the tests hold their sum against the white of D50.
    const std::vector<std::pair<std::vector<std::string_view>, std::string>> tags{
        {{"desc"}, description_tag("sRGB IEC61966-2.1")},
        {{"cprt"}, text_tag("No copyright, use freely")},
        {{"wtpt"}, xyz_tag(0xF6D6, 0x10000, 0xD32D)},
        {{"rXYZ"}, xyz_tag(0x6FA2, 0x38F5, 0x0390)},
        {{"gXYZ"}, xyz_tag(0x6299, 0xB785, 0x18DA)},
        {{"bXYZ"}, xyz_tag(0x24A0, 0x0F84, 0xB6CF)},
        {{"rTRC", "gTRC", "bTRC"}, curve},
    };
    std::uint32_t count = 0;
    for (const auto& tag : tags) count += static_cast<std::uint32_t>(tag.first.size());
    std::string table;
    std::string data;
    be32(table, count);
    const std::uint32_t start = 128 + 4 + 12 * count;
    for (const auto& [names, bytes] : tags) {
        const auto at = static_cast<std::uint32_t>(data.size());
        for (const std::string_view name : names) {
            table.append(name);
            be32(table, start + at);
            be32(table, static_cast<std::uint32_t>(bytes.size()));
        }
        data += bytes;
        while (data.size() % 4 != 0) data += '\0';
    }
    std::string out;
    be32(out, start + static_cast<std::uint32_t>(data.size()));
    be32(out, 0);           // no particular colour engine
    be32(out, 0x02100000);  // version 2.1
    out += "mntrRGB XYZ ";
    for (const std::uint32_t part : {2000U, 1U, 1U, 0U, 0U, 0U}) be16(out, part);
    out += "acsp";
    out.append(28, '\0');  // platform, flags, maker, model, attributes, intent
    for (const std::uint32_t v : {0xF6D6U, 0x10000U, 0xD32DU}) be32(out, v);
    out.append(48, '\0');
    return out + table + data;
}

}  // namespace layproof::paper

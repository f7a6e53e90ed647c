#pragma once
// A look at SVG text with eyes of its own.

#include <cctype>
#include <regex>
#include <string>
#include <vector>

namespace layproof::drawing {

/// Well-formed as far as our own elements go: tags nest, attributes are quoted and unique, no stray
/// markup in text, only the five entities and character references. Empty when good.
inline std::string fault_in(const std::string& xml) {
    std::vector<std::string> open;
    std::size_t i = 0;
    int roots = 0;
    while (i < xml.size()) {
        if (xml[i] != '<') {
            if (xml[i] == '>' ||
                (open.empty() && !std::isspace(static_cast<unsigned char>(xml[i])))) {
                return "stray text at " + std::to_string(i);
            }
            if (xml[i] == '&') {
                static const std::regex entity("&(amp|lt|gt|quot|#39);.*");
                if (!std::regex_match(xml.substr(i, 6), entity)) {
                    return "bad entity at " + std::to_string(i);
                }
            }
            ++i;
            continue;
        }
        const std::size_t end = xml.find('>', i);
        if (end == std::string::npos) return "tag not closed";
        std::string tag = xml.substr(i + 1, end - i - 1);
        i = end + 1;
        if (tag.find('<') != std::string::npos) return "< inside a tag: " + tag;
        if (tag[0] == '/') {
            if (open.empty() || open.back() != tag.substr(1)) return "closes wrong: " + tag;
            open.pop_back();
            continue;
        }
        const bool single = tag.back() == '/';
        if (single) tag.pop_back();
        const std::string name = tag.substr(0, tag.find(' '));
        std::string rest = tag.substr(name.size());
        static const std::regex attribute("^ +([a-zA-Z][a-zA-Z0-9-]*)=\"([^\"<]*)\"");
        std::vector<std::string> seen;
        std::smatch match;
        while (std::regex_search(rest, match, attribute)) {
            for (const auto& other : seen) {
                if (other == match[1]) return "attribute twice: " + tag;
            }
            seen.push_back(match[1]);
            rest = match.suffix();
        }
        if (rest.find_first_not_of(' ') != std::string::npos) return "bad attributes: " + tag;
        if (open.empty()) ++roots;
        if (!single) open.push_back(name);
    }
    if (!open.empty()) return "not closed: " + open.back();
    return roots == 1 ? "" : "more than one root";
}

}  // namespace layproof::drawing

#include "paper/attachments.hpp"

#include <algorithm>
#include <utility>

#include "base/text/xml.hpp"
#include "paper/base64_internal.hpp"
#include "paper/pdf_part.hpp"

namespace layproof::paper {
namespace {

Refusal no_record(ErrorCode code, std::string found) {
    return {code, {}, std::move(found), "a record as layproof wrote it"};
}

/// Links as HtmlPage::files writes them, behind their heading.
Result<std::vector<Attachment>> of_page(std::string_view page) {
    constexpr std::string_view kBegin = "<ul class=\"files\">";
    constexpr std::string_view kName = "<a download=\"";
    constexpr std::string_view kData = "\" href=\"data:";
    constexpr std::string_view kBase = ";base64,";
    std::vector<Attachment> out;
    std::size_t at = page.rfind(kBegin);
    if (at == std::string_view::npos) return out;
    while ((at = page.find(kName, at)) != std::string_view::npos) {
        const std::size_t name = at + kName.size();
        const std::size_t data = page.find(kData, name);
        const std::size_t base = page.find(kBase, std::min(data, page.size()));
        const std::size_t end = page.find('"', std::min(base, page.size()));
        if (end == std::string_view::npos)
            return no_record(ErrorCode::not_well_formed, "an attached file cut short");
        const std::size_t from = base + kBase.size();
        auto bytes = from_base64(page.substr(from, end - from));
        if (!bytes) return no_record(ErrorCode::not_well_formed, "an attached file not in base64");
        const std::size_t mime = data + kData.size();
        out.push_back({unescape_xml(page.substr(name, data - name)),
                       unescape_xml(page.substr(mime, base - mime)), "", std::move(*bytes), false});
        at = end;
    }
    return out;
}

}  // namespace

Result<std::vector<Attachment>> attachments_of(std::string_view bytes) {
    if (bytes.substr(0, 5) == "%PDF-") {
        const auto part = internal::pdf_part();
        return part ? (*part)->attachments(bytes) : part.refusal();
    }
    if (bytes.substr(0, 15) == "<!DOCTYPE html>") return of_page(bytes);
    return no_record(ErrorCode::format_unknown, "neither a PDF nor a page");
}

std::string made_with(std::string_view bytes) {
    if (bytes.substr(0, 5) == "%PDF-") {
        const auto part = internal::pdf_part();
        return part ? (*part)->producer(bytes) : "";
    }
    constexpr std::string_view kMeta = "<meta name=\"generator\" content=\"";
    const std::size_t at = bytes.find(kMeta);
    if (at == std::string_view::npos) return "";
    const std::size_t from = at + kMeta.size();
    const std::size_t to = bytes.find('"', from);
    return to == std::string_view::npos ? "" : unescape_xml(bytes.substr(from, to - from));
}

}  // namespace layproof::paper

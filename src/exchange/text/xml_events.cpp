#include "exchange/text/xml_events.hpp"

#include "exchange/text/text.hpp"
#include "exchange/text/xml_part.hpp"
#include "late/part.hpp"

namespace layproof::exchange {

std::optional<std::string_view> XmlTag::find(std::string_view attribute) const {
    for (const XmlAttribute& a : attributes) {
        if (a.name == attribute) return a.value;
    }
    return std::nullopt;
}

std::string XmlTag::text(std::string_view attribute) const {
    return std::string(find(attribute).value_or(std::string_view{}));
}

Result<Done> XmlEvents::run(const Document& document) {
    document_ = &document;
    refusal_.reset();
    is_stopped_ = false;
    depth_ = 0;
    text_.clear();
    if (trimmed(without_bom(document.bytes)).empty()) {
        return Refusal{ErrorCode::empty_file, {document.name, 1, 1}, "nothing", "an XML file"};
    }
    const auto part = late::part<internal::XmlPart>("xml");
    if (!part) return part.refusal();
    return (*part)->run(*this);
}

}  // namespace layproof::exchange

// The part layproof_xml.so: libxml2's push parser behind XmlEvents.

#include <libxml/parser.h>
#include <libxml/xmlerror.h>

#include <algorithm>
#include <utility>

#include "base/text/utf8.hpp"
#include "exchange/text/xml_events.hpp"
#include "exchange/text/xml_part.hpp"
#include "late/part.hpp"

namespace layproof::exchange {
namespace {

constexpr std::size_t kChunkBytes = std::size_t{64} << 10U;
constexpr std::size_t kMostAttributes = 256;

std::string_view view(const xmlChar* text) {
    return text == nullptr ? std::string_view{} : reinterpret_cast<const char*>(text);
}

/// libxml2 hands out an ampersand in an attribute as "&#38;" while it replaces no entities.
std::string with_ampersands(std::string_view value) {
    std::string out;
    for (std::size_t i = 0; i < value.size(); ++i) {
        out += value[i];
        if (value.substr(i, 5) == "&#38;") i += 4;
    }
    return out;
}

}  // namespace

/// The functions libxml2 calls. No exception may run through its frames.
struct XmlCallbacks {
    static Result<Done> run(XmlEvents& events);

    static XmlEvents& self(void* user) { return *static_cast<XmlEvents*>(user); }

    template <class Work>
    static void guarded(XmlEvents& events, Work work) noexcept {
        if (events.is_stopped_) return;
        try {
            work();
        } catch (...) {
            events.refusal_ = Refusal{ErrorCode::file_too_large,
                                      {events.document_->name, 1, 1},
                                      "more than fits into memory",
                                      "a smaller file"};
            events.stop();
        }
        // Not in stop() itself: it frees the bytes that the tag being worked on looks at.
        if (events.is_stopped_ && events.parser_ != nullptr) {
            xmlStopParser(static_cast<xmlParserCtxtPtr>(events.parser_));
        }
    }

    static Place place(const XmlEvents& events) {
        const auto* parser = static_cast<xmlParserCtxtPtr>(events.parser_);
        if (parser == nullptr || parser->input == nullptr) return {events.document_->name, 1, 1};
        return {events.document_->name, std::max(1, parser->input->line),
                std::max(1, parser->input->col)};
    }

    /// The tag's beginning: the parser stands behind its last attribute, and "<" is in none. The
    /// bytes that libxml2 holds reach back over the whole tag.
    static void set_place(XmlEvents& events, XmlTag& tag) {
        const Place behind = place(events);
        tag.line = behind.line;
        tag.column = behind.column;
        const auto* input = static_cast<xmlParserCtxtPtr>(events.parser_)->input;
        const xmlChar* at = input->cur;
        int characters = 0;
        while (at > input->base) {
            --at;
            if (*at == '\n') return;  // a tag over several lines: its last line is good enough
            if (!is_continuation(static_cast<char>(*at))) ++characters;
            if (*at == '<') break;
        }
        if (*at == '<') tag.column = std::max(1, tag.column - characters);
    }

    static void start(void* user, const xmlChar* name, const xmlChar*, const xmlChar* space, int,
                      const xmlChar**, int count, int, const xmlChar** attributes) {
        XmlEvents& events = self(user);
        guarded(events, [&] {
            XmlTag& tag = events.tag_;
            tag.name = view(name);
            tag.space = view(space);
            set_place(events, tag);
            tag.attributes.clear();
            events.changed_.clear();
            const auto taken = std::min(static_cast<std::size_t>(count), kMostAttributes);
            events.changed_.reserve(taken);
            for (std::size_t i = 0; i < taken; ++i) {
                const xmlChar** a = attributes + 5 * i;
                std::string_view value(reinterpret_cast<const char*>(a[3]),
                                       static_cast<std::size_t>(a[4] - a[3]));
                if (value.find("&#38;") != std::string_view::npos) {
                    value = events.changed_.emplace_back(with_ampersands(value));
                }
                tag.attributes.push_back({view(a[0]), value});
            }
            if (++events.depth_ > XmlEvents::kDeepest) {
                events.stop({ErrorCode::nested_too_deep,
                             {events.document_->name, tag.line, tag.column},
                             "more than 64 elements inside each other",
                             "a file as programs for surveying write it"});
                return;
            }
            events.text_.clear();
            events.start(tag);
        });
    }

    static void end(void* user, const xmlChar* name, const xmlChar*, const xmlChar*) {
        XmlEvents& events = self(user);
        guarded(events, [&] {
            events.end(view(name), events.text_);
            events.text_.clear();
            --events.depth_;
        });
    }

    static void characters(void* user, const xmlChar* text, int length) {
        XmlEvents& events = self(user);
        guarded(events, [&] {
            const std::size_t room = XmlEvents::kLongestText - events.text_.size();
            events.text_.append(reinterpret_cast<const char*>(text),
                                std::min(room, static_cast<std::size_t>(length)));
        });
    }

    static void declaration(void* user, const xmlChar*, const xmlChar*, const xmlChar*) {
        XmlEvents& events = self(user);
        guarded(events, [&] {
            events.stop({ErrorCode::not_well_formed, place(events),
                         "a document type declaration, which may define entities",
                         "XML without a DOCTYPE"});
        });
    }

    static void error(void* user, xmlErrorPtr error) {
        XmlEvents& events = self(user);
        if (error == nullptr || error->level != XML_ERR_FATAL) return;
        guarded(events, [&] {
            if (events.refusal_) return;
            std::string what = error->message == nullptr ? "broken XML" : error->message;
            while (!what.empty() && (what.back() == '\n' || what.back() == ' ')) what.pop_back();
            if (what.size() > 120) what.resize(120);
            events.refusal_ = Refusal{
                ErrorCode::not_well_formed,
                {events.document_->name, std::max(1, error->line), std::max(1, error->int2)},
                what,
                "well-formed XML"};
        });
    }
};

Result<Done> XmlCallbacks::run(XmlEvents& events) {
    const Document& document = *events.document_;
    static const bool is_ready = [] {
        xmlInitParser();
        return true;
    }();
    xmlSAXHandler handler{};
    handler.initialized = XML_SAX2_MAGIC;
    handler.startElementNs = start;
    handler.endElementNs = end;
    handler.characters = characters;
    handler.internalSubset = declaration;
    handler.serror = reinterpret_cast<xmlStructuredErrorFunc>(error);
    xmlParserCtxtPtr parser =
        is_ready ? xmlCreatePushParserCtxt(&handler, &events, nullptr, 0, nullptr) : nullptr;
    if (parser == nullptr) {
        return Refusal{ErrorCode::file_too_large,
                       {document.name, 1, 1},
                       "no memory for an XML parser",
                       "a machine with some memory left"};
    }
    xmlCtxtUseOptions(parser, XML_PARSE_NONET);
    events.parser_ = parser;
    const std::string_view bytes = document.bytes;
    for (std::size_t at = 0; at < bytes.size() && !events.is_stopped_ && !events.refusal_;
         at += kChunkBytes) {
        const std::string_view chunk = bytes.substr(at, kChunkBytes);
        const bool is_last = at + kChunkBytes >= bytes.size();
        if (xmlParseChunk(parser, chunk.data(), static_cast<int>(chunk.size()), is_last) != 0) {
            break;
        }
    }
    const bool is_sound = parser->wellFormed != 0;
    const Place behind = place(events);
    xmlFreeParserCtxt(parser);
    events.parser_ = nullptr;
    if (events.refusal_) return *events.refusal_;
    if (!events.is_stopped_ && !is_sound) {
        return Refusal{ErrorCode::not_well_formed, behind, "broken XML", "well-formed XML"};
    }
    return Done{};
}

}  // namespace layproof::exchange

LAYPROOF_PART_ENTRY const layproof::late::Part<layproof::exchange::internal::XmlPart>
    layproof_xml_part;
const layproof::late::Part<layproof::exchange::internal::XmlPart> layproof_xml_part{
    layproof::late::made_for(), {layproof::exchange::XmlCallbacks::run}};

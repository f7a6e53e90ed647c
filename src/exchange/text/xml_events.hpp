#pragma once
// XML read as a stream of events, with nothing of it kept, and with the place of each tag in the
// file. Wraps libxml2's push parser: no network, no document type declaration (so no entities but
// the five of XML itself), no more than kDeepest elements inside each other.
//
// The event interface is used in place of the reader one, because it says exactly where a tag
// stands; the reader runs ahead of what it hands out. libxml2 is loaded by the first run.

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "base/result.hpp"
#include "exchange/text/document.hpp"

namespace layproof::exchange {

struct XmlAttribute {
    std::string_view name;  ///< without prefix
    std::string_view value;
};

/// Valid during the event only.
struct XmlTag {
    std::string_view name;  ///< without prefix
    std::string_view space;
    std::vector<XmlAttribute> attributes;
    int line = 0;
    int column = 0;

    /// Nothing when it is not there.
    std::optional<std::string_view> find(std::string_view attribute) const;
    std::string text(std::string_view attribute) const;
};

class XmlEvents {
public:
    static constexpr int kDeepest = 64;
    /// Text that is longer is cut; whoever reads it finds out.
    static constexpr std::size_t kLongestText = 4096;

    XmlEvents() = default;
    XmlEvents(const XmlEvents&) = delete;
    XmlEvents& operator=(const XmlEvents&) = delete;
    virtual ~XmlEvents() = default;

    /// Runs through the document. Error codes: empty_file, not_well_formed (a document type
    /// declaration too), nested_too_deep, cannot_read (libxml2 is not installed with the program:
    /// late/part.hpp), and what stop() was given.
    Result<Done> run(const Document& document);

protected:
    virtual void start(const XmlTag& tag) = 0;
    /// With the text that stood in the element before its first child and after its last.
    virtual void end(std::string_view name, std::string_view text) = 0;

    /// Ends the run with this refusal.
    void stop(Refusal refusal) {
        if (!refusal_) refusal_ = std::move(refusal);
        stop();
    }
    /// Ends the run without one.
    void stop() { is_stopped_ = true; }
    /// Number of open elements; 1 in start() of the root.
    int depth() const { return depth_; }

private:
    friend struct XmlCallbacks;

    const Document* document_ = nullptr;
    void* parser_ = nullptr;
    std::optional<Refusal> refusal_;
    bool is_stopped_ = false;
    int depth_ = 0;
    std::string text_;
    XmlTag tag_;
    std::vector<std::string> changed_;
};

}  // namespace layproof::exchange

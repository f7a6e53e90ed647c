#include "paper/attachments.hpp"

#include <fmt/format.h>

#include <exception>
#include <memory>
#define POINTERHOLDER_TRANSITION 4  // qpdf: std::shared_ptr only
#include <qpdf/Buffer.hh>
#include <qpdf/QPDF.hh>
#include <qpdf/QPDFEFStreamObjectHelper.hh>
#include <qpdf/QPDFEmbeddedFileDocumentHelper.hh>
#include <qpdf/QPDFFileSpecObjectHelper.hh>

#include "base/text/xml.hpp"
#include "paper/base64_internal.hpp"

namespace layproof::paper {
namespace {

constexpr std::size_t kMostUnpacked = std::size_t{512} << 20U;

Refusal no_record(ErrorCode code, std::string found) {
    return {code, {}, std::move(found), "a record as layproof wrote it"};
}

Result<std::vector<Attachment>> of_pdf(std::string_view bytes) {
    try {
        QPDF pdf;
        pdf.setSuppressWarnings(true);
        pdf.setAttemptRecovery(false);
        pdf.processMemoryFile("record", bytes.data(), bytes.size());
        std::vector<Attachment> out;
        std::size_t total = 0;
        QPDFEmbeddedFileDocumentHelper files(pdf);
        for (const auto& [name, spec] : files.getEmbeddedFiles()) {
            QPDFEFStreamObjectHelper stream(spec->getEmbeddedFileStream());
            const std::shared_ptr<Buffer> data = stream.getObjectHandle().getStreamData();
            total += data->getSize();
            if (total > kMostUnpacked)
                return no_record(ErrorCode::file_too_large, "more than 512 MiB of attached files");
            out.push_back(
                {name, stream.getSubtype(), spec->getDescription(),
                 std::string(reinterpret_cast<const char*>(data->getBuffer()), data->getSize()),
                 false});
        }
        return out;
    } catch (const std::exception& error) {
        return no_record(ErrorCode::not_well_formed, error.what());
    }
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
    if (bytes.substr(0, 5) == "%PDF-") return of_pdf(bytes);
    if (bytes.substr(0, 15) == "<!DOCTYPE html>") return of_page(bytes);
    return no_record(ErrorCode::format_unknown, "neither a PDF nor a page");
}

std::string made_with(std::string_view bytes) {
    if (bytes.substr(0, 5) == "%PDF-") {
        try {
            QPDF pdf;
            pdf.setSuppressWarnings(true);
            pdf.setAttemptRecovery(false);
            pdf.processMemoryFile("record", bytes.data(), bytes.size());
            QPDFObjectHandle info = pdf.getTrailer().getKey("/Info");
            if (!info.isDictionary()) return "";
            QPDFObjectHandle producer = info.getKey("/Producer");
            return producer.isString() ? producer.getUTF8Value() : "";
        } catch (const std::exception&) {
            return "";
        }
    }
    constexpr std::string_view kMeta = "<meta name=\"generator\" content=\"";
    const std::size_t at = bytes.find(kMeta);
    if (at == std::string_view::npos) return "";
    const std::size_t from = at + kMeta.size();
    const std::size_t to = bytes.find('"', from);
    return to == std::string_view::npos ? "" : unescape_xml(bytes.substr(from, to - from));
}

}  // namespace layproof::paper

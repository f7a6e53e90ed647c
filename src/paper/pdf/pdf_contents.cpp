#include <exception>
#include <memory>
#define POINTERHOLDER_TRANSITION 4  // qpdf: std::shared_ptr only
#include <qpdf/Buffer.hh>
#include <qpdf/QPDF.hh>
#include <qpdf/QPDFEFStreamObjectHelper.hh>
#include <qpdf/QPDFEmbeddedFileDocumentHelper.hh>
#include <qpdf/QPDFFileSpecObjectHelper.hh>

#include "paper/pdf/pdf_contents_internal.hpp"

namespace layproof::paper {
namespace {

constexpr std::size_t kMostUnpacked = std::size_t{512} << 20U;

Refusal no_record(ErrorCode code, std::string found) {
    return {code, {}, std::move(found), "a record as layproof wrote it"};
}

}  // namespace

Result<std::vector<Attachment>> attachments_of_pdf(std::string_view bytes) {
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

std::string producer_of_pdf(std::string_view bytes) {
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

}  // namespace layproof::paper

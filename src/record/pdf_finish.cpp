// What Cairo 1.16 cannot write: document language, XMP metadata, the output intent, alternative
// texts, scopes of table heads, attached files. ISO 19005-3 names what is asked for.

#include <fmt/format.h>

#include <algorithm>
#include <cstdlib>
#include <exception>
#include <memory>
#define POINTERHOLDER_TRANSITION 4  // qpdf: std::shared_ptr only
#include <qpdf/Buffer.hh>
#include <qpdf/Pl_Flate.hh>
#include <qpdf/QPDF.hh>
#include <qpdf/QPDFEFStreamObjectHelper.hh>
#include <qpdf/QPDFEmbeddedFileDocumentHelper.hh>
#include <qpdf/QPDFFileSpecObjectHelper.hh>
#include <qpdf/QPDFWriter.hh>

#include "record/icc_internal.hpp"
#include "record/pdf_flow_internal.hpp"
#include "record/xml_text.hpp"

namespace layproof::record {
namespace {

using Object = QPDFObjectHandle;

/// "D:20310515123000Z" of "2031-05-15T12:30:00Z".
std::string pdf_date(const std::string& iso) {
    std::string out = "D:";
    for (const char c : iso)
        if (c >= '0' && c <= '9') out += c;
    return out + "Z";
}

std::string producer_words(const Paper& paper) {
    return paper.made_by + "; " + drawn_with();
}

std::string xmp_packet(const Paper& paper, const std::string& iso) {
    const auto text = [](const std::string& value) { return escape_xml(settable(value)); };
    return fmt::format(
        "<?xpacket begin=\"\xEF\xBB\xBF\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n"
        "<x:xmpmeta xmlns:x=\"adobe:ns:meta/\">\n"
        "<rdf:RDF xmlns:rdf=\"http://www.w3.org/1999/02/22-rdf-syntax-ns#\">\n"
        "<rdf:Description rdf:about=\"\" xmlns:pdfaid=\"http://www.aiim.org/pdfa/ns/id/\" "
        "xmlns:dc=\"http://purl.org/dc/elements/1.1/\" "
        "xmlns:xmp=\"http://ns.adobe.com/xap/1.0/\" xmlns:pdf=\"http://ns.adobe.com/pdf/1.3/\">\n"
        "<pdfaid:part>3</pdfaid:part>\n<pdfaid:conformance>B</pdfaid:conformance>\n"
        "<dc:format>application/pdf</dc:format>\n"
        "<dc:title><rdf:Alt><rdf:li xml:lang=\"x-default\">{}</rdf:li></rdf:Alt></dc:title>\n"
        "<dc:description><rdf:Alt><rdf:li xml:lang=\"x-default\">{}</rdf:li></rdf:Alt>"
        "</dc:description>\n"
        "<dc:language><rdf:Bag><rdf:li>{}</rdf:li></rdf:Bag></dc:language>\n"
        "<xmp:CreatorTool>{}</xmp:CreatorTool>\n"
        "<xmp:CreateDate>{}</xmp:CreateDate>\n<xmp:ModifyDate>{}</xmp:ModifyDate>\n"
        "<pdf:Producer>{}</pdf:Producer>\n"
        "</rdf:Description>\n</rdf:RDF>\n</x:xmpmeta>\n<?xpacket end=\"r\"?>\n",
        text(paper.title), text(paper.subject), text(paper.language), text(paper.made_by), iso, iso,
        text(producer_words(paper)));
}

/// Gives figures their words and table heads their scope, in the order of the structure.
class StructureWords {
public:
    explicit StructureWords(const std::vector<std::string>& figures) : figures_(figures) {}

    void visit(Object node, int depth = 0) {
        constexpr int kDeepest = 64;
        if (depth > kDeepest) return;
        if (node.isArray()) {
            for (int i = 0; i < node.getArrayNItems(); ++i) visit(node.getArrayItem(i), depth + 1);
            return;
        }
        if (!node.isDictionary()) return;
        Object kind = node.getKey("/S");
        if (kind.isName()) {
            const std::string name = kind.getName();
            if (name == "/Figure" && next_ < figures_.size())
                node.replaceKey("/Alt", Object::newUnicodeString(figures_[next_++]));
            if (name == "/TH")
                node.replaceKey("/A", Object::parse("<< /O /Table /Scope /Column >>"));
        }
        if (node.hasKey("/K")) visit(node.getKey("/K"), depth + 1);
    }

private:
    const std::vector<std::string>& figures_;
    std::size_t next_ = 0;
};

void attach(QPDF& pdf, const Paper& paper, const std::string& date) {
    Object list = Object::newArray();
    QPDFEmbeddedFileDocumentHelper files(pdf);
    for (const Attachment& one : paper.attachments) {
        auto stream = QPDFEFStreamObjectHelper::createEFStream(pdf, one.bytes);
        stream.setSubtype(one.mime).setCreationDate(date).setModDate(date);
        auto spec = QPDFFileSpecObjectHelper::createFileSpec(pdf, one.name, stream);
        spec.setDescription(one.description);
        Object handle = spec.getObjectHandle();
        handle.replaceKey("/AFRelationship", Object::newName(one.is_source ? "/Source" : "/Data"));
        files.replaceEmbeddedFile(one.name, spec);
        list.appendItem(handle);
    }
    if (!paper.attachments.empty()) pdf.getRoot().replaceKey("/AF", pdf.makeIndirectObject(list));
}

void describe(QPDF& pdf, const Paper& paper) {
    const std::string iso = iso_instant(paper.date_ms);
    const std::string date = pdf_date(iso);
    Object root = pdf.getRoot();
    root.replaceKey("/Lang", Object::newUnicodeString(paper.language));
    root.replaceKey("/MarkInfo", Object::parse("<< /Marked true >>"));
    root.replaceKey("/ViewerPreferences", Object::parse("<< /DisplayDocTitle true >>"));
    root.replaceKey("/PageMode", Object::newName("/UseOutlines"));

    Object metadata = Object::newStream(&pdf, xmp_packet(paper, iso));
    metadata.getDict().replaceKey("/Type", Object::newName("/Metadata"));
    metadata.getDict().replaceKey("/Subtype", Object::newName("/XML"));
    root.replaceKey("/Metadata", pdf.makeIndirectObject(metadata));

    Object profile = Object::newStream(&pdf, srgb_profile());
    profile.getDict().replaceKey("/N", Object::newInteger(3));
    Object intent = Object::parse(
        "<< /Type /OutputIntent /S /GTS_PDFA1 /OutputConditionIdentifier (sRGB IEC61966-2.1) "
        "/Info (sRGB IEC61966-2.1) >>");
    intent.replaceKey("/DestOutputProfile", pdf.makeIndirectObject(profile));
    Object intents = Object::newArray();
    intents.appendItem(pdf.makeIndirectObject(intent));
    root.replaceKey("/OutputIntents", intents);

    // The properties say what the metadata say, and nothing else.
    Object info = Object::newDictionary();
    const auto say = [&](const char* key, const std::string& value) {
        if (!value.empty()) info.replaceKey(key, Object::newUnicodeString(settable(value)));
    };
    say("/Title", paper.title);
    say("/Subject", paper.subject);
    say("/Creator", paper.made_by);
    say("/Producer", producer_words(paper));
    info.replaceKey("/CreationDate", Object::newString(date));
    info.replaceKey("/ModDate", Object::newString(date));
    pdf.getTrailer().replaceKey("/Info", pdf.makeIndirectObject(info));
    attach(pdf, paper, date);
}

}  // namespace

Result<std::string> finish_pdf(const std::string& plain, const Paper& paper,
                               const std::vector<std::string>& figure_words) {
    try {
        QPDF pdf;
        pdf.setSuppressWarnings(true);
        pdf.processMemoryFile("record.pdf", plain.data(), plain.size());
        describe(pdf, paper);
        Object tree = pdf.getRoot().getKey("/StructTreeRoot");
        if (tree.isDictionary()) {
            StructureWords words(figure_words);
            words.visit(tree.getKey("/K"));
        }
        // Twice as quick as the usual level, a tenth larger.
        Pl_Flate::setCompressionLevel(1);
        QPDFWriter writer(pdf);
        writer.setOutputMemory();
        writer.setMinimumPDFVersion("1.7");
        writer.setObjectStreamMode(qpdf_o_generate);
        writer.setDeterministicID(true);
        writer.write();
        const std::shared_ptr<Buffer> out = writer.getBufferSharedPointer();
        return std::string(reinterpret_cast<const char*>(out->getBuffer()), out->getSize());
    } catch (const std::exception& error) {
        return Refusal{ErrorCode::cannot_write,
                       {"record.pdf", 0, 0},
                       error.what(),
                       "a PDF that can be finished"};
    }
}

}  // namespace layproof::record

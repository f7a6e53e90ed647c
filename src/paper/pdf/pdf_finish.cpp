// What Cairo 1.16 cannot write: document language, XMP metadata, the output intent, alternative
// texts, scopes of table heads, attached files, marks of what is no content, flags of links. ISO
// 19005-3 names what is asked for.

#include <fmt/format.h>

#include <algorithm>
#include <exception>
#include <utility>
#include <vector>

#include "base/text/time.hpp"
#include "base/text/xml.hpp"
#include "paper/pdf/icc_internal.hpp"
#include "paper/pdf/pdf_artifacts_internal.hpp"
#include "paper/pdf/pdf_flow_internal.hpp"
#include "paper/pdf/pdf_objects_internal.hpp"

namespace layproof::paper {
namespace {

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

std::string reference_to(int number) {
    return fmt::format("{} 0 R", number);
}

/// What Cairo's objects lack: words of figures, scopes of table heads, flags of links (ISO 19005-3,
/// 6.3.2: an annotation says that it is printed), marks in what pages draw.
void complete(PdfObjects& pdf, const std::vector<std::string>& figures) {
    std::size_t next = 0;
    const int count = pdf.count();
    for (int i = 1; i < count; ++i) {
        const std::string_view body = pdf.body(i);
        if (body.starts_with("<< /Type /StructElem\n")) {
            // Their numbers rise in the order in which they were begun.
            const std::string_view kind = body.substr(21, 16);
            if (kind.starts_with("   /S /Figure\n") && next < figures.size())
                pdf.add_key(i, "/Alt " + pdf_text(figures[next++]));
            else if (kind.starts_with("   /S /TH\n"))
                pdf.add_key(i, "/A << /O /Table /Scope /Column >>");
        } else if (body.starts_with("<< /Type /Annot\n")) {
            pdf.add_key(i, "/F 4");
        } else if (body.starts_with("<< /Type /Page ")) {
            const int content = pdf.reference(i, "/Contents");
            if (content == 0) continue;
            const bool is_packed = pdf.body(content).find("/FlateDecode") != std::string_view::npos;
            const std::string_view bytes = pdf.stream(content);
            pdf.replace_stream(content, "/Filter /FlateDecode", [bytes, is_packed] {
                return packed(is_packed ? with_artifacts(unpacked(bytes)) : with_artifacts(bytes));
            });
        }
    }
}

void attach(PdfObjects& pdf, const Paper& paper, const std::string& date) {
    if (paper.attachments.empty()) return;
    std::vector<std::pair<std::string, int>> files;
    std::string list;
    for (const Attachment& one : paper.attachments) {
        const int stream = pdf.add_stream(
            fmt::format("/Type /EmbeddedFile /Subtype {} /Params << /Size {} /CreationDate ({}) "
                        "/ModDate ({}) >> /Filter /FlateDecode",
                        pdf_name(one.mime), one.bytes.size(), date, date),
            [&one] { return packed(one.bytes); });
        const std::string name = pdf_text(one.name);
        const int file =
            pdf.add(fmt::format("<< /Type /Filespec /F {0} /UF {0} /Desc {1} /AFRelationship {2} "
                                "/EF << /F {3} /UF {3} >> >>",
                                name, pdf_text(one.description),
                                one.is_source ? "/Source" : "/Data", reference_to(stream)));
        files.emplace_back(one.name, file);
        list += reference_to(file) + " ";
    }
    // A name tree is in the order of its names.
    std::sort(files.begin(), files.end());
    std::string names = "/EmbeddedFiles << /Names [ ";
    for (const auto& [name, file] : files) names += pdf_text(name) + " " + reference_to(file) + " ";
    names += "] >>";
    if (const int all = pdf.reference(pdf.root(), "/Names"); all != 0)
        pdf.add_key(all, names);
    else
        pdf.add_key(pdf.root(), "/Names << " + names + " >>");
    pdf.add_key(pdf.root(), "/AF [ " + list + "]");
}

void describe(PdfObjects& pdf, const Paper& paper) {
    const std::string iso = instant_to_second(paper.date_ms);
    const std::string date = pdf_date(iso);
    const int metadata = pdf.add_stream("/Type /Metadata /Subtype /XML",
                                        [packet = xmp_packet(paper, iso)] { return packet; });
    const int profile =
        pdf.add_stream("/N 3 /Filter /FlateDecode", [] { return packed(srgb_profile()); });
    std::string keys = fmt::format(
        "/Lang {} /ViewerPreferences << /DisplayDocTitle true >> /PageMode /UseOutlines "
        "/Metadata {} /OutputIntents [ << /Type /OutputIntent /S /GTS_PDFA1 "
        "/OutputConditionIdentifier (sRGB IEC61966-2.1) /Info (sRGB IEC61966-2.1) "
        "/DestOutputProfile {} >> ]",
        pdf_text(paper.language), reference_to(metadata), reference_to(profile));
    if (pdf.body(pdf.root()).find("/MarkInfo") == std::string_view::npos)
        keys += " /MarkInfo << /Marked true >>";
    pdf.add_key(pdf.root(), keys);

    // The properties say what the metadata say, and nothing else.
    std::string info = "<< ";
    const auto say = [&](const char* key, const std::string& value) {
        if (!value.empty()) info += fmt::format("{} {} ", key, pdf_text(value));
    };
    say("/Title", paper.title);
    say("/Subject", paper.subject);
    say("/Creator", paper.made_by);
    say("/Producer", producer_words(paper));
    info += fmt::format("/CreationDate ({0}) /ModDate ({0}) >>", date);
    pdf.set_body(pdf.info(), std::move(info));
    attach(pdf, paper, date);
}

}  // namespace

Result<std::string> finish_pdf(const std::string& plain, const Paper& paper,
                               const std::vector<std::string>& figure_words) {
    const auto refused = [](const std::string& why) {
        return Refusal{
            ErrorCode::cannot_write, {"record.pdf", 0, 0}, why, "a PDF that can be finished"};
    };
    auto pdf = PdfObjects::read(plain);
    if (!pdf) return refused("pages in another form than Cairo's");
    try {
        complete(*pdf, figure_words);
        describe(*pdf, paper);
        return pdf->write();
    } catch (const std::exception& error) {
        return refused(error.what());
    }
}

}  // namespace layproof::paper

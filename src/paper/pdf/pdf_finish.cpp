// What Cairo does not write: document language, XMP metadata, the output intent, alternative
// texts, scopes of table heads, attached files, marks of what is no content, flags of links. ISO
// 19005-3 names what is asked for.

#include <cairo.h>
#include <fmt/format.h>

#include <algorithm>
#include <exception>
#include <optional>
#include <stdexcept>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "base/text/time.hpp"
#include "base/text/xml.hpp"
#include "paper/pdf/icc_internal.hpp"
#include "paper/pdf/pdf_artifacts_internal.hpp"
#include "paper/pdf/pdf_flow_internal.hpp"
#include "paper/pdf/pdf_objects_internal.hpp"
#include "paper/pdf/pdf_syntax_internal.hpp"

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

/// Of the object trees below `top` those that have the key `kind`, in the order in which they are
/// read; children stand under `below`.
std::vector<int> tree_of(const PdfObjects& pdf, std::string_view top, std::string_view kind,
                         std::string_view below) {
    std::vector<int> out;
    std::vector<char> seen(static_cast<std::size_t>(pdf.count()), 0);
    std::vector<std::string_view> open{top};
    while (!open.empty()) {
        const std::string_view object = open.back();
        open.pop_back();
        const auto number = reference_of(object);
        if (number) {
            if (*number <= 0 || *number >= pdf.count() || seen[static_cast<std::size_t>(*number)])
                continue;
            seen[static_cast<std::size_t>(*number)] = 1;
        }
        const std::string_view body = pdf.at_end_of(object);
        std::optional<std::string_view> children;
        if (body.starts_with("[")) {
            children = body;
        } else if (const auto keys = keys_of(body)) {
            bool is_kind = false;
            for (const PdfKey& key : *keys) {
                is_kind = is_kind || is_name(key.name, kind);
                if (is_name(key.name, below)) children = key.value;
            }
            if (is_kind && !number)
                throw std::runtime_error("an object of a tree that has no number of its own");
            if (is_kind) out.push_back(*number);
        }
        if (!children) continue;
        const auto elements = elements_of(*children);
        open.insert(open.end(), elements.rbegin(), elements.rend());
    }
    return out;
}

struct Content {
    std::string_view bytes;  ///< as they stand in the file
    bool is_packed = false;
};

/// The streams that are the content of a page, one behind the other.
std::vector<Content> contents_of(const PdfObjects& pdf, std::string_view contents) {
    std::vector<Content> out;
    const std::string_view all = pdf.at_end_of(contents);
    for (const std::string_view one : elements_of(all.starts_with("[") ? all : contents)) {
        const auto number = reference_of(one);
        if (!number || *number <= 0 || *number >= pdf.count() || !pdf.is_stream(*number))
            throw std::runtime_error("a page whose content is no stream");
        const auto filter = pdf.value(*number, "/Filter").value_or("null");
        const auto filters = elements_of(filter);
        const bool is_plain = filter == "null" || filters.empty();
        const bool is_packed = filters.size() == 1 && is_name(filters.front(), "/FlateDecode");
        if ((!is_plain && !is_packed) ||
            pdf.value(*number, "/DecodeParms").value_or("null") != "null")
            throw std::runtime_error("the content of a page packed by " + std::string(filter));
        out.push_back({pdf.stream(*number), is_packed});
    }
    return out;
}

std::string drawn_by(const std::vector<Content>& contents) {
    std::string out;
    for (const Content& one : contents) {
        if (!out.empty()) out += '\n';
        out += one.is_packed ? unpacked(one.bytes) : std::string(one.bytes);
    }
    return out;
}

/// What Cairo's objects lack: words of figures and scopes of table heads.
void complete_structure(PdfObjects& pdf, const std::vector<std::string>& figures) {
    const auto top = value_of(pdf.body(pdf.root()), "/StructTreeRoot");
    if (!top) throw std::runtime_error("no structure of their content");
    std::size_t found = 0;
    for (const int element : tree_of(pdf, *top, "/S", "/K")) {
        const std::string_view kind = pdf.value(element, "/S").value_or("null");
        if (is_name(kind, "/Figure")) {
            if (found < figures.size()) pdf.set_key(element, "/Alt", pdf_text(figures[found]));
            ++found;
        } else if (is_name(kind, "/TH")) {
            pdf.set_key(element, "/A", "<< /O /Table /Scope /Column >>");
        }
    }
    if (found != figures.size())
        throw std::runtime_error(
            fmt::format("{} figures in their structure, of {} drawn", found, figures.size()));
}

/// Flags of links (ISO 19005-3, 6.3.2: an annotation says that it is printed), and marks in what
/// pages draw.
void complete_pages(PdfObjects& pdf) {
    const auto top = value_of(pdf.body(pdf.root()), "/Pages");
    const auto pages = tree_of(pdf, top.value_or("null"), "/Contents", "/Kids");
    if (pages.empty()) throw std::runtime_error("no page that draws anything");
    for (const int page : pages) {
        const std::string_view body = pdf.body(page);
        if (const auto annotations = value_of(body, "/Annots")) {
            for (const std::string_view one : elements_of(pdf.at_end_of(*annotations))) {
                const auto number = reference_of(one);
                if (!number || *number <= 0 || *number >= pdf.count())
                    throw std::runtime_error("a link that has no number of its own");
                pdf.set_key(*number, "/F", "4");
            }
        }
        const std::string_view contents = *value_of(body, "/Contents");
        const auto make = [content = contents_of(pdf, contents)] {
            return packed(with_artifacts(drawn_by(content)));
        };
        const auto number = reference_of(contents);
        if (number && pdf.is_stream(*number))
            pdf.replace_stream(*number, "/Filter /FlateDecode", make);
        else
            pdf.set_key(page, "/Contents",
                        reference_to(pdf.add_stream("/Filter /FlateDecode", make)));
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
    std::string names = "<< /Names [ ";
    for (const auto& [name, file] : files) names += pdf_text(name) + " " + reference_to(file) + " ";
    names += "] >>";
    const auto all = value_of(pdf.body(pdf.root()), "/Names");
    const auto number = all ? reference_of(*all) : std::nullopt;
    if (number && *number > 0 && *number < pdf.count())
        pdf.set_key(*number, "/EmbeddedFiles", names);
    else
        pdf.set_key(pdf.root(), "/Names", with_key(all.value_or("<< >>"), "/EmbeddedFiles", names));
    pdf.set_key(pdf.root(), "/AF", "[ " + list + "]");
}

void describe(PdfObjects& pdf, const Paper& paper) {
    const std::string iso = instant_to_second(paper.date_ms);
    const std::string date = pdf_date(iso);
    const int metadata = pdf.add_stream("/Type /Metadata /Subtype /XML",
                                        [packet = xmp_packet(paper, iso)] { return packet; });
    const int profile =
        pdf.add_stream("/N 3 /Filter /FlateDecode", [] { return packed(srgb_profile()); });
    const int root = pdf.root();
    pdf.set_key(root, "/Lang", pdf_text(paper.language));
    pdf.set_key(root, "/ViewerPreferences", "<< /DisplayDocTitle true >>");
    pdf.set_key(root, "/PageMode", "/UseOutlines");
    pdf.set_key(root, "/Metadata", reference_to(metadata));
    pdf.set_key(root, "/OutputIntents",
                fmt::format("[ << /Type /OutputIntent /S /GTS_PDFA1 /OutputConditionIdentifier "
                            "(sRGB IEC61966-2.1) /Info (sRGB IEC61966-2.1) "
                            "/DestOutputProfile {} >> ]",
                            reference_to(profile)));
    if (!value_of(pdf.body(root), "/MarkInfo"))
        pdf.set_key(root, "/MarkInfo", "<< /Marked true >>");

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
    if (pdf.info() == 0)
        pdf.set_info(pdf.add(std::move(info)));
    else
        pdf.set_body(pdf.info(), std::move(info));
    attach(pdf, paper, date);
}

}  // namespace

Result<std::string> finish_pdf(const std::string& plain, const Paper& paper,
                               const std::vector<std::string>& figure_words) {
    const auto refused = [](const std::string& found) {
        return Refusal{
            ErrorCode::cannot_write,
            {"record.pdf", 0, 0},
            fmt::format("pages drawn by cairo {}, with {}", cairo_version_string(), found),
            "pages that can be finished"};
    };
    auto pdf = PdfObjects::read(plain);
    if (!pdf) return refused(pdf.refusal().found);
    try {
        complete_structure(*pdf, figure_words);
        complete_pages(*pdf);
        describe(*pdf, paper);
        return pdf->write();
    } catch (const std::exception& error) {
        return refused(error.what());
    }
}

}  // namespace layproof::paper

#include "paper/html.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <iterator>
#include <set>
#include <utility>

#include "base/text/xml.hpp"
#include "drawing/plan_symbols.hpp"
#include "paper/base64_internal.hpp"
#include "paper/settable.hpp"

namespace layproof::paper {
namespace {

/// Colours are those of the drawings; every text on its ground has a contrast above 4.5.
constexpr std::string_view kPageStyle = R"(
:root{color-scheme:light}
*{box-sizing:border-box}
body{margin:0 auto;padding:24px 20px 60px;max-width:1080px;background:#fff;color:#1c2530;
font:15px/1.5 Inter,"Liberation Sans",Arial,Helvetica,sans-serif;font-variant-numeric:tabular-nums}
h1{font-size:30px;line-height:1.2;margin:0 0 8px}
h2{font-size:21px;line-height:1.3;margin:44px 0 10px;padding-bottom:4px;border-bottom:1.5px solid #1c2530}
h3{font-size:17px;margin:30px 0 6px}
h4{font-size:15px;margin:20px 0 4px}
p{margin:6px 0;max-width:76ch;overflow-wrap:anywhere}
.strong{font-weight:600}
.quiet,caption,dt{color:#56616d}
.quiet{font-size:14px}
ul,ol{margin:6px 0;padding-left:26px;max-width:76ch}
li{margin:3px 0;overflow-wrap:anywhere}
dl{display:grid;grid-template-columns:minmax(90px,max-content) 1fr;gap:2px 16px;margin:8px 0}
dd{margin:0;overflow-wrap:anywhere}
code{font:13px/1.5 "Liberation Mono",Consolas,Menlo,monospace;overflow-wrap:anywhere}
.verdict{display:grid;grid-template-columns:26px 1fr;gap:0 12px;margin:14px 0;padding:14px 16px;
background:#f3f5f4;border:1.5px solid #56616d}
.verdict.proven{border-color:#1f5f7a}.verdict.in-doubt{border-color:#8a6420}.verdict.fails{border-color:#6d1f4a}
.verdict p{margin:2px 0}
.verdict .word{font-size:18px;font-weight:600}
.caution{margin:14px 0;padding:10px 14px;border:1px dashed #1c2530;font-weight:600}
.scroll{overflow-x:auto;margin:10px 0}
table{border-collapse:collapse;font-size:13px;line-height:1.35}
caption{text-align:left;padding:0 0 6px;max-width:76ch}
th,td{padding:3px 10px 3px 0;text-align:left;vertical-align:top}
th{vertical-align:bottom;border-bottom:1.2px solid #1c2530;font-weight:600}
tbody tr>*{border-top:1px solid #d3d9de}
tbody tr.under>*{border-top:0;padding:0 0 4px 14px;color:#56616d}
.r{text-align:right}
td.n{white-space:nowrap}
td.w{min-width:9em;overflow-wrap:anywhere}
a{color:#1f5f7a}
svg.sign{width:13px;height:13px;margin-right:4px;vertical-align:-2px}
.verdict svg.sign{width:24px;height:24px;margin:0}
figure{margin:12px 0}
figure svg{max-width:100%;height:auto}
footer{margin-top:50px;padding-top:8px;border-top:1px solid #8b96a1;color:#56616d;font-size:13px}
@media print{body{max-width:none;padding:0;font-size:10pt}table{font-size:7.6pt}thead{display:table-header-group}
tr,figure,.verdict,.caution{break-inside:avoid}h2,h3,h4{break-after:avoid}.new-page{break-before:page}
.scroll{overflow:visible}a{color:inherit;text-decoration:none}}
)";

std::string page_text(std::string_view text) {
    return escape_xml(settable(text));
}

std::string class_of(drawing::PlanWord word) {
    std::string out = to_text(word);
    std::replace(out.begin(), out.end(), ' ', '-');
    return out;
}

/// Words follow, so the sign says nothing of its own to who cannot see it.
std::string sign_svg(drawing::PlanWord word) {
    drawing::SvgCanvas canvas;
    drawing::draw_point(canvas, {7.0, 7.0}, word, 5.6);
    const std::string whole = drawing::to_svg(canvas.finish(14.0, 14.0, "", ""));
    // The shapes stand behind the white ground of a drawing.
    const std::size_t ground = whole.find("<rect");
    const std::size_t from = whole.find('\n', ground) + 1;
    const std::size_t to = whole.rfind("</svg>");
    std::string shapes = whole.substr(from, to - from);
    shapes.erase(std::remove(shapes.begin(), shapes.end(), '\n'), shapes.end());
    return "<svg class=\"sign\" viewBox=\"0 0 14 14\" aria-hidden=\"true\">" + shapes + "</svg>";
}

class HtmlPage {
public:
    explicit HtmlPage(const Paper& paper) : paper_(paper) {
        for (const drawing::PlanWord word : {drawing::PlanWord::to_lay, drawing::PlanWord::proven,
                                             drawing::PlanWord::in_doubt, drawing::PlanWord::fails})
            signs_[static_cast<std::size_t>(word)] = sign_svg(word);
        for (const Block& block : paper.blocks)
            if (const auto* h = std::get_if<Heading>(&block))
                if (!h->anchor.empty()) anchors_.insert(h->anchor);
    }

    std::string make() {
        put("<!DOCTYPE html>\n<html lang=\"{}\">\n<head>\n<meta charset=\"utf-8\">\n"
            "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
            "<title>{}</title>\n<meta name=\"description\" content=\"{}\">\n"
            "<meta name=\"generator\" content=\"{}\">\n"
            "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; "
            "style-src 'unsafe-inline'; img-src data:\">\n<style>{}"
            "@page{{size:{};margin:15mm}}\n</style>\n</head>\n<body>\n<main>\n<h1>{}</h1>\n",
            escape_xml(paper_.language), page_text(paper_.title), page_text(paper_.subject),
            page_text(paper_.made_by), kPageStyle, paper_.is_letter ? "letter" : "A4",
            page_text(paper_.title));
        for (const Block& block : paper_.blocks)
            std::visit([&](const auto& one) { add(one); }, block);
        files();
        put("</main>\n<footer><p>{}</p><p>{}</p></footer>\n</body>\n</html>\n",
            page_text(paper_.footer), page_text(paper_.footer_caution));
        return std::move(out_);
    }

private:
    template <class... Values>
    void put(fmt::format_string<Values...> form, Values&&... values) {
        fmt::format_to(std::back_inserter(out_), form, std::forward<Values>(values)...);
    }

    void add(const Heading& h) {
        const int level = std::clamp(h.level, 1, 3) + 1;
        out_ += fmt::format("<h{}", level);
        if (!h.anchor.empty()) put(" id=\"{}\"", escape_xml(h.anchor));
        if (h.new_page) out_ += " class=\"new-page\"";
        put(">{}</h{}>\n", page_text(h.text), level);
    }
    void add(const Paragraph& p) {
        put("<p{}>{}</p>\n",
            p.tone == Tone::strong  ? " class=\"strong\""
            : p.tone == Tone::quiet ? " class=\"quiet\""
                                    : "",
            page_text(p.text));
    }
    void add(const Bullets& b) {
        if (b.items.empty()) return;
        out_ += b.numbered ? "<ol>\n" : "<ul>\n";
        for (const std::string& item : b.items) put("<li>{}</li>\n", page_text(item));
        out_ += b.numbered ? "</ol>\n" : "</ul>\n";
    }
    void add(const Pairs& pairs) {
        if (pairs.entries.empty()) return;
        out_ += "<dl>\n";
        for (const auto& e : pairs.entries) {
            const char* open = e.is_code ? "<code>" : "";
            const char* close = e.is_code ? "</code>" : "";
            put("<dt>{}</dt><dd>{}{}{}</dd>\n", page_text(e.name), open, page_text(e.value), close);
        }
        out_ += "</dl>\n";
    }
    void add(const VerdictBox& box) {
        put("<div class=\"verdict {}\">{}<div><p class=\"word\">{}</p>\n", class_of(box.word),
            signs_[static_cast<std::size_t>(box.word)], page_text(box.headline));
        if (!box.because.empty()) put("<p>{}</p>\n", page_text(box.because));
        if (!box.next.empty()) put("<p class=\"strong\">Next: {}</p>\n", page_text(box.next));
        out_ += "</div></div>\n";
    }
    void add(const Caution& c) { put("<p class=\"caution\">{}</p>\n", page_text(c.text)); }
    void add(const Drawing& d) {
        if (!(d.picture.width > 0.0) || !(d.picture.height > 0.0)) return;
        drawing::Picture picture = d.picture;
        picture.title = d.words;
        out_ += "<figure>" + drawing::to_svg(picture) + "</figure>\n";
    }
    void add(const Table& table) {
        if (table.columns.empty()) return;
        // Wide tables are moved sideways, with the keys too.
        put("<div class=\"scroll\" tabindex=\"0\" role=\"group\" aria-label=\"{}\">\n<table>\n",
            page_text(table.caption.empty() ? table.columns.front().head : table.caption));
        if (!table.caption.empty()) put("<caption>{}</caption>\n", page_text(table.caption));
        out_ += "<thead><tr>";
        for (const Column& c : table.columns)
            put("<th scope=\"col\"{}>{}</th>", c.align == Align::right ? " class=\"r\"" : "",
                page_text(c.head));
        out_ += "</tr></thead>\n<tbody>\n";
        for (const Row& row : table.rows) {
            out_ += "<tr>";
            for (std::size_t c = 0; c < table.columns.size(); ++c) cell(table, row, c);
            out_ += "</tr>\n";
            if (!row.under.empty())
                put("<tr class=\"under\"><td colspan=\"{}\">{}</td></tr>\n", table.columns.size(),
                    page_text(row.under));
        }
        out_ += "</tbody>\n</table></div>\n";
    }
    void cell(const Table& table, const Row& row, std::size_t c) {
        const Column& column = table.columns[c];
        put("<td class=\"{}\">", column.align == Align::right ? "r n" : column.wraps ? "w" : "n");
        if (c < row.cells.size()) {
            const Cell& cell = row.cells[c];
            const bool links = anchors_.count(cell.link) > 0;
            if (cell.word) out_ += signs_[static_cast<std::size_t>(*cell.word)];
            if (links) put("<a href=\"#{}\">", escape_xml(cell.link));
            out_ += page_text(cell.text);
            if (links) out_ += "</a>";
        }
        out_ += "</td>";
    }

    void files() {
        if (paper_.attachments.empty()) return;
        out_ += "<h2 id=\"attached-files\">Attached files</h2>\n<ul class=\"files\">\n";
        for (const Attachment& one : paper_.attachments)
            put("<li><a download=\"{0}\" href=\"data:{1};base64,{2}\">{0}</a>: {3}</li>\n",
                page_text(one.name), escape_xml(one.mime), to_base64(one.bytes),
                page_text(one.description));
        out_ += "</ul>\n";
    }

    const Paper& paper_;
    std::string signs_[4];
    std::set<std::string> anchors_;
    std::string out_;
};

}  // namespace

std::string write_html(const Paper& paper) {
    return HtmlPage(paper).make();
}

}  // namespace layproof::paper

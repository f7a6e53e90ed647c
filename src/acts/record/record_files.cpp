#include "acts/record/record.hpp"
#include "paper/html.hpp"
#include "paper/pdf.hpp"
#include "threads/threads.hpp"

namespace layproof::acts {

Result<std::vector<RecordFile>> record_files(const RecordAnswer& answer) {
    std::vector<RecordFile> lists = record_lists(answer);
    paper::Paper paper = paper_of(answer);
    for (const RecordFile& one : lists)
        paper.attachments.push_back({one.name, one.mime, one.description, one.bytes, false});
    auto page = threads::begin([&] { return paper::write_html(paper); });
    auto pdf = paper::write_pdf(paper);
    std::string html = page.get();
    if (!pdf) return pdf.refusal();
    std::vector<RecordFile> out{
        {"record.pdf", "application/pdf", "The record", std::move(*pdf)},
        {"record.html", "text/html", "The record as a page", std::move(html)}};
    for (RecordFile& one : lists) out.push_back(std::move(one));
    return out;
}

}  // namespace layproof::acts

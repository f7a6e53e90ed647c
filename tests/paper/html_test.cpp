#include "paper/html.hpp"

#include <gtest/gtest.h>
#include <libxml/HTMLparser.h>

#include <set>

#include "paper/attachments.hpp"
#include "paper/base64_internal.hpp"
#include "paper/pdf.hpp"

namespace layproof::paper {
namespace {

Paper small_paper() {
    Paper paper;
    paper.title = "Record <of> \"a\" hall & more";
    paper.made_by = "layproof test";
    paper.footer = "foot";
    paper.blocks.push_back(VerdictBox{drawing::PlanWord::fails, "Fails", "because", "next"});
    paper.blocks.push_back(Heading{1, "Points", "points", true});
    Table table;
    table.caption = "All";
    table.columns = {{"Point", Align::left, false}, {"off, mm", Align::right, false}};
    table.rows.push_back({{{"<script>alert(1)</script>", drawing::PlanWord::fails, "points"},
                           {"1.2", std::nullopt, "nowhere"}},
                          "under"});
    paper.blocks.push_back(table);
    drawing::PlanDrawing plan;
    plan.marks.push_back({"H1", 0.0, 0.0, true, std::nullopt, std::nullopt});
    paper.blocks.push_back(Drawing{drawing::draw_plan(plan), "words of the drawing", 0.0});
    paper.attachments.push_back(
        {"a \"b\".csv", "text/csv", "list", std::string("\0\xff a,b\n", 7), false});
    paper.attachments.push_back({"facts.json", "application/json", "facts", "{}", false});
    return paper;
}

TEST(html, same_paper_gives_same_bytes) {
    EXPECT_EQ(write_html(small_paper()), write_html(small_paper()));
}

TEST(html, parser_of_another_library_finds_no_fault) {
    const std::string page = write_html(small_paper());
    htmlDocPtr document =
        htmlReadMemory(page.data(), static_cast<int>(page.size()), "page", "UTF-8",
                       HTML_PARSE_NOERROR | HTML_PARSE_NOWARNING | HTML_PARSE_NONET);
    ASSERT_NE(document, nullptr);
    const xmlError* error = xmlGetLastError();
    // It knows HTML 4 only: elements of HTML 5 and SVG are called unknown (code 801).
    if (error != nullptr) {
        EXPECT_EQ(error->code, 801) << error->message;
    }
    xmlFreeDoc(document);
    xmlResetLastError();
}

TEST(html, nothing_of_the_data_becomes_markup_and_nothing_is_fetched) {
    const std::string page = write_html(small_paper());
    EXPECT_EQ(page.find("<script"), std::string::npos);
    EXPECT_NE(page.find("&lt;script&gt;alert(1)&lt;/script&gt;"), std::string::npos);
    for (const char* word : {"http://", "https://", " src=", "url(", "@import"}) {
        std::size_t at = 0;
        while ((at = page.find(word, at)) != std::string::npos) {
            // The name space of SVG is a name, not a place.
            EXPECT_EQ(page.substr(at, 26), "http://www.w3.org/2000/svg") << page.substr(at, 60);
            ++at;
        }
    }
    EXPECT_NE(page.find("default-src 'none'"), std::string::npos);
}

TEST(html, has_language_headings_scopes_and_words_beside_every_sign) {
    const std::string page = write_html(small_paper());
    for (const char* word : {"<html lang=\"en-US\">", "<h1>", "<h2 id=\"points\"", "scope=\"col\"",
                             "<caption>", "role=\"img\"", "aria-label=\"words of the drawing\"",
                             "aria-hidden=\"true\"", "href=\"#points\"", "@page{size:A4", "<main>"})
        EXPECT_NE(page.find(word), std::string::npos) << word;
    EXPECT_EQ(page.find("href=\"#nowhere\""), std::string::npos);
    std::set<std::string> ids;
    for (std::size_t at = 0; (at = page.find(" id=\"", at)) != std::string::npos; at += 5) {
        const std::string id = page.substr(at + 5, page.find('"', at + 5) - at - 5);
        EXPECT_TRUE(ids.insert(id).second) << id;
    }
}

TEST(attachments, come_out_of_page_and_pdf_as_they_went_in) {
    const Paper paper = small_paper();
    const auto pdf = write_pdf(paper);
    ASSERT_TRUE(pdf.ok());
    for (const std::string& bytes : {write_html(paper), *pdf}) {
        const auto files = attachments_of(bytes);
        ASSERT_TRUE(files.ok()) << files.refusal().to_text();
        ASSERT_EQ(files->size(), paper.attachments.size());
        for (std::size_t i = 0; i < files->size(); ++i) {
            EXPECT_EQ((*files)[i].name, paper.attachments[i].name);
            EXPECT_EQ((*files)[i].mime, paper.attachments[i].mime);
            EXPECT_EQ((*files)[i].bytes, paper.attachments[i].bytes);
        }
    }
}

TEST(attachments, damaged_and_foreign_files_are_refused) {
    EXPECT_EQ(attachments_of("hello").refusal().code, ErrorCode::format_unknown);
    EXPECT_EQ(attachments_of("").refusal().code, ErrorCode::format_unknown);
    const auto pdf = write_pdf(small_paper());
    ASSERT_TRUE(pdf.ok());
    EXPECT_EQ(attachments_of(pdf->substr(0, pdf->size() / 2)).refusal().code,
              ErrorCode::not_well_formed);
    const std::string page = write_html(small_paper());
    const std::size_t base = page.rfind(";base64,");
    std::string wrong = page;
    wrong[base + 8] = '*';
    EXPECT_EQ(attachments_of(wrong).refusal().code, ErrorCode::not_well_formed);
    EXPECT_EQ(attachments_of(page.substr(0, base + 9)).refusal().code, ErrorCode::not_well_formed);
    EXPECT_TRUE(attachments_of("<!DOCTYPE html><p>no record</p>")->empty());
}

/// RFC 4648, section 10.
TEST(base64, test_vectors_of_the_standard) {
    const std::pair<const char*, const char*> vectors[] = {{"", ""},
                                                           {"f", "Zg=="},
                                                           {"fo", "Zm8="},
                                                           {"foo", "Zm9v"},
                                                           {"foob", "Zm9vYg=="},
                                                           {"fooba", "Zm9vYmE="},
                                                           {"foobar", "Zm9vYmFy"}};
    for (const auto& [plain, coded] : vectors) {
        EXPECT_EQ(to_base64(plain), coded);
        EXPECT_EQ(from_base64(coded), plain);
    }
    for (const char* bad : {"Z", "Zg=", "Zg===", "Z*==", "Zg==Zg=="})
        EXPECT_EQ(from_base64(bad), std::nullopt) << bad;
}

}  // namespace
}  // namespace layproof::paper

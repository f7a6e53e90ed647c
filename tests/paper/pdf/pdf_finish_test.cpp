// Pages finished that are laid out otherwise than by the Cairo of this machine.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <regex>
#include <string>
#include <vector>

#include "drawing/svg_plan.hpp"
#include "paper/pdf/pdf_flow_internal.hpp"
#include "paper/pdf_tools.hpp"

namespace layproof::paper {
namespace {

using ::testing::HasSubstr;

Paper small_paper() {
    Paper paper;
    paper.title = "Layout record";
    paper.made_by = "layproof test";
    paper.date_ms = 1'936'900'000'000;
    paper.blocks.push_back(Heading{1, "Points", "points", false});
    Table table;
    table.columns = {{"Point", Align::left, false}, {"verdict", Align::left, false}};
    for (int i = 0; i < 90; ++i)
        table.rows.push_back(
            {{{"P" + std::to_string(i), std::nullopt, "points"}, {"proven", std::nullopt, ""}},
             ""});
    paper.blocks.push_back(table);
    for (const char* words : {"first plan", "second plan"}) {
        drawing::PlanDrawing plan;
        plan.stations.push_back({"S1", 10.0, 12.0, std::nullopt});
        paper.blocks.push_back(Drawing{drawing::draw_plan(plan), words});
    }
    paper.attachments.push_back({"a.txt", "text/plain", "A file", "bytes", false});
    return paper;
}

struct Drawn {
    std::string plain;
    std::vector<std::string> figure_words;
};

Drawn drawn(const Paper& paper) {
    auto text = TextSetter::make();
    EXPECT_TRUE(text.ok());
    const PageSize page = PageSize::of(paper);
    const Flow flow = flow_of(paper, page, *text);
    auto plain = draw_pages(paper, page, flow, *text);
    EXPECT_TRUE(plain.ok());
    return {*plain, flow.figure_words};
}

/// What is read in a finished PDF, whoever laid it out.
std::string what_is_in(const std::string& pdf) {
    // Each writer numbers the objects anew.
    static const std::regex number("Object [0-9]+ 0|-> [0-9]+,0");
    return text_of(pdf) + std::regex_replace(tool_on("pdfinfo -struct-text", pdf) +
                                                 tool_on("qpdf --list-attachments", pdf),
                                             number, "(object)");
}

class finished : public ::testing::TestWithParam<const char*> {};

TEST_P(finished, holds_the_same_as_pages_of_this_cairo) {
    const Paper paper = small_paper();
    const Drawn pages = drawn(paper);
    const std::string other = laid_out_by_qpdf(GetParam(), pages.plain);
    ASSERT_NE(other, pages.plain);
    const auto pdf = finish_pdf(other, paper, pages.figure_words);
    ASSERT_TRUE(pdf.ok()) << pdf.refusal().to_text();
    EXPECT_EQ(fault_in_pdf(*pdf), "");
    EXPECT_EQ(*finish_pdf(other, paper, pages.figure_words), *pdf);
    EXPECT_EQ(what_is_in(*pdf), what_is_in(*finish_pdf(pages.plain, paper, pages.figure_words)));
    const std::string json = tool_on("qpdf --json", *pdf);
    for (const char* words : {"first plan", "second plan", "/OutputIntents", "/Scope", "/Artifact"})
        EXPECT_THAT(json + tool_on("qpdf --qdf --static-id", *pdf, "-"), HasSubstr(words));
}

INSTANTIATE_TEST_SUITE_P(from_other_layouts, finished,
                         ::testing::Values("--qdf", "--object-streams=generate",
                                           "--object-streams=generate --linearize",
                                           "--stream-data=uncompress --coalesce-contents"));

TEST(finish, refuses_figures_that_the_structure_does_not_have) {
    const Paper paper = small_paper();
    const Drawn pages = drawn(paper);
    auto words = pages.figure_words;
    words.push_back("third plan");
    const auto pdf = finish_pdf(pages.plain, paper, words);
    ASSERT_FALSE(pdf.ok());
    EXPECT_EQ(pdf.refusal().code, ErrorCode::cannot_write);
    EXPECT_THAT(pdf.refusal().found, HasSubstr("2 figures in their structure, of 3 drawn"));
    EXPECT_THAT(pdf.refusal().found, HasSubstr("cairo 1."));
}

TEST(finish, refuses_content_packed_otherwise_and_says_how) {
    const Paper paper = small_paper();
    Drawn pages = drawn(paper);
    // The same length, so that the table still fits.
    for (std::size_t at = 0; (at = pages.plain.find("/FlateDecode", at)) != std::string::npos; ++at)
        pages.plain.replace(at, 12, "/OtherDecode");
    const auto pdf = finish_pdf(pages.plain, paper, pages.figure_words);
    ASSERT_FALSE(pdf.ok());
    EXPECT_THAT(pdf.refusal().found, HasSubstr("packed by /OtherDecode"));
}

TEST(finish, refuses_pages_without_structure) {
    const Paper paper = small_paper();
    Drawn pages = drawn(paper);
    const std::size_t at = pages.plain.find("/StructTreeRoot ");
    ASSERT_NE(at, std::string::npos);
    pages.plain.replace(at, 15, "/StructTreeNone");
    const auto pdf = finish_pdf(pages.plain, paper, pages.figure_words);
    ASSERT_FALSE(pdf.ok());
    EXPECT_THAT(pdf.refusal().found, HasSubstr("no structure"));
}

}  // namespace
}  // namespace layproof::paper

#include "paper/pdf.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <set>
#include <utility>
#include <vector>
#define POINTERHOLDER_TRANSITION 4  // qpdf: std::shared_ptr only
#include <qpdf/QPDF.hh>
#include <qpdf/QPDFPageDocumentHelper.hh>

#include "paper/pdf/icc_internal.hpp"
#include "paper/pdf_tools.hpp"

namespace layproof::paper {
namespace {

Paper some_paper(int rows = 60) {
    Paper paper;
    paper.title = "Layout record: invented hall";
    paper.subject = "Points laid and how well they are known";
    paper.made_by = "layproof test";
    paper.date_ms = 1'936'900'000'000;  // 2031-05-18T19:46:40Z
    paper.footer = "Invented hall";
    paper.footer_caution = "Contractor's layout record, not a survey.";
    paper.blocks.push_back(
        VerdictBox{drawing::PlanWord::in_doubt, "In doubt", "A reason.", "A step."});
    paper.blocks.push_back(Heading{1, "Points", "points", false});
    paper.blocks.push_back(Bullets{{"first", "second"}, true});
    paper.blocks.push_back(Pairs{{{"Head", std::string(64, 'a'), true}}});
    Table table;
    table.caption = "Every point.";
    table.columns = {{"Point", Align::left, false},
                     {"east, m", Align::right, false},
                     {"verdict", Align::left, false}};
    for (int i = 0; i < rows; ++i) {
        Row row;
        row.cells = {{fmt::format("P{:04}", i), std::nullopt, "points"},
                     {fmt::format("{:.3f}", 100.0 + i), std::nullopt, ""},
                     {"proven", drawing::PlanWord::proven, ""}};
        if (i % 7 == 0) row.under = fmt::format("reason of {}", i);
        table.rows.push_back(row);
    }
    paper.blocks.push_back(table);
    drawing::PlanDrawing plan;
    plan.title = "Plan";
    plan.marks.push_back({"H1", 0.0, 0.0, true, drawing::PlanVector{0.003, 0.001},
                          drawing::PlanEllipse{0.004, 0.002, 0.5}});
    plan.stations.push_back({"S1", 10.0, 12.0, drawing::PlanEllipse{0.002, 0.001, 0.1}});
    plan.sights.push_back({0, 0, drawing::PlanSightKind::control});
    plan.points.push_back({"A1", 5.0, 9.0, drawing::PlanWord::fails, 0.01});
    paper.blocks.push_back(Drawing{drawing::draw_plan(plan), "A plan with one mark"});
    paper.attachments.push_back(
        {"facts.json", "application/json", "The facts", "{\"a\": 1}", false});
    paper.attachments.push_back({"marks.csv", "text/csv", "A sheet", "mark,east\nH1,1\n", true});
    return paper;
}

std::string pdf_of(const Paper& paper) {
    auto pdf = write_pdf(paper);
    EXPECT_TRUE(pdf.ok()) << (pdf.ok() ? "" : pdf.refusal().to_text());
    return pdf.ok() ? *pdf : std::string();
}

TEST(pdf, same_paper_gives_same_bytes) {
    EXPECT_EQ(pdf_of(some_paper()), pdf_of(some_paper()));
}

TEST(pdf, zone_and_language_of_the_machine_do_not_matter) {
    const std::string here = pdf_of(some_paper());
    ::setenv("TZ", "Pacific/Auckland", 1);
    ::setenv("LANG", "de_DE.UTF-8", 1);
    ::setenv("LC_ALL", "tr_TR.UTF-8", 1);
    const std::string there = pdf_of(some_paper());
    ::unsetenv("TZ");
    ::unsetenv("LANG");
    ::unsetenv("LC_ALL");
    EXPECT_EQ(here, there);
}

TEST(pdf, qpdf_finds_no_fault) {
    EXPECT_EQ(fault_in_pdf(pdf_of(some_paper())), "");
}

TEST(pdf, empty_paper_is_one_good_page) {
    const std::string pdf = pdf_of(Paper{});
    EXPECT_EQ(fault_in_pdf(pdf), "");
    EXPECT_NE(tool_on("pdfinfo", pdf).find("Pages:           1"), std::string::npos);
}

TEST(pdf, text_holds_every_row_and_the_head_on_every_page) {
    const std::string pdf = pdf_of(some_paper(300));
    const std::string text = text_of(pdf);
    for (int i = 0; i < 300; ++i)
        ASSERT_NE(text.find(fmt::format("P{:04}", i)), std::string::npos) << i;
    std::size_t heads = 0;
    std::size_t pages = 1;
    for (std::size_t at = 0; (at = text.find("east, m", at)) != std::string::npos; ++at) ++heads;
    pages = static_cast<std::size_t>(std::count(text.begin(), text.end(), '\f'));
    EXPECT_GE(pages, 4U);
    EXPECT_GE(heads, pages - 1);
    EXPECT_NE(text.find(fmt::format("Page 1 of {}", pages)), std::string::npos);
    EXPECT_NE(text.find(fmt::format("Page {0} of {0}", pages)), std::string::npos);
}

TEST(pdf, verdict_is_never_broken_over_two_lines) {
    Paper paper;
    Table table;
    table.columns = {{"Point", Align::left, false}, {"verdict", Align::left, false}};
    Row row{{{"P0001", std::nullopt, ""}, {"in doubt", drawing::PlanWord::in_doubt, ""}}, ""};
    // Figures on the right cannot be broken: together a hair wider than the page.
    for (int i = 0; i < 12; ++i) {
        table.columns.insert(table.columns.begin() + 1, {"n", Align::right, false});
        row.cells.insert(row.cells.begin() + 1, {"10000.000", std::nullopt, ""});
    }
    table.rows.push_back(row);
    paper.blocks.push_back(table);
    EXPECT_NE(text_of(pdf_of(paper)).find("in doubt"), std::string::npos);
}

TEST(pdf, words_of_figures_stand_in_their_order) {
    Paper paper = some_paper(2);
    for (const char* words : {"second", "Kleine Skizze – «drei»", "fourth (4)"}) {
        paper.blocks.push_back(Paragraph{"between", Tone::plain});
        drawing::PlanDrawing plan;
        plan.stations.push_back({"S1", 10.0, 12.0, std::nullopt});
        paper.blocks.push_back(Drawing{drawing::draw_plan(plan), words});
    }
    const std::string bytes = pdf_of(paper);
    QPDF pdf;
    pdf.processMemoryFile("a.pdf", bytes.data(), bytes.size());
    std::vector<std::string> words;
    const std::function<void(QPDFObjectHandle)> visit = [&](QPDFObjectHandle node) {
        if (node.isArray())
            for (QPDFObjectHandle& one : node.getArrayAsVector()) visit(one);
        if (!node.isDictionary()) return;
        if (node.getKey("/S").isNameAndEquals("/Figure"))
            words.push_back(node.getKey("/Alt").getUTF8Value());
        visit(node.getKey("/K"));
    };
    visit(pdf.getRoot().getKey("/StructTreeRoot").getKey("/K"));
    EXPECT_EQ(words, (std::vector<std::string>{"A plan with one mark", "second",
                                               "Kleine Skizze – «drei»", "fourth (4)"}));
}

TEST(pdf, fonts_are_embedded_with_their_letters) {
    const std::string fonts = tool_on("pdffonts", pdf_of(some_paper()));
    std::size_t line = fonts.find('\n', fonts.find("---"));
    int seen = 0;
    while (line + 1 < fonts.size()) {
        const std::size_t end = fonts.find('\n', line + 1);
        const std::string row = fonts.substr(line + 1, end - line - 1);
        EXPECT_NE(row.find("yes yes yes"), std::string::npos) << row;
        ++seen;
        line = end;
    }
    EXPECT_GE(seen, 3);
}

TEST(pdf, structure_is_tagged_with_heads_lists_and_described_figures) {
    const std::string pdf = pdf_of(some_paper());
    const std::string tags = tool_on("pdfinfo -struct-text", pdf);
    for (const char* tag : {"Document", "H1", "H2", "L (block)", "LI", "LBody", "Table", "TH",
                            "/Scope /Column", "TD", "Figure", "Link"})
        EXPECT_NE(tags.find(tag), std::string::npos) << tag;
    // One table, though it goes over two pages.
    EXPECT_EQ(tags.find("Table (block)"), tags.rfind("Table (block)"));
    const std::string info = tool_on("pdfinfo", pdf);
    EXPECT_NE(info.find("Tagged:          yes"), std::string::npos);
    EXPECT_NE(info.find("Title:           Layout record: invented hall"), std::string::npos);
    const std::string json = tool_on("qpdf --json", pdf);
    EXPECT_NE(json.find("A plan with one mark"), std::string::npos);
    EXPECT_NE(json.find("\"/Lang\": \"u:en-US\""), std::string::npos);
}

/// Reads a page's operators with the parser of qpdf.
class ContentWalk : public QPDFObjectHandle::ParserCallbacks {
public:
    void handleObject(QPDFObjectHandle object) override {
        if (!object.isOperator()) {
            if (object.isName()) name_ = object.getName();
            return;
        }
        const std::string op = object.getOperatorValue();
        static const std::set<std::string> kPaints{"S",  "s",  "f",  "F",  "f*", "B",  "B*", "b",
                                                   "b*", "Do", "sh", "EI", "Tj", "TJ", "'",  "\""};
        if (op == "BT") in_text = depth + 1;
        if (op == "ET") {
            EXPECT_EQ(std::exchange(in_text, 0), depth + 1) << "marks cross a text";
        }
        if (op == "BDC" || op == "BMC") {
            ++depth;
            ++(name_ == "/Artifact" ? artifacts : contents);
            if (depth > 1) {
                EXPECT_NE(name_, "/Artifact") << "an artifact inside content";
            }
        }
        if (op == "EMC") --depth;
        EXPECT_GE(depth, 0);
        if (kPaints.count(op) > 0) {
            ++painted;
            EXPECT_GT(depth, 0) << op << " outside";
        }
    }
    void handleEOF() override { EXPECT_EQ(depth, 0); }

    int depth = 0, in_text = 0, artifacts = 0, contents = 0, painted = 0;

private:
    std::string name_;
};

TEST(pdf, everything_drawn_is_tagged_content_or_an_artifact) {
    Paper paper = some_paper(300);
    paper.blocks.push_back(Caution{"Look at this."});
    const std::string bytes = pdf_of(paper);
    QPDF pdf;
    pdf.processMemoryFile("a.pdf", bytes.data(), bytes.size());
    auto pages = QPDFPageDocumentHelper(pdf).getAllPages();
    ASSERT_GE(pages.size(), 4U);
    int contents = 0;
    for (QPDFPageObjectHelper& page : pages) {
        ContentWalk walk;
        page.parseContents(&walk);
        EXPECT_GT(walk.contents, 0);
        EXPECT_GT(walk.artifacts, 0);  // rules below rows and the foot
        EXPECT_GT(walk.painted, 5);
        contents += walk.contents;
    }
    EXPECT_GT(contents, 900);  // three cells in each row
    // The foot is no content: its text is not in the structure.
    const std::string read = tool_on("pdfinfo -struct-text", pdf_of(some_paper(9)));
    EXPECT_NE(read.find("P0008"), std::string::npos);
    EXPECT_EQ(read.find("Page 1 of"), std::string::npos);
}

/// ISO 19005-3, 6.3.2: the flags of an annotation are there, and say that it is printed.
TEST(pdf, links_are_printed) {
    const std::string bytes = pdf_of(some_paper());
    QPDF pdf;
    pdf.processMemoryFile("a.pdf", bytes.data(), bytes.size());
    int links = 0;
    for (QPDFPageObjectHelper& page : QPDFPageDocumentHelper(pdf).getAllPages())
        for (QPDFAnnotationObjectHelper& one : page.getAnnotations()) {
            EXPECT_EQ(one.getSubtype(), "/Link");
            EXPECT_EQ(one.getFlags(), 4);
            ++links;
        }
    EXPECT_GE(links, 60);
}

TEST(pdf, outline_names_the_headings) {
    const std::string json = tool_on("qpdf --json --json-key=outlines", pdf_of(some_paper()));
    EXPECT_NE(json.find("\"title\": \"Points\""), std::string::npos) << json;
    EXPECT_NE(json.find("\"destpageposfrom1\": 1"), std::string::npos) << json;
}

TEST(pdf, attached_files_come_out_as_they_went_in) {
    const Paper paper = some_paper();
    const PdfFolder folder;
    const auto path = folder.write("a.pdf", pdf_of(paper));
    const ToolRun run =
        run_tool("pdfdetach -saveall -o " + folder.path().string() + " " + path.string());
    ASSERT_EQ(run.status, 0) << run.out;
    for (const Attachment& one : paper.attachments)
        EXPECT_EQ(bytes_of(folder.path() / one.name), one.bytes) << one.name;
}

/// No validator of PDF/A is packaged, so what ISO 19005-3 asks of such a file is looked for here.
TEST(pdf, metadata_intent_and_relations_of_archiving_are_there) {
    const std::string pdf = pdf_of(some_paper());
    // The metadata can be read without unpacking.
    EXPECT_NE(pdf.find("<pdfaid:part>3</pdfaid:part>"), std::string::npos);
    EXPECT_NE(pdf.find("<xmp:CreateDate>2031-05-18T19:46:40Z</xmp:CreateDate>"), std::string::npos);
    const std::string json = tool_on("qpdf --json", pdf);
    for (const char* word : {"/GTS_PDFA1", "/AFRelationship", "/DestOutputProfile", "/MarkInfo",
                             "D:20310518194640Z", "\"/ID\""})
        EXPECT_NE(json.find(word), std::string::npos) << word;
    for (const char* word : {"/JavaScript", "/Launch", "/LZWDecode", "/Encrypt", "/OpenAction",
                             "\"/Interpolate\": true"})
        EXPECT_EQ(json.find(word), std::string::npos) << word;
}

TEST(pdf, names_of_any_script_are_text_and_have_letters) {
    Paper paper;
    paper.title = "Any script";
    const std::string names[] = {"柱 第一根", "ось Б", "עמוד",    "עמ-7 עמוד", "عمود",
                                 "स्तंभ",       "เสา",   "Säule ß", "столб №1",  "Ω≤½"};
    Table table;
    table.columns = {{"Name", Align::left, true}};
    for (const std::string& name : names) table.rows.push_back({{{name, std::nullopt, ""}}, ""});
    paper.blocks.push_back(table);
    const std::string pdf = pdf_of(paper);
    EXPECT_EQ(fault_in_pdf(pdf), "");
    const std::string text = tool_on("pdftotext", pdf, "-");
    for (const std::string& name : {names[0], names[1], names[2], names[4], names[7], names[8]})
        EXPECT_NE(text.find(name), std::string::npos) << name << "\n" << text;
}

double left_of_word(const std::string& boxes, const std::string& word) {
    const std::size_t end = boxes.find(">" + word + "<");
    const std::size_t at = boxes.rfind("xMin=\"", end);
    EXPECT_NE(end, std::string::npos) << word;
    return end == std::string::npos ? 0.0 : std::stod(boxes.substr(at + 6));
}

TEST(pdf, sentence_runs_to_the_right_though_its_first_name_does_not) {
    Paper paper;
    paper.blocks.push_back(Paragraph{"عمود stands off", Tone::plain});
    const std::string boxes = tool_on("pdftotext -bbox", pdf_of(paper), "-");
    // Poppler tells the letters of such a name one by one: its last stands at the left edge.
    EXPECT_LT(left_of_word(boxes, "د"), 50.0);
    EXPECT_LT(left_of_word(boxes, "د"), left_of_word(boxes, "ع"));
    EXPECT_LT(left_of_word(boxes, "ع"), left_of_word(boxes, "stands"));
    EXPECT_LT(left_of_word(boxes, "stands"), left_of_word(boxes, "off"));
}

TEST(pdf, bytes_that_are_no_text_do_no_harm) {
    Paper paper;
    paper.title = std::string("\xff\xfe\x00\x01 title", 10);
    paper.footer =
        "\xe2\x80\xae"
        "turned";
    paper.blocks.push_back(Heading{1, "'quoted' \\ heading\n\n", "a'b\\c", false});
    paper.blocks.push_back(Paragraph{std::string(20'000, 'x'), Tone::plain});
    Table table;
    table.columns = {{std::string(500, 'h'), Align::right, false}, {"b", Align::left, true}};
    table.rows.push_back({{{std::string(3'000, 'n'), drawing::PlanWord::fails, "a'b\\c"},
                           {std::string(3'000, 'm'), std::nullopt, "nowhere"}},
                          std::string(5'000, 'u')});
    table.rows.push_back({{}, ""});
    paper.blocks.push_back(table);
    paper.blocks.push_back(Table{});
    paper.blocks.push_back(Drawing{});
    paper.blocks.push_back(Bullets{});
    EXPECT_EQ(fault_in_pdf(pdf_of(paper)), "");
}

TEST(pdf, paper_size_is_as_asked) {
    Paper paper;
    EXPECT_NE(tool_on("pdfinfo", pdf_of(paper)).find("(A4)"), std::string::npos);
    paper.is_letter = true;
    EXPECT_NE(tool_on("pdfinfo", pdf_of(paper)).find("(letter)"), std::string::npos);
}

double fixed_at(const std::string& bytes, std::size_t at) {
    double value = 0.0;
    for (std::size_t i = 0; i < 4; ++i)
        value = value * 256.0 + static_cast<unsigned char>(bytes[at + i]);
    return value / 65536.0;
}

/// The white of D50 (ICC.1: 0.9642, 1, 0.8249) is the sum of the three primaries.
TEST(colour_profile, primaries_add_up_to_white) {
    const std::string icc = srgb_profile();
    EXPECT_EQ(fixed_at(icc, 0) * 65536.0, static_cast<double>(icc.size()));
    double sum[3] = {0.0, 0.0, 0.0};
    for (const char* name : {"rXYZ", "gXYZ", "bXYZ"}) {
        const std::size_t entry = icc.find(name, 128);
        ASSERT_NE(entry, std::string::npos);
        const auto at = static_cast<std::size_t>(std::lround(fixed_at(icc, entry + 4) * 65536.0));
        ASSERT_EQ(icc.substr(at, 4), "XYZ ");
        for (std::size_t i = 0; i < 3; ++i) sum[i] += fixed_at(icc, at + 8 + 4 * i);
    }
    constexpr double kHalfDigit = 0.0002;  // of four printed digits, three rounded summands
    EXPECT_NEAR(sum[0], 0.9642, kHalfDigit);
    EXPECT_NEAR(sum[1], 1.0, kHalfDigit);
    EXPECT_NEAR(sum[2], 0.8249, kHalfDigit);
}

}  // namespace
}  // namespace layproof::paper

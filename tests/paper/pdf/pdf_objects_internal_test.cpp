#include "paper/pdf/pdf_objects_internal.hpp"

#include <cairo-pdf.h>
#include <gtest/gtest.h>

#include <cstdio>
#include <stdexcept>
#include <string>
#include <vector>

#include "paper/pdf/pdf_syntax_internal.hpp"
#include "paper/pdf_tools.hpp"

namespace layproof::paper {
namespace {

cairo_status_t keep_bytes(void* closure, const unsigned char* data, unsigned length) {
    static_cast<std::string*>(closure)->append(reinterpret_cast<const char*>(data), length);
    return CAIRO_STATUS_SUCCESS;
}

/// Two pages with a word each, as Cairo writes them.
std::string two_pages() {
    std::string out;
    cairo_surface_t* surface = cairo_pdf_surface_create_for_stream(keep_bytes, &out, 200, 100);
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATE_DATE, "2031-05-18T19:46:40");
    cairo_t* cr = cairo_create(surface);
    for (const char* word : {"first", "second"}) {
        cairo_move_to(cr, 20.0, 50.0);
        cairo_show_text(cr, word);
        cairo_show_page(cr);
    }
    cairo_destroy(cr);
    cairo_surface_destroy(surface);
    return out;
}

TEST(pdf_objects, pages_written_anew_are_the_same_pages) {
    const std::string plain = two_pages();
    const auto pdf = PdfObjects::read(plain);
    ASSERT_TRUE(pdf.ok());
    const std::string again = pdf->write();
    EXPECT_EQ(fault_in_pdf(again), "");
    EXPECT_EQ(text_of(again), text_of(plain));
    EXPECT_EQ(pdf->write(), again);
    EXPECT_EQ(again.substr(0, 9), "%PDF-1.7\n");
}

TEST(pdf_objects, what_is_added_can_be_read) {
    const std::string plain = two_pages();
    auto pdf = PdfObjects::read(plain);
    ASSERT_TRUE(pdf.ok());
    pdf->set_body(pdf->info(), "<< /Title " + pdf_text("Prüfung (柱) 🏗") + " >>");
    const int note = pdf->add_stream("/Type /Note /Filter /FlateDecode",
                                     [] { return packed("a note of its own"); });
    pdf->set_key(pdf->root(), "/Lang", pdf_text("en-US"));
    pdf->set_key(pdf->root(), "/Note", std::to_string(note) + " 0 R");
    const std::string out = pdf->write();
    EXPECT_EQ(fault_in_pdf(out), "");
    EXPECT_NE(tool_on("pdfinfo", out).find("Prüfung (柱) 🏗"), std::string::npos);
    const std::string shown =
        tool_on("qpdf", out, "--show-object=" + std::to_string(note) + " --filtered-stream-data");
    EXPECT_EQ(shown, "a note of its own");
}

TEST(pdf_objects, more_objects_than_fit_one_stream_are_all_there) {
    const std::string plain = two_pages();
    auto pdf = PdfObjects::read(plain);
    ASSERT_TRUE(pdf.ok());
    std::string list;
    for (int i = 0; i < 2000; ++i)
        list += std::to_string(pdf->add("<< /Number " + std::to_string(i) + " >>")) + " 0 R ";
    pdf->set_key(pdf->root(), "/All", "[ " + list + "]");
    const std::string out = pdf->write();
    EXPECT_EQ(fault_in_pdf(out), "");
    const std::string json = tool_on("qpdf --json --json-key=qpdf", out);
    for (const int i : {0, 399, 400, 1234, 1999})
        EXPECT_NE(json.find("\"/Number\": " + std::to_string(i) + "\n"), std::string::npos) << i;
}

TEST(pdf_objects, text_and_names_are_escaped) {
    EXPECT_EQ(pdf_text("a (b) \\c"), "(a \\(b\\) \\\\c)");
    EXPECT_EQ(pdf_text("é"), "<FEFF00E9>");
    EXPECT_EQ(pdf_text("🏗"), "<FEFFD83CDFD7>");
    EXPECT_EQ(pdf_text(""), "()");
    EXPECT_EQ(pdf_name("text/csv"), "/text#2Fcsv");
    EXPECT_EQ(pdf_name("a b#"), "/a#20b#23");
}

TEST(pdf_objects, packing_comes_back) {
    std::string bytes;
    for (int i = 0; i < 5000; ++i) bytes += static_cast<char>((i * i) % 251);
    EXPECT_EQ(unpacked(packed(bytes)), bytes);
    EXPECT_EQ(unpacked(packed("")), "");
    EXPECT_THROW(unpacked("no packed bytes at all"), std::runtime_error);
}

TEST(pdf_objects, bytes_of_another_kind_are_refused_and_do_no_harm) {
    const std::string plain = two_pages();
    EXPECT_FALSE(PdfObjects::read("").ok());
    EXPECT_FALSE(PdfObjects::read("%PDF-1.5\nstartxref\n9\n%%EOF\n").ok());
    EXPECT_FALSE(PdfObjects::read("startxref\n99999999999999999999\n").ok());
    // The last line may be gone; nothing else.
    for (std::size_t n = 0; n + 8 < plain.size(); n += 7)
        EXPECT_FALSE(PdfObjects::read(plain.substr(0, n)).ok()) << n;
    // The table shifted against the objects, by more than the blanks before them.
    std::string shifted = plain;
    shifted.insert(20, std::string(12, ' '));
    const auto pdf = PdfObjects::read(shifted);
    ASSERT_FALSE(pdf.ok());
    EXPECT_EQ(pdf.refusal().code, ErrorCode::cannot_write);
}

/// The same pages laid out as other writers do it.
class pdf_layouts : public ::testing::TestWithParam<const char*> {};

TEST_P(pdf_layouts, same_pages_come_out) {
    const std::string plain = two_pages();
    const std::string bytes = laid_out_by_qpdf(GetParam(), plain);
    ASSERT_NE(bytes, plain);
    auto pdf = PdfObjects::read(bytes);
    ASSERT_TRUE(pdf.ok()) << pdf.refusal().to_text();
    pdf->set_key(pdf->root(), "/Lang", pdf_text("en-US"));
    const std::string out = pdf->write();
    EXPECT_EQ(fault_in_pdf(out), "");
    EXPECT_EQ(text_of(out), text_of(plain));
    EXPECT_NE(tool_on("qpdf --json", out).find("\"/Lang\": \"u:en-US\""), std::string::npos);
    EXPECT_EQ(PdfObjects::read(bytes)->count(), pdf->count());
}

INSTANTIATE_TEST_SUITE_P(
    of_qpdf, pdf_layouts,
    ::testing::Values("--qdf", "--object-streams=generate", "--object-streams=generate --linearize",
                      "--qdf --object-streams=preserve --newline-before-endstream",
                      "--encrypt '' owner 256 -- --object-streams=generate",
                      "--stream-data=uncompress --object-streams=disable"));

/// Blanks, comments, line ends and spellings that Cairo does not use; objects out of order.
std::string oddly_written() {
    std::string out = "%PDF-1.4\r\n";
    std::vector<std::size_t> at(6);
    const auto object = [&](std::size_t number, const std::string& body) {
        at[number] = out.size();
        out += std::to_string(number) + "\t0 obj" + body + "endobj\r";
    };
    object(5, "<</Length 3 0 R>>% bytes follow\nstream\r\n0 0 9 9 re f\nendstream ");
    object(3, " 12\n");
    object(4,
           "<</T#79pe/Page/Parent 2 0 R/Contents[5 0 R]/MediaBox[0 0 9 9]/Odd(a \\) >> (b) /F)>>");
    object(1, "<</Type/Catalog%>>\r/Pages 2 0 R>>");
    object(2, "<</Type/Pages/Kids[4 0 R]/Count 1>>");
    const std::size_t table = out.size();
    char row[32];
    out += "xref\n0 6\n0000000000 65535 f \n";
    for (std::size_t i = 1; i < 6; ++i) {
        std::snprintf(row, sizeof row, "%010zu 00000 n \n", at[i]);
        out += row;
    }
    return out + "trailer<</Size 6/Root 1 0 R>>\nstartxref\r\n" + std::to_string(table) +
           "\r\n%%EOF";
}

TEST(pdf_objects, blanks_comments_and_order_do_not_matter) {
    const std::string plain = oddly_written();
    EXPECT_EQ(fault_in_pdf(plain), "");
    auto pdf = PdfObjects::read(plain);
    ASSERT_TRUE(pdf.ok()) << pdf.refusal().to_text();
    EXPECT_EQ(pdf->root(), 1);
    EXPECT_EQ(pdf->info(), 0);
    EXPECT_EQ(pdf->stream(5), "0 0 9 9 re f");
    EXPECT_EQ(pdf->body(5), "<</Length 12>>");
    EXPECT_TRUE(is_name(*pdf->value(4, "/Type"), "/Page"));
    EXPECT_EQ(pdf->value(4, "/Contents"), "[5 0 R]");
    EXPECT_FALSE(pdf->value(4, "/F").has_value());
    pdf->set_key(4, "/Type", "/Page");
    pdf->set_key(4, "/F", "4");
    EXPECT_EQ(pdf->body(4),
              "<</T#79pe/Page/Parent 2 0 R/Contents[5 0 R]/MediaBox[0 0 9 9]"
              "/Odd(a \\) >> (b) /F)/F 4 >>");
    EXPECT_EQ(fault_in_pdf(pdf->write()), "");
}

}  // namespace
}  // namespace layproof::paper

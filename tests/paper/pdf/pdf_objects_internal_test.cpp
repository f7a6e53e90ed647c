#include "paper/pdf/pdf_objects_internal.hpp"

#include <cairo-pdf.h>
#include <gtest/gtest.h>

#include <stdexcept>
#include <string>

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
    ASSERT_TRUE(pdf.has_value());
    const std::string again = pdf->write();
    EXPECT_EQ(fault_in_pdf(again), "");
    EXPECT_EQ(text_of(again), text_of(plain));
    EXPECT_EQ(pdf->write(), again);
    EXPECT_EQ(again.substr(0, 9), "%PDF-1.7\n");
}

TEST(pdf_objects, what_is_added_can_be_read) {
    const std::string plain = two_pages();
    auto pdf = PdfObjects::read(plain);
    ASSERT_TRUE(pdf.has_value());
    pdf->set_body(pdf->info(), "<< /Title " + pdf_text("Prüfung (柱) 🏗") + " >>");
    const int note = pdf->add_stream("/Type /Note /Filter /FlateDecode",
                                     [] { return packed("a note of its own"); });
    pdf->add_key(pdf->root(),
                 "/Lang " + pdf_text("en-US") + " /Note " + std::to_string(note) + " 0 R");
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
    ASSERT_TRUE(pdf.has_value());
    std::string list;
    for (int i = 0; i < 2000; ++i)
        list += std::to_string(pdf->add("<< /Number " + std::to_string(i) + " >>")) + " 0 R ";
    pdf->add_key(pdf->root(), "/All [ " + list + "]");
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

TEST(pdf_objects, bytes_of_another_kind_are_not_read_and_do_no_harm) {
    const std::string plain = two_pages();
    EXPECT_FALSE(PdfObjects::read("").has_value());
    EXPECT_FALSE(PdfObjects::read("%PDF-1.5\nstartxref\n9\n%%EOF\n").has_value());
    EXPECT_FALSE(PdfObjects::read("startxref\n99999999999999999999\n").has_value());
    for (std::size_t n = 0; n + 1 < plain.size(); n += 7) {
        const std::string cut = plain.substr(0, n);
        EXPECT_FALSE(PdfObjects::read(cut).has_value()) << n;
    }
    // The table shifted against the objects.
    std::string shifted = plain;
    shifted.insert(20, " ");
    EXPECT_FALSE(PdfObjects::read(shifted).has_value());
}

}  // namespace
}  // namespace layproof::paper

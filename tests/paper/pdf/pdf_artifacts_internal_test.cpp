#include "paper/pdf/pdf_artifacts_internal.hpp"

#include <gtest/gtest.h>

#include <string>

namespace layproof::paper {
namespace {

TEST(pdf_artifacts, rule_between_tagged_texts_is_marked_and_nothing_else) {
    EXPECT_EQ(with_artifacts("q\n/P << /MCID 0 >> BDC\nBT (a) Tj ET\nEMC\n0 0 0 RG 1 w\n"
                             "50 60 m 500 60 l S\n/P << /MCID 1 >> BDC\nBT (b) Tj ET\nEMC\nQ\n"),
              "q\n/P << /MCID 0 >> BDC\nBT (a) Tj ET\nEMC\n0 0 0 RG 1 w\n"
              "/Artifact BMC\n50 60 m 500 60 l S\nEMC\n/P << /MCID 1 >> BDC\nBT (b) Tj ET\nEMC\n"
              "Q\n");
}

TEST(pdf_artifacts, text_outside_is_marked_inside_its_text_object) {
    EXPECT_EQ(with_artifacts("BT /F 1 Tf (foot) Tj (more) Tj ET"),
              "BT /F 1 Tf /Artifact BMC\n(foot) Tj (more) Tj EMC\nET");
}

TEST(pdf_artifacts, mark_ends_before_the_state_that_it_began_in) {
    EXPECT_EQ(with_artifacts("q 0 0 1 1 re f Q 2 2 1 1 re f"),
              "q /Artifact BMC\n0 0 1 1 re f EMC\nQ /Artifact BMC\n2 2 1 1 re f\nEMC\n");
    EXPECT_EQ(with_artifacts("0 0 1 1 re f q 1 1 1 1 re f Q 2 2 1 1 re f\n"),
              "/Artifact BMC\n0 0 1 1 re f q 1 1 1 1 re f Q 2 2 1 1 re f\nEMC\n");
}

TEST(pdf_artifacts, words_in_strings_comments_names_and_pictures_are_no_operators) {
    for (const char* content :
         {"/P BMC (re \\) BT \\( f) Tj EMC", "% 0 0 m 1 1 l S\n", "/re /Do gs", "<6D20> pop",
          "[(m) 3 (re)] 0 d", "/P << /Alt (re f) /MCID 3 >> BDC 0 0 1 1 re f EMC",
          "/P BMC BI /W 1 ID EMC 0 0 m\nEI EMC", "", " \n", "("})
        EXPECT_EQ(with_artifacts(content), content);
}

TEST(pdf_artifacts, picture_in_the_content_and_drawn_form_are_marked) {
    EXPECT_EQ(with_artifacts("BI /W 1 ID Q Q\nEI\nq Q\n"),
              "/Artifact BMC\nBI /W 1 ID Q Q\nEI\nq Q\nEMC\n");
    EXPECT_EQ(with_artifacts("q /x5 Do Q\n"), "q /Artifact BMC\n/x5 Do EMC\nQ\n");
}

TEST(pdf_artifacts, content_cut_short_does_no_harm) {
    const std::string whole =
        "q /P << /MCID 0 >> BDC BT (a\\)) Tj ET EMC 1 2 m 3 4 l S <AB> Tj BI ID x EI [1 2] 0 d Q";
    for (std::size_t n = 0; n <= whole.size(); ++n) {
        const std::string out = with_artifacts(whole.substr(0, n));
        EXPECT_GE(out.size(), n);
    }
}

}  // namespace
}  // namespace layproof::paper

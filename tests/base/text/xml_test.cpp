#include "base/text/xml.hpp"

#include <gtest/gtest.h>

#include <string>

#include "base/random.hpp"
#include "base/text/utf8.hpp"

namespace layproof {
namespace {

TEST(xml_text, markup_is_escaped) {
    EXPECT_EQ(escape_xml("<a href='x'>\"&\""), "&lt;a href=&#39;x&#39;&gt;&quot;&amp;&quot;");
    EXPECT_EQ(escape_xml("&amp;"), "&amp;amp;");
    EXPECT_EQ(escape_xml("a\nb\tc"), "a b c");
    EXPECT_EQ(escape_xml(""), "");
}

TEST(xml_text, valid_unicode_stays) {
    const std::string text = "Ünï 東 𐍈 €";
    EXPECT_EQ(escape_xml(text), text);
    EXPECT_EQ(to_utf8(code_points_in_xml(text)), text);
}

TEST(xml_text, what_xml_cannot_hold_becomes_the_replacement_character) {
    const std::string r = "\xEF\xBF\xBD";
    EXPECT_EQ(escape_xml(std::string("a\0b", 3)), "a" + r + "b");
    EXPECT_EQ(escape_xml("\x01\x1F"), r + r);
    EXPECT_EQ(escape_xml("\xFF"), r);
    EXPECT_EQ(escape_xml("\xC0\x80"), r + r);         // overlong
    EXPECT_EQ(escape_xml("\xED\xA0\x80"), r);         // surrogate, one character
    EXPECT_EQ(escape_xml("\xEF\xBF\xBE"), r);         // U+FFFE
    EXPECT_EQ(escape_xml("\xF4\x90\x80\x80"), r);     // beyond U+10FFFF
    EXPECT_EQ(escape_xml("\xE6\x9D"), r + r);         // cut off
    EXPECT_EQ(escape_xml("\xE6(\x9D"), r + "(" + r);  // broken inside
}

TEST(xml_text, any_bytes_give_valid_utf8_without_markup) {
    Random random(41);
    for (int run = 0; run < 2000; ++run) {
        std::string bytes;
        const int n = random.below(12);
        for (int i = 0; i < n; ++i) bytes += static_cast<char>(random.below(256));
        const std::string once = to_utf8(code_points_in_xml(bytes));
        EXPECT_EQ(to_utf8(code_points_in_xml(once)), once);
        const std::string escaped = escape_xml(bytes);
        EXPECT_EQ(escaped.find_first_of("<>\"'"), std::string::npos);
        if (once.find_first_of("\n\r\t") == std::string::npos) {
            EXPECT_EQ(unescape_xml(escaped), once);
        }
    }
}

}  // namespace
}  // namespace layproof

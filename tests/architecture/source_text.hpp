#pragma once
// C++ text as the house rules need to see it: includes, code without comments and literals, and
// words. Not a parser: a reader of tokens that is right for the style this tree is written in.

#include <string>
#include <string_view>
#include <vector>

namespace layproof::architecture {

struct Include {
    std::string target;  // as written between the quotes or brackets
    int line = 0;
};

struct Word {
    std::string text;  // lower case
    int line = 0;
};

/// The text with comments, the inside of string and character literals, and preprocessor lines
/// replaced by blanks; line breaks stay, so that line numbers stay.
std::string code_only(std::string_view text);

/// Every #include outside comments.
std::vector<Include> includes_of(std::string_view text);

/// Every word of the text, comments and literals included; a_b and AbCd count as two words each.
std::vector<Word> words_of(std::string_view text);

/// The line of a position, from 1.
int line_at(std::string_view text, std::size_t position);

/// Variables that keep a changeable value between calls: not const, and at namespace scope, or
/// static or thread_local anywhere. Takes code_only text; gives the line of each.
std::vector<int> mutable_globals(std::string_view code);

}  // namespace layproof::architecture

#include "architecture/source_text.hpp"

#include <algorithm>
#include <cctype>
#include <cstddef>
#include <regex>

namespace layproof::architecture {
namespace {

bool is_word(char c) {
    return std::isalnum(static_cast<unsigned char>(c)) != 0 || c == '_';
}

enum class Keep { code, code_and_preprocessor };

// One pass over the text that knows comments, literals (raw ones too) and preprocessor lines.
std::string blanked(std::string_view text, Keep keep) {
    std::string out(text);
    const auto blank = [&](std::size_t from, std::size_t to) {
        for (std::size_t k = from; k < to && k < out.size(); ++k) {
            if (out[k] != '\n') out[k] = ' ';
        }
    };
    bool at_line_start = true;
    std::size_t i = 0;
    while (i < text.size()) {
        const char c = text[i];
        if (c == '\n') {
            at_line_start = true;
            ++i;
        } else if (text.substr(i, 2) == "//") {
            const std::size_t end = std::min(text.find('\n', i), text.size());
            blank(i, end);
            i = end;
        } else if (text.substr(i, 2) == "/*") {
            const std::size_t close = text.find("*/", i + 2);
            const std::size_t end = close == std::string_view::npos ? text.size() : close + 2;
            blank(i, end);
            i = end;
        } else if (c == '#' && at_line_start) {
            std::size_t end = i;
            while (end < text.size() && (text[end] != '\n' || text[end - 1] == '\\')) ++end;
            if (keep == Keep::code) blank(i, end);
            i = end;
        } else if (c == 'R' && text.substr(i, 2) == "R\"" && (i == 0 || !is_word(text[i - 1]))) {
            const std::size_t open = std::min(text.find('(', i), text.size());
            const std::string close = ")" + std::string(text.substr(i + 2, open - i - 2)) + "\"";
            const std::size_t found = text.find(close, open);
            const std::size_t end =
                found == std::string_view::npos ? text.size() : found + close.size();
            blank(i, end);
            i = end;
        } else if (c == '"' || (c == '\'' && (i == 0 || !is_word(text[i - 1])))) {
            std::size_t end = i + 1;
            while (end < text.size() && text[end] != c && text[end] != '\n') {
                end += text[end] == '\\' ? 2U : 1U;
            }
            blank(i + 1, end);
            i = end + 1;
            at_line_start = false;
        } else {
            if (std::isspace(static_cast<unsigned char>(c)) == 0) at_line_start = false;
            ++i;
        }
    }
    return out;
}

struct Token {
    std::string text;
    int line = 0;
};

std::vector<Token> tokens_of(std::string_view code) {
    std::vector<Token> tokens;
    int line = 1;
    for (std::size_t i = 0; i < code.size();) {
        if (code[i] == '\n') ++line;
        if (std::isspace(static_cast<unsigned char>(code[i])) != 0) {
            ++i;
            continue;
        }
        std::size_t end = i + 1;
        if (is_word(code[i])) {
            while (end < code.size() && is_word(code[end])) ++end;
        }
        tokens.push_back({std::string(code.substr(i, end - i)), line});
        i = end;
    }
    return tokens;
}

enum class Scope { space, type, block };

// The words and signs gathered since the last statement ended, at one scope.
class Statement {
public:
    void add(const Token& token) {
        if (tokens_.empty()) line_ = token.line;
        tokens_.push_back(token.text);
    }
    void clear() { tokens_.clear(); }
    int line() const { return line_; }
    bool empty() const { return tokens_.empty(); }
    bool has(std::initializer_list<std::string_view> words) const {
        return std::any_of(tokens_.begin(), tokens_.end(), [&](const std::string& token) {
            return std::find(words.begin(), words.end(), token) != words.end();
        });
    }
    // Before any initialiser: in "int a = f(x)" the head is "int a".
    bool head_has(std::string_view sign) const {
        for (const std::string& token : tokens_) {
            if (token == sign) return true;
            if (token == "=") return false;
        }
        return false;
    }
    std::size_t size() const { return tokens_.size(); }

private:
    std::vector<std::string> tokens_;
    int line_ = 0;
};

bool declares_no_variable(const Statement& s) {
    return s.has({"using", "typedef", "namespace", "static_assert", "friend", "template",
                  "operator", "concept", "public", "private", "protected", "return", "asm"});
}

bool is_constant(const Statement& s) {
    return s.has({"const", "constexpr", "consteval"});
}

// The statement ended with ';', or with '{' that opens an initialiser.
bool is_mutable_global(const Statement& s, Scope scope) {
    if (s.empty() || is_constant(s) || declares_no_variable(s)) return false;
    const bool is_lasting = s.has({"static", "thread_local"});
    const bool is_function = s.head_has("(") && scope != Scope::block;
    if (is_lasting) return !is_function;
    if (scope != Scope::space || is_function) return false;
    // "struct X;" declares a type, "struct X {..} x;" is not written in this tree.
    return s.size() >= 2 && !s.has({"struct", "class", "enum", "union"});
}

}  // namespace

std::string code_only(std::string_view text) {
    return blanked(text, Keep::code);
}

int line_at(std::string_view text, std::size_t position) {
    const auto head = text.substr(0, position);
    return 1 + static_cast<int>(std::count(head.begin(), head.end(), '\n'));
}

std::vector<Include> includes_of(std::string_view text) {
    static const std::regex pattern(R"(^[ \t]*#[ \t]*include[ \t]*[<"]([^>"\n]+)[>"])",
                                    std::regex::ECMAScript | std::regex::multiline);
    const std::string kept = blanked(text, Keep::code_and_preprocessor);
    std::vector<Include> found;
    for (std::sregex_iterator it(kept.begin(), kept.end(), pattern), end; it != end; ++it) {
        const auto position = static_cast<std::size_t>(it->position(1));
        found.push_back({(*it)[1].str(), line_at(kept, position)});
    }
    return found;
}

std::vector<Word> words_of(std::string_view text) {
    std::vector<Word> words;
    std::string word;
    int line = 1;
    const auto finish = [&] {
        if (!word.empty()) words.push_back({word, line});
        word.clear();
    };
    char last = ' ';
    for (const char c : text) {
        const auto u = static_cast<unsigned char>(c);
        if (std::isalpha(u) == 0) {
            finish();
        } else {
            const bool is_hump =
                std::isupper(u) != 0 && std::islower(static_cast<unsigned char>(last)) != 0;
            if (is_hump) finish();
            word += static_cast<char>(std::tolower(u));
        }
        if (c == '\n') ++line;
        last = c;
    }
    finish();
    return words;
}

std::vector<int> mutable_globals(std::string_view code) {
    std::vector<int> lines;
    struct Open {
        Scope scope;
        int brackets_outside;
        Statement outside;  // goes on after a lambda or {} among arguments
    };
    std::vector<Open> open{{Scope::space, 0, {}}};
    Statement statement;
    int brackets = 0;  // inside ( ) a ';' ends nothing
    for (const Token& token : tokens_of(code)) {
        if (token.text == "(") ++brackets;
        if (token.text == ")") --brackets;
        if (token.text == "{") {
            Scope inner = Scope::block;
            if (statement.has({"namespace", "extern"})) {
                inner = Scope::space;
            } else if (statement.has({"struct", "class", "union"}) && !statement.head_has("(") &&
                       !statement.head_has("=")) {
                inner = Scope::type;
            } else if (brackets == 0 && is_mutable_global(statement, open.back().scope)) {
                lines.push_back(statement.line());
            }
            open.push_back({inner, brackets, brackets > 0 ? statement : Statement{}});
            brackets = 0;
            statement.clear();
        } else if (token.text == "}") {
            statement.clear();
            if (open.size() > 1) {
                brackets = open.back().brackets_outside;
                statement = open.back().outside;
                open.pop_back();
            }
        } else if (token.text == ";" && brackets == 0) {
            if (is_mutable_global(statement, open.back().scope)) lines.push_back(statement.line());
            statement.clear();
        } else {
            statement.add(token);
        }
    }
    return lines;
}

}  // namespace layproof::architecture

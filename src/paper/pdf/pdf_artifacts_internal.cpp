#include "paper/pdf/pdf_artifacts_internal.hpp"

#include <algorithm>
#include <cstddef>

#include "paper/pdf/pdf_syntax_internal.hpp"

namespace layproof::paper {
namespace {

/// Operators of a content stream, one after the other (ISO 32000-1, 7.2 and 7.8.2).
class Operators {
public:
    explicit Operators(std::string_view content) : text_(content) {}

    /// False at the end.
    bool next() {
        bool is_first = true;
        while (true) {
            skip_white();
            if (at_ >= text_.size()) return false;
            if (is_first) from = at_;
            is_first = false;
            const char c = text_[at_];
            if (c == '(') {
                at_ = end_of_pdf_string(text_, at_).value_or(text_.size());
            } else if (text_.substr(at_, 2) == "<<") {
                at_ += 2;
            } else if (c == '<') {
                at_ = std::min(text_.find('>', at_), text_.size() - 1) + 1;
            } else if (c == '/') {
                ++at_;
                skip_word();
            } else if (is_pdf_delimiter(c)) {
                ++at_;
            } else {
                const std::size_t begin = at_;
                skip_word();
                word = text_.substr(begin, at_ - begin);
                const bool is_number = c == '+' || c == '-' || c == '.' || (c >= '0' && c <= '9');
                if (is_number || word == "true" || word == "false" || word == "null") continue;
                if (word == "ID") skip_picture();
                return true;
            }
        }
    }

    std::size_t from = 0;   ///< of its first operand
    std::string_view word;  ///< the operator

private:
    void skip_white() {
        while (at_ < text_.size()) {
            if (text_[at_] == '%')
                at_ = std::min(text_.find_first_of("\r\n", at_), text_.size());
            else if (is_pdf_blank(text_[at_]))
                ++at_;
            else
                return;
        }
    }
    void skip_word() {
        while (at_ < text_.size() && !is_pdf_blank(text_[at_]) && !is_pdf_delimiter(text_[at_]))
            ++at_;
    }
    /// The bytes of a picture that stands in the content itself.
    void skip_picture() {
        for (std::size_t end = at_; (end = text_.find("EI", end)) != std::string_view::npos;
             ++end) {
            const bool is_end = is_pdf_blank(text_[end - 1]) &&
                                (end + 2 >= text_.size() || is_pdf_blank(text_[end + 2]));
            if (!is_end) continue;
            at_ = end;
            return;
        }
        at_ = text_.size();
    }

    std::string_view text_;
    std::size_t at_ = 0;
};

}  // namespace

std::string with_artifacts(std::string_view content) {
    std::string out;
    out.reserve(content.size() + content.size() / 8);
    std::size_t copied = 0;
    const auto put = [&](std::size_t before, std::string_view mark) {
        out += content.substr(copied, before - copied);
        out += mark;
        copied = before;
    };
    int marked = 0;  // depth of marked content
    int states = 0;  // depth of saved graphics states
    int begun = 0;   // states when the artifact began
    bool open = false, in_text = false;
    const auto begin = [&](std::size_t before) {
        if (open || marked > 0) return;
        put(before, "/Artifact BMC\n");
        open = true;
        begun = states;
    };
    const auto end = [&](std::size_t before) {
        if (open) put(before, "EMC\n");
        open = false;
    };
    Operators op(content);
    while (op.next()) {
        const std::string_view w = op.word;
        if (w == "BDC" || w == "BMC") {
            end(op.from);
            ++marked;
        } else if (w == "EMC") {
            if (marked > 0) --marked;
        } else if (w == "q") {
            ++states;
        } else if (w == "Q") {
            if (open && states <= begun) end(op.from);
            --states;
        } else if (w == "BT") {
            end(op.from);
            in_text = true;
        } else if (w == "ET") {
            end(op.from);
            in_text = false;
        } else if (in_text ? w == "Tj" || w == "TJ" || w == "'" || w == "\""
                           : w == "m" || w == "re" || w == "Do" || w == "sh" || w == "BI") {
            begin(op.from);
        }
    }
    if (open && !out.empty() && content.back() != '\n') put(content.size(), "\n");
    end(content.size());
    out += content.substr(copied);
    return out;
}

}  // namespace layproof::paper

#include "paper/pdf/pdf_flow_internal.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <set>
#include <utility>

#include "drawing/plan_symbols.hpp"
#include "paper/pdf/pdf_picture_internal.hpp"
#include "paper/pdf/pdf_table_internal.hpp"

namespace layproof::paper {
namespace {

constexpr double kLeft = PageSize::kSide;
constexpr int kMostParagraphLines = 40;
constexpr double kRowPad = 1.6;

void flow_rule(cairo_t* cr, double x, double y, double width, std::string_view colour,
               double thick) {
    const auto c = colour_of(colour);
    cairo_set_source_rgb(cr, c[0], c[1], c[2]);
    cairo_set_line_width(cr, thick);
    cairo_move_to(cr, x, y);
    cairo_line_to(cr, x + width, y);
    cairo_stroke(cr);
}

void flow_fill(cairo_t* cr, double x, double y, double width, double height,
               std::string_view colour) {
    const auto c = colour_of(colour);
    cairo_set_source_rgb(cr, c[0], c[1], c[2]);
    cairo_rectangle(cr, x, y, width, height);
    cairo_fill(cr);
}

/// A tag about what `draw` draws; none for what is repeated.
template <class Draw>
void tagged(cairo_t* cr, const char* tag, bool repeated, Draw draw) {
    if (!repeated) cairo_tag_begin(cr, tag, nullptr);
    draw();
    if (!repeated) cairo_tag_end(cr, tag);
}

class FlowMaker {
public:
    FlowMaker(const Paper& paper, const PageSize& page, TextSetter& text)
        : paper_(paper), page_(page), text_(text), width_(page.text_width()) {
        for (const Block& block : paper.blocks)
            if (const auto* h = std::get_if<Heading>(&block))
                if (!h->anchor.empty()) anchors_.insert(anchor_of(h->anchor));
    }

    Flow make() {
        title();
        for (const Block& block : paper_.blocks)
            std::visit([&](const auto& one) { add(one); }, block);
        if (!flow_.pieces.empty()) flow_.pieces.back().with_next = false;
        return std::move(flow_);
    }

private:
    /// Letters, digits and hyphens, as attributes of tags take them.
    static std::string anchor_of(const std::string& anchor) {
        std::string out;
        for (const char c : anchor) {
            const bool plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') ||
                               (c >= '0' && c <= '9') || c == '-';
            out += plain ? c : '-';
        }
        return out;
    }

    Piece& piece(double before, double height) {
        flow_.pieces.push_back({});
        flow_.pieces.back().before = before;
        flow_.pieces.back().height = height;
        return flow_.pieces.back();
    }

    void text_piece(const std::string& text, Face face, const char* tag, double before,
                    bool with_next = false, double indent = 0.0, int most = kMostParagraphLines) {
        const std::string set = settable(text);
        if (set.empty()) return;
        const double width = width_ - indent;
        Piece& p = piece(before, text_.height(set, face, width, most));
        p.with_next = with_next;
        p.draw = [this, set, face, tag, width, indent, most](cairo_t* cr, double y, bool again) {
            tagged(cr, tag, again,
                   [&] { text_.draw(cr, kLeft + indent, y, set, face, width, most); });
        };
    }

    void title() { text_piece(paper_.title, Face::title, "H1", 0.0, true, 0.0, 3); }

    void add(const Heading& h) {
        const int level = std::clamp(h.level, 1, 3);
        const Face face = level == 1   ? Face::section
                          : level == 2 ? Face::heading
                                       : Face::small_heading;
        const double before = level == 1 ? 22.0 : level == 2 ? 15.0 : 9.0;
        const std::string set = settable(h.text);
        if (set.empty()) return;
        std::string anchor = anchor_of(h.anchor);
        if (anchor.empty()) anchor = fmt::format("part-{}", flow_.outline.size() + 1);
        const double after = level == 1 ? 5.0 : 2.0;
        const double height = text_.height(set, face, width_, 4);
        Piece& p = piece(before, height + after);
        p.with_next = true;
        p.new_page = h.new_page;
        const char* tag = level == 1 ? "H2" : level == 2 ? "H3" : "H4";
        p.draw = [this, set, face, tag, anchor, level, height](cairo_t* cr, double y, bool again) {
            tagged(cr, tag, again, [&] {
                cairo_tag_begin(cr, CAIRO_TAG_DEST, fmt::format("name='{}'", anchor).c_str());
                text_.draw(cr, kLeft, y, set, face, width_, 4);
                cairo_tag_end(cr, CAIRO_TAG_DEST);
            });
            if (level == 1)
                flow_rule(cr, kLeft, y + height + 2.0, width_, drawing::ink::kText, 0.8);
        };
        if (level <= 2) flow_.outline.push_back({level, set, anchor});
    }

    void add(const Paragraph& p) {
        const Face face = p.tone == Tone::strong  ? Face::strong
                          : p.tone == Tone::quiet ? Face::quiet
                                                  : Face::body;
        text_piece(p.text, face, "P", 5.0);
    }

    void add(const Bullets& b) {
        constexpr double kIndent = 16.0;
        for (std::size_t i = 0; i < b.items.size(); ++i) {
            const std::string set = settable(b.items[i]);
            const std::string mark = b.numbered ? fmt::format("{}.", i + 1) : "\u2022";
            const double width = width_ - kIndent;
            Piece& p = piece(i == 0 ? 5.0 : 2.5,
                             std::max(text_.height(set, Face::body, width, kMostParagraphLines),
                                      style_of(Face::body).leading));
            if (i == 0) p.open.emplace_back("L");
            if (i + 1 == b.items.size()) p.close = 1;
            p.draw = [this, set, mark, width](cairo_t* cr, double y, bool again) {
                tagged(cr, "LI", again, [&] {
                    tagged(cr, "Lbl", again,
                           [&] { text_.draw(cr, kLeft + 3.0, y, mark, Face::body, kIndent, 1); });
                    tagged(cr, "LBody", again, [&] {
                        text_.draw(cr, kLeft + kIndent, y, set, Face::body, width,
                                   kMostParagraphLines);
                    });
                });
            };
        }
    }

    void add(const Pairs& pairs) {
        double names = 0.0;
        for (const auto& e : pairs.entries)
            names = std::max(names, text_.width(settable(e.name), Face::quiet));
        names = std::min(names, 0.35 * width_) + 12.0;
        bool first = true;
        for (const auto& e : pairs.entries) {
            const std::string name = settable(e.name);
            const std::string value = settable(e.value);
            const Face face = e.is_code ? Face::code : Face::body;
            const double width = width_ - names;
            const double height = std::max(text_.height(name, Face::quiet, names - 12.0, 4),
                                           text_.height(value, face, width, kMostParagraphLines));
            Piece& p = piece(first ? 5.0 : 1.5, height);
            first = false;
            p.draw = [this, name, value, face, names, width](cairo_t* cr, double y, bool again) {
                tagged(cr, "P", again, [&] {
                    text_.draw(cr, kLeft, y + 0.8, name, Face::quiet, names - 12.0, 4);
                    text_.draw(cr, kLeft + names, y, value, face, width, kMostParagraphLines);
                });
            };
        }
    }

    void add(const VerdictBox& box) {
        constexpr double kPad = 11.0;
        constexpr double kSign = 30.0;
        const double width = width_ - 2.0 * kPad - kSign;
        const std::string headline = settable(box.headline);
        const std::string because = settable(box.because);
        const std::string next = box.next.empty() ? "" : settable("Next: " + box.next);
        const double h1 = text_.height(headline, Face::heading, width, 4);
        const double h2 = text_.height(because, Face::body, width, 20);
        const double h3 = text_.height(next, Face::strong, width, 20);
        const double gap1 = h2 > 0.0 ? 3.0 : 0.0;
        const double gap2 = h3 > 0.0 ? 4.0 : 0.0;
        Piece& p = piece(9.0, h1 + gap1 + h2 + gap2 + h3 + 2.0 * kPad);
        const drawing::PlanWord word = box.word;
        p.draw = [=, this](cairo_t* cr, double y, bool again) {
            const double height = h1 + gap1 + h2 + gap2 + h3 + 2.0 * kPad;
            flow_fill(cr, kLeft, y, width_, height, drawing::ink::kTint);
            const auto c = colour_of(word == drawing::PlanWord::proven   ? drawing::ink::kProven
                                     : word == drawing::PlanWord::fails  ? drawing::ink::kFails
                                     : word == drawing::PlanWord::to_lay ? drawing::ink::kMuted
                                                                         : drawing::ink::kDoubt);
            cairo_set_source_rgb(cr, c[0], c[1], c[2]);
            cairo_set_line_width(cr, 1.2);
            cairo_rectangle(cr, kLeft + 0.6, y + 0.6, width_ - 1.2, height - 1.2);
            cairo_stroke(cr);
            draw_sign(cr, kLeft + kPad + 9.0, y + kPad + 8.0, word, 8.5, text_);
            const double x = kLeft + kPad + kSign;
            double at = y + kPad;
            tagged(cr, "P", again,
                   [&] { text_.draw(cr, x, at, headline, Face::heading, width, 4); });
            at += h1 + gap1;
            if (h2 > 0.0)
                tagged(cr, "P", again,
                       [&] { text_.draw(cr, x, at, because, Face::body, width, 20); });
            at += h2 + gap2;
            if (h3 > 0.0)
                tagged(cr, "P", again,
                       [&] { text_.draw(cr, x, at, next, Face::strong, width, 20); });
        };
    }

    void add(const Caution& caution) {
        constexpr double kPad = 8.0;
        const double width = width_ - 2.0 * kPad;
        const std::string set = settable(caution.text);
        const double height = text_.height(set, Face::strong, width, kMostParagraphLines);
        Piece& p = piece(8.0, height + 2.0 * kPad);
        p.draw = [=, this](cairo_t* cr, double y, bool again) {
            const auto c = colour_of(drawing::ink::kText);
            cairo_set_source_rgb(cr, c[0], c[1], c[2]);
            cairo_set_line_width(cr, 0.8);
            const double dash[] = {3.0, 2.0};
            cairo_set_dash(cr, dash, 2, 0.0);
            cairo_rectangle(cr, kLeft + 0.4, y + 0.4, width_ - 0.8, height + 2.0 * kPad - 0.8);
            cairo_stroke(cr);
            cairo_set_dash(cr, nullptr, 0, 0.0);
            tagged(cr, "P", again, [&] {
                text_.draw(cr, kLeft + kPad, y + kPad, set, Face::strong, width,
                           kMostParagraphLines);
            });
        };
    }

    void add(const Drawing& drawing) {
        const drawing::Picture& picture = drawing.picture;
        if (!(picture.width > 0.0) || !(picture.height > 0.0)) return;
        double room = page_.text_height() - 40.0;
        if (drawing.most_height > 0.0) room = std::min(room, drawing.most_height);
        const double scale = std::min({1.0, width_ / picture.width, room / picture.height});
        Piece& p = piece(8.0, picture.height * scale);
        flow_.figure_words.push_back(settable(drawing.words));
        p.draw = [this, &picture, scale](cairo_t* cr, double y, bool again) {
            tagged(cr, "Figure", again, [&] {
                cairo_save(cr);
                cairo_translate(cr, kLeft + 0.5 * (width_ - picture.width * scale), y);
                cairo_scale(cr, scale, scale);
                draw_picture(cr, picture, text_);
                cairo_restore(cr);
            });
        };
    }

    // ---- tables --------------------------------------------------------------------------------

    int cell_lines(const Cell& cell, double width) {
        const double sign = cell.word ? kSignWidth * text_.factor() : 0.0;
        return std::max(
            1, text_.lines(settable(cell.text), Face::table, width - sign, kMostCellLines));
    }

    void draw_cell(cairo_t* cr, const Cell& cell, Align align, double x, double y, double width,
                   bool again) {
        const std::string set = settable(cell.text);
        const std::string anchor = anchor_of(cell.link);
        const bool links = !again && !anchor.empty() && anchors_.count(anchor) > 0;
        if (links) cairo_tag_begin(cr, CAIRO_TAG_LINK, fmt::format("dest='{}'", anchor).c_str());
        const double sign = cell.word ? kSignWidth * text_.factor() : 0.0;
        if (cell.word)
            draw_sign(cr, x + 3.4 * text_.factor(),
                      y + 0.5 * style_of(Face::table).leading * text_.factor(), *cell.word,
                      3.1 * text_.factor(), text_);
        text_.draw(cr, x + sign, y, set, Face::table, width - sign, kMostCellLines, align);
        if (links) cairo_tag_end(cr, CAIRO_TAG_LINK);
    }

    void add(const Table& table) {
        if (table.columns.empty()) return;
        if (!table.caption.empty()) text_piece(table.caption, Face::quiet, "P", 7.0, true);
        const auto plan = std::make_shared<ColumnPlan>(plan_columns(table, width_, text_));
        text_.shrink(plan->factor);
        const double strong = style_of(Face::table_strong).leading * plan->factor;
        const double plain = style_of(Face::table).leading * plan->factor;
        const double quiet = style_of(Face::table_quiet).leading * plan->factor;

        int head_lines = 1;
        for (std::size_t c = 0; c < table.columns.size(); ++c)
            head_lines = std::max(head_lines, text_.lines(settable(table.columns[c].head),
                                                          Face::table_strong, plan->widths[c], 4));
        const double head_height = head_lines * strong + 4.0;
        const int head = static_cast<int>(flow_.pieces.size());
        Piece& h = piece(5.0, head_height);
        h.with_next = true;
        h.open.emplace_back("Table");
        if (table.rows.empty()) h.close = 1;
        h.draw = [this, &table, plan, head_height, head_lines, strong](cairo_t* cr, double y,
                                                                       bool again) {
            text_.shrink(plan->factor);
            tagged(cr, "TR", again, [&] {
                for (std::size_t c = 0; c < table.columns.size(); ++c) {
                    const Column& column = table.columns[c];
                    const std::string set = settable(column.head);
                    const int lines = text_.lines(set, Face::table_strong, plan->widths[c], 4);
                    tagged(cr, "TH", again, [&] {
                        text_.draw(cr, kLeft + plan->lefts[c],
                                   y + (head_lines - std::max(1, lines)) * strong, set,
                                   Face::table_strong, plan->widths[c], 4, column.align);
                    });
                }
            });
            text_.shrink(1.0);
            flow_rule(cr, kLeft, y + head_height - 1.6, plan->width, drawing::ink::kText, 0.7);
        };

        for (std::size_t r = 0; r < table.rows.size(); ++r) {
            const Row& row = table.rows[r];
            int lines = 1;
            for (std::size_t c = 0; c < std::min(row.cells.size(), plan->widths.size()); ++c)
                lines = std::max(lines, cell_lines(row.cells[c], plan->widths[c]));
            const std::string under = settable(row.under);
            const double under_height =
                text_.lines(under, Face::table_quiet, plan->width - 12.0, kMostCellLines) * quiet;
            const double height = lines * plain + under_height + 2.0 * kRowPad;
            Piece& p = piece(0.0, height);
            p.head = head;
            if (r + 1 == table.rows.size()) p.close = 1;
            // A single row is not left alone under its head, nor the last one on a new page.
            p.with_next = r + 2 == table.rows.size();
            p.draw = [this, &table, &row, plan, under, lines, plain, height](cairo_t* cr, double y,
                                                                             bool again) {
                text_.shrink(plan->factor);
                tagged(cr, "TR", again, [&] {
                    for (std::size_t c = 0; c < plan->widths.size(); ++c) {
                        tagged(cr, "TD", again, [&] {
                            if (c < row.cells.size())
                                draw_cell(cr, row.cells[c], table.columns[c].align,
                                          kLeft + plan->lefts[c], y + kRowPad, plan->widths[c],
                                          again);
                        });
                    }
                });
                if (!under.empty())
                    tagged(cr, "TR", again, [&] {
                        tagged(cr, "TD", again, [&] {
                            text_.draw(cr, kLeft + 12.0, y + kRowPad + lines * plain, under,
                                       Face::table_quiet, plan->width - 12.0, kMostCellLines);
                        });
                    });
                text_.shrink(1.0);
                flow_rule(cr, kLeft, y + height, plan->width, drawing::ink::kFaint, 0.4);
            };
        }
        text_.shrink(1.0);
    }

    const Paper& paper_;
    const PageSize& page_;
    TextSetter& text_;
    double width_;
    std::set<std::string> anchors_;
    Flow flow_;
};

}  // namespace

Flow flow_of(const Paper& paper, const PageSize& page, TextSetter& text) {
    auto maker = std::make_shared<FlowMaker>(paper, page, text);
    Flow flow = maker->make();
    flow.keeps = maker;
    return flow;
}

std::vector<std::vector<PlacedPiece>> paginate(const std::vector<Piece>& pieces,
                                               const PageSize& page) {
    std::vector<std::vector<PlacedPiece>> pages(1);
    const double bottom = PageSize::kTop + page.text_height();
    double y = PageSize::kTop;
    for (std::size_t i = 0; i < pieces.size(); ++i) {
        const Piece& p = pieces[i];
        // What must stay together, up to the first piece that may stand alone; a long chain gives
        // way when it would not fit a page anyhow.
        double need = p.height;
        for (std::size_t k = i; pieces[k].with_next && k + 1 < pieces.size(); ++k) {
            const double more = pieces[k + 1].before + pieces[k + 1].height;
            if (need + more > 0.7 * page.text_height()) break;
            need += more;
        }
        const bool at_top = pages.back().empty();
        const double before = at_top ? 0.0 : p.before;
        if (!at_top && (p.new_page || y + before + need > bottom)) {
            pages.emplace_back();
            y = PageSize::kTop;
            if (p.head >= 0 && static_cast<std::size_t>(p.head) < i) {
                pages.back().push_back({static_cast<std::size_t>(p.head), y, true});
                y += pieces[static_cast<std::size_t>(p.head)].height;
            }
        } else {
            y += before;
        }
        pages.back().push_back({i, y, false});
        y += p.height;
    }
    return pages;
}

}  // namespace layproof::paper

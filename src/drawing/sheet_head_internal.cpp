#include "drawing/sheet_head_internal.hpp"

#include "drawing/label_layout_internal.hpp"

namespace layproof::drawing {
namespace {

double framed(SvgCanvas& canvas, const SheetWidth& sheet, double y, const std::string& head,
              const std::string& text) {
    const double room = sheet.width - 2.0 * sheet.pad;
    const auto lines = wrap_text(head + text, 13.0, room - 26.0, head.empty());
    const double height = 17.0 * static_cast<double>(lines.size()) + 11.0;
    const bool caution = !head.empty();
    canvas.rectangle({sheet.pad, y}, room, height,
                     {.colour = ink::kMuted,
                      .width = 1.0,
                      .dash = caution ? "" : "6 4",
                      .fill = caution ? ink::kTint : ink::kPaper});
    if (caution) canvas.rectangle({sheet.pad, y}, 5.0, height, {.width = 0.0, .fill = ink::kText});
    double baseline = y + 18.0;
    for (const auto& line : lines) {
        canvas.text({sheet.pad + 14.0, baseline}, line, {.size = 13.0, .bold = head.empty()});
        baseline += 17.0;
    }
    return y + height;
}

}  // namespace

double draw_sheet_head(SvgCanvas& canvas, const SheetWidth& sheet, double y,
                       const std::string& title, const std::vector<std::string>& job_lines,
                       const std::string& remark, const std::vector<std::string>& cautions) {
    const double room = sheet.width - 2.0 * sheet.pad;
    canvas.rectangle({sheet.pad, sheet.pad - 6.0}, 56.0, 4.0, {.width = 0.0, .fill = ink::kProven});
    const double size = sheet.is_wide ? 21.0 : 18.0;
    for (const auto& line : wrap_text(title, size, room, true)) {
        y += size + 4.0;
        canvas.text({sheet.pad, y - 3.0}, line, {.size = size, .bold = true});
    }
    for (const auto& job_line : job_lines) {
        for (const auto& line : wrap_text(job_line, 13.0, room)) {
            y += 18.0;
            canvas.text({sheet.pad, y - 2.0}, line, {.size = 13.0, .colour = ink::kMuted});
        }
    }
    if (!remark.empty()) y = framed(canvas, sheet, y + 10.0, "", remark);
    for (const auto& caution : cautions) y = framed(canvas, sheet, y + 8.0, "Caution: ", caution);
    return y;
}

}  // namespace layproof::drawing

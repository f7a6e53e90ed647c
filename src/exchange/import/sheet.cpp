#include "exchange/import/sheet.hpp"

#include <algorithm>
#include <utility>

#include "exchange/import/import.hpp"
#include "exchange/tables/control_readers.hpp"

namespace layproof::exchange {
namespace {

Result<Table<frame::Mark>> read_open_list(const Document& document, bool is_drawing,
                                          const ReadOptions& options) {
    auto file = read_open_format(document, options);
    if (!file) return file.refusal();
    Table<frame::Mark> out;
    out.unit = file->unit.unit;
    const bool tells = std::any_of(file->points.begin(), file->points.end(),
                                   [](const auto& p) { return p.is_control; });
    for (const ImportedPoint& point : file->points) {
        if (!is_drawing && tells && !point.is_control) continue;
        frame::Mark mark;
        mark.name = point.name;
        mark.east_m = point.east_m;
        mark.north_m = point.north_m;
        mark.height_m = point.height_m;
        const auto sd = [](const std::optional<float>& stated) {
            return stated ? static_cast<double>(*stated) : frame::kDefaultMarkSd_m;
        };
        mark.sd_east_m = sd(point.sd_east_m);
        mark.sd_north_m = sd(point.sd_north_m);
        mark.sd_height_m = sd(point.sd_height_m);
        mark.place = {document.name, point.line, point.column};
        out.rows.push_back(std::move(mark));
    }
    if (out.rows.empty())
        return Refusal{ErrorCode::no_marks,
                       {document.name, 0, 0},
                       "a file without points",
                       "at least one point"};
    out.notices = std::move(file->notices);
    for (std::string& sentence : sentences(*file)) out.notices.push_back(std::move(sentence));
    return out;
}

}  // namespace

Result<Table<frame::Mark>> read_any_sheet(const Document& document, const ReadOptions& options) {
    return format_of(document) == FileFormat::delimited ? read_sheet(document, options)
                                                        : read_open_list(document, false, options);
}

Result<Table<frame::Mark>> read_any_drawing(const Document& document, const ReadOptions& options) {
    return format_of(document) == FileFormat::delimited ? read_sheet(document, options)
                                                        : read_open_list(document, true, options);
}

}  // namespace layproof::exchange

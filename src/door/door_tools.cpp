#include <algorithm>
#include <array>
#include <string_view>
#include <utility>
#include <vector>

#include "door/door_requests_internal.hpp"
#include "door/door_tools_internal.hpp"

namespace layproof::acts::internal {
namespace {

struct CheckTable {
    std::string_view check, tool;
    std::vector<std::string_view> columns;  ///< of rows that are typed
};

const std::array<CheckTable, 5>& check_tables() {
    static const std::array<CheckTable, 5> kTables{{
        {"faces",
         "instrument",
         {"station", "target", "direction", "zenith", "slope_distance", "target_height"}},
        {"sets", "instrument", {"series", "set", "target", "direction", "zenith"}},
        {"line", "instrument", {"from", "to", "distance"}},
        {"base", "instrument", {"known", "measured"}},
        {"turns", "rod", {"turn", "direction", "zenith", "slope_distance", "target_height"}},
    }};
    return kTables;
}

/// Quoted only where it must be: a refusal shows the cell as it was typed.
void add_typed_cell(std::string& csv, std::string_view text) {
    if (text.find_first_of("\",;\t\r\n") == std::string_view::npos) {
        csv += text;
        return;
    }
    csv += '"';
    for (const char c : text) csv += c == '"' ? std::string("\"\"") : std::string(1, c);
    csv += '"';
}

exchange::Document typed_document(const CheckTable& table, const Json& rows) {
    exchange::Document out;
    out.name = "typed " + std::string(table.check);
    for (const std::string_view column : table.columns)
        out.bytes += (column == table.columns.front() ? "" : ",") + std::string(column);
    out.bytes += '\n';
    for (const Json& row : rows) {
        for (const std::string_view column : table.columns) {
            if (column != table.columns.front()) out.bytes += ',';
            std::string text = text_in(row, std::string(column).c_str());
            // All pointings of one check are from one place, and their targets stand where they
            // are.
            if (column == "station") text = "here";
            if (column == "target_height" && text.empty()) text = "0";
            add_typed_cell(out.bytes, text);
        }
        out.bytes += '\n';
    }
    return out;
}

Refusal not_that_check(const std::string& check, std::string expected) {
    return {ErrorCode::request_type_wrong, {"tables", 0, 0}, check, std::move(expected)};
}

}  // namespace

Result<ToolAnswer> run_tools(
    const Json& request, const ToolsDefaults& defaults,
    const std::function<Result<exchange::Document>(const std::string&)>& kept_file) {
    InstrumentRequest instrument;
    std::optional<exchange::Document> turns;
    const std::string tool = text_in(request, "tool");
    for (const Json& one : request["tables"]) {
        const std::string check = text_in(one, "check");
        const auto table = std::find_if(check_tables().begin(), check_tables().end(),
                                        [&](const CheckTable& t) { return t.check == check; });
        if (table == check_tables().end() || table->tool != tool)
            return not_that_check(check, "a check of the " + tool);
        auto& into = check == "faces"  ? instrument.faces
                     : check == "sets" ? instrument.sets
                     : check == "line" ? instrument.line
                     : check == "base" ? instrument.base
                                       : turns;
        if (into) return not_that_check(check, "each check once");
        if (one.contains("digest")) {
            auto file = kept_file(text_in(one, "digest"));
            if (!file) return file.refusal();
            into = *std::move(file);
        } else if (one.contains("rows")) {
            into = typed_document(*table, one["rows"]);
        } else {
            return Refusal{ErrorCode::request_field_missing,
                           {"tables", 0, 0},
                           "a check without readings",
                           "the digest of a file, or rows"};
        }
    }
    ToolRequest& asked = instrument.tool;
    asked.unit = defaults.unit;
    asked.show = defaults.show;
    asked.stated = defaults.stated;
    if (const auto at = request.find("radius_m"); at != request.end())
        asked.radius_m = at->get<double>();
    if (const auto at = request.find("tolerance_plan_mm"); at != request.end())
        asked.tolerance_plan_m = at->get<double>() / kMillimetre;
    if (const auto at = request.find("base_sd_mm"); at != request.end())
        instrument.base_sd_m = at->get<double>() / kMillimetre;
    if (tool == "instrument") return run_vet_instrument(instrument);
    if (!turns)
        return Refusal{ErrorCode::value_missing,
                       {"vet rod", 0, 0},
                       "no check",
                       "one mark sighted with the rod turned by 0, 90, 180 and 270°"};
    return run_vet_rod({asked, *std::move(turns)});
}

}  // namespace layproof::acts::internal

// The field checks of instrument and rod.

#include "acts/shared/shape_words.hpp"

namespace layproof::acts::internal::shape {

void add_tools_shapes(Records& out) {
    out.push_back({"ToolsTable",
                   {{"check", word({"faces", "sets", "line", "base", "turns"})},
                    absent("digest", text(), "of a file that was sent"),
                    absent("rows", list(by_name(text())), "column to text, as typed")},
                   true});
    out.push_back({"ToolsRequest",
                   {{"tool", word({"instrument", "rod"})},
                    {"tables", list(record("ToolsTable"))},
                    absent("unit", unit_word(), "of lengths that state none; else the job's"),
                    absent("radius_m", number(), "working radius; else 30"),
                    absent("tolerance_plan_mm", number(), "else 6.35"),
                    absent("base_sd_mm", number(), "of a known base; else 0.5")},
                   true});
    out.push_back({"ToolFinding",
                   {{"finding", text()},
                    {"word", verdict_word()},
                    {"probability", or_null(number()), false, "of taking less than its share"},
                    {"unit", word({"arcsec", "mm"})},
                    {"value", number()},
                    {"sd", or_null(number())},
                    {"limit", or_null(number()), false, "of a scatter"},
                    {"dof", whole()},
                    {"real", flag(), false, "it differs from 0"},
                    {"at_radius_mm", or_null(number()), false, "what it does to a laid point"},
                    {"says", text()},
                    {"next", text()}}});
    out.push_back({"ToolsAnswer",
                   {{"act", word({"vet"})},
                    {"tool", word({"instrument", "rod"})},
                    {"version", text()},
                    {"unit", unit_word()},
                    {"confidence", number()},
                    {"verdict", record("Verdict")},
                    {"radius", number()},
                    {"tolerance_plan_mm", number()},
                    {"findings", list(record("ToolFinding"))},
                    {"notices", list(text())}}});
    out.push_back({"KeepAnswer", {{"act", word({"keep"})}, {"kept", whole(), false, "numbers"}}});
}

}  // namespace layproof::acts::internal::shape

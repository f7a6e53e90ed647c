#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "acts/lay/lay.hpp"
#include "acts/shared/text_table.hpp"
#include "acts/shared/words.hpp"
#include "lay/field_length.hpp"
#include "measure/angle.hpp"

namespace layproof::acts {
namespace {

using internal::shouted;
using internal::small;
using internal::TextTable;
using internal::wrapped;
using measure::LengthStyle;
using station::Word;

constexpr std::size_t kMostLaidRows = 8;
/// Shown although they are proven, when fewer are not.
constexpr std::size_t kLeastLaidRows = 3;
constexpr std::size_t kMostRuleRows = 5;
constexpr std::size_t kMostSettingRows = 8;
constexpr std::size_t kMostTapeRows = 5;

std::string verdict_text(const LayAnswer& answer) {
    if (!answer.verdict) {
        const int points = static_cast<int>(answer.points.size());
        return fmt::format("As laid: nothing yet   ({} to lay)\n",
                           internal::count(points, "point"));
    }
    std::string out =
        fmt::format("As laid: {}   ({} proven, {} in doubt, {} fail; probability {})\n",
                    shouted(answer.verdict->word), answer.proven, answer.in_doubt, answer.fails,
                    internal::percent(answer.verdict->probability));
    out += wrapped(answer.verdict->because, 2);
    out += wrapped("Next: " + answer.verdict->next, 2);
    return out;
}

std::string stations_text(const LayAnswer& answer) {
    std::string out;
    for (const LayStation& one : answer.stations) {
        out += fmt::format("\nStation {}: {}   ({} laid from here, rod {})\n", one.station.station,
                           shouted(one.station.verdict.word), internal::count(one.laid, "point"),
                           measure::format_length(one.rod_height_m, answer.style));
        out += wrapped(one.station.verdict.because, 2);
        if (one.station.verdict.word != Word::proven)
            out += wrapped("Next: " + one.station.verdict.next, 2);
    }
    return out;
}

std::string tolerance_text(const lay::PointTolerance& t, bool has_height,
                           const LengthStyle& style) {
    std::string out = t.plan_m ? internal::tolerance(*t.plan_m, style) : "-";
    if (!has_height || !t.has_height()) return out;
    const auto side = [&](const std::optional<double>& limit) {
        return limit ? internal::tolerance(*limit, style) : std::string("-");
    };
    if (t.height.minus_m == t.height.plus_m) return out + " / " + side(t.height.plus_m);
    return out + " / -" + side(t.height.minus_m) + " +" + side(t.height.plus_m);
}

std::string laid_text(const LayAnswer& answer) {
    if (answer.laid.empty()) return "";
    std::vector<const LaidReport*> order;
    for (const LaidReport& report : answer.laid) order.push_back(&report);
    if (!answer.explain)
        std::stable_sort(order.begin(), order.end(), [](const auto* a, const auto* b) {
            return a->figures.verdict.probability < b->figures.verdict.probability;
        });
    const std::size_t total = order.size();
    const auto open = static_cast<std::size_t>(answer.in_doubt + answer.fails);
    if (!answer.explain)
        order.resize(std::min(total, std::clamp(open, kLeastLaidRows, kMostLaidRows)));
    TextTable table({"As laid", "from", "off east", "off north", "off height", "tolerance",
                     "probability", "", "move"});
    for (const LaidReport* report : order) {
        const lay::PointReport& r = report->figures;
        const lay::PointVerdict& v = r.verdict;
        table.add({r.point, internal::listed(r.stations, 2),
                   internal::signed_small(v.deviation_m.x(), answer.style),
                   internal::signed_small(v.deviation_m.y(), answer.style),
                   v.has_height ? internal::signed_small(v.deviation_m.z(), answer.style) : "-",
                   tolerance_text(v.tolerance, v.has_height, answer.style),
                   v.is_judged ? internal::percent(v.probability) : "-",
                   std::string(station::to_word(v.word)),
                   answer.explain || v.word != Word::proven ? r.move.words : std::string()});
    }
    std::string out =
        "\n" + table.to_text(true) + internal::and_more(order.size(), total, ", surer");
    if (answer.explain)
        for (const LaidReport* report : order)
            out += wrapped(
                fmt::format("{}: {} {}", report->figures.point,
                            internal::capital(report->figures.because), report->figures.next),
                2);
    return out;
}

std::string rules_text(const LayAnswer& answer) {
    if (answer.rules.empty()) return "";
    std::vector<const RuleReport*> order;
    for (const RuleReport& rule : answer.rules) order.push_back(&rule);
    std::stable_sort(order.begin(), order.end(), [](const auto* a, const auto* b) {
        return a->figures.verdict.probability < b->figures.verdict.probability;
    });
    const std::size_t total = order.size();
    if (!answer.explain && total > kMostRuleRows) order.resize(kMostRuleRows);
    TextTable table({"Between points", "to", "rule", "off", "sd", "probability", ""});
    for (const RuleReport* rule : order) {
        const lay::RuleVerdict& r = rule->figures;
        table.add({r.from, r.to, r.tolerance_id,
                   internal::signed_small(r.verdict.deviation_m, answer.style),
                   small(r.verdict.sd_m, answer.style), internal::percent(r.verdict.probability),
                   std::string(station::to_word(r.verdict.word))});
    }
    return "\n" + table.to_text(true) + internal::and_more(order.size(), total, ", surer");
}

/// Where the limits come from, each source once.
std::string sources_text(const LayAnswer& answer) {
    std::set<std::string> said;
    std::string out;
    const auto say = [&](const std::string& id, const std::string& words) {
        if (id.empty() || !said.insert(id).second) return;
        out += wrapped(fmt::format("Limit {}: {}.", id, words), 0);
    };
    for (const LaidReport& report : answer.laid) {
        const lay::PointTolerance& t = report.figures.verdict.tolerance;
        say(t.plan_source.id, t.plan_source.words);
        say(t.height_source.id, t.height_source.words);
    }
    for (const RuleReport& rule : answer.rules)
        say(rule.figures.tolerance_id, rule.figures.source_words);
    return out;
}

std::string setting_out_text(const LayStation& one, const LayAnswer& answer) {
    const LengthStyle& style = answer.style;
    const auto length = [&](const std::optional<double>& value) {
        return value ? measure::format_length(*value, style) : std::string("-");
    };
    std::vector<bool> is_laid(answer.points.size(), false);
    for (const LaidReport& report : answer.laid) is_laid[report.point] = true;
    std::vector<const SetOut*> order;
    for (const SetOut& set_out : one.setting_out)
        if (answer.explain || answer.is_chosen || !is_laid[set_out.point])
            order.push_back(&set_out);
    const std::size_t total = order.size();
    if (!answer.explain && !answer.is_chosen && total > kMostSettingRows)
        order.resize(kMostSettingRows);
    TextTable table({"To lay", "circle", "zenith", "horizontal", "slope", "height", "", "by grid"});
    for (const SetOut* set_out : order) {
        const std::string& name = answer.points[set_out->point].design.name;
        if (!set_out->figures || set_out->figures->at_instrument) {
            table.add({name, "under the instrument", "", "", "", "", "", ""});
            continue;
        }
        const lay::SettingOut& s = *set_out->figures;
        table.add({name, s.direction_rad ? measure::format_direction(*s.direction_rad, 0) : "-",
                   s.zenith_rad ? measure::format_dms(*s.zenith_rad, 0) : "-",
                   measure::format_length(s.horizontal_m, style), length(s.slope_m),
                   length(s.height_difference_m),
                   s.earthwork && !lay::rounds_to_zero(s.earthwork->amount_m, style)
                       ? fmt::format("{} {}", lay::to_word(s.earthwork->word),
                                     small(s.earthwork->amount_m, style))
                       : std::string(),
                   s.grid ? s.grid->words : std::string()});
    }
    if (table.is_empty()) return "";
    return fmt::format("\nFrom {}, rod {}\n", one.station.station,
                       measure::format_length(one.rod_height_m, style)) +
           table.to_text(true) + internal::and_more(order.size(), total, "");
}

std::string tape_text(const LayAnswer& answer) {
    const std::size_t total = answer.tape.size();
    const std::size_t shown = answer.explain ? total : std::min(total, kMostTapeRows);
    TextTable table({"Tape from", "to", "distance", ""});
    for (std::size_t i = 0; i < shown; ++i) {
        const lay::TapeDistance& t = answer.tape[i];
        table.add({answer.points[static_cast<std::size_t>(t.from)].design.name,
                   answer.points[static_cast<std::size_t>(t.to)].design.name,
                   measure::format_length(t.distance_m, answer.style),
                   t.is_diagonal ? "diagonal" : ""});
    }
    if (table.is_empty()) return "";
    return "\n" + table.to_text(true) + internal::and_more(shown, total, "");
}

}  // namespace

std::string to_text(const LayAnswer& answer) {
    std::string out =
        verdict_text(answer) + stations_text(answer) + laid_text(answer) + rules_text(answer);
    for (const LayStation& one : answer.stations) out += setting_out_text(one, answer);
    out += tape_text(answer);
    std::vector<std::string> notices = answer.notices;
    for (const LayStation& one : answer.stations)
        for (const std::string& notice : one.station.notices)
            if (std::find(notices.begin(), notices.end(), notice) == notices.end())
                notices.push_back(notice);
    const std::string sources = sources_text(answer);
    if (!notices.empty() || !sources.empty()) out += "\n";
    out += sources;
    for (const std::string& notice : notices) out += wrapped("Note: " + notice, 0);
    out += "\n" + wrapped(internal::kCaution, 0);
    return out;
}

}  // namespace layproof::acts

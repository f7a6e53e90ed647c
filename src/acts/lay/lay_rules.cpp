#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <cmath>
#include <map>
#include <set>

#include "acts/lay/lay_rules_internal.hpp"
#include "acts/points/places.hpp"

namespace layproof::acts::internal {
namespace {

using lay::Binds;
using lay::LaidAgainst;
using lay::ToleranceRow;

/// A centre farther from a grid line by design is not on it.
constexpr double kOnLine_m = 0.010;

bool stands_in(std::string_view text, std::string_view id) {
    const auto is_part = [](char c) { return std::isalnum(static_cast<unsigned char>(c)) != 0; };
    for (std::size_t at = text.find(id); at != std::string_view::npos; at = text.find(id, at + 1)) {
        const std::size_t end = at + id.size();
        if ((at == 0 || !is_part(text[at - 1])) && (end == text.size() || !is_part(text[end])))
            return true;
    }
    return false;
}

/// The row of that kind which the element names by its id: a word alone asks for no rule.
const ToleranceRow* named_row(const lay::ToleranceTable& table, const std::string& element,
                              Binds binds) {
    for (const ToleranceRow* row : lay::rows_for(table, element))
        if (row->binds == binds && stands_in(element, row->id)) return row;
    return nullptr;
}

struct Group {
    std::string name;
    std::vector<LaidAgainst> points;
    std::size_t designed = 0;  ///< points of the file
};

class Rules {
public:
    Rules(const LayAnswer& answer, const lay::SetupSet& setups, const lay::ToleranceTable& table,
          std::vector<std::string>& notices)
        : answer_(answer), setups_(setups), table_(table), notices_(notices) {}

    std::vector<RuleReport> run() {
        // By the tolerances of the element: its groups in the order of the points file.
        std::vector<std::string> order;
        std::map<std::string, std::vector<Group>> elements;
        std::vector<const LaidReport*> laid(answer_.points.size(), nullptr);
        for (const LaidReport& report : answer_.laid) laid[report.point] = &report;
        for (std::size_t i = 0; i < answer_.points.size(); ++i) {
            const LayPoint& point = answer_.points[i];
            const std::string element = element_parts(point.design.element).tolerances;
            if (element.empty()) continue;
            if (elements.find(element) == elements.end()) order.push_back(element);
            std::vector<Group>& groups = elements[element];
            auto at = point.group.empty()
                          ? groups.end()
                          : std::find_if(groups.begin(), groups.end(),
                                         [&](const Group& g) { return g.name == point.group; });
            if (at == groups.end()) {
                groups.push_back({point.group.empty() ? point.design.name : point.group, {}, 0});
                at = groups.end() - 1;
            }
            ++at->designed;
            if (laid[i] != nullptr)
                at->points.push_back(
                    {laid[i]->figures.laid, {point.design.east_m, point.design.north_m}});
        }
        for (const std::string& element : order) judge(element, elements[element]);
        return std::move(out_);
    }

private:
    void judge(const std::string& element, const std::vector<Group>& groups) {
        if (const ToleranceRow* row = named_row(table_, element, Binds::spacing)) {
            for (const Group& group : groups)
                if (const auto question = asked(*row))
                    take(*row, lay::all_distances(group.points, *question));
        }
        const ToleranceRow* spacing = named_row(table_, element, Binds::group_spacing);
        const ToleranceRow* build_up = named_row(table_, element, Binds::build_up);
        const ToleranceRow* offset = named_row(table_, element, Binds::line_offset);
        if (!spacing && !build_up && !offset) return;
        const std::vector<LaidAgainst> centres = centres_of(groups);
        if (answer_.grid.is_empty()) {
            if (build_up || offset)
                notices_.push_back(
                    fmt::format("{} needs grid lines for build-up and offsets.", element));
            if (spacing) nearest_two(*spacing, centres);
            return;
        }
        for (const frame::GridLine& line : answer_.grid.lines()) {
            std::vector<LaidAgainst> on_line;
            for (const LaidAgainst& centre : centres)
                if (std::abs(frame::place_by(line, centre.design_m).across_m) <= kOnLine_m)
                    on_line.push_back(centre);
            std::stable_sort(on_line.begin(), on_line.end(), [&](const auto& a, const auto& b) {
                return frame::place_by(line, a.design_m).along_m <
                       frame::place_by(line, b.design_m).along_m;
            });
            if (spacing)
                if (const auto question = asked(*spacing))
                    take(*spacing, lay::neighbour_distances(on_line, *question));
            if (offset)
                if (const auto question = asked(*offset))
                    for (const LaidAgainst& centre : on_line)
                        take(*offset,
                             {lay::line_offset_rule(centre.laid, line,
                                                    frame::place_by(line, centre.design_m).across_m,
                                                    *question)});
            if (build_up) {
                auto rules =
                    lay::build_up(on_line, line, *build_up, {setups_, {}, answer_.confidence});
                if (rules) take(*build_up, *rules);
            }
        }
    }

    std::vector<LaidAgainst> centres_of(const std::vector<Group>& groups) const {
        std::vector<LaidAgainst> out;
        for (const Group& group : groups) {
            // The centre of some of a group's points is not the group's centre.
            if (group.points.empty() || group.points.size() != group.designed) continue;
            std::vector<lay::LaidPlace> places;
            Eigen::Vector2d design = Eigen::Vector2d::Zero();
            for (const LaidAgainst& point : group.points) {
                places.push_back(point.laid);
                design += point.design_m / static_cast<double>(group.points.size());
            }
            if (const auto centre = lay::centre_of(group.name, places))
                out.push_back({*centre, design});
        }
        return out;
    }

    std::optional<lay::RuleQuestion> asked(const ToleranceRow& row) const {
        const auto limits = lay::limits_of(row);
        if (!limits) return std::nullopt;
        return lay::RuleQuestion{setups_, *limits, answer_.confidence};
    }

    void nearest_two(const ToleranceRow& row, const std::vector<LaidAgainst>& centres) {
        const auto question = asked(row);
        if (!question) return;
        std::vector<frame::DesignPoint> points;
        for (const LaidAgainst& centre : centres) {
            frame::DesignPoint point;
            point.east_m = centre.design_m.x();
            point.north_m = centre.design_m.y();
            points.push_back(std::move(point));
        }
        lay::TapeOptions options;
        options.diagonals = false;
        for (const lay::TapeDistance& pair : lay::tape_distances(points, options)) {
            const auto rule = lay::distance_rule(centres[static_cast<std::size_t>(pair.from)].laid,
                                                 centres[static_cast<std::size_t>(pair.to)].laid,
                                                 pair.distance_m, *question);
            if (rule) take(row, {*rule});
        }
    }

    void take(const ToleranceRow& row, const std::vector<lay::RuleVerdict>& rules) {
        for (lay::RuleVerdict rule : rules) {
            if (!said_.insert({row.id, rule.from, rule.to}).second) continue;
            rule.tolerance_id = row.id;
            rule.source_words = row.source_words();
            rule.from_memory = row.seen == lay::Seen::from_memory;
            std::string because = lay::because_words(rule, answer_.style);
            out_.push_back({row.quantity, std::move(rule), std::move(because)});
        }
    }

    const LayAnswer& answer_;
    const lay::SetupSet& setups_;
    const lay::ToleranceTable& table_;
    std::vector<std::string>& notices_;
    std::set<std::array<std::string, 3>> said_;  ///< a pair on two lines is judged once
    std::vector<RuleReport> out_;
};

}  // namespace

std::vector<RuleReport> rules_of(const LayAnswer& answer, const lay::SetupSet& setups,
                                 const lay::ToleranceTable& table,
                                 std::vector<std::string>& notices) {
    return Rules(answer, setups, table, notices).run();
}

}  // namespace layproof::acts::internal

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "vet/network_internal.hpp"

namespace layproof::vet::internal {
namespace {

/// Two names closer than this on one list are one place (as the readers of marks have it).
constexpr double kOnePlace_m = 0.001;

class Gathering {
public:
    explicit Gathering(const network::Evidence& evidence) : evidence_(evidence) {}

    Gathered run() {
        out_.scale_factor = evidence_.scale_factor;
        out_.lists = static_cast<int>(evidence_.lists.size());
        for (int l = 0; l < out_.lists; ++l) {
            out_.list_names.push_back(evidence_.lists[static_cast<std::size_t>(l)].name);
            add_list(l);
        }
        centre();
        for (std::size_t i = 0; i < evidence_.tapes.size(); ++i) add_tape(i);
        for (std::size_t i = 0; i < evidence_.levels.size(); ++i) add_level(i);
        for (const station::StationInput& input : evidence_.setups) add_setup(input);
        return std::move(out_);
    }

private:
    int mark_of(const frame::Mark& entry) {
        const auto [at, is_new] = index_.emplace(entry.name, static_cast<int>(out_.marks.size()));
        if (is_new) {
            MarkNode node;
            node.name = entry.name;
            out_.marks.push_back(std::move(node));
        }
        return at->second;
    }

    void add_list(int l) {
        const network::MarkList& list = evidence_.lists[static_cast<std::size_t>(l)];
        std::map<int, std::vector<std::size_t>> of_mark;
        const std::size_t first = out_.entries.size();
        for (const frame::Mark& given : list.entries) {
            Entry entry;
            entry.list = l;
            entry.mark = mark_of(given);
            entry.has_plan = given.has_plan();
            entry.has_height = given.has_height();
            if (entry.has_plan) entry.plan_m = {*given.east_m, *given.north_m};
            if (entry.has_height) entry.height_m = *given.height_m;
            auto& twins = of_mark[entry.mark];
            const auto same = std::find_if(twins.begin(), twins.end(), [&](std::size_t i) {
                return (out_.entries[i].plan_m - entry.plan_m).norm() < kOnePlace_m &&
                       std::abs(out_.entries[i].height_m - entry.height_m) < kOnePlace_m;
            });
            if (same != twins.end()) {
                out_.notices.push_back(fmt::format(
                    "{} has {} twice with the same numbers; one is used.", list.name, given.name));
                continue;
            }
            twins.push_back(out_.entries.size());
            out_.entries.push_back(entry);
            MarkNode& mark = out_.marks[static_cast<std::size_t>(entry.mark)];
            if (twins.size() == 1 && entry.has_plan) {
                if (!mark.has_plan)
                    mark.sd_m.head<2>() = Eigen::Vector2d(given.sd_east_m, given.sd_north_m);
                mark.has_plan = true;
                ++mark.lists;
            }
            if (entry.has_height) {
                if (!mark.has_height) mark.sd_m.z() = given.sd_height_m;
                mark.has_height = true;
            }
        }
        for (const auto& [mark, twins] : of_mark) {
            if (twins.size() < 2) continue;
            for (std::size_t k = 0; k < twins.size(); ++k) {
                out_.entries[twins[k]].duplicate = static_cast<int>(out_.duplicates.size());
                out_.entries[twins[k]].choice = static_cast<int>(k);
            }
            out_.duplicates.push_back({l, mark, static_cast<int>(twins.size())});
        }
        for (std::size_t i = first; i < out_.entries.size(); ++i)
            for (std::size_t k = first; k < i; ++k) {
                const Entry& a = out_.entries[k];
                const Entry& b = out_.entries[i];
                if (a.mark == b.mark || !a.has_plan || !b.has_plan) continue;
                if ((a.plan_m - b.plan_m).norm() >= kOnePlace_m) continue;
                if (a.has_height && b.has_height &&
                    std::abs(a.height_m - b.height_m) >= kOnePlace_m)
                    continue;
                const std::pair<int, int> pair{a.mark, b.mark};
                if (std::find(out_.one_place.begin(), out_.one_place.end(), pair) ==
                    out_.one_place.end())
                    out_.one_place.push_back(pair);
            }
    }

    /// Median, so that one entry far off does not take the centre with it.
    void centre() {
        std::vector<double> east, north, height;
        for (const Entry& entry : out_.entries) {
            if (entry.list != out_.entries.front().list) continue;
            if (entry.has_plan) {
                east.push_back(entry.plan_m.x());
                north.push_back(entry.plan_m.y());
            }
            if (entry.has_height) height.push_back(entry.height_m);
        }
        const auto median = [](std::vector<double>& values) {
            if (values.empty()) return 0.0;
            const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
            std::nth_element(values.begin(), middle, values.end());
            return *middle;
        };
        out_.origin_m = {median(east), median(north)};
        out_.height_origin_m = median(height);
    }

    int known(const std::string& name, const char* what) {
        const int mark = out_.mark_named(name);
        if (mark < 0)
            out_.notices.push_back(
                fmt::format("{} is on no list; the {} to it is left out.", name, what));
        return mark;
    }

    void add_tape(std::size_t i) {
        const network::Tape& tape = evidence_.tapes[i];
        const int from = known(tape.from, "tape");
        const int to = known(tape.to, "tape");
        if (from < 0 || to < 0 || from == to) return;
        MarkNode& a = out_.marks[static_cast<std::size_t>(from)];
        MarkNode& b = out_.marks[static_cast<std::size_t>(to)];
        if (!a.has_plan || !b.has_plan) {
            out_.notices.push_back(fmt::format(
                "The tape from {} to {} is left out: one of them has no east and north.", tape.from,
                tape.to));
            return;
        }
        TapeRow row{from, to, static_cast<int>(i), tape.distance_m, tape.sd_m, tape.is_slope};
        if (row.is_slope && !(a.has_height && b.has_height)) {
            row.is_slope = false;
            out_.notices.push_back(
                fmt::format("The tape from {} to {} is taken as level: a height is missing.",
                            tape.from, tape.to));
        }
        ++a.measured;
        ++b.measured;
        out_.tapes.push_back(row);
    }

    void add_level(std::size_t i) {
        const network::LevelRise& level = evidence_.levels[i];
        const int from = known(level.from, "level");
        const int to = known(level.to, "level");
        if (from < 0 || to < 0 || from == to) return;
        MarkNode& a = out_.marks[static_cast<std::size_t>(from)];
        MarkNode& b = out_.marks[static_cast<std::size_t>(to)];
        if (!a.has_height || !b.has_height) {
            out_.notices.push_back(
                fmt::format("The level from {} to {} is left out: one of them has no height.",
                            level.from, level.to));
            return;
        }
        ++a.measured_height;
        ++b.measured_height;
        out_.levels.push_back({from, to, static_cast<int>(i), level.rise_m, level.sd_m, false});
    }

    /// The marks as the station room takes them: the first entry of each name.
    std::vector<frame::Mark> plain_marks() const {
        std::vector<frame::Mark> out(out_.marks.size());
        for (std::size_t m = 0; m < out.size(); ++m) out[m].name = out_.marks[m].name;
        for (const Entry& entry : out_.entries) {
            frame::Mark& mark = out[static_cast<std::size_t>(entry.mark)];
            if (entry.has_plan && !mark.has_plan()) {
                mark.east_m = entry.plan_m.x();
                mark.north_m = entry.plan_m.y();
            }
            if (entry.has_height && !mark.has_height()) mark.height_m = entry.height_m;
        }
        return out;
    }

    void add_setup(const station::StationInput& given) {
        station::StationInput input = given;
        input.marks = plain_marks();
        input.scale_factor = evidence_.scale_factor;
        input.set_aside.clear();
        std::vector<measure::Sight> kept;
        for (std::size_t i = 0; i < given.sights.size(); ++i) {
            const measure::Sight& sight = given.sights[i];
            if (!measure::is_to_mark(sight.purpose)) continue;
            const int mark = out_.mark_named(sight.target);
            if (mark < 0) {
                out_.notices.push_back(
                    fmt::format("Station {} sighted {}, which is on no list; that sight is left "
                                "out.",
                                sight.station, sight.target));
                continue;
            }
            if (!out_.marks[static_cast<std::size_t>(mark)].has_plan) {
                out_.notices.push_back(fmt::format(
                    "Station {} sighted {}, which has no east and north; that sight is left out.",
                    sight.station, sight.target));
                continue;
            }
            if (std::find(given.set_aside.begin(), given.set_aside.end(), static_cast<int>(i)) !=
                given.set_aside.end())
                continue;
            kept.push_back(sight);
        }
        input.sights = std::move(kept);
        auto prepared = station::prepare(input);
        if (!prepared) {
            out_.notices.push_back(fmt::format("Station {} tells nothing about the marks: {}.",
                                               input.setup.station, prepared.refusal().found));
            return;
        }
        SetupNode node;
        node.name = input.setup.station;
        node.prepared = std::move(*prepared);
        for (const station::UsedMark& used : node.prepared.marks)
            node.mark_of.push_back(out_.mark_named(used.name));
        if (node.prepared.occupied_mark >= 0) {
            node.over_mark = node.mark_of[static_cast<std::size_t>(node.prepared.occupied_mark)];
            node.over_height_m = node.prepared.setup.instrument_height_m;
        }
        for (const station::ControlSight& sight : node.prepared.sights) {
            const auto m =
                static_cast<std::size_t>(node.mark_of[static_cast<std::size_t>(sight.mark)]);
            if (!sight.used) continue;
            ++out_.marks[m].measured;
            if (out_.marks[m].has_height && sight.reduced.has_zenith) {
                ++out_.marks[m].measured_height;
                node.has_height = true;
            }
        }
        if (node.over_mark >= 0) ++out_.marks[static_cast<std::size_t>(node.over_mark)].measured;
        out_.setups.push_back(std::move(node));
    }

    const network::Evidence& evidence_;
    Gathered out_;
    std::map<std::string, int, std::less<>> index_;
};

}  // namespace

int Gathered::mark_named(const std::string& name) const {
    for (std::size_t m = 0; m < marks.size(); ++m)
        if (marks[m].name == name) return static_cast<int>(m);
    return -1;
}

Gathered gather(const network::Evidence& evidence) {
    return Gathering(evidence).run();
}

}  // namespace layproof::vet::internal

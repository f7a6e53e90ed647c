#include "network/level_run.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <utility>

#include "measure/instrument.hpp"
#include "measure/reduction.hpp"
#include "network/evidence.hpp"

namespace layproof::network {
namespace {

using Where = LevelFault::Where;

/// What a level sight of this length reads too much.
double bend_m(const std::optional<double>& distance_m) {
    const double d = distance_m.value_or(0.0);
    return measure::curvature_refraction_m(d, measure::Instrument{}.refraction_k);
}

std::optional<LevelFault> row_fault(const LevelRun& run, std::size_t i) {
    const LevelReading& r = run.readings[i];
    const bool first = i == 0;
    const bool last = i + 1 == run.readings.size();
    const auto fault = [&](Where where, bool missing, const char* expected) {
        return LevelFault{i, where, missing, expected};
    };
    if (r.intermediate_m) {
        if (r.backsight_m)
            return fault(Where::backsight, false, "an intermediate reading alone in its row");
        if (r.foresight_m)
            return fault(Where::foresight, false, "an intermediate reading alone in its row");
        if (first) return fault(Where::backsight, true, "a backsight, with which a run begins");
        if (last) return fault(Where::foresight, true, "a foresight, with which a run ends");
        if (is_turning_point(r.point))
            return fault(Where::point, r.point.empty(), "a name for an intermediate point");
    } else if (first) {
        if (!r.backsight_m)
            return fault(Where::backsight, true, "a backsight, with which a run begins");
        if (r.foresight_m)
            return fault(Where::foresight, false, "a backsight alone in the first row of a run");
    } else if (!r.foresight_m) {
        return fault(Where::foresight, true, "a foresight on each point after the first of a run");
    } else if (last && r.backsight_m) {
        return fault(Where::backsight, false, "a foresight alone in the last row of a run");
    } else if (!last && !r.backsight_m) {
        return fault(Where::backsight, true, "a backsight on each point before the last of a run");
    }
    if (first && last) return fault(Where::foresight, true, "a run of at least two rows");
    if ((first || last) && is_turning_point(r.point))
        return fault(Where::point, r.point.empty(), "a name for the first and last point of a run");
    if (r.backsight_distance_m && !r.backsight_m)
        return fault(Where::distance_back, false, "nothing, where no backsight was read");
    if (r.foresight_distance_m && !r.foresight_m && !r.intermediate_m)
        return fault(Where::distance_fore, false,
                     "nothing, where neither foresight nor intermediate was read");
    return std::nullopt;
}

/// Sums of set-ups one after the other.
struct Stretch {
    double rise_m = 0.0;
    int turns = 0;
    double back_m = 0.0, fore_m = 0.0;
    bool has_lengths = true;

    Stretch with(const LevelReading& back, double ahead_m, const LevelReading& ahead) const {
        Stretch out = *this;
        out.rise_m += (*back.backsight_m - bend_m(back.backsight_distance_m)) -
                      (ahead_m - bend_m(ahead.foresight_distance_m));
        ++out.turns;
        out.back_m += back.backsight_distance_m.value_or(0.0);
        out.fore_m += ahead.foresight_distance_m.value_or(0.0);
        out.has_lengths =
            out.has_lengths && back.backsight_distance_m && ahead.foresight_distance_m;
        return out;
    }
};

class RunReducing {
public:
    explicit RunReducing(const LevelRun& run) : run_(run) {
        for (const LevelReading& r : run.readings) {
            if (!sd_km_m_) sd_km_m_ = r.sd_km_m;
            if (!sd_turn_m_) sd_turn_m_ = r.sd_turn_m;
        }
    }

    ReducedRun run() {
        const auto& readings = run_.readings;
        Stretch leg, whole;
        std::size_t base = 0;
        std::size_t back = 0;
        std::vector<std::string> local;
        for (std::size_t i = 1; i < readings.size(); ++i) {
            const LevelReading& r = readings[i];
            const LevelReading& behind = readings[back];
            if (r.intermediate_m) {
                add(base, i, leg.with(behind, *r.intermediate_m, r), true);
                continue;
            }
            leg = leg.with(behind, *r.foresight_m, r);
            whole = whole.with(behind, *r.foresight_m, r);
            back = i;
            if (is_turning_point(r.point)) {
                if (r.point.size() > 1) local.push_back(r.point);
                continue;
            }
            add(base, i, leg, false);
            leg = {};
            base = i;
        }
        out_.name = run_.name;
        out_.turns = whole.turns;
        out_.rise_m = whole.rise_m;
        out_.sd_m = sd_of(whole);
        if (whole.has_lengths) {
            out_.length_m = whole.back_m + whole.fore_m;
            out_.imbalance_m = whole.back_m - whole.fore_m;
        }
        say(local);
        return std::move(out_);
    }

private:
    double sd_of(const Stretch& s) const {
        double variance = 0.0;
        const bool by_length = sd_km_m_ && s.has_lengths;
        const double turn = sd_turn_m_.value_or(by_length ? 0.0 : kDefaultLevelSd_m);
        variance += s.turns * turn * turn;
        if (by_length) variance += 2.0 * *sd_km_m_ * *sd_km_m_ * (s.back_m + s.fore_m) / 1000.0;
        if (s.has_lengths) {
            const double tilt = kLevelCollimation_rad * (s.back_m - s.fore_m);
            variance += tilt * tilt;
        }
        return std::sqrt(variance);
    }

    void add(std::size_t from, std::size_t to, const Stretch& s, bool is_intermediate) {
        LevelLeg leg;
        leg.from = run_.readings[from].point;
        leg.to = run_.readings[to].point;
        leg.rise_m = s.rise_m;
        leg.sd_m = sd_of(s);
        leg.turns = s.turns;
        if (s.has_lengths) {
            leg.length_m = s.back_m + s.fore_m;
            leg.imbalance_m = s.back_m - s.fore_m;
        }
        leg.is_intermediate = is_intermediate;
        leg.place = run_.readings[from].place;
        out_.legs.push_back(std::move(leg));
    }

    void say(const std::vector<std::string>& local) {
        if (!local.empty())
            out_.notices.push_back(fmt::format(
                "Run {}: {} {} of this run alone.", run_.name,
                local.size() == 1 ? local.front()
                                  : fmt::format("{} to {}", local.front(), local.back()),
                local.size() == 1 ? "is a turning point" : "are turning points"));
        if (sd_km_m_ && !out_.length_m)
            out_.notices.push_back(fmt::format(
                "Run {}: its sight lengths are not all known, so where they are not its "
                "standard deviation is that of its set-ups.",
                run_.name));
    }

    const LevelRun& run_;
    std::optional<double> sd_km_m_, sd_turn_m_;
    ReducedRun out_;
};

}  // namespace

bool is_turning_point(const std::string& name) {
    if (name.empty() || name == "-") return true;
    if (name.size() < 2 || (name[0] != 'T' && name[0] != 't') || (name[1] != 'P' && name[1] != 'p'))
        return false;
    return std::all_of(name.begin() + 2, name.end(), [](char c) {
        return (c >= '0' && c <= '9') || c == ' ' || c == '-' || c == '.';
    });
}

std::vector<LevelRun> level_runs_of(const std::vector<LevelReading>& readings) {
    std::vector<LevelRun> out;
    std::map<std::pair<std::string, std::string>, std::size_t> number;
    for (const LevelReading& reading : readings) {
        const auto [found, is_new] =
            number.emplace(std::pair(reading.place.file, reading.run), out.size());
        if (is_new) out.push_back({reading.run, {}});
        out[found->second].readings.push_back(reading);
    }
    return out;
}

std::optional<LevelFault> level_fault(const LevelRun& run) {
    for (std::size_t i = 0; i < run.readings.size(); ++i)
        if (auto fault = row_fault(run, i)) return fault;
    return std::nullopt;
}

ReducedRun reduce_run(const LevelRun& run) {
    if (const auto fault = level_fault(run); fault || run.readings.empty()) {
        ReducedRun out;
        out.name = run.name;
        out.notices.push_back(fmt::format("Run {} is left out: its rows make no whole run{}.",
                                          run.name, fault ? ", expected " + fault->expected : ""));
        return out;
    }
    return RunReducing(run).run();
}

}  // namespace layproof::network

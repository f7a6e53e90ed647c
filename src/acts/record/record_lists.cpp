// The record as tables for other programs, lengths in the unit of the job.

#include <cmath>
#include <initializer_list>

#include "acts/record/record.hpp"
#include "base/text/time.hpp"
#include "exchange/tables/writers.hpp"
#include "exchange/text/csv_writer.hpp"
#include "measure/angle.hpp"

namespace layproof::acts {
namespace {

constexpr int kRecordDecimals = 4;

class RecordSheet {
public:
    explicit RecordSheet(measure::LengthUnit unit) : unit_m_(measure::metres_per(unit)) {}

    RecordSheet& length(std::optional<double> value_m) {
        return number(value_m ? std::optional(*value_m / unit_m_) : std::nullopt, kRecordDecimals);
    }
    RecordSheet& millimetres(std::optional<double> value_m) {
        return number(value_m ? std::optional(*value_m * 1000.0) : std::nullopt, 1);
    }
    RecordSheet& number(std::optional<double> value, int decimals) {
        if (value && std::isfinite(*value))
            csv.number(*value, decimals);
        else
            csv.blank();
        return *this;
    }
    RecordSheet& text(std::string_view value) {
        csv.text(value);
        return *this;
    }
    void header(std::initializer_list<std::string> names) {
        for (const std::string& name : names) csv.text(name);
        csv.end_row();
    }

    exchange::CsvWriter csv;

private:
    double unit_m_;
};

std::string joined(const std::vector<std::string>& names) {
    std::string out;
    for (const std::string& name : names) out += (out.empty() ? "" : " ") + name;
    return out;
}

std::string in_unit(const std::string& name, measure::LengthUnit unit) {
    return name + " [" + std::string(measure::to_word(unit)) + "]";
}

std::optional<double> found(std::optional<double> sheet, std::optional<double> off) {
    if (!sheet || !off) return std::nullopt;
    return *sheet + *off;
}

/// With the record's verdicts, which know of stations that moved.
std::string record_landxml(const RecordAnswer& answer) {
    LayAnswer as_judged;
    as_judged.unit = answer.lay.unit;
    as_judged.style = answer.lay.style;
    as_judged.points = answer.lay.points;
    as_judged.laid = answer.lay.laid;
    as_judged.grid = answer.lay.grid;
    for (const RecordPoint& p : answer.points) {
        lay::PointVerdict& v = as_judged.laid[p.laid].figures.verdict;
        v.word = p.word;
        v.probability = p.probability;
    }
    return as_laid_landxml(as_judged);
}

}  // namespace

std::string record_points_csv(const RecordAnswer& answer) {
    const auto unit = answer.unit;
    RecordSheet sheet(unit);
    sheet.header({"point",
                  in_unit("east", unit),
                  in_unit("north", unit),
                  in_unit("height", unit),
                  in_unit("laid_east", unit),
                  in_unit("laid_north", unit),
                  in_unit("laid_height", unit),
                  "off_east_mm",
                  "off_north_mm",
                  "off_height_mm",
                  "sd_plan_mm",
                  "sd_height_mm",
                  "tolerance_plan_mm",
                  "tolerance_height_minus_mm",
                  "tolerance_height_plus_mm",
                  "tolerance_source",
                  "probability",
                  "word",
                  "stations",
                  "time",
                  "because",
                  "next"});
    const auto design_of = [&](const frame::DesignPoint& d) {
        sheet.text(d.name).length(d.east_m).length(d.north_m).length(d.height_m);
    };
    for (const RecordPoint& p : answer.points) {
        const LaidReport& laid = answer.lay.laid[p.laid];
        const frame::DesignPoint& d = answer.lay.points[laid.point].design;
        const lay::PointVerdict& v = laid.figures.verdict;
        const auto off_height = v.has_height ? std::optional(v.deviation_m.z()) : std::nullopt;
        design_of(d);
        sheet.length(d.east_m + v.deviation_m.x()).length(d.north_m + v.deviation_m.y());
        sheet.length(found(d.height_m, off_height));
        sheet.millimetres(v.deviation_m.x()).millimetres(v.deviation_m.y());
        sheet.millimetres(off_height).millimetres(v.sd_plan_m).millimetres(v.sd_height_m);
        sheet.millimetres(v.tolerance.plan_m).millimetres(v.tolerance.height.minus_m);
        sheet.millimetres(v.tolerance.height.plus_m);
        sheet.text(v.tolerance.plan_source.words);
        sheet.number(v.is_judged ? std::optional(p.probability) : std::nullopt, 4);
        sheet.text(station::to_word(p.word)).text(joined(laid.figures.stations));
        sheet.text(p.time_s ? full_time(*p.time_s, p.offset_s) : std::string());
        sheet.text(p.because).text(p.next);
        sheet.csv.end_row();
    }
    constexpr int kEmptyCells = 13;
    for (const std::size_t index : answer.not_laid) {
        design_of(answer.lay.points[index].design);
        for (int i = 0; i < kEmptyCells; ++i) sheet.csv.blank();
        sheet.text("not laid");
        for (int i = 0; i < 4; ++i) sheet.csv.blank();
        sheet.csv.end_row();
    }
    return sheet.csv.str();
}

std::string record_setups_csv(const RecordAnswer& answer) {
    const auto unit = answer.unit;
    RecordSheet sheet(unit);
    sheet.header({"station", in_unit("east", unit), in_unit("north", unit), in_unit("height", unit),
                  "orientation_deg", "sd_east_mm", "sd_north_mm", "sd_height_mm",
                  "sd_orientation_arcsec", "word", "probability", "points_laid", "held", "because",
                  "next"});
    for (std::size_t k = 0; k < answer.lay.stations.size(); ++k) {
        const LayStation& one = answer.lay.stations[k];
        const station::Pose& pose = one.station.pose;
        const auto sd = [&](int i) { return std::sqrt(std::max(0.0, pose.covariance(i, i))); };
        const auto if_height = [&](double v) {
            return pose.has_height ? std::optional(v) : std::nullopt;
        };
        sheet.text(one.station.station).length(pose.position_m.x()).length(pose.position_m.y());
        sheet.length(if_height(pose.position_m.z()));
        sheet.number(pose.orientation_rad / measure::kRadPerDeg, 6);
        sheet.millimetres(sd(0)).millimetres(sd(1)).millimetres(if_height(sd(2)));
        sheet.number(sd(3) / measure::kRadPerArcsec, 1);
        sheet.text(station::to_word(one.station.verdict.word));
        sheet.number(one.station.verdict.probability, 4).number(one.laid, 0);
        const bool checked = k < answer.days.size() && answer.days[k] && answer.days[k]->has_checks;
        sheet.number(checked ? std::optional(answer.days[k]->holds) : std::nullopt, 4);
        sheet.text(one.station.verdict.because).text(one.station.verdict.next);
        sheet.csv.end_row();
    }
    return sheet.csv.str();
}

std::string record_control_csv(const RecordAnswer& answer) {
    const auto unit = answer.unit;
    RecordSheet sheet(unit);
    sheet.header({"mark", "sheet", in_unit("east", unit), in_unit("north", unit),
                  in_unit("height", unit), "off_east_mm", "off_north_mm", "off_height_mm",
                  "measurements", "probability", "word", "because", "next"});
    const auto from = [&](const std::string& name) {
        const auto at = answer.facts.mark_sheets.find(name);
        return at == answer.facts.mark_sheets.end() ? std::string() : at->second;
    };
    if (!answer.control) {
        constexpr int kEmptyCells = 8;
        for (const frame::Mark& m : answer.facts.facts.marks) {
            sheet.text(m.name).text(from(m.name)).length(m.east_m).length(m.north_m);
            sheet.length(m.height_m);
            for (int i = 0; i < kEmptyCells; ++i) sheet.csv.blank();
            sheet.csv.end_row();
        }
        return sheet.csv.str();
    }
    for (std::size_t i = 0; i < answer.control->figures.marks.size(); ++i) {
        const vet::MarkVerdict& m = answer.control->figures.marks[i];
        sheet.text(m.name).text(from(m.name)).length(m.east_m).length(m.north_m);
        sheet.length(m.height_m);
        sheet.millimetres(m.off_east_m).millimetres(m.off_north_m).millimetres(m.off_height_m);
        sheet.number(m.measured, 0).number(m.probability, 4).text(station::to_word(m.word));
        sheet.text(answer.control->marks[i].because).text(answer.control->marks[i].next);
        sheet.csv.end_row();
    }
    return sheet.csv.str();
}

std::string record_checks_csv(const RecordAnswer& answer) {
    RecordSheet sheet(answer.unit);
    sheet.header({"station", "time", "what", "on", "misfit_mm", "fits", "probability_moved"});
    for (const auto& day : answer.days) {
        if (!day) continue;
        for (const watch::EventReport& e : day->report.events) {
            if (e.kind != watch::EventKind::check && e.kind != watch::EventKind::resight) continue;
            sheet.text(day->station.station).text(full_time(e.time_s, day->offset_s));
            sheet.text(watch::to_word(e.kind)).text(e.name);
            if (e.kind == watch::EventKind::check) {
                const watch::Check& c = day->day.checks[static_cast<std::size_t>(e.index)];
                sheet.millimetres(c.misfit_m.head(c.rows).norm());
            } else {
                sheet.csv.blank();
            }
            sheet.text(e.is_good ? "yes" : "no").number(e.probability_moved, 4);
            sheet.csv.end_row();
        }
    }
    return sheet.csv.str();
}

std::string record_decisions_csv(const RecordAnswer& answer) {
    RecordSheet sheet(answer.unit);
    sheet.header({"time", "decision", "about", "reason", "initials"});
    for (const RecordDecision& d : answer.facts.decisions) {
        sheet.text(d.time).text(d.kind).text(d.what).text(d.reason).text(d.initials);
        sheet.csv.end_row();
    }
    return sheet.csv.str();
}

std::vector<RecordFile> record_lists(const RecordAnswer& answer) {
    const JobFacts& facts = answer.facts.facts;
    constexpr const char* kCsv = "text/csv";
    std::vector<RecordFile> out{
        {"record-facts.json", "application/json",
         "All facts that this record is made of, to make it again", answer.facts_json},
        {"record-points.csv", kCsv, "Each point: design, as laid, verdict",
         record_points_csv(answer)},
        {"record-setups.csv", kCsv, "Each set-up: place and verdict", record_setups_csv(answer)},
        {"record-control.csv", kCsv, "Each mark: condition", record_control_csv(answer)},
        {"record-checks.csv", kCsv, "Each check through the days", record_checks_csv(answer)},
        {"record-decisions.csv", kCsv, "What was decided, why and by whom",
         record_decisions_csv(answer)},
        {"marks.csv", kCsv, "The marks that count",
         exchange::write_marks(facts.marks, answer.unit)},
        {"setups.csv", kCsv, "The set-ups as booked",
         exchange::write_setups(facts.setups, answer.unit)},
        {"sights.csv", kCsv, "The sights as booked",
         exchange::write_sights(facts.sights, answer.unit)},
        {"points.csv", kCsv, "The points to be laid",
         exchange::write_points(facts.points, answer.unit)},
        {"as-laid.xml", "application/xml", "Points as laid, LandXML 1.2", record_landxml(answer)},
    };
    const auto add = [&](const char* name, const char* description, std::string bytes) {
        out.push_back({name, kCsv, description, std::move(bytes)});
    };
    if (!facts.tapes.empty())
        add("tapes.csv", "The tapes as booked", exchange::write_tapes(facts.tapes, answer.unit));
    if (!facts.levels.empty())
        add("levels.csv", "The height differences as booked",
            exchange::write_levels(facts.levels, answer.unit));
    if (!facts.level_runs.empty())
        add("level-runs.csv", "The runs of levels as read",
            exchange::write_level_runs(facts.level_runs, answer.unit));
    if (answer.whole && (!answer.whole->runs.empty() || !answer.whole->loops.empty()))
        add("record-levels.csv", "Each run of levels, each closure and what is allowed",
            prove_levels_csv(*answer.whole));
    return out;
}

}  // namespace layproof::acts

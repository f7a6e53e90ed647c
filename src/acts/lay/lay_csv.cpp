// Lists for the field book and the record, lengths in the unit of the job.

#include <cmath>
#include <initializer_list>

#include "acts/lay/lay.hpp"
#include "exchange/text/csv_writer.hpp"
#include "measure/angle.hpp"

namespace layproof::acts {
namespace {

constexpr int kLengthDecimals = 4;
constexpr double kMmInMetre = 1000.0;

class LaySheet {
public:
    explicit LaySheet(double unit_m) : unit_m_(unit_m) {}

    void length(std::optional<double> value_m) {
        if (value_m && std::isfinite(*value_m)) {
            csv.number(*value_m / unit_m_, kLengthDecimals);
        } else {
            csv.blank();
        }
    }
    void millimetres(std::optional<double> value_m) {
        if (value_m && std::isfinite(*value_m)) {
            csv.number(*value_m * kMmInMetre, 1);
        } else {
            csv.blank();
        }
    }
    void angle(std::optional<double> value_rad) {
        if (value_rad) {
            csv.text(measure::format_direction(*value_rad, 0));
        } else {
            csv.blank();
        }
    }
    void header(std::initializer_list<std::string> names) {
        for (const std::string& name : names) csv.text(name);
        csv.end_row();
    }

    exchange::CsvWriter csv;

private:
    double unit_m_;
};

}  // namespace

std::string setting_out_csv(const LayAnswer& answer, const LayStation& station) {
    LaySheet sheet(measure::metres_per(answer.unit));
    const std::string unit = " [" + std::string(measure::to_word(answer.unit)) + "]";
    sheet.header({"point", "direction", "zenith", "horizontal" + unit, "slope" + unit,
                  "height_difference" + unit, "rod_height" + unit, "earthwork",
                  "earthwork_amount" + unit, "grid"});
    const lay::SettingOut nothing;
    for (const SetOut& one : station.setting_out) {
        sheet.csv.text(answer.points[one.point].design.name);
        const lay::SettingOut& s = one.figures ? *one.figures : nothing;
        sheet.angle(s.direction_rad);
        sheet.angle(s.zenith_rad);
        sheet.length(s.direction_rad ? std::optional(s.horizontal_m) : std::nullopt);
        sheet.length(s.slope_m);
        sheet.length(s.height_difference_m);
        sheet.length(station.rod_height_m);
        sheet.csv.text(s.earthwork ? lay::to_word(s.earthwork->word) : std::string_view());
        sheet.length(s.earthwork ? std::optional(s.earthwork->amount_m) : std::nullopt);
        sheet.csv.text(s.grid ? s.grid->words : "");
        sheet.csv.end_row();
    }
    return sheet.csv.str();
}

std::string as_laid_csv(const LayAnswer& answer) {
    LaySheet sheet(measure::metres_per(answer.unit));
    sheet.header({"point", "station", "word", "probability", "off_east_mm", "off_north_mm",
                  "off_height_mm", "sd_plan_mm", "sd_height_mm", "tolerance_plan_mm",
                  "tolerance_source", "move", "because", "next"});
    for (const LaidReport& report : answer.laid) {
        const lay::PointReport& r = report.figures;
        const lay::PointVerdict& v = r.verdict;
        std::string stations;
        for (const std::string& name : r.stations) stations += (stations.empty() ? "" : " ") + name;
        sheet.csv.text(r.point).text(stations).text(station::to_word(v.word));
        if (v.is_judged) {
            sheet.csv.number(v.probability, 4);
        } else {
            sheet.csv.blank();
        }
        sheet.millimetres(v.deviation_m.x());
        sheet.millimetres(v.deviation_m.y());
        sheet.millimetres(v.has_height ? std::optional(v.deviation_m.z()) : std::nullopt);
        sheet.millimetres(v.sd_plan_m);
        sheet.millimetres(v.sd_height_m);
        sheet.millimetres(v.tolerance.plan_m);
        sheet.csv.text(v.tolerance.plan_source.words);
        sheet.csv.text(r.move.words).text(r.because).text(r.next);
        sheet.csv.end_row();
    }
    return sheet.csv.str();
}

}  // namespace layproof::acts

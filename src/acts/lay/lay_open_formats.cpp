// What was laid, and how to lay it, for other programs: LandXML and DXF.

#include <cmath>

#include "acts/lay/lay.hpp"
#include "base/text/time.hpp"
#include "exchange/dxf/dxf_writer.hpp"
#include "exchange/landxml/landxml_writer.hpp"

namespace layproof::acts {
namespace {

std::optional<double> root_of(double variance) {
    if (!(variance >= 0.0) || !std::isfinite(variance)) return std::nullopt;
    return std::sqrt(variance);
}

exchange::LaidPoint laid_point(const LayAnswer& answer, const LaidReport& report) {
    const lay::PointVerdict& v = report.figures.verdict;
    const frame::DesignPoint& design = answer.points[report.point].design;
    exchange::LaidPoint out;
    out.name = report.figures.point;
    out.east_m = design.east_m + v.deviation_m.x();
    out.north_m = design.north_m + v.deviation_m.y();
    out.sd_east_m = root_of(v.covariance(0, 0));
    out.sd_north_m = root_of(v.covariance(1, 1));
    out.off_east_m = v.deviation_m.x();
    out.off_north_m = v.deviation_m.y();
    if (v.has_height && design.height_m) {
        out.height_m = *design.height_m + v.deviation_m.z();
        out.sd_height_m = root_of(v.covariance(2, 2));
        out.off_height_m = v.deviation_m.z();
    }
    out.tolerance_plan_m = v.tolerance.plan_m;
    if (v.is_judged) {
        out.word = station::to_word(v.word);
        out.probability = v.probability;
    }
    for (const std::string& station : report.figures.stations) {
        out.stations += (out.stations.empty() ? "" : " ") + station;
    }
    return out;
}

exchange::Outgoing outgoing(const LayAnswer& answer) {
    exchange::Outgoing out;
    out.unit = answer.unit;
    out.title = "as laid";
    if (answer.last_laid_s) {
        out.date = calendar_day(*answer.last_laid_s, 0.0);
        out.time = full_time(*answer.last_laid_s, 0.0).substr(11, 8);
    }
    for (const LayPoint& point : answer.points) out.points.push_back(point.design);
    for (const LaidReport& report : answer.laid) {
        const lay::PointVerdict& v = report.figures.verdict;
        if (v.deviation_m.allFinite()) out.laid.push_back(laid_point(answer, report));
    }
    for (const LayStation& station : answer.stations) {
        for (const SetOut& set_out : station.setting_out) {
            if (!set_out.figures) continue;
            const lay::SettingOut& s = *set_out.figures;
            exchange::SettingOutRow row;
            row.station = station.station.station;
            row.point = answer.points[set_out.point].design.name;
            if (!s.at_instrument) row.azimuth_rad = s.azimuth_rad;
            row.direction_rad = s.direction_rad;
            row.zenith_rad = s.zenith_rad;
            row.horizontal_m = s.horizontal_m;
            row.slope_m = s.slope_m;
            row.height_difference_m = s.height_difference_m;
            row.rod_height_m = station.rod_height_m;
            out.setting_out.push_back(std::move(row));
        }
    }
    out.grid_lines = answer.grid.lines();
    return out;
}

}  // namespace

std::string as_laid_landxml(const LayAnswer& answer) {
    return exchange::write_landxml(outgoing(answer)).text;
}

std::string as_laid_dxf(const LayAnswer& answer) {
    return exchange::write_dxf(outgoing(answer)).text;
}

}  // namespace layproof::acts

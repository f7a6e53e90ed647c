#include "acts/watch/watch.hpp"
#include "base/text/time.hpp"
#include "exchange/text/csv_writer.hpp"

namespace layproof::acts {

std::string day_csv(const WatchAnswer& answer) {
    exchange::CsvWriter csv;
    for (const char* name :
         {"station", "point", "laid", "word", "probability", "off_east_mm", "off_north_mm",
          "off_height_mm", "probability_moved", "displaced_east_mm", "displaced_north_mm",
          "in_doubt_by_move", "resights"})
        csv.text(name);
    csv.end_row();
    constexpr double kMm = 1000.0;
    for (const WatchStation& s : answer.stations) {
        for (std::size_t i = 0; i < s.report.points.size(); ++i) {
            const watch::PointReport& p = s.report.points[i];
            const watch::LaidPoint& laid = s.day.points[i];
            csv.text(s.station.station).text(laid.target.name);
            csv.text(full_time(laid.time_s, s.offset_s)).text(station::to_word(p.word));
            csv.number(p.probability, 4);
            csv.number(p.deviation_m.x() * kMm, 1);
            csv.number(p.deviation_m.y() * kMm, 1);
            if (laid.has_height) {
                csv.number(p.deviation_m.z() * kMm, 1);
            } else {
                csv.blank();
            }
            csv.number(p.probability_moved, 4);
            csv.number(p.displacement_m.x() * kMm, 1);
            csv.number(p.displacement_m.y() * kMm, 1);
            csv.text(p.in_doubt_by_move ? "yes" : "no").number(p.resights, 0);
            csv.end_row();
        }
    }
    return csv.str();
}

}  // namespace layproof::acts

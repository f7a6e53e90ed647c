#pragma once
// Points laid on the invented site: where they really are is said, readings follow from it.

#include <fmt/format.h>

#include <string>

#include "acts/lay/lay.hpp"
#include "acts/shared/invented_site.hpp"

namespace layproof::testing {

inline std::string day_time(int hour, int minute) {
    return fmt::format("2026-03-04T{:02}:{:02}:00-05:00", hour, minute);
}

/// Sights of one day: the set-up, then whatever is added.
struct InventedDay {
    InventedSite site;
    std::string text = InventedSite::header("[m]", ",purpose,time");

    void set_up(const std::string& station = "S1") {
        for (int round = 0; round < 2; ++round)
            for (std::size_t i = 0; i < site.marks.size(); ++i)
                add(station, site.marks[i], "control", 7, 30 + 5 * round + static_cast<int>(i));
    }
    void add(const std::string& station, const InventedMark& target, const std::string& purpose,
             int hour, int minute) {
        text += site.sight(station, target, nullptr,
                           fmt::format(",{},{}", purpose, day_time(hour, minute)));
    }
    acts::StationRequest request() const {
        acts::StationRequest out;
        out.marks = {"marks.csv", InventedSite().marks_csv()};
        out.sights = {"sights.csv", text};
        out.instrument = good_instrument();
        out.points = four_points();
        return out;
    }
};

/// A target at a point of four_points(), moved.
inline InventedMark point_at(const std::string& name, double off_east_m = 0.0,
                             double off_north_m = 0.0, double off_height_m = 0.0) {
    const bool is_east = name == "P2" || name == "P3";
    const bool is_north = name == "P1" || name == "P2";
    return {name, (is_east ? 519.0 : 505.0) + off_east_m, (is_north ? 255.0 : 241.0) + off_north_m,
            30.0 + off_height_m};
}

}  // namespace layproof::testing

#include "acts/belief/belief_words.hpp"

#include <gtest/gtest.h>

#include "base/text/time.hpp"

namespace layproof::acts::internal {
namespace {

/// One set-up, one sight at each of these times; nothing is adjusted.
struct SightsAt {
    explicit SightsAt(const std::vector<std::string>& times) {
        input.setups.emplace_back();
        for (const std::string& time : times) {
            measure::Sight booked;
            network::NetworkSight sight;
            if (!time.empty()) {
                booked.time_text = time;
                booked.time_s = sight.time_s = read_time(time)->utc_s;
            }
            sight.setup = 0;
            sight.booked = {static_cast<int>(input.setups.front().sights.size())};
            input.setups.front().sights.push_back(booked);
            network.sights.push_back(sight);
        }
        network.setups.emplace_back().name = "S1";
    }
    BeliefWords words() const { return {input, network, diagnosis, style, level_by}; }

    network::NetworkInput input;
    network::SiteNetwork network;
    network::NetworkDiagnosis diagnosis;
    measure::LengthStyle style;
    std::vector<std::string> level_by;
};

TEST(belief_words, clock_alone_tells_within_one_day) {
    const SightsAt day({"2031-05-15T16:00:00-05:00", "2031-05-15T07:30:00-05:00", "",
                        "2031-05-15T12:00:00-05:00"});
    EXPECT_TRUE(day.words().is_one_day);
    EXPECT_EQ(day.words().when(1), "07:30");
    EXPECT_EQ(day.words().when(2), "the sight from S1");
    EXPECT_EQ(day.words().when(-1), "");
}

TEST(belief_words, dates_are_told_where_days_differ) {
    // The first and the last of the list are of one day; the one between is not.
    const SightsAt days(
        {"2031-05-15T07:30:00-05:00", "2031-05-16T07:30:00-05:00", "2031-05-15T09:00:00-05:00"});
    EXPECT_FALSE(days.words().is_one_day);
    EXPECT_EQ(days.words().when(0), "2031-05-15 07:30");
    EXPECT_EQ(days.words().when(1), "2031-05-16 07:30");
}

TEST(belief_words, a_day_is_that_of_the_place) {
    // 23:00 at -05:00 is the next day in UTC; 00:30 at +02:00 is the day before.
    EXPECT_TRUE(
        SightsAt({"2031-05-15T08:00:00-05:00", "2031-05-15T23:00:00-05:00"}).words().is_one_day);
    EXPECT_FALSE(
        SightsAt({"2031-05-15T23:00:00+02:00", "2031-05-16T00:30:00+02:00"}).words().is_one_day);
    // Two crews' clocks: each offset has its own first and last.
    EXPECT_TRUE(
        SightsAt({"2031-05-15T08:00:00-05:00", "2031-05-15T08:00:00-04:00"}).words().is_one_day);
    EXPECT_FALSE(
        SightsAt({"2031-05-15T08:00:00-05:00", "2031-05-16T08:00:00-04:00"}).words().is_one_day);
    // Between the others in UTC, and of the next day where it was booked.
    EXPECT_FALSE(SightsAt({"2031-05-15T00:10:00-05:00", "2031-05-16T00:30:00+02:00",
                           "2031-05-15T20:00:00-05:00"})
                     .words()
                     .is_one_day);
    EXPECT_TRUE(SightsAt({}).words().is_one_day);
}

}  // namespace
}  // namespace layproof::acts::internal

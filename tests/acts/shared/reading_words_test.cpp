#include "acts/shared/reading_words.hpp"

#include <gtest/gtest.h>

namespace layproof::acts::internal {
namespace {

using measure::LengthUnit;
using network::Reading;
using network::ReadingKind;

network::NetworkInput two_setups() {
    network::NetworkInput out;
    for (const char* name : {"H1", "H2", "H3", "H4"}) {
        frame::Mark mark;
        mark.name = name;
        mark.east_m = 100.0;
        mark.north_m = 200.5;
        mark.height_m = 3.0;
        out.marks.push_back(mark);
    }
    for (const char* name : {"S1", "S2"}) {
        station::StationInput setup;
        setup.setup.station = name;
        for (const char* target : {"H1", "H2"}) {
            measure::Sight sight;
            sight.target = target;
            setup.sights.push_back(sight);
        }
        out.setups.push_back(setup);
    }
    return out;
}

ReadingFiles files() {
    ReadingFiles out;
    out.marks = "marks.csv";
    out.points = "points.csv";
    return out;
}

Reading of(ReadingKind kind) {
    Reading out;
    out.kind = kind;
    return out;
}

ReadingWords words(const Reading& reading, const ReadingFiles& read = files()) {
    return reading_words(reading, two_setups(), read, {});
}

TEST(reading_words, axes) {
    const ReadingWords w = words(of(ReadingKind::axes_exchanged));
    EXPECT_EQ(w.says,
              "East and north are exchanged in marks.csv: the marks fit as a mirror image "
              "and not as given.");
    EXPECT_EQ(w.to_do, "exchange the two columns of marks.csv");
}

TEST(reading_words, the_unit_to_type_is_the_one_that_mends_the_list) {
    Reading reading = of(ReadingKind::lengths_in_feet);
    reading.ratio = measure::kMetresPerFoot;
    EXPECT_EQ(words(reading).says,
              "Distances measured are 0.3048 times those of marks.csv: the two "
              "are in different units.");
    EXPECT_EQ(words(reading).to_do,
              "read marks.csv with --unit ft (or us-ft, as the sheet says) if its numbers are in "
              "that unit; else state the unit of the sights");
    ReadingFiles feet = files();
    feet.marks_unit = LengthUnit::us_foot;
    // A list in feet is not in feet of feet: the sights are in another unit.
    EXPECT_EQ(words(reading, feet).to_do,
              "state the unit of the sights; marks.csv was read in us-ft");
    reading.ratio = 1.0 / measure::kMetresPerFoot;
    EXPECT_EQ(words(reading, feet).to_do,
              "read marks.csv with --unit m if its numbers are in that unit; else state the unit "
              "of the sights");
}

TEST(reading_words, exchanged_names_say_where) {
    Reading reading = of(ReadingKind::names_swapped);
    reading.booked = "H1";
    reading.meant = "H2";
    EXPECT_EQ(words(reading).says, "The names of H1 and H2 are exchanged in marks.csv.");
    EXPECT_EQ(words(reading).to_do, "exchange the two names in marks.csv, and tell who made it");
    reading.setup = 1;
    EXPECT_EQ(words(reading).says, "The names of H1 and H2 are exchanged in the sights of S2.");
    EXPECT_EQ(words(reading).to_do, "exchange the two names in the sights of S2");
    reading.setup = -1;
    network::NetworkInput one = two_setups();
    one.setups.pop_back();
    EXPECT_EQ(reading_words(reading, one, files(), {}).says,
              "The names of H1 and H2 are exchanged, in marks.csv or in the sights.");
}

TEST(reading_words, a_wrong_name) {
    Reading reading = of(ReadingKind::wrong_name);
    reading.booked = "H1";
    reading.meant = "H4";
    reading.setup = 0;
    EXPECT_EQ(words(reading).says, "S1 does not stand over H1 but over H4.");
    EXPECT_EQ(words(reading).to_do, "book H4 as the mark under S1");
    reading.sights = {0};
    EXPECT_EQ(words(reading).says, "A sight of S1 booked to H1 was to H4.");
    EXPECT_EQ(words(reading).to_do, "book it to H4");
    reading.setup = 7;
    EXPECT_EQ(words(reading).says, "A sight of its set-up booked to H1 was to H4.");
}

TEST(reading_words, two_kinds_of_foot) {
    Reading reading = of(ReadingKind::foot_kinds_mixed);
    reading.shift_m.x() = 1.2;
    ReadingFiles read = files();
    read.marks_unit = LengthUnit::us_foot;
    read.points_unit = LengthUnit::foot;
    const ReadingWords w = words(reading, read);
    EXPECT_NE(w.says.find("Of the two files marks.csv is in us-ft and points.csv in ft"),
              std::string::npos)
        << w.says;
    EXPECT_EQ(w.to_do,
              "ask which foot the sheet is in, then read marks.csv with --unit ft or "
              "points.csv with --unit us-ft");
}

TEST(reading_words, an_older_revision) {
    Reading reading = of(ReadingKind::older_revision);
    reading.marks = {0, 2, 99};
    reading.shift_m << 3.0, 4.0, 0.0;
    EXPECT_EQ(words(reading).says,
              "H1 and H3 do not belong with the other marks of marks.csv: against these all of "
              "them lie 5.000 m north-east of their coordinates.");
}

TEST(reading_words, a_mistyped_mark) {
    Reading reading = of(ReadingKind::mark_mistyped);
    reading.marks = {3};
    reading.shift_m << 0.0, -20.0, 0.0;
    EXPECT_EQ(words(reading).says,
              "H4 is not where marks.csv has it: all sights put it 20.000 m south.");
    EXPECT_EQ(words(reading).to_do, "read H4 again from the sheet; until then leave it out");
    reading.is_one_digit = true;
    EXPECT_EQ(words(reading).says,
              "The north of H4 in marks.csv is mistyped: 200.500 m for 180.500 m.");
    EXPECT_EQ(words(reading).to_do, "look at the sheet and write 180.500 m there");
    reading.is_one_digit = false;
    reading.shift_m << 0.0, 0.0, 2.0;
    EXPECT_EQ(words(reading).says,
              "H4 is not where marks.csv has it: all sights put it 2.000 m higher.");
}

TEST(reading_words, what_two_marks_leave_open) {
    Reading reading = of(ReadingKind::mirror_possible);
    reading.booked = "H1";
    reading.meant = "H2";
    EXPECT_EQ(words(reading).says,
              "With the names of H1 and H2 exchanged the sights would fit as well.");
}

}  // namespace
}  // namespace layproof::acts::internal

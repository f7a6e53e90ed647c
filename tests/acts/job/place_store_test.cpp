// Stations are placed anew when something changed that their place depends on, and only then.

#include "acts/job/place_store.hpp"

#include <gtest/gtest.h>

#include "acts/job/job_test_support.hpp"

namespace layproof::acts {
namespace {

using layproof::testing::expect_value;
using layproof::testing::take_mill_hall;

class place_store : public job::JobTest {
protected:
    void SetUp() override {
        job::Job job = create("a.job");
        expect_value(take(job, take_mill_hall()));
        facts = expect_value(facts_of(job));
        keys = station_keys(facts);
    }
    /// Which keys differ from those of the job as it was.
    std::string changed() const {
        std::string out;
        for (const auto& [station, key] : station_keys(facts))
            if (keys.at(station) != key) out += station;
        return out;
    }
    JobFacts facts;
    std::map<std::string, std::string> keys;
};

TEST_F(place_store, same_facts_have_the_same_keys) {
    EXPECT_EQ(keys.size(), 2U);
    EXPECT_EQ(changed(), "");
    EXPECT_NE(keys.at("S1"), keys.at("S2"));
}

TEST_F(place_store, own_sights_change_the_own_key_only) {
    for (measure::Sight& sight : facts.sights)
        if (sight.station == "S2") {
            sight.target_height_m += 1e-9;
            break;
        }
    EXPECT_EQ(changed(), "S2");
}

TEST_F(place_store, setting_aside_changes_the_key) {
    std::size_t of_s1 = 0;
    while (facts.sights[of_s1].station != "S1") ++of_s1;
    facts.set_aside.push_back({of_s1, "rod leaned"});
    EXPECT_EQ(changed(), "S1");
}

TEST_F(place_store, setup_changes_the_own_key_only) {
    facts.setups.front().instrument_height_m = 1.234;
    EXPECT_EQ(changed(), facts.setups.front().station);
}

TEST_F(place_store, what_all_stand_on_changes_all) {
    const JobFacts before = facts;
    facts.marks.back().height_m = 1.0;
    EXPECT_EQ(changed(), "S1S2");
    facts = before;
    facts.points.pop_back();
    EXPECT_EQ(changed(), "S1S2");
    facts = before;
    facts.instrument->centring_m *= 2.0;
    EXPECT_EQ(changed(), "S1S2");
    facts = before;
    facts.causes = exchange::Document{"causes.toml", "pairs = 0.1\n"};
    EXPECT_EQ(changed(), "S1S2");
    facts = before;
    facts.unit = measure::LengthUnit::metre;
    EXPECT_EQ(changed(), "S1S2");
}

TEST_F(place_store, oldest_places_make_room) {
    PlaceStore store;
    for (std::size_t i = 0; i <= PlaceStore::kMost; ++i)
        store.keep(std::to_string(i), {{}, station::Word::proven});
    EXPECT_FALSE(store.find("0"));
    ASSERT_TRUE(store.find("1"));
    EXPECT_EQ(store.find("1")->word, station::Word::proven);
}

}  // namespace
}  // namespace layproof::acts

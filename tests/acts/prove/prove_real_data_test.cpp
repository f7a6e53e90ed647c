// A real road survey (tests/data/landxml-raw-a, source and licence there) as a whole job, nothing
// tuned: docs/studies/real-data.md.

#include <gtest/gtest.h>

#include <cmath>
#include <fstream>
#include <iterator>
#include <nlohmann/json.hpp>
#include <string>

#include "acts/prove/prove.hpp"
#include "door/shapes.hpp"

namespace layproof::acts {
namespace {

ProveRequest road_survey() {
    std::ifstream file(std::string(LAYPROOF_SOURCE_DIR) + "/tests/data/landxml-raw-a/survey_a.xml");
    const exchange::Document document{"survey_a.xml",
                                      std::string(std::istreambuf_iterator<char>(file), {})};
    ProveRequest request;
    request.station.marks = document;
    request.station.sights = document;
    request.station.setups = document;
    request.station.unit = measure::LengthUnit::foot;
    return request;
}

/// Every number of a JSON document is finite: what is not would be null or a word.
int numbers_in(const nlohmann::json& node) {
    if (node.is_number()) {
        EXPECT_TRUE(std::isfinite(node.get<double>()));
        return 1;
    }
    int out = 0;
    if (node.is_structured())
        for (const auto& child : node) out += numbers_in(child);
    return out;
}

TEST(prove_real_data, road_survey_is_one_network_with_a_verdict) {
    const auto answer = run_prove(road_survey());
    ASSERT_TRUE(answer) << answer.refusal().to_text();
    // Four set-ups over control marks hang together; none is loose.
    ASSERT_EQ(answer->setups.size(), 4U);
    int sights = 0, used = 0;
    for (const ProveSetup& setup : answer->setups) {
        EXPECT_TRUE(setup.is_placed) << setup.station;
        for (const ProveSight& sight : setup.sights) {
            ++sights;
            used += sight.used ? 1 : 0;
        }
    }
    EXPECT_TRUE(answer->loose.empty());
    EXPECT_EQ(sights, 632);
    EXPECT_GT(used, 625);
    EXPECT_EQ(answer->marks.size(), 21U);
    int sighted = 0;
    for (const ProveMark& mark : answer->marks) sighted += mark.is_sighted ? 1 : 0;
    EXPECT_EQ(sighted, 3);
    // Nearly all side shots were taken once: next to nothing checks them.
    EXPECT_GT(answer->global_test.dof, 0);
    EXPECT_LT(answer->global_test.dof, 60);
    EXPECT_TRUE(std::isfinite(answer->global_test.statistic));
    EXPECT_FALSE(answer->verdict.because.empty());
    EXPECT_FALSE(answer->verdict.next.empty());
    EXPECT_GE(answer->verdict.probability, 0.0);
    EXPECT_LE(answer->verdict.probability, 1.0);
    const std::string json = to_json(*answer);
    EXPECT_FALSE(check_record("ProveAnswer", json));
    EXPECT_GT(numbers_in(nlohmann::json::parse(json)), 5000);
    for (const std::string& text : {to_text(*answer), to_svg(*answer)}) {
        EXPECT_EQ(text.find("nan"), std::string::npos);
        EXPECT_EQ(text.find("inf "), std::string::npos);
    }
}

}  // namespace
}  // namespace layproof::acts

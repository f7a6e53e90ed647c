// One site's obstacles as a table, a drawing and a model give the same plan; what of them is far
// off is said.

#include <gtest/gtest.h>

#include <fmt/format.h>

#include <algorithm>
#include <string>
#include <vector>

#include "acts/plan/plan.hpp"

namespace layproof::acts {
namespace {

struct Box {
    double west, south, east, north;
};

/// A core of three walls, a pier and a stack, all through every height.
const std::vector<Box> kBoxes{{8.0, 6.0, 8.2, 12.0},
                              {8.2, 11.8, 13.0, 12.0},
                              {12.8, 6.0, 13.0, 11.8},
                              {4.0, 15.0, 4.6, 15.6},
                              {15.0, 3.0, 18.0, 4.0}};

exchange::Document as_table() {
    std::string text = "obstacle,kind,east [m],north [m]\n";
    int number = 0;
    for (const Box& b : kBoxes) {
        ++number;
        for (const auto& [e, n] : {std::pair(b.west, b.south), std::pair(b.east, b.south),
                                   std::pair(b.east, b.north), std::pair(b.west, b.north)})
            text += fmt::format("box {},outline,{},{}\n", number, e, n);
    }
    return {"site.csv", text};
}

exchange::Document as_columns() {
    std::string text = "obstacle,kind,east [m],north [m],width [m],depth [m]\n";
    for (const Box& b : kBoxes)
        text += fmt::format("box,column,{},{},{},{}\n", 0.5 * (b.west + b.east),
                            0.5 * (b.south + b.north), b.east - b.west, b.north - b.south);
    return {"site.csv", text};
}

exchange::Document as_drawing() {
    std::string text = "0\nSECTION\n2\nENTITIES\n";
    for (const Box& b : kBoxes)
        text += fmt::format(
            "0\nLWPOLYLINE\n8\nCORE\n90\n4\n70\n1\n10\n{0}\n20\n{1}\n10\n{2}\n20\n{1}\n10\n{2}"
            "\n20\n"
            "{3}\n10\n{0}\n20\n{3}\n",
            b.west, b.south, b.east, b.north);
    return {"site.dxf", text + "0\nENDSEC\n0\nEOF\n"};
}

exchange::Document as_model() {
    std::string text =
        "ISO-10303-21;HEADER;FILE_SCHEMA(('IFC4'));ENDSEC;DATA;\n"
        "#1=IFCPROJECT('p',$,$,$,$,$,$,$,#2);#2=IFCUNITASSIGNMENT((#3));"
        "#3=IFCSIUNIT(*,.LENGTHUNIT.,.MILLI.,.METRE.);#5=IFCDIRECTION((0.,0.,1.));\n";
    int id = 10;
    for (const Box& b : kBoxes) {
        text += fmt::format(
            "#{0}=IFCWALL('g{0}',$,'W{0}',$,$,#{1},#{4},$,$);#{1}=IFCLOCALPLACEMENT($,#{2});"
            "#{2}=IFCAXIS2PLACEMENT3D(#{3},$,$);#{3}=IFCCARTESIANPOINT(({8},{9},-50000.));"
            "#{4}=IFCPRODUCTDEFINITIONSHAPE($,$,(#{5}));"
            "#{5}=IFCSHAPEREPRESENTATION($,'Body','SweptSolid',(#{6}));"
            "#{6}=IFCEXTRUDEDAREASOLID(#{7},$,#5,100000.);"
            "#{7}=IFCRECTANGLEPROFILEDEF(.AREA.,$,$,{10},{11});\n",
            id, id + 1, id + 2, id + 3, id + 4, id + 5, id + 6, id + 7, 500.0 * (b.west + b.east),
            500.0 * (b.south + b.north), 1000.0 * (b.east - b.west), 1000.0 * (b.north - b.south));
        id += 10;
    }
    return {"site.ifc", text + "ENDSEC;END-ISO-10303-21;\n"};
}

PlanRequest site_with(exchange::Document obstacles) {
    PlanRequest request;
    request.marks = {"marks.csv",
                     "mark,east,north,height\nA,-5,-6,0.1\nB,25,-5,0\nC,26,25,0.2\nD,-6,24,0.1\n"};
    std::string points = "point,east,north,height,tolerance_plan\n";
    for (int i = 0; i < 20; ++i)
        points += fmt::format("P{},{},{},0,0.006\n", i, 1.5 + 4.2 * (i % 5), 1.5 + 5.1 * (i / 5));
    request.points = {"points.csv", points};
    request.instrument = exchange::Document{
        "i.toml", "angle_sd_arcsec = 2\ndistance_sd_mm = 1\nbubble_arcmin = 3\n"};
    request.unit = measure::LengthUnit::metre;
    request.rod_m = 0.1;
    request.step_m = 0.9;
    request.advice = false;
    request.obstacles = {std::move(obstacles)};
    return request;
}

PlanAnswer planned(const PlanRequest& request) {
    auto answer = run_plan(request);
    EXPECT_TRUE(answer) << (answer ? "" : answer.refusal().to_text());
    return answer ? std::move(*answer) : PlanAnswer{};
}

TEST(plan_obstacle_files, table_drawing_and_model_of_one_site_give_one_plan) {
    const PlanAnswer table = planned(site_with(as_table()));
    const PlanAnswer none = planned(site_with({"site.csv", "obstacle,kind,east,north\n"}));
    ASSERT_GE(table.setups.size(), 1U);
    EXPECT_NE(table.map.expected, none.map.expected) << "the obstacles hide nothing";
    for (const exchange::Document& other : {as_columns(), as_drawing(), as_model()}) {
        SCOPED_TRACE(other.name);
        const PlanAnswer a = planned(site_with(other));
        EXPECT_EQ(a.obstacles.size(), table.obstacles.size());
        EXPECT_EQ(a.map.standing, table.map.standing);
        EXPECT_EQ(a.map.counted, table.map.counted);
        EXPECT_EQ(a.map.marks, table.map.marks);
        ASSERT_EQ(a.setups.size(), table.setups.size());
        for (std::size_t k = 0; k < a.setups.size(); ++k) {
            EXPECT_EQ(a.setups[k].east_m, table.setups[k].east_m);
            EXPECT_EQ(a.setups[k].north_m, table.setups[k].north_m);
            EXPECT_EQ(a.setups[k].marks, table.setups[k].marks);
            EXPECT_EQ(a.setups[k].check, table.setups[k].check);
            EXPECT_EQ(a.setups[k].counted, table.setups[k].counted);
        }
    }
}

TEST(plan_obstacle_files, height_of_a_model_lets_look_over_it) {
    exchange::Document low = as_model();
    for (std::size_t at = 0; (at = low.bytes.find("-50000.", at)) != std::string::npos;)
        low.bytes.replace(at, 7, "-99000.");
    // One metre high now: the axes are at 1.6 m, the prisms low.
    const PlanAnswer over = planned(site_with(low));
    const PlanAnswer behind = planned(site_with(as_model()));
    const auto sum = [](const PlanAnswer& a) {
        double out = 0.0;
        for (const float e : a.map.expected) out += std::max(0.0F, e);
        return out;
    };
    EXPECT_EQ(over.map.standing, behind.map.standing);
    EXPECT_GT(sum(over), 1.02 * sum(behind));
}

}  // namespace
}  // namespace layproof::acts

#pragma once
// Every kind of set-up, drawn at random: what the tests of solution, misfit model and properties
// all run over.

#include <string>
#include <vector>

#include "base/random.hpp"
#include "station/prepared.hpp"
#include "support/site_simulator.hpp"

namespace layproof::station::testing {

struct SceneKind {
    std::string name;
    layproof::testing::SiteOptions options;
    int plan_only_every = 0;    ///< every so many marks lose their height
    int height_only_every = 0;  ///< every so many marks lose east and north
    bool no_heights = false;    ///< the sheet has no heights at all
};

inline std::vector<SceneKind> scene_kinds() {
    using layproof::testing::SightPlan;
    std::vector<SceneKind> out;
    const auto add = [&](std::string name) -> SceneKind& {
        out.push_back({std::move(name), {}, 0, 0, false});
        return out.back();
    };
    add("free");
    add("free in two faces and two rounds").options = [] {
        layproof::testing::SiteOptions o;
        o.two_faces = true;
        o.rounds = 2;
        o.marks = 4;
        return o;
    }();
    add("free on two marks").options.marks = 2;
    add("free on held marks").options.mark_sd_m = 0.0;
    add("free in the grid").options.scale_factor = 0.99973;
    SceneKind& directions = add("directions only");
    SightPlan part;
    part.has_zenith = part.has_distance = false;
    directions.options.parts = {part};
    SceneKind& angles = add("directions and zenith angles");
    part.has_zenith = true;
    angles.options.parts = {part};
    SceneKind& mixed = add("mixed parts");
    SightPlan distance;
    distance.has_direction = false;
    SightPlan slope;
    slope.has_zenith = false;
    mixed.options.parts = {SightPlan{}, part, distance, slope};
    mixed.options.marks = 7;
    SceneKind& horizontal = add("horizontal distances");
    SightPlan level;
    level.horizontal_distance = true;
    horizontal.options.parts = {level};
    add("plan only").no_heights = true;
    SceneKind& some = add("some marks without a height");
    some.plan_only_every = 2;
    SceneKind& benches = add("some marks with a height only");
    benches.height_only_every = 3;
    benches.options.marks = 6;
    add("occupied").options.kind = SetupKind::occupied;
    SceneKind& baseline = add("baseline");
    baseline.options.kind = SetupKind::baseline;
    baseline.options.marks = 1;
    SceneKind& occupied_plan = add("occupied in plan");
    occupied_plan.options.kind = SetupKind::occupied;
    occupied_plan.no_heights = true;
    return out;
}

inline layproof::testing::SimulatedSite draw_scene(Random& random, const SceneKind& kind) {
    auto site = layproof::testing::simulate_site(random, kind.options);
    for (std::size_t i = 0; i < site.input.marks.size(); ++i) {
        frame::Mark& mark = site.input.marks[i];
        const int place = static_cast<int>(i);
        if (kind.no_heights || (kind.plan_only_every > 0 && place % kind.plan_only_every == 1))
            mark.height_m.reset();
        if (kind.height_only_every > 0 && place % kind.height_only_every == 1) {
            mark.east_m.reset();
            mark.north_m.reset();
        }
    }
    if (kind.no_heights) site.input.setup.instrument_height_m.reset();
    return site;
}

}  // namespace layproof::station::testing

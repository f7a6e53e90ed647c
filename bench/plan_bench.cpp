// Sight lines of an invented floor: ours against a general-purpose ray library (Embree 3,
// triangles, its occlusion queries one at a time, in packets of 16 and as a stream) on the same
// scene, in one run. Both scenes hold the obstacles widened by the clearance; answers are compared
// first. Then the whole map of the floor from every half metre, a plan with its certificate as the
// act gives it, and one place of a dragged tripod, each on as many cores as there are: read the
// wall time beside the CPU time of the process.

#include <benchmark/benchmark.h>
#include <embree3/rtcore.h>
#include <fmt/format.h>

#include <cstdio>
#include <cstdlib>
#include <vector>

#include "acts/plan/plan.hpp"
#include "acts/plan/plan_scene.hpp"
#include "plan/sight_lines.hpp"
#include "support/invented_floor.hpp"

namespace {

using Eigen::Vector3d;
namespace plan = layproof::plan;

constexpr double kClearance_m = 0.05;
constexpr double kEye_m = 1.6;
constexpr double kRod_m = 1.5;

struct Scene {
    layproof::test_support::InventedFloor floor;
    plan::SightScene ours;
    plan::SightTargets ready;
    std::vector<Vector3d> targets;
    std::vector<Vector3d> eyes;
    RTCDevice device = nullptr;
    RTCScene rays = nullptr;
};

void add_triangles(Scene& scene, const plan::Prism& prism) {
    const auto n = static_cast<unsigned>(prism.corners.size());
    RTCGeometry mesh = rtcNewGeometry(scene.device, RTC_GEOMETRY_TYPE_TRIANGLE);
    auto* at = static_cast<float*>(
        rtcSetNewGeometryBuffer(mesh, RTC_BUFFER_TYPE_VERTEX, 0, RTC_FORMAT_FLOAT3, 12, 2 * n));
    for (unsigned level = 0; level < 2; ++level)
        for (unsigned i = 0; i < n; ++i) {
            *at++ = static_cast<float>(prism.corners[i].x());
            *at++ = static_cast<float>(prism.corners[i].y());
            *at++ = static_cast<float>(level == 0 ? prism.reach.bottom_m : prism.reach.top_m);
        }
    auto* index = static_cast<unsigned*>(rtcSetNewGeometryBuffer(
        mesh, RTC_BUFFER_TYPE_INDEX, 0, RTC_FORMAT_UINT3, 12, 2 * n + 2 * (n - 2)));
    const auto triangle = [&](unsigned a, unsigned b, unsigned c) {
        *index++ = a;
        *index++ = b;
        *index++ = c;
    };
    for (unsigned i = 0; i < n; ++i) {
        const unsigned j = (i + 1) % n;
        triangle(i, j, n + j);
        triangle(i, n + j, n + i);
    }
    for (unsigned i = 1; i + 1 < n; ++i) {
        triangle(0, i + 1, i);
        triangle(n, n + i, n + i + 1);
    }
    rtcCommitGeometry(mesh);
    rtcAttachGeometry(scene.rays, mesh);
    rtcReleaseGeometry(mesh);
}

Scene make_scene() {
    Scene out;
    out.floor = layproof::test_support::invented_floor({}, 1);
    out.ours = plan::SightScene(out.floor.prisms, kClearance_m);
    for (const auto& p : out.floor.points)
        out.targets.emplace_back(p.east_m, p.north_m, *p.height_m + kRod_m);
    out.device = rtcNewDevice("threads=1");
    out.rays = rtcNewScene(out.device);
    rtcSetSceneBuildQuality(out.rays, RTC_BUILD_QUALITY_HIGH);
    for (const plan::Prism& p : out.floor.prisms)
        add_triangles(out, plan::widened(p, kClearance_m));
    rtcCommitScene(out.rays);
    // Every fourth place of the lattice: enough to be an even sample, little enough to repeat.
    for (double north = 0.25; north < 90.0; north += 1.0)
        for (double east = 0.25; east < 60.0; east += 1.0)
            if (out.ours.has_room({east, north}, 0.5, 0.0, 1.8))
                out.eyes.emplace_back(east, north, kEye_m);
    return out;
}

Scene& the_scene() {
    static Scene scene = [] {
        Scene s = make_scene();
        return s;
    }();
    static const bool ready = [] {
        scene.ready = plan::SightTargets(scene.ours, scene.targets);
        return true;
    }();
    (void)ready;
    return scene;
}

RTCRay ray_of(const Vector3d& from, const Vector3d& to) {
    RTCRay ray{};
    ray.org_x = static_cast<float>(from.x());
    ray.org_y = static_cast<float>(from.y());
    ray.org_z = static_cast<float>(from.z());
    ray.dir_x = static_cast<float>(to.x() - from.x());
    ray.dir_y = static_cast<float>(to.y() - from.y());
    ray.dir_z = static_cast<float>(to.z() - from.z());
    ray.tnear = 0.0F;
    ray.tfar = 1.0F;
    ray.mask = ~0U;
    return ray;
}

/// Targets within the clearance of an obstacle are left out here: a mesh has no rule for them.
/// What is left differs only where a sight grazes within single precision.
void compare(Scene& s) {
    std::size_t asked = 0;
    std::size_t different = 0;
    std::size_t far_apart = 0;
    std::size_t seen_count = 0;
    plan::Lookout lookout(s.ours);
    std::vector<std::uint8_t> seen;
    std::vector<bool> plain;
    for (const Vector3d& t : s.targets)
        plain.push_back(s.ours.has_room(t.head<2>(), kClearance_m * 1.1, -1.0, 9.0));
    const plan::SightScene more(s.floor.prisms, kClearance_m + 1e-4);
    const plan::SightScene less(s.floor.prisms, kClearance_m - 1e-4);
    for (const Vector3d& eye : s.eyes) {
        lookout.stand(eye, kRod_m, kRod_m);
        lookout.look(s.ready, 0.0, 1000.0, seen);
        for (std::size_t i = 0; i < s.targets.size(); ++i) {
            if (!plain[i]) continue;
            RTCIntersectContext context;
            rtcInitIntersectContext(&context);
            RTCRay ray = ray_of(eye, s.targets[i]);
            rtcOccluded1(s.rays, &context, &ray);
            const bool theirs = !(ray.tfar < 0.0F);
            ++asked;
            seen_count += seen[i];
            if (theirs == (seen[i] != 0)) continue;
            ++different;
            // A graze: a tenth of a millimetre more or less changes our own answer.
            if (more.is_free(eye, s.targets[i]) == less.is_free(eye, s.targets[i])) ++far_apart;
        }
    }
    fmt::print(
        "{} sight lines, {:.1f} % free; {} answers differ, {} of them by more than a graze\n",
        asked, 100.0 * static_cast<double>(seen_count) / static_cast<double>(asked), different,
        far_apart);
    if (far_apart > 0) std::exit(1);
}

void ours(benchmark::State& state) {
    Scene& s = the_scene();
    static const bool compared = [&] {
        compare(s);
        return true;
    }();
    (void)compared;
    plan::Lookout lookout(s.ours);
    std::vector<std::uint8_t> seen;
    for (auto _ : state) {
        for (const Vector3d& eye : s.eyes) {
            lookout.stand(eye, kRod_m, kRod_m);
            lookout.look(s.ready, 0.0, 1000.0, seen);
            benchmark::DoNotOptimize(seen.data());
        }
    }
    state.SetItemsProcessed(state.iterations() *
                            static_cast<std::int64_t>(s.eyes.size() * s.targets.size()));
}
BENCHMARK(ours)->Unit(benchmark::kMillisecond);

void ray_library_single(benchmark::State& state) {
    Scene& s = the_scene();
    for (auto _ : state) {
        for (const Vector3d& eye : s.eyes) {
            RTCIntersectContext context;
            rtcInitIntersectContext(&context);
            context.flags = RTC_INTERSECT_CONTEXT_FLAG_COHERENT;
            for (const Vector3d& target : s.targets) {
                RTCRay ray = ray_of(eye, target);
                rtcOccluded1(s.rays, &context, &ray);
                benchmark::DoNotOptimize(ray.tfar);
            }
        }
    }
    state.SetItemsProcessed(state.iterations() *
                            static_cast<std::int64_t>(s.eyes.size() * s.targets.size()));
}
BENCHMARK(ray_library_single)->Unit(benchmark::kMillisecond);

/// Its targets sorted by bearing beforehand would be a gift that costs more than it brings; they
/// are taken in the order of the file, as ours are.
void ray_library_packets(benchmark::State& state) {
    Scene& s = the_scene();
    alignas(64) int valid[16];
    for (int& v : valid) v = -1;
    for (auto _ : state) {
        for (const Vector3d& eye : s.eyes) {
            RTCIntersectContext context;
            rtcInitIntersectContext(&context);
            context.flags = RTC_INTERSECT_CONTEXT_FLAG_COHERENT;
            for (std::size_t i = 0; i + 16 <= s.targets.size(); i += 16) {
                alignas(64) RTCRay16 p{};
                for (std::size_t k = 0; k < 16; ++k) {
                    const RTCRay r = ray_of(eye, s.targets[i + k]);
                    p.org_x[k] = r.org_x;
                    p.org_y[k] = r.org_y;
                    p.org_z[k] = r.org_z;
                    p.dir_x[k] = r.dir_x;
                    p.dir_y[k] = r.dir_y;
                    p.dir_z[k] = r.dir_z;
                    p.tnear[k] = 0.0F;
                    p.tfar[k] = 1.0F;
                    p.mask[k] = ~0U;
                }
                rtcOccluded16(valid, s.rays, &context, &p);
                benchmark::DoNotOptimize(p.tfar[0]);
            }
        }
    }
    state.SetItemsProcessed(state.iterations() *
                            static_cast<std::int64_t>(s.eyes.size() * s.targets.size()));
}
BENCHMARK(ray_library_packets)->Unit(benchmark::kMillisecond);

void ray_library_stream(benchmark::State& state) {
    Scene& s = the_scene();
    std::vector<RTCRay> rays(s.targets.size());
    for (auto _ : state) {
        for (const Vector3d& eye : s.eyes) {
            RTCIntersectContext context;
            rtcInitIntersectContext(&context);
            context.flags = RTC_INTERSECT_CONTEXT_FLAG_COHERENT;
            for (std::size_t i = 0; i < rays.size(); ++i) rays[i] = ray_of(eye, s.targets[i]);
            rtcOccluded1M(s.rays, &context, rays.data(), static_cast<unsigned>(rays.size()),
                          sizeof(RTCRay));
            benchmark::DoNotOptimize(rays.data());
        }
    }
    state.SetItemsProcessed(state.iterations() *
                            static_cast<std::int64_t>(s.eyes.size() * s.targets.size()));
}
BENCHMARK(ray_library_stream)->Unit(benchmark::kMillisecond);

/// The floor as the files of a plan: rods of 0.1 m, an ordinary instrument of 5".
layproof::acts::PlanRequest plan_request() {
    const auto floor = layproof::test_support::invented_floor({}, 1);
    layproof::acts::PlanRequest out;
    std::string marks = "mark,east [m],north [m],height [m]\n";
    for (const auto& m : floor.marks)
        marks +=
            fmt::format("{},{:.4f},{:.4f},{:.4f}\n", m.name, *m.east_m, *m.north_m, *m.height_m);
    std::string points =
        "point,east [m],north [m],height [m],tolerance_plan [m],tolerance_height [m]\n";
    for (const auto& p : floor.points)
        points += fmt::format("{},{:.4f},{:.4f},{:.4f},{},{}\n", p.name, p.east_m, p.north_m,
                              *p.height_m, p.tolerance_plan_m, *p.tolerance_height_m);
    std::string obstacles =
        "obstacle,kind,east [m],north [m],east_2 [m],north_2 [m],diameter [m],thickness [m],"
        "bottom [m],top [m]\n";
    int number = 0;
    for (const plan::Prism& prism : floor.prisms) {
        ++number;
        if (prism.corners.size() != 4) {
            obstacles +=
                fmt::format("O{},round,{:.4f},{:.4f},,,0.6,,{},{}\n", number, prism.centre_m.x(),
                            prism.centre_m.y(), prism.reach.bottom_m, prism.reach.top_m);
            continue;
        }
        // Four corners as a wall along the longer side.
        const auto& c = prism.corners;
        const std::size_t k = (c[1] - c[0]).norm() >= (c[2] - c[1]).norm() ? 0 : 1;
        const Eigen::Vector2d a = 0.5 * (c[k] + c[(k + 3) % 4]);
        const Eigen::Vector2d e = 0.5 * (c[k + 1] + c[(k + 2) % 4]);
        obstacles += fmt::format("O{},wall,{:.4f},{:.4f},{:.4f},{:.4f},,{:.4f},{},{}\n", number,
                                 a.x(), a.y(), e.x(), e.y(), (c[k] - c[(k + 3) % 4]).norm(),
                                 prism.reach.bottom_m, prism.reach.top_m);
    }
    out.marks = {"marks.csv", marks};
    out.points = {"points.csv", points};
    out.obstacles = {{"obstacles.csv", obstacles}};
    out.rod_m = 0.1;
    out.advice = false;
    out.share = 0.8;  // of all points; some 95 % of what can be proven
    return out;
}

void whole_map(benchmark::State& state) {
    auto opened = layproof::acts::open_plan(plan_request());
    if (!opened) {
        state.SkipWithError("not opened");
        return;
    }
    auto& scene = opened->inside();
    std::size_t places = 0;
    std::size_t provable = 0;
    for (auto _ : state) {
        std::vector<float> best;
        const auto map = layproof::acts::internal::plan_map(scene, *scene.site, 0.5, best);
        places = map.size();
        provable = layproof::acts::internal::provable_points(map);
    }
    state.counters["places"] = static_cast<double>(places);
    state.counters["provable"] = static_cast<double>(provable);
}
BENCHMARK(whole_map)->Unit(benchmark::kMillisecond)->UseRealTime()->MeasureProcessCPUTime();

void plan_with_certificate(benchmark::State& state) {
    const auto request = plan_request();
    for (auto _ : state) {
        const auto answer = layproof::acts::run_plan(request);
        if (!answer) {
            state.SkipWithError("refused");
            return;
        }
        state.counters["setups"] = static_cast<double>(answer->setups.size());
        state.counters["at_least"] = answer->at_least;
        state.counters["counted"] = answer->counted;
    }
}
BENCHMARK(plan_with_certificate)
    ->Unit(benchmark::kMillisecond)
    ->UseRealTime()
    ->MeasureProcessCPUTime()
    ->Iterations(1);

void dragged_place(benchmark::State& state) {
    auto opened = layproof::acts::open_plan(plan_request());
    if (!opened) {
        state.SkipWithError("not opened");
        return;
    }
    double east = 5.0;
    for (auto _ : state) {
        east = east < 55.0 ? east + 0.37 : 5.0;
        benchmark::DoNotOptimize(layproof::acts::plan_position(*opened, east, 45.0));
    }
}
BENCHMARK(dragged_place)->Unit(benchmark::kMillisecond);

}  // namespace

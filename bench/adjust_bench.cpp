// One centre block of four numbers, eight points of three, 16 polar blocks, 8 direct observations:
// the shape that a hypothesis loop solves a few thousand times. Budget: solve and analysis below
// 100 µs together. Ceres solves the same problem for comparison.

#include <benchmark/benchmark.h>

#include "adjust/analysis.hpp"
#include "adjust/solve.hpp"
#include "adjust/star.hpp"
#include "support/ceres_bridge.hpp"

namespace {

using namespace layproof::adjust;
using layproof::adjust::testing::make_star;
using layproof::adjust::testing::Star;

void build(benchmark::State& state) {
    for (auto _ : state) benchmark::DoNotOptimize(make_star());
}

void solve_only(benchmark::State& state) {
    Star star = make_star({.points = static_cast<int>(state.range(0))});
    const auto start = star.problem.values();
    int iterations = 0;
    for (auto _ : state) {
        star.problem.values() = start;
        const SolveSummary summary = solve(star.problem);
        iterations = summary.iterations;
        benchmark::DoNotOptimize(summary.weighted_square_sum);
    }
    state.counters["iterations"] = iterations;
}

void analyse_only(benchmark::State& state) {
    Star star = make_star({.points = static_cast<int>(state.range(0))});
    const SolveSummary summary = solve(star.problem);
    for (auto _ : state) {
        const Analysis analysis(star.problem, summary);
        benchmark::DoNotOptimize(analysis.redundancy().data());
    }
}

void solve_and_analyse(benchmark::State& state) {
    Star star = make_star({.points = static_cast<int>(state.range(0))});
    const auto start = star.problem.values();
    for (auto _ : state) {
        star.problem.values() = start;
        const SolveSummary summary = solve(star.problem);
        const Analysis analysis(star.problem, summary);
        benchmark::DoNotOptimize(analysis.detectable().data());
    }
}

void block_tests(benchmark::State& state) {
    Star star = make_star();
    const Analysis analysis(star.problem, solve(star.problem));
    for (auto _ : state) {
        for (const int block : star.polar)
            benchmark::DoNotOptimize(analysis.block_test(block).statistic);
    }
}

void ceres_solve(benchmark::State& state) {
    Star star = make_star();
    const auto start = star.problem.values();
    for (auto _ : state) {
        const layproof::testing::CeresSolution solution(star.problem, start);
        benchmark::DoNotOptimize(solution.weighted_square_sum());
    }
}

BENCHMARK(build)->Unit(benchmark::kMicrosecond);
BENCHMARK(solve_only)->Arg(3)->Arg(8)->Arg(30)->Arg(100)->Unit(benchmark::kMicrosecond);
BENCHMARK(analyse_only)->Arg(3)->Arg(8)->Arg(30)->Arg(100)->Unit(benchmark::kMicrosecond);
BENCHMARK(solve_and_analyse)->Arg(8)->Unit(benchmark::kMicrosecond);
BENCHMARK(block_tests)->Unit(benchmark::kMicrosecond);
BENCHMARK(ceres_solve)->Unit(benchmark::kMicrosecond);

}  // namespace

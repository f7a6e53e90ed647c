// The whole record of a large job: everything computed from the facts, PDF, page and lists made.

#include <benchmark/benchmark.h>

#include "acts/record/record.hpp"
#include "acts/shared/large_site.hpp"

namespace layproof {
namespace {

void whole_record(benchmark::State& state) {
    const auto facts = testing::large_record_facts(static_cast<int>(state.range(0)),
                                                   static_cast<int>(state.range(1)));
    std::size_t bytes = 0;
    for (auto _ : state) {
        const auto answer = acts::run_record(facts);
        const auto files = acts::record_files(*answer);
        bytes = (*files)[0].bytes.size();
        benchmark::DoNotOptimize(files);
    }
    state.counters["pdf_kB"] = static_cast<double>(bytes) / 1000.0;
}

void computing_alone(benchmark::State& state) {
    const auto facts = testing::large_record_facts(static_cast<int>(state.range(0)),
                                                   static_cast<int>(state.range(1)));
    for (auto _ : state) benchmark::DoNotOptimize(acts::run_record(facts));
}

BENCHMARK(whole_record)
    ->Args({4, 40})
    ->Args({60, 2000})
    ->Unit(benchmark::kMillisecond)
    ->MeasureProcessCPUTime()
    ->UseRealTime();
BENCHMARK(computing_alone)
    ->Args({60, 2000})
    ->Unit(benchmark::kMillisecond)
    ->MeasureProcessCPUTime()
    ->UseRealTime();

}  // namespace
}  // namespace layproof

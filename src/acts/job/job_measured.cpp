#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <string>
#include <utility>
#include <vector>

#include "acts/job/job_measured.hpp"
#include "acts/shared/levelled.hpp"

namespace layproof::acts::internal {
namespace {

template <class Fact>
Result<std::vector<job::Kept<Fact>>> kept_in_order(const job::Job& job, const job::AsOf& as_of) {
    auto kept = job.all<Fact>(as_of);
    if (!kept) return kept;
    std::sort(kept->begin(), kept->end(), [](const auto& a, const auto& b) { return a.id < b.id; });
    return kept;
}

template <class Line>
Result<Done> add_lines(const job::Job& job, const job::AsOf& as_of,
                       const std::set<job::FactId>& aside, const char* kind, std::vector<Line>& out,
                       std::vector<std::string>& notices) {
    auto kept = kept_in_order<Line>(job, as_of);
    if (!kept) return kept.refusal();
    for (auto& one : *kept) {
        if (aside.contains(one.id))
            notices.push_back(
                fmt::format("The {} from {} to {} is set aside in the job and left "
                            "out.",
                            kind, one.value.from, one.value.to));
        else
            out.push_back(std::move(one.value));
    }
    return Done{};
}

}  // namespace

Result<Done> add_measured(const job::Job& job, const job::AsOf& as_of,
                          const std::set<job::FactId>& aside, JobFacts& out) {
    auto done = add_lines(job, as_of, aside, "tape", out.tapes, out.notices);
    if (done) done = add_lines(job, as_of, aside, "level", out.levels, out.notices);
    if (!done) return done;
    auto readings = kept_in_order<network::LevelReading>(job, as_of);
    if (!readings) return readings.refusal();
    using Key = std::pair<std::string, std::string>;
    std::map<Key, std::size_t> number;
    std::map<std::string, int> names;
    std::vector<network::LevelRun> runs;
    std::vector<char> is_aside;
    for (auto& one : *readings) {
        const Key key{one.source.document ? one.source.document->to_text() : std::string(),
                      one.value.run};
        const auto [found, is_new] = number.emplace(key, runs.size());
        if (is_new) {
            runs.push_back({free_name(one.value.run, names), {}});
            is_aside.push_back(0);
        }
        if (aside.contains(one.id)) is_aside[found->second] = 1;
        one.value.run = runs[found->second].name;
        runs[found->second].readings.push_back(std::move(one.value));
    }
    for (std::size_t k = 0; k < runs.size(); ++k) {
        if (is_aside[k] == 0)
            out.level_runs.push_back(std::move(runs[k]));
        else
            out.notices.push_back(
                fmt::format("Run {} of levels has a reading that is set aside in "
                            "the job; it is left out.",
                            runs[k].name));
    }
    return Done{};
}

}  // namespace layproof::acts::internal

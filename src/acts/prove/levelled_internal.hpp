#pragma once
// Tapes and levels on their way into an adjustment: out of a job, out of files, runs reduced.

#include <map>
#include <set>
#include <string>
#include <vector>

#include "acts/prove/prove.hpp"
#include "acts/shared/job_facts.hpp"
#include "base/result.hpp"
#include "exchange/tables/table.hpp"
#include "job/job.hpp"
#include "network/level_loops.hpp"
#include "network/level_run.hpp"

namespace layproof::acts::internal {

/// Tapes, levels and runs of a job that are not set aside, oldest first. Two files may use one name
/// for their runs: the later run is then called "R1 (2)".
Result<Done> add_measured(const job::Job& job, const job::AsOf& as_of,
                          const std::set<job::FactId>& aside, JobFacts& out);

/// All levels together, as the adjustment and the closures take them.
class Levelled {
public:
    /// Those of the job first.
    void add(const std::vector<network::LevelRise>& rises);
    void add(const network::LevelRun& run);
    /// Refuses as the reader does.
    Result<Done> add(const exchange::Document& document, const exchange::ReadOptions& options);

    /// Between two points each.
    const std::vector<network::LevelRise>& rises() const { return rises_; }
    /// Of each rise: "run R1", "levels.csv line 3".
    const std::vector<std::string>& by() const { return by_; }
    const std::vector<ProveRun>& runs() const { return runs_; }
    const std::vector<std::string>& notices() const { return notices_; }

    /// Loops and ties, those that do not fit first.
    std::vector<ProveLoop> loops(const std::vector<frame::Mark>& marks,
                                 const measure::LengthStyle& style) const;

private:
    void add_link(network::LevelLink link, std::string by);

    std::vector<network::LevelRise> rises_;
    std::vector<std::string> by_;
    std::vector<network::LevelLink> links_;  ///< also those that close on themselves
    std::vector<std::string> link_by_;
    std::vector<ProveRun> runs_;
    std::map<std::string, int> names_;  ///< of runs, with how often each was used
    std::vector<std::string> notices_;
};

}  // namespace layproof::acts::internal

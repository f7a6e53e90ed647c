#pragma once
// Levels on their way into an adjustment: those of a job and of files together, runs reduced, and
// how well loops and ties between sheet heights close.

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "base/result.hpp"
#include "exchange/tables/table.hpp"
#include "exchange/text/document.hpp"
#include "frame/mark.hpp"
#include "measure/length.hpp"
#include "network/evidence.hpp"
#include "network/level_loops.hpp"
#include "network/level_run.hpp"

namespace layproof::acts {

/// A run of levels, reduced: network/level_run.hpp.
struct ProveRun {
    std::string run;
    std::vector<std::string> points;  ///< named ones, in order; intermediate ones not
    std::vector<std::string> intermediate;
    int turns = 0;                      ///< set-ups of the level
    std::optional<double> length_m;     ///< sum of its sight lengths
    std::optional<double> imbalance_m;  ///< lengths of backsights less those of foresights
    double rise_m = 0.0, sd_m = 0.0;    ///< from its first point to its last
};

/// A closed loop of levels, or marks whose sheet heights levels tie together:
/// network/level_loops.hpp.
struct ProveLoop {
    struct Member {
        std::string from, to, by;
    };
    bool is_tie = false;
    std::vector<std::string> points;
    std::vector<Member> members;
    /// Levelled less what should be: 0, or what the sheet heights differ by.
    double closure_m = 0.0, sd_m = 0.0;
    std::optional<double> length_m;
    std::optional<int> turns;
    double allowed_m = 0.0;
    std::string rule, source;  ///< by which that is allowed
    bool fits = false;
    std::string says;
};

}  // namespace layproof::acts

namespace layproof::acts::internal {

/// `name`, or "R1 (2)" when it is taken; what comes back is taken from then on.
std::string free_name(const std::string& name, std::map<std::string, int>& taken);

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

#pragma once
// What is costly about the belief of a job, and the same for every act: how its lists are read, the
// adjustment of all set-ups, and what may be wrong. Kept for the next act that asks the same.

#include <condition_variable>
#include <list>
#include <memory>
#include <mutex>

#include "acts/shared/progress.hpp"
#include "base/result.hpp"
#include "cause/cause_table.hpp"
#include "network/readings.hpp"
#include "network/site_network.hpp"
#include "network/site_network_causes.hpp"

namespace layproof::acts {

/// All that a solved job depends on.
struct SolvedJobQuestion {
    network::NetworkInput input;  ///< as written
    cause::CauseTable causes;
    network::FileUnits units;

    bool operator==(const SolvedJobQuestion&) const = default;
};

struct SolvedJob {
    network::Readings readings;
    network::NetworkInput input;  ///< as most probably meant
    network::SiteNetwork network;
    network::NetworkDiagnosis diagnosis;
};

/// Refuses as network::adjust_network does, and with `stopped` between two steps when `progress`
/// wants it.
Result<std::shared_ptr<const SolvedJob>> solve_job(const SolvedJobQuestion& question,
                                                   Progress* progress);

/// The last few solved jobs. May be used by several threads: who asks for what another is solving
/// waits for it, and goes on with the work when the other was stopped.
class SolvedJobs {
public:
    /// The job as it is and as it was a sight before, each on two kinds of ground.
    static constexpr std::size_t kMostKept = 4;

    Result<std::shared_ptr<const SolvedJob>> get(const SolvedJobQuestion& question,
                                                 Progress* progress);

private:
    struct Entry {
        SolvedJobQuestion question;
        std::shared_ptr<const SolvedJob> job;  ///< null: somebody is at it
    };

    std::mutex mutex_;
    std::condition_variable changed_;
    std::list<Entry> entries_;  ///< last used last
};

}  // namespace layproof::acts

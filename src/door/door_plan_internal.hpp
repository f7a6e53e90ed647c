#pragma once
// Planning as a page asks for it: obstacles from files that were sent or drawn by hand, and the
// site made ready once, so that a tripod can be dragged about on it.

#include <cstdint>
#include <functional>
#include <list>
#include <mutex>
#include <string>

#include "acts/plan/plan.hpp"
#include "door/json_internal.hpp"

namespace layproof::acts::internal {

/// Without the facts. Refuses as `kept_file` does.
Result<PlanRequest> plan_request(
    const Json& request,
    const std::function<Result<exchange::Document>(const std::string& digest)>& kept_file);

/// The sites asked about last, ready to be asked again. May be used by several threads.
class PlanDesk {
public:
    static constexpr std::size_t kMostSites = 2;

    /// The whole answer; its site is kept under `key`.
    Result<PlanAnswer> plan(const std::string& key, const PlanRequest& request);
    /// One place of the site under `key`; `make` gives the request where it is not kept.
    Result<PlanPlace> place(const std::string& key,
                            const std::function<Result<PlanRequest>()>& make, double east_m,
                            double north_m);

private:
    struct Kept {
        std::string key;
        PlanScene scene;
    };
    void keep(const std::string& key, PlanScene scene);

    std::mutex mutex_;
    std::list<Kept> sites_;  ///< oldest first
};

}  // namespace layproof::acts::internal

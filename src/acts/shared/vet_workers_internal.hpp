#pragma once
// The work of a vetting shared among the processor's cores, told of and stopped through Progress.
// What comes out is the same to the last digit however many cores there are.

#include <string>

#include "acts/shared/progress.hpp"
#include "base/workers.hpp"

namespace layproof::acts::internal {

class VetWorkers final : public Workers {
public:
    /// `progress` may be null; it is only asked and told on the calling thread.
    VetWorkers(Progress* progress, std::string words)
        : progress_(progress), words_(std::move(words)) {}

    bool each(std::size_t count, double from, double to,
              const std::function<void(std::size_t)>& work) override;

private:
    Progress* progress_;
    std::string words_;
};

}  // namespace layproof::acts::internal

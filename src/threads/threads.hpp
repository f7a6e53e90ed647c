#pragma once
// Work on several threads of the processor. What comes out must not depend on how many there are:
// pieces write to places of their own, and who wants a sum adds afterwards, in order.

#include <cstddef>
#include <functional>
#include <future>
#include <system_error>
#include <utility>

#include "base/parallel.hpp"

namespace layproof::threads {

/// Threads that share a loop: as many as there are processors, at least 1, at most 16.
std::size_t most();

/// Begins `work` on a further thread; where none is to be had, puts it off until it is asked for.
template <class Work>
auto begin(const Work& work) {
    try {
        return std::async(std::launch::async, work);
    } catch (const std::system_error&) {
        return std::async(std::launch::deferred, work);
    }
}

/// Asked on the calling thread before each of its pieces, with the fraction of the pieces that are
/// begun; false: all should end.
using GoOn = std::function<bool(double fraction)>;

/// work(thread, 0) to work(thread, count − 1), each once, on most() threads, the calling one (its
/// number is 0) among them; returns when all are done. `thread`, below most(), is for what a thread
/// needs of its own. False when `go_on` ended it: then some pieces were left out.
bool share(std::size_t count, const std::function<void(std::size_t thread, std::size_t i)>& work,
           const GoOn& go_on = {});

/// The loops of the core on these threads.
class SharedWorkers final : public Workers {
public:
    /// `go_on` as for share(), asked with the fraction of the whole; may be empty.
    explicit SharedWorkers(GoOn go_on = {}) : go_on_(std::move(go_on)) {}

    bool each(std::size_t count, double from, double to,
              const std::function<void(std::size_t)>& work) override;

private:
    GoOn go_on_;
};

}  // namespace layproof::threads

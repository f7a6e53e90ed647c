#pragma once
// Work begun beside this thread.

#include <future>
#include <system_error>

namespace layproof::acts::internal {

/// Begins `work` on a further thread; where none is to be had, puts it off until it is asked for.
template <class Work>
auto begin(const Work& work) {
    try {
        return std::async(std::launch::async, work);
    } catch (const std::system_error&) {
        return std::async(std::launch::deferred, work);
    }
}

}  // namespace layproof::acts::internal

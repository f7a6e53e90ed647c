#pragma once
// Work begun beside this thread.

#include <algorithm>
#include <atomic>
#include <cstddef>
#include <future>
#include <system_error>
#include <thread>
#include <vector>

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

/// work(0) to work(count − 1), each once, on as many threads as there are processors, this one
/// among them; returns when all are done. Pieces must not touch what others do.
template <class Work>
void spread(std::size_t count, const Work& work) {
    constexpr std::size_t kMostThreads = 16;
    const std::size_t threads =
        std::clamp<std::size_t>(std::thread::hardware_concurrency(), 1, kMostThreads);
    std::atomic<std::size_t> next{0};
    const auto some = [&] {
        for (std::size_t i = next++; i < count; i = next++) work(i);
    };
    std::vector<std::future<void>> others;
    for (std::size_t k = 1; k < std::min(threads, count); ++k) others.push_back(begin(some));
    some();
    for (auto& other : others) other.get();
}

}  // namespace layproof::acts::internal

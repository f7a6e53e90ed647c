#include "threads/threads.hpp"

#include <algorithm>
#include <atomic>
#include <thread>
#include <vector>

namespace layproof::threads {

std::size_t most() {
    constexpr std::size_t kMostThreads = 16;
    return std::clamp<std::size_t>(std::thread::hardware_concurrency(), 1, kMostThreads);
}

bool share(std::size_t count, const std::function<void(std::size_t, std::size_t)>& work,
           const GoOn& go_on) {
    std::atomic<std::size_t> next{0};
    std::atomic<bool> is_stopped{false};
    const auto begun = [&] {
        const auto whole = static_cast<double>(std::max(count, std::size_t{1}));
        return static_cast<double>(std::min(next.load(), count)) / whole;
    };
    const auto help = [&](std::size_t thread) {
        while (!is_stopped) {
            if (thread == 0 && go_on && !go_on(begun())) {
                is_stopped = true;
                return;
            }
            const std::size_t i = next++;
            if (i >= count) return;
            work(thread, i);
        }
    };
    std::vector<std::future<void>> others;
    for (std::size_t k = 1; k < std::min(most(), count); ++k)
        others.push_back(begin([&help, k] { help(k); }));
    help(0);
    for (auto& other : others) other.get();
    return !is_stopped;
}

bool SharedWorkers::each(std::size_t count, double from, double to,
                         const std::function<void(std::size_t)>& work) {
    GoOn go_on;
    if (go_on_) go_on = [&](double part) { return go_on_(from + (to - from) * part); };
    return share(
        count, [&work](std::size_t, std::size_t i) { work(i); }, go_on);
}

}  // namespace layproof::threads

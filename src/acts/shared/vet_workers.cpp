#include <algorithm>
#include <atomic>
#include <future>
#include <thread>
#include <vector>

#include "acts/shared/begin_internal.hpp"
#include "acts/shared/vet_workers_internal.hpp"

namespace layproof::acts::internal {

bool VetWorkers::each(std::size_t count, double from, double to,
                      const std::function<void(std::size_t)>& work) {
    std::atomic<std::size_t> next{0};
    std::atomic<bool> is_stopped{false};
    const auto go_on = [&] {
        if (progress_ == nullptr) return true;
        if (progress_->stop_requested()) {
            is_stopped = true;
            return false;
        }
        const double done = static_cast<double>(std::min(next.load(), count));
        progress_->report(
            from + (to - from) * done / static_cast<double>(std::max(count, std::size_t{1})),
            words_);
        return true;
    };
    const auto help = [&](bool is_caller) {
        while (!is_stopped) {
            if (is_caller && !go_on()) return;
            const std::size_t i = next++;
            if (i >= count) return;
            work(i);
        }
    };
    const std::size_t threads = std::clamp<std::size_t>(
        std::min<std::size_t>(std::thread::hardware_concurrency(), count), 1, 16);
    std::vector<std::future<void>> others;
    for (std::size_t k = 1; k < threads; ++k) others.push_back(begin([&] { help(false); }));
    help(true);
    for (auto& other : others) other.get();
    return !is_stopped;
}

}  // namespace layproof::acts::internal

#pragma once
// Work that is going on, so that it can be shown and stopped. May be used by several threads.
//
// Notes are given one at a time and the last of a work says that it ended, so whoever keeps them by
// the work's name knows what is going on. The one they are given to must not call back.

#include <chrono>
#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <string>
#include <string_view>
#include <vector>

#include "acts/shared/progress.hpp"

namespace layproof::acts {

struct WorkNote;

class WorkList {
public:
    using Clock = std::chrono::steady_clock;

    /// `now` tells the time; tests bring their own.
    explicit WorkList(std::function<void(const WorkNote&)> notes,
                      std::function<Clock::time_point()> now = Clock::now)
        : notes_(std::move(notes)), now_(std::move(now)) {}

    /// Work that is over in less is never spoken of.
    static constexpr std::chrono::milliseconds kQuiet{300};
    /// Between two notes of one work.
    static constexpr std::chrono::milliseconds kBetweenNotes{100};

    /// The progress of one work; it is over when the pointer goes.
    std::unique_ptr<Progress> begin(std::string_view act);

    /// Speaks of work that has lasted for kQuiet and told where it is only before that; to be
    /// called now and then.
    void look();
    /// What has been spoken of and has not ended.
    std::vector<WorkNote> going_on();

    /// False when there is no such work.
    bool stop(const std::string& work);
    void stop_all();

private:
    class Work;

    std::mutex mutex_;
    std::map<std::string, Work*> works_;
    std::uint64_t count_ = 0;
    bool is_closed_ = false;
    std::function<void(const WorkNote&)> notes_;
    std::function<Clock::time_point()> now_;
};

}  // namespace layproof::acts

#include "door/work_list.hpp"

#include <fmt/format.h>

#include <atomic>

#include "door/door.hpp"

namespace layproof::acts {

class WorkList::Work final : public Progress {
public:
    Work(WorkList& list, std::string name) : list_(list), begun_(list.now_()) {
        note_.work = std::move(name);
    }
    ~Work() override {
        const std::lock_guard lock(list_.mutex_);
        list_.works_.erase(note_.work);
        note_.done = 1.0;
        note_.ended = true;
        if (is_shown_) tell();
    }
    Work(const Work&) = delete;
    Work& operator=(const Work&) = delete;

    void report(double fraction, std::string_view words) override {
        const std::lock_guard lock(list_.mutex_);
        note_.says = words;
        note_.done = fraction;
        if (is_shown_ ? list_.now_() - last_ >= kBetweenNotes : has_lasted()) tell();
    }

    bool stop_requested() override { return stop_; }
    void stop() { stop_ = true; }

    // With the list locked.
    void look() {
        if (!is_shown_ && !note_.says.empty() && has_lasted()) tell();
    }
    bool is_shown() const { return is_shown_; }
    const WorkNote& note() const { return note_; }

private:
    bool has_lasted() const { return list_.now_() - begun_ >= kQuiet; }
    void tell() {
        last_ = list_.now_();
        is_shown_ = true;
        if (list_.notes_) list_.notes_(note_);
    }

    WorkList& list_;
    WorkNote note_;
    Clock::time_point begun_;
    Clock::time_point last_{};
    bool is_shown_ = false;
    std::atomic<bool> stop_ = false;
};

std::unique_ptr<Progress> WorkList::begin(std::string_view act) {
    const std::lock_guard lock(mutex_);
    std::string name = fmt::format("{}-{}", act, ++count_);
    auto work = std::make_unique<Work>(*this, name);
    if (is_closed_) work->stop();
    works_.emplace(std::move(name), work.get());
    return work;
}

void WorkList::look() {
    const std::lock_guard lock(mutex_);
    for (auto& [name, work] : works_) work->look();
}

std::vector<WorkNote> WorkList::going_on() {
    const std::lock_guard lock(mutex_);
    std::vector<WorkNote> out;
    for (const auto& [name, work] : works_)
        if (work->is_shown()) out.push_back(work->note());
    return out;
}

bool WorkList::stop(const std::string& work) {
    const std::lock_guard lock(mutex_);
    const auto at = works_.find(work);
    if (at == works_.end()) return false;
    at->second->stop();
    return true;
}

void WorkList::stop_all() {
    const std::lock_guard lock(mutex_);
    is_closed_ = true;
    for (auto& [name, work] : works_) work->stop();
}

}  // namespace layproof::acts

#include "acts/belief/solved_jobs.hpp"

#include <algorithm>
#include <chrono>
#include <string>
#include <utility>

namespace layproof::acts {

Result<std::shared_ptr<const SolvedJob>> solve_job(const SolvedJobQuestion& question,
                                                   Progress* progress) {
    const auto count = question.input.setups.size();
    if (!go_on(progress, 0.0,
               count == 1 ? "Weighing what is known"
                          : "Weighing all " + std::to_string(count) + " set-ups of the job"))
        return stopped();
    const auto is_stopped = [&] { return progress != nullptr && progress->stop_requested(); };
    auto out = std::make_shared<SolvedJob>();
    out->readings = network::read_otherwise(question.input, question.causes, question.units);
    out->input = network::as_read(question.input, out->readings.best().readings);
    if (is_stopped()) return stopped();
    auto network = network::adjust_network(out->input);
    if (!network) return network.refusal();
    out->network = std::move(*network);
    if (is_stopped()) return stopped();
    out->diagnosis = network::diagnose_network(out->network, question.causes);
    if (is_stopped()) return stopped();
    return std::shared_ptr<const SolvedJob>(std::move(out));
}

Result<std::shared_ptr<const SolvedJob>> SolvedJobs::get(const SolvedJobQuestion& question,
                                                         Progress* progress) {
    // How soon one who waits for another's work heeds the wish to stop.
    constexpr std::chrono::milliseconds kLook{50};
    std::list<Entry>::iterator own;
    {
        std::unique_lock lock(mutex_);
        for (;;) {
            const auto known =
                std::find_if(entries_.begin(), entries_.end(),
                             [&](const Entry& one) { return one.question == question; });
            if (known == entries_.end()) break;
            if (known->job) {
                entries_.splice(entries_.end(), entries_, known);
                return known->job;
            }
            if (progress != nullptr && progress->stop_requested()) return stopped();
            changed_.wait_for(lock, kLook);
        }
        entries_.push_back({question, nullptr});
        own = std::prev(entries_.end());
    }
    const auto give_up = [&] {
        entries_.erase(own);
        changed_.notify_all();
    };
    auto solved = [&] {
        try {
            return solve_job(own->question, progress);
        } catch (...) {
            const std::lock_guard lock(mutex_);
            give_up();
            throw;
        }
    }();
    const std::lock_guard lock(mutex_);
    if (solved) {
        own->job = *solved;
        entries_.splice(entries_.end(), entries_, own);
        for (auto one = entries_.begin(); entries_.size() > kMostKept && one != entries_.end();)
            one = one->job && one != own ? entries_.erase(one) : std::next(one);
        changed_.notify_all();
    } else {
        give_up();
    }
    return solved;
}

}  // namespace layproof::acts

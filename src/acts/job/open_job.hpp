#pragma once
// A job file held open for many askers. May be used by several threads: readers share one handle,
// writers another, so that reading goes on while a long take writes. What other programs add to the
// file is seen at the next look.

#include <cstdint>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "acts/job/place_store.hpp"
#include "acts/shared/job_facts.hpp"
#include "base/result.hpp"
#include "job/job.hpp"

namespace layproof::acts {

/// What the file holds, for telling whether it is still what one saw.
struct JobState {
    std::int64_t facts = 0;
    std::string head;              ///< 64 hexadecimal digits; of all chains when there are several
    std::int64_t last_ms = 0;      ///< when the last fact was recorded
    std::uint64_t generation = 0;  ///< rises with every change seen

    friend bool operator==(const JobState&, const JobState&) = default;
};

class OpenJob {
public:
    /// Opens for reading and, where the file may be written to, brings its schema up to date.
    /// Clock and entropy must outlive the job.
    static Result<std::unique_ptr<OpenJob>> open(const std::string& path, job::Clock& clock,
                                                 job::Entropy& entropy);

    const std::string& path() const { return path_; }

    /// Looks at the file; nearly free while nothing changed.
    Result<JobState> state();

    /// facts_of, kept for the next asker while the file stays as it is.
    Result<std::shared_ptr<const JobFacts>> facts(const job::AsOf& as_of);

    /// Where stations stood when they were last placed.
    PlaceStore& places() { return places_; }

    /// Calls `look` with the reading handle. When the file changed meanwhile it looks again, so
    /// that what comes back is of one moment.
    template <class Look>
    auto read(Look look) -> decltype(look(std::declval<const job::Job&>())) {
        const std::lock_guard lock(read_mutex_);
        for (int tries = 0;; ++tries) {
            const auto before = reader_.changes();
            if (!before) return before.refusal();
            auto out = look(std::as_const(reader_));
            const auto after = reader_.changes();
            if (!after) return after.refusal();
            if (*before == *after || tries == kMostLooks) return out;
        }
    }

    /// Calls `change` with the writing handle. One at a time; a writer in another program is waited
    /// for (job_busy after five seconds).
    template <class Change>
    auto write(Change change) -> decltype(change(std::declval<job::Job&>())) {
        const std::lock_guard lock(write_mutex_);
        if (!writer_) {
            auto opened = job::Job::open(path_, job::Mode::write, *clock_, *entropy_);
            if (!opened) return opened.refusal();
            writer_.emplace(std::move(*opened));
        }
        return change(*writer_);
    }

private:
    static constexpr int kMostLooks = 5;
    static constexpr std::size_t kMostFacts = 4;

    OpenJob(std::string path, job::Job reader, job::Clock& clock, job::Entropy& entropy);

    std::string path_;
    job::Clock* clock_;
    job::Entropy* entropy_;

    std::mutex read_mutex_;
    job::Job reader_;
    std::optional<std::int64_t> seen_;
    JobState state_;
    std::vector<std::pair<std::pair<std::uint64_t, job::AsOf>, std::shared_ptr<const JobFacts>>>
        facts_;  ///< last used last

    PlaceStore places_;

    std::mutex write_mutex_;
    std::optional<job::Job> writer_;

    Result<JobState> look_at_state();
};

}  // namespace layproof::acts

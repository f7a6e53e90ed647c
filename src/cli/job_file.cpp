#include "cli/job_file.hpp"

#include <cmath>
#include <utility>

#include "acts/job/job.hpp"
#include "cli/commands.hpp"
#include "exchange/text/time.hpp"

namespace layproof::cli {

int job_status(const Refusal& refusal, bool is_opening) {
    const int code = static_cast<int>(refusal.code);
    if (code >= 401 && code <= 419) return exit_not_written;
    if (refusal.code == ErrorCode::cannot_read || refusal.code == ErrorCode::cannot_write ||
        refusal.code == ErrorCode::cannot_listen)
        return exit_not_written;
    if (is_opening && refusal.code == ErrorCode::empty_file) return exit_not_written;
    return exit_refused;
}

int refuse_job(const Refusal& refusal, bool is_opening) {
    complain(refusal.to_text());
    return job_status(refusal, is_opening);
}

bool read_as_of(const std::string& text, job::AsOf& as_of) {
    if (text.empty()) return true;
    const auto time_s = exchange::parse_time(text, {"--as-of", 0, 0});
    if (!time_s) {
        complain(time_s.refusal().to_text());
        return false;
    }
    as_of = static_cast<std::int64_t>(std::llround(*time_s * 1000.0));
    return true;
}

std::optional<int> read_job(const std::string& path, const job::AsOf& as_of,
                            std::optional<acts::JobFacts>& into) {
    job::SystemClock clock;
    job::SystemEntropy entropy;
    const auto job = job::Job::open(path, job::Mode::read, clock, entropy);
    if (!job) return refuse_job(job.refusal(), true);
    auto facts = acts::facts_of(*job, as_of);
    if (!facts) return refuse_job(facts.refusal());
    into = std::move(*facts);
    return std::nullopt;
}

}  // namespace layproof::cli

#pragma once
// Answers kept for the next asker of the same thing, and one computation for all who ask at once.
// May be used by several threads.

#include <cstddef>
#include <cstdint>
#include <functional>
#include <future>
#include <list>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <string>

#include "acts/shared/refusal_json.hpp"

namespace layproof::acts {

/// The JSON document of an act, or why there is none.
struct Asked {
    std::shared_ptr<const std::string> json;
    std::optional<RefusedRequest> refused;
};

class AnswerStore {
public:
    static constexpr std::size_t kMostAnswers = 256;
    static constexpr std::size_t kMostBytes = std::size_t{64} << 20U;

    /// What `make` gives for `key`, made now or before. `generation` is that of the job: answers
    /// of earlier ones go. What was stopped or could not be read is not kept.
    Asked get(std::uint64_t generation, const std::string& key, const std::function<Asked()>& make);

private:
    struct Entry {
        std::string key;
        std::shared_future<Asked> answer;
        std::size_t bytes = 0;
    };
    using Entries = std::list<Entry>;

    void forget(Entries::iterator at);

    std::mutex mutex_;
    std::uint64_t generation_ = 0;
    Entries entries_;  ///< last used last
    std::map<std::string, Entries::iterator> index_;
    std::size_t bytes_ = 0;
};

}  // namespace layproof::acts

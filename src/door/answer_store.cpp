#include "door/answer_store.hpp"

#include <utility>

namespace layproof::acts {
namespace {

/// Whether the same question would get the same answer again.
bool is_lasting(const Asked& asked) {
    if (!asked.refused) return true;
    const ErrorCode code = asked.refused->refusal.code;
    const int number = static_cast<int>(code);
    const bool is_of_file = number >= 401 && number <= 419;
    return !is_of_file && code != ErrorCode::stopped && code != ErrorCode::cannot_read;
}

}  // namespace

void AnswerStore::forget(Entries::iterator at) {
    bytes_ -= at->bytes;
    index_.erase(at->key);
    entries_.erase(at);
}

Asked AnswerStore::get(std::uint64_t generation, const std::string& key,
                       const std::function<Asked()>& make) {
    std::promise<Asked> promise;
    std::shared_future<Asked> answer;
    {
        const std::lock_guard lock(mutex_);
        if (generation > generation_) {
            generation_ = generation;
            entries_.clear();
            index_.clear();
            bytes_ = 0;
        }
        const auto known = index_.find(key);
        if (known != index_.end()) {
            entries_.splice(entries_.end(), entries_, known->second);
            answer = known->second->answer;
        } else {
            entries_.push_back({key, promise.get_future().share(), 0});
            index_.emplace(key, std::prev(entries_.end()));
        }
    }
    if (answer.valid()) return answer.get();

    Asked made = make();
    promise.set_value(made);
    const std::lock_guard lock(mutex_);
    const auto at = index_.find(key);
    if (at == index_.end()) return made;  // a later generation has begun
    if (!is_lasting(made)) {
        forget(at->second);
        return made;
    }
    if (at->second->bytes == 0 && made.json) {
        at->second->bytes = made.json->size();
        bytes_ += made.json->size();
    }
    while (entries_.size() > 1 && (entries_.size() > kMostAnswers || bytes_ > kMostBytes))
        forget(entries_.begin());
    return made;
}

}  // namespace layproof::acts

#pragma once
// How long work tells where it is, and asks whether it should go on. Given as a pointer; nullptr
// asks for neither.

#include <string_view>

#include "base/result.hpp"

namespace layproof::acts {

class Progress {
public:
    virtual ~Progress() = default;
    /// `fraction` of the whole, 0 to 1, and what is being done.
    virtual void report(double fraction, std::string_view words) = 0;
    /// The work ends as soon as it can with the refusal `stopped`, having changed nothing.
    virtual bool stop_requested() = 0;
};

/// Tells `progress`, unless it wants the work to end: then false. True when it is null.
inline bool go_on(Progress* progress, double fraction, std::string_view words) {
    if (progress == nullptr) return true;
    if (progress->stop_requested()) return false;
    progress->report(fraction, words);
    return true;
}

/// Of work that was told to end.
inline Refusal stopped() {
    return {ErrorCode::stopped, {}, "the wish to stop", "nothing more"};
}

}  // namespace layproof::acts

#pragma once
// How long work tells where it is, and asks whether it should go on. Given as a pointer; nullptr
// asks for neither.

#include <string_view>

namespace layproof::acts {

class Progress {
public:
    virtual ~Progress() = default;
    /// `fraction` of the whole, 0 to 1, and what is being done.
    virtual void report(double fraction, std::string_view words) = 0;
    /// The work ends as soon as it can with the refusal `stopped`, having changed nothing.
    virtual bool stop_requested() = 0;
};

}  // namespace layproof::acts

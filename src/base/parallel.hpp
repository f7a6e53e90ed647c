#pragma once
// Who does many like pieces of work: this thread, or several given from outside. The core starts no
// threads itself; the room `threads` does.

#include <cstddef>
#include <functional>

namespace layproof {

class Workers {
public:
    virtual ~Workers() = default;
    /// Calls work(0) to work(count − 1), each once, in any order and perhaps several at a time: no
    /// piece may touch what another does. `from` and `to` say which part of the whole (0 to 1) the
    /// loop is. Returns when all are done. False when all should end: then some were left out and
    /// nothing of what they made may be used.
    virtual bool each(std::size_t count, double from, double to,
                      const std::function<void(std::size_t)>& work) = 0;
};

/// One after another on this thread when `workers` is null.
inline bool each(Workers* workers, std::size_t count, double from, double to,
                 const std::function<void(std::size_t)>& work) {
    if (workers != nullptr) return workers->each(count, from, to, work);
    for (std::size_t i = 0; i < count; ++i) work(i);
    return true;
}

/// The same for a loop that is the whole work.
inline bool each(Workers* workers, std::size_t count,
                 const std::function<void(std::size_t)>& work) {
    return each(workers, count, 0.0, 1.0, work);
}

}  // namespace layproof

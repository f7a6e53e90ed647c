#pragma once
// Files that were sent but not yet taken, in memory and by digest. Bounded: the oldest make room.
// May be used by several threads.

#include <cstddef>
#include <deque>
#include <mutex>
#include <optional>
#include <string>
#include <string_view>

#include "exchange/text/document.hpp"

namespace layproof::acts {

class FileShelf {
public:
    static constexpr std::size_t kMostFiles = 32;
    static constexpr std::size_t kMostBytes = std::size_t{64} << 20U;

    /// Keeps the file, as the newest; its digest in 64 hexadecimal digits.
    std::string keep(exchange::Document file);
    std::optional<exchange::Document> find(std::string_view digest) const;

private:
    struct Kept {
        std::string digest;
        exchange::Document file;
    };

    mutable std::mutex mutex_;
    std::deque<Kept> files_;  ///< oldest first
    std::size_t bytes_ = 0;
};

}  // namespace layproof::acts

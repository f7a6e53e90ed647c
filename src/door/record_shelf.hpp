#pragma once
// The files of the records made last, in memory, each under a ticket that nobody can guess: a
// browser opens them by address, where it can prove in no other way who it is. May be used by
// several threads.

#include <deque>
#include <memory>
#include <mutex>
#include <string>
#include <string_view>
#include <vector>

#include "acts/record/record.hpp"
#include "job/sources.hpp"

namespace layproof::acts {

class RecordShelf {
public:
    /// Records that are kept; the oldest goes.
    static constexpr std::size_t kMostRecords = 4;

    explicit RecordShelf(job::Entropy& entropy) : entropy_(entropy) {}

    /// 32 hexadecimal digits.
    std::string keep(std::vector<RecordFile> files);
    /// nullptr: no such record, or no such file in it.
    std::shared_ptr<const RecordFile> find(std::string_view ticket, std::string_view name) const;

private:
    struct Kept {
        std::string ticket;
        std::vector<std::shared_ptr<const RecordFile>> files;
    };

    job::Entropy& entropy_;
    mutable std::mutex mutex_;
    std::deque<Kept> records_;  ///< oldest first
};

}  // namespace layproof::acts

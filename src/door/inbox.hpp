#pragma once
// The act "inbox": files are taken as they appear in a folder, by what their header says they are.
//
// A file is taken when its size and time have stood still over two looks, so that none is taken
// half written, and once, whatever its name: the job is asked whether it holds a file of these
// bytes. Files are never moved or changed. One that is refused stays where it is, with the reason,
// and is tried again when it changes; one whose unit nobody states waits for its unit. Names that
// begin with a dot, folders and everything that is no file are passed over. May be used by several
// threads.

#include <cstddef>
#include <cstdint>
#include <map>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include "acts/job/open_job.hpp"
#include "measure/length.hpp"

namespace layproof::acts {

class Fields;

struct InboxFile {
    std::string name;
    std::int64_t time_ms = 0;  ///< of the file
    bool is_taken = false;
    std::string role;  ///< empty: unknown
    std::string says;
};

struct InboxReport {
    std::string folder;            ///< empty: none
    std::vector<InboxFile> files;  ///< in order of name
};

class Inbox {
public:
    static constexpr std::uint64_t kLargestFile = std::uint64_t{64} << 20U;
    static constexpr std::size_t kMostFiles = 1000;  ///< more in a folder are not looked at

    /// `folder` empty: there is none. `unit` is of lengths whose column states none.
    Inbox(std::string folder, std::optional<measure::LengthUnit> unit);

    /// Looks once; true when the report is another one now.
    bool look(OpenJob& job);
    InboxReport report() const;

private:
    /// By which one tells that a file has changed.
    struct Stamp {
        std::uint64_t size = 0;
        std::int64_t time_ns = 0;
        std::uint64_t inode = 0;
        friend bool operator==(const Stamp&, const Stamp&) = default;
    };
    struct Entry {
        Stamp stamp;
        bool is_settled = false;  ///< looked into, as it stands
        InboxFile file;
    };

    std::optional<Stamp> stamp_of(const std::string& name) const;
    void take(OpenJob& job, Entry& entry);

    std::string folder_;
    std::optional<measure::LengthUnit> unit_;
    mutable std::mutex mutex_;
    std::map<std::string, Entry> entries_;
    std::string trouble_;  ///< with the folder itself
};

/// The record InboxAnswer.
std::string to_json(const InboxReport& report);
void describe(Fields& f, const InboxReport& report);

}  // namespace layproof::acts

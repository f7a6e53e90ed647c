#include "door/file_shelf.hpp"

#include <algorithm>
#include <utility>

#include "job/digest.hpp"

namespace layproof::acts {

std::string FileShelf::keep(exchange::Document file) {
    const auto* bytes = reinterpret_cast<const std::uint8_t*>(file.bytes.data());
    std::string digest = job::sha256({bytes, file.bytes.size()}).to_text();
    const std::lock_guard lock(mutex_);
    const auto known = std::find_if(files_.begin(), files_.end(),
                                    [&](const Kept& kept) { return kept.digest == digest; });
    if (known != files_.end()) {
        bytes_ -= known->file.bytes.size();
        files_.erase(known);
    }
    bytes_ += file.bytes.size();
    files_.push_back({digest, std::move(file)});
    while (files_.size() > 1 && (files_.size() > kMostFiles || bytes_ > kMostBytes)) {
        bytes_ -= files_.front().file.bytes.size();
        files_.pop_front();
    }
    return digest;
}

std::optional<exchange::Document> FileShelf::find(std::string_view digest) const {
    const std::lock_guard lock(mutex_);
    for (const Kept& kept : files_)
        if (kept.digest == digest) return kept.file;
    return std::nullopt;
}

}  // namespace layproof::acts

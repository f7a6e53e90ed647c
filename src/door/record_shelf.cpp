#include "door/record_shelf.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <utility>

namespace layproof::acts {

std::string RecordShelf::keep(std::vector<RecordFile> files) {
    const std::lock_guard lock(mutex_);
    Kept kept;
    std::array<std::uint8_t, 16> bits{};
    // Without unpredictable bits nothing is kept: an address that can be guessed guards nothing.
    if (!entropy_.fill(bits)) return {};
    for (const std::uint8_t b : bits) kept.ticket += fmt::format("{:02x}", b);
    for (RecordFile& file : files)
        kept.files.push_back(std::make_shared<const RecordFile>(std::move(file)));
    records_.push_back(std::move(kept));
    if (records_.size() > kMostRecords) records_.pop_front();
    return records_.back().ticket;
}

std::shared_ptr<const RecordFile> RecordShelf::find(std::string_view ticket,
                                                    std::string_view name) const {
    const std::lock_guard lock(mutex_);
    const auto record = std::find_if(records_.begin(), records_.end(),
                                     [&](const Kept& k) { return k.ticket == ticket; });
    if (record == records_.end()) return nullptr;
    const auto file = std::find_if(record->files.begin(), record->files.end(),
                                   [&](const auto& f) { return f->name == name; });
    return file == record->files.end() ? nullptr : *file;
}

}  // namespace layproof::acts

#pragma once
// Files whole into memory and out again.

#include <cstdint>
#include <string>
#include <string_view>

#include "base/result.hpp"
#include "exchange/text/document.hpp"

namespace layproof::exchange {

/// Files above this are refused: a job's text files are thousands of times smaller.
inline constexpr std::uint64_t kLargestFileBytes = std::uint64_t{1} << 30U;

/// The bytes of a file, pipe or device. Error codes: cannot_read (missing, a folder, no permission,
/// a read that fails half way), file_too_large (above 1 GiB).
Result<std::string> read_file(const std::string& path);

/// read_file with the path as the document's name.
Result<Document> read_document(const std::string& path);

/// Writes the file whole or not at all: a temporary file in the same folder is written, synced and
/// renamed over the target. A symbolic link is followed. Devices and pipes are refused, because a
/// rename would replace them. Error code: cannot_write; then the target is as it was before.
Result<Done> write_file_whole(const std::string& path, std::string_view bytes);

}  // namespace layproof::exchange

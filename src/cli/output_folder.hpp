#pragma once
// The files of one answer, all of them or none.

#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace layproof::cli {

struct OutputFile {
    std::string name;
    std::string bytes;
};

/// Writes the files into the folder, which is made if it is not there. When one cannot be written,
/// those written before get their former content back (or go), a folder that was made goes, and the
/// sentence that says why is returned. Nothing means all went well.
std::optional<std::string> write_folder(const std::string& folder,
                                        const std::vector<OutputFile>& files);

/// A name for a file: letters, digits, '-', '_' and '.' stay, all else becomes '_'; never empty,
/// never begun with a point, at most 80 bytes.
std::string file_name_of(const std::string& text);

}  // namespace layproof::cli

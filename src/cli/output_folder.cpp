#include "cli/output_folder.hpp"

#include <filesystem>
#include <system_error>

#include "exchange/text/file.hpp"

namespace layproof::cli {
namespace {

namespace fs = std::filesystem;

/// What stood at a path before.
struct Before {
    std::string path;
    std::optional<std::string> bytes;
};

/// Folders that have to be made, outermost first.
std::vector<fs::path> missing_folders(const fs::path& folder) {
    std::vector<fs::path> out;
    std::error_code error;
    for (fs::path p = folder; !p.empty() && !fs::exists(p, error); p = p.parent_path()) {
        out.insert(out.begin(), p);
        if (p == p.parent_path()) break;
    }
    return out;
}

void undo(const std::vector<Before>& before, const std::vector<fs::path>& made) {
    std::error_code error;
    for (const Before& b : before) {
        if (b.bytes) {
            (void)exchange::write_file_whole(b.path, *b.bytes);
        } else {
            fs::remove(b.path, error);
        }
    }
    for (auto p = made.rbegin(); p != made.rend(); ++p) fs::remove(*p, error);
}

}  // namespace

std::optional<std::string> write_folder(const std::string& folder,
                                        const std::vector<OutputFile>& files) {
    fs::path root(folder);
    if (!root.has_filename()) root = root.parent_path();  // "out/"
    std::vector<fs::path> made = missing_folders(root);
    std::error_code error;
    fs::create_directories(root, error);
    if (error || !fs::is_directory(root)) {
        undo({}, made);
        return Refusal{ErrorCode::cannot_write,
                       {folder, 0, 0},
                       error ? error.message() : "a file of that name",
                       "a folder that is there or can be made"}
            .to_text();
    }
    std::vector<Before> before;
    for (const OutputFile& file : files) {
        const std::string path = (root / file.name).string();
        Before b{path, std::nullopt};
        if (fs::is_regular_file(path, error)) {
            if (auto bytes = exchange::read_file(path)) b.bytes = std::move(bytes).value();
        }
        const auto written = exchange::write_file_whole(path, file.bytes);
        if (!written) {
            undo(before, made);
            return written.refusal().to_text();
        }
        before.push_back(std::move(b));
    }
    return std::nullopt;
}

std::string file_name_of(const std::string& text) {
    constexpr std::size_t kLongest = 80;
    std::string out;
    for (const char c : text.substr(0, kLongest)) {
        const bool stays = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') ||
                           (c >= '0' && c <= '9') || c == '-' || c == '_' || c == '.';
        out += stays ? c : '_';
    }
    if (out.empty() || out.front() == '.') out.insert(0, "_");
    return out;
}

}  // namespace layproof::cli

#pragma once
// Runs the built program as a user would and says what came back.

#include <filesystem>
#include <string>
#include <vector>

namespace layproof::testing {

struct Ran {
    int exit_status = -1;  ///< 128 + signal when it was killed; 99 when a sanitizer stopped it
    std::string out;
    std::string err;
};

struct RunOptions {
    std::filesystem::path folder;  ///< working folder of the program
    /// Takes root's right to read and write everything, so that file permissions mean something.
    bool obey_permissions = false;
    std::string stdout_to;     ///< a device such as /dev/full instead of being kept
    std::string program = {};  ///< in place of the built one
};

/// False when this machine cannot take that right away (reason: no CAP_SETPCAP).
bool can_obey_permissions();

Ran run_layproof(const std::vector<std::string>& args, const RunOptions& options);

/// A fresh folder under the build tree; removed, with all in it, when it goes out of scope.
class WorkFolder {
public:
    explicit WorkFolder(const std::string& name);
    ~WorkFolder();
    WorkFolder(const WorkFolder&) = delete;
    WorkFolder& operator=(const WorkFolder&) = delete;

    const std::filesystem::path& path() const { return path_; }

private:
    std::filesystem::path path_;
};

std::string read_text(const std::filesystem::path& path);
void write_text(const std::filesystem::path& path, const std::string& text);

}  // namespace layproof::testing

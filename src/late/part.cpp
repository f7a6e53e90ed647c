#include "late/part.hpp"

#include <dlfcn.h>

#include <cstring>
#include <filesystem>
#include <map>
#include <mutex>
#include <system_error>
#include <vector>

namespace layproof::late {
namespace {

namespace fs = std::filesystem;

Refusal refused(const std::string& file, std::string found) {
    return {ErrorCode::cannot_read,
            {file, 0, 0},
            std::move(found),
            "the part of the program that goes with it; install layproof anew"};
}

/// The folders where parts may lie.
std::vector<fs::path> folders() {
    std::error_code failed;
    const fs::path own = fs::read_symlink("/proc/self/exe", failed).parent_path();
    if (failed) return {};
    return {own.parent_path() / "lib" / "layproof", own};
}

Result<const void*> load(const std::string& name) {
    const std::string file = "layproof_" + name + ".so";
    std::string looked_in;
    for (const fs::path& folder : folders()) {
        const fs::path path = folder / file;
        std::error_code failed;
        if (!fs::exists(path, failed)) {
            looked_in += (looked_in.empty() ? "" : ", nor in ") + folder.string();
            continue;
        }
        void* library = ::dlopen(path.c_str(), RTLD_NOW | RTLD_LOCAL);
        if (library == nullptr) {
            const char* why = ::dlerror();
            return refused(path.string(), why == nullptr ? "no library" : why);
        }
        const void* entry = ::dlsym(library, ("layproof_" + name + "_part").c_str());
        if (entry == nullptr) return refused(path.string(), "another library");
        const char* const theirs = *static_cast<const char* const*>(entry);
        if (std::strcmp(theirs, made_for()) != 0)
            return refused(path.string(), std::string("a part of ") + theirs);
        return entry;
    }
    return refused(file,
                   looked_in.empty() ? "no folder of the program" : "nothing in " + looked_in);
}

}  // namespace

Result<const void*> find_part(const std::string& name) {
    static std::mutex guard;
    static std::map<std::string, Result<const void*>> known;
    const std::lock_guard lock(guard);
    const auto found = known.find(name);
    if (found != known.end()) return found->second;
    return known.emplace(name, load(name)).first->second;
}

}  // namespace layproof::late

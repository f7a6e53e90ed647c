#include "cli/program.hpp"

#include <fcntl.h>
#include <linux/capability.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cstdlib>
#include <fstream>
#include <sstream>
#include <stdexcept>

namespace layproof::testing {
namespace {

namespace fs = std::filesystem;

constexpr int kSanitizerStatus = 99;
constexpr int kCannotStart = 127;

// Takes effect at the next exec: root's capabilities are then cut to what is left.
bool drop_permission_override() {
    return prctl(PR_CAPBSET_DROP, CAP_DAC_OVERRIDE, 0, 0, 0) == 0 &&
           prctl(PR_CAPBSET_DROP, CAP_DAC_READ_SEARCH, 0, 0, 0) == 0;
}

// Without this a sanitizer's own status 1 would look like "done and not proven".
void mark_sanitizer_exit(const char* name) {
    const char* given = std::getenv(name);
    const std::string options = (given != nullptr ? std::string(given) + ":" : std::string()) +
                                "exitcode=" + std::to_string(kSanitizerStatus);
    setenv(name, options.c_str(), 1);
}

[[noreturn]] void become(const std::vector<std::string>& args, const RunOptions& options,
                         const std::string& out, const std::string& err) {
    const int out_file = open(out.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0600);
    const int err_file = open(err.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0600);
    const int nothing = open("/dev/null", O_RDONLY);
    if (out_file < 0 || err_file < 0 || nothing < 0) _exit(kCannotStart);
    dup2(nothing, STDIN_FILENO);
    dup2(out_file, STDOUT_FILENO);
    dup2(err_file, STDERR_FILENO);
    if (chdir(options.folder.c_str()) != 0) _exit(kCannotStart);
    if (options.obey_permissions && geteuid() == 0 && !drop_permission_override()) {
        _exit(kCannotStart);
    }
    mark_sanitizer_exit("ASAN_OPTIONS");
    mark_sanitizer_exit("UBSAN_OPTIONS");
    mark_sanitizer_exit("LSAN_OPTIONS");
    const char* program = options.program.empty() ? LAYPROOF_CLI : options.program.c_str();
    std::vector<char*> argv{const_cast<char*>(program)};
    for (const std::string& arg : args) argv.push_back(const_cast<char*>(arg.c_str()));
    argv.push_back(nullptr);
    execv(program, argv.data());
    _exit(kCannotStart);
}

int wait_status(pid_t child) {
    int status = 0;
    if (waitpid(child, &status, 0) != child) return -1;
    return WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
}

}  // namespace

bool can_obey_permissions() {
    if (geteuid() != 0) return true;
    const pid_t child = fork();
    if (child == 0) _exit(drop_permission_override() ? 0 : 1);
    return wait_status(child) == 0;
}

Ran run_layproof(const std::vector<std::string>& args, const RunOptions& options) {
    // Outside the working folder, which the tests compare before and after.
    const std::string base = options.folder.string();
    const std::string out = options.stdout_to.empty() ? base + ".stdout" : options.stdout_to;
    const std::string err = base + ".stderr";
    const pid_t child = fork();
    if (child < 0) throw std::runtime_error("fork failed");
    if (child == 0) become(args, options, out, err);
    Ran ran;
    ran.exit_status = wait_status(child);
    if (options.stdout_to.empty()) ran.out = read_text(out);
    ran.err = read_text(err);
    if (options.stdout_to.empty()) fs::remove(out);
    fs::remove(err);
    return ran;
}

// ctest runs the cases of one suite side by side: each process has a folder of its own.
WorkFolder::WorkFolder(const std::string& name)
    : path_(fs::path(LAYPROOF_WORK_DIR) / (name + "-" + std::to_string(getpid()))) {
    fs::remove_all(path_);
    fs::create_directories(path_);
}

WorkFolder::~WorkFolder() {
    std::error_code ignored;
    for (fs::recursive_directory_iterator it(path_, ignored), end; !ignored && it != end;
         it.increment(ignored)) {
        fs::permissions(it->path(), fs::perms::owner_all, fs::perm_options::add, ignored);
    }
    fs::remove_all(path_, ignored);
}

std::string read_text(const fs::path& path) {
    std::ifstream file(path, std::ios::binary);
    std::ostringstream text;
    text << file.rdbuf();
    return text.str();
}

void write_text(const fs::path& path, const std::string& text) {
    std::ofstream(path, std::ios::binary) << text;
}

}  // namespace layproof::testing

#include "exchange/text/file.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <atomic>
#include <cerrno>
#include <climits>
#include <cstdlib>
#include <optional>
#include <system_error>
#include <utility>

namespace layproof::exchange {
namespace {

std::string reason(int error) {
    return std::generic_category().message(error);
}

class Descriptor {
public:
    explicit Descriptor(int fd) : fd_(fd) {}
    Descriptor(const Descriptor&) = delete;
    Descriptor& operator=(const Descriptor&) = delete;
    ~Descriptor() {
        if (fd_ >= 0) ::close(fd_);
    }

    int get() const { return fd_; }
    bool is_open() const { return fd_ >= 0; }
    /// The errno of close, 0 when it went well: a full disk may show only here.
    int close() { return ::close(std::exchange(fd_, -1)) == 0 ? 0 : errno; }

private:
    int fd_;
};

Refusal not_read(const std::string& path, std::string found) {
    return {ErrorCode::cannot_read, {path, 0, 0}, std::move(found), "a file that can be read"};
}

Refusal not_written(const std::string& path, std::string found) {
    return {ErrorCode::cannot_write,
            {path, 0, 0},
            std::move(found),
            "a path where a file can be written; nothing was changed there"};
}

Refusal too_large(const std::string& path) {
    return {
        ErrorCode::file_too_large, {path, 0, 0}, "more than 1 GiB", "a text file of at most 1 GiB"};
}

/// The errno, 0 when all bytes are in the file and on the disk.
int write_all(Descriptor& file, std::string_view bytes) {
    while (!bytes.empty()) {
        const ssize_t written = ::write(file.get(), bytes.data(), bytes.size());
        if (written < 0 && errno == EINTR) continue;
        if (written < 0) return errno;
        bytes.remove_prefix(static_cast<std::size_t>(written));
    }
    if (::fsync(file.get()) != 0) return errno;
    return file.close();
}

/// The path behind symbolic links when the target exists, else the path itself.
std::string followed(const std::string& path) {
    char* const resolved = ::realpath(path.c_str(), nullptr);
    if (resolved == nullptr) return path;
    std::string result = resolved;
    std::free(resolved);
    return result;
}

}  // namespace

Result<std::string> read_file(const std::string& path) {
    const Descriptor file(::open(path.c_str(), O_RDONLY | O_CLOEXEC));
    if (!file.is_open()) return not_read(path, reason(errno));
    struct stat status {};
    if (::fstat(file.get(), &status) != 0) return not_read(path, reason(errno));
    if (S_ISDIR(status.st_mode)) return not_read(path, "a folder");

    std::string bytes;
    if (S_ISREG(status.st_mode)) {
        const auto size = static_cast<std::uint64_t>(status.st_size);
        if (size > kLargestFileBytes) return too_large(path);
        bytes.reserve(size);
    }
    std::array<char, 1U << 16U> block{};
    while (true) {
        const ssize_t count = ::read(file.get(), block.data(), block.size());
        if (count < 0 && errno == EINTR) continue;
        if (count < 0) return not_read(path, reason(errno));
        if (count == 0) return bytes;
        if (bytes.size() + static_cast<std::size_t>(count) > kLargestFileBytes) {
            return too_large(path);
        }
        bytes.append(block.data(), static_cast<std::size_t>(count));
    }
}

Result<Document> read_document(const std::string& path) {
    auto bytes = read_file(path);
    if (!bytes) return std::move(bytes).refusal();
    return Document{path, std::move(bytes).value()};
}

Result<Done> write_file_whole(const std::string& path, std::string_view bytes) {
    static std::atomic<unsigned> counter{0};

    if (path.empty()) return not_written(path, "an empty path");
    const std::string target = followed(path);
    struct stat status {};
    const bool exists = ::stat(target.c_str(), &status) == 0;
    if (exists && S_ISDIR(status.st_mode)) return not_written(path, "a folder");
    if (exists && !S_ISREG(status.st_mode)) return not_written(path, "a device or pipe");

    const std::size_t slash = target.rfind('/');
    const std::string folder =
        slash == std::string::npos ? "." : target.substr(0, slash == 0 ? 1 : slash);
    const std::string temporary =
        fmt::format("{}/.layproof-{}-{}.part", folder, ::getpid(), counter.fetch_add(1));

    Descriptor file(
        ::open(temporary.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC | O_NOFOLLOW, 0666));
    if (!file.is_open()) return not_written(path, reason(errno));
    if (exists) {
        // Keep the permissions that the file had; failing to is no reason to lose the result.
        [[maybe_unused]] const int kept = ::fchmod(file.get(), status.st_mode & 07777U);
    }
    int error = write_all(file, bytes);
    if (error == 0 && ::rename(temporary.c_str(), target.c_str()) != 0) error = errno;
    if (error != 0) {
        ::unlink(temporary.c_str());
        return not_written(path, reason(error));
    }
    // The rename itself is durable only once the folder is synced; some file systems refuse that.
    const Descriptor parent(::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
    if (parent.is_open()) ::fsync(parent.get());
    return Done{};
}

}  // namespace layproof::exchange

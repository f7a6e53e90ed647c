#include "exchange/text/file.hpp"

#include <gtest/gtest.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include <csignal>
#include <filesystem>
#include <string>

#include "exchange/exchange_support.hpp"

namespace layproof::exchange {
namespace {

using testing::expect_refused;
namespace fs = std::filesystem;

class FileTest : public ::testing::Test {
protected:
    void SetUp() override {
        std::string pattern = (fs::temp_directory_path() / "layproof-file-XXXXXX").string();
        ASSERT_NE(::mkdtemp(pattern.data()), nullptr);
        folder_ = pattern;
    }
    void TearDown() override { fs::remove_all(folder_); }

    std::string path(const std::string& name) const { return (folder_ / name).string(); }
    std::size_t file_count() const {
        return static_cast<std::size_t>(
            std::distance(fs::directory_iterator(folder_), fs::directory_iterator{}));
    }

    fs::path folder_;
};

TEST_F(FileTest, written_bytes_are_read_back_and_nothing_else_is_left) {
    const std::string bytes("a\0b\r\n\xFF", 6);
    ASSERT_TRUE(write_file_whole(path("x"), bytes).ok());
    LAYPROOF_READ(read, read_file(path("x")));
    EXPECT_EQ(*read, bytes);
    ASSERT_TRUE(write_file_whole(path("x"), "").ok());
    EXPECT_EQ(*read_file(path("x")), "");
    EXPECT_EQ(file_count(), 1U);
}

TEST_F(FileTest, document_carries_the_path_as_name) {
    ASSERT_TRUE(write_file_whole(path("m.csv"), "mark\n").ok());
    LAYPROOF_READ(document, read_document(path("m.csv")));
    EXPECT_EQ(document->name, path("m.csv"));
    EXPECT_EQ(document->bytes, "mark\n");
}

TEST_F(FileTest, missing_file_folder_and_loop_cannot_be_read) {
    expect_refused(read_file(path("none")), ErrorCode::cannot_read, 0, 0);
    expect_refused(read_file(folder_.string()), ErrorCode::cannot_read, 0, 0);
    EXPECT_EQ(read_file(folder_.string()).refusal().found, "a folder");
    fs::create_symlink("loop", folder_ / "loop");
    expect_refused(read_file(path("loop")), ErrorCode::cannot_read, 0, 0);
}

// Opens, but its first page is mapped for nobody: read() fails for root too.
TEST_F(FileTest, file_whose_reading_fails_half_way_cannot_be_read) {
    expect_refused(read_file("/proc/self/mem"), ErrorCode::cannot_read, 0, 0);
}

TEST_F(FileTest, file_above_one_gibibyte_is_refused_without_reading_it) {
    ASSERT_TRUE(write_file_whole(path("big"), "x").ok());
    ASSERT_EQ(::truncate(path("big").c_str(), static_cast<off_t>(kLargestFileBytes) + 1), 0);
    expect_refused(read_file(path("big")), ErrorCode::file_too_large, 0, 0);
}

TEST_F(FileTest, folders_devices_and_missing_folders_cannot_be_written) {
    expect_refused(write_file_whole(folder_.string(), "x"), ErrorCode::cannot_write, 0, 0);
    expect_refused(write_file_whole(path("no/such/x"), "x"), ErrorCode::cannot_write, 0, 0);
    ASSERT_EQ(::mkfifo(path("pipe").c_str(), 0600), 0);
    expect_refused(write_file_whole(path("pipe"), "x"), ErrorCode::cannot_write, 0, 0);
    EXPECT_TRUE(fs::is_fifo(path("pipe")));
}

TEST_F(FileTest, failed_write_leaves_the_old_file_and_no_other) {
    ASSERT_TRUE(write_file_whole(path("x"), "old").ok());
    rlimit before{};
    ASSERT_EQ(::getrlimit(RLIMIT_FSIZE, &before), 0);
    const auto handler = std::signal(SIGXFSZ, SIG_IGN);
    const rlimit small{1000, before.rlim_max};
    ASSERT_EQ(::setrlimit(RLIMIT_FSIZE, &small), 0);
    const auto written = write_file_whole(path("x"), std::string(5000, 'n'));
    ASSERT_EQ(::setrlimit(RLIMIT_FSIZE, &before), 0);
    std::signal(SIGXFSZ, handler);
    ASSERT_FALSE(written.ok());
    EXPECT_EQ(written.refusal().code, ErrorCode::cannot_write);
    EXPECT_EQ(*read_file(path("x")), "old");
    EXPECT_EQ(file_count(), 1U);
}

TEST_F(FileTest, write_follows_a_link_and_keeps_permissions) {
    ASSERT_TRUE(write_file_whole(path("real"), "old").ok());
    ASSERT_EQ(::chmod(path("real").c_str(), 0640), 0);
    fs::create_symlink("real", folder_ / "link");
    ASSERT_TRUE(write_file_whole(path("link"), "new").ok());
    EXPECT_TRUE(fs::is_symlink(path("link")));
    EXPECT_EQ(*read_file(path("real")), "new");
    EXPECT_EQ(fs::status(path("real")).permissions(), fs::perms(0640));
}

}  // namespace
}  // namespace layproof::exchange

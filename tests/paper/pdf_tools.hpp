#pragma once
// Looks at a PDF with the tools of Poppler and qpdf, which had no part in writing it.

#include <gtest/gtest.h>
#include <unistd.h>

#include <cstdio>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>

namespace layproof::paper {

/// A folder of the running case that goes with it.
class PdfFolder {
public:
    PdfFolder() {
        const auto* info = ::testing::UnitTest::GetInstance()->current_test_info();
        path_ = std::filesystem::temp_directory_path() /
                (std::string("layproof-") + info->test_suite_name() + "-" + info->name() + "-" +
                 std::to_string(static_cast<long>(::getpid())));
        std::filesystem::create_directories(path_);
    }
    ~PdfFolder() {
        std::error_code ignored;
        std::filesystem::remove_all(path_, ignored);
    }
    PdfFolder(const PdfFolder&) = delete;
    PdfFolder& operator=(const PdfFolder&) = delete;

    std::filesystem::path write(const std::string& name, const std::string& bytes) const {
        std::ofstream out(path_ / name, std::ios::binary);
        out << bytes;
        return path_ / name;
    }
    std::filesystem::path path() const { return path_; }

private:
    std::filesystem::path path_;
};

inline std::string bytes_of(const std::filesystem::path& path) {
    std::ifstream in(path, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
}

struct ToolRun {
    int status = -1;
    std::string out;  ///< standard output and error
};

inline ToolRun run_tool(const std::string& command) {
    ToolRun run;
    std::FILE* pipe = ::popen((command + " 2>&1").c_str(), "r");
    if (pipe == nullptr) return run;
    char buffer[4096];
    for (std::size_t n = 0; (n = std::fread(buffer, 1, sizeof buffer, pipe)) > 0;)
        run.out.append(buffer, n);
    run.status = ::pclose(pipe);
    return run;
}

/// Empty when qpdf finds nothing wrong.
inline std::string fault_in_pdf(const std::string& pdf) {
    const PdfFolder folder;
    const ToolRun run = run_tool("qpdf --check " + folder.write("a.pdf", pdf).string());
    const bool good = run.status == 0 && run.out.find("WARNING") == std::string::npos;
    return good ? "" : run.out;
}

inline std::string tool_on(const std::string& tool, const std::string& pdf,
                           const std::string& after = "") {
    const PdfFolder folder;
    const ToolRun run = run_tool(tool + " " + folder.write("a.pdf", pdf).string() + " " + after);
    EXPECT_EQ(run.status, 0) << run.out;
    return run.out;
}

/// The same PDF as qpdf writes it with these options.
inline std::string laid_out_by_qpdf(const std::string& options, const std::string& pdf) {
    const PdfFolder folder;
    const auto other = folder.path() / "other.pdf";
    const ToolRun run = run_tool("qpdf --static-id " + options + " " +
                                 folder.write("a.pdf", pdf).string() + " " + other.string());
    EXPECT_EQ(run.status, 0) << run.out;
    return bytes_of(other);
}

inline std::string text_of(const std::string& pdf) {
    return tool_on("pdftotext -layout", pdf, "-");
}

}  // namespace layproof::paper

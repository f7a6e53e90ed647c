#include "server/page.hpp"

#include <array>
#include <utility>
#include <vector>

// Laid down by the assembler; a row of null pointers ends it.
struct LayproofPageFile {
    const char* name;
    const char* digest;
    const char* plain;
    const char* plain_end;
    const char* small;
    const char* small_end;
};
extern "C" const LayproofPageFile layproof_page_files[];

namespace layproof::server {
namespace {

std::string_view between(const char* begin, const char* end) {
    return {begin, static_cast<std::size_t>(end - begin)};
}

std::vector<PageFile> read_table() {
    std::vector<PageFile> out;
    for (const LayproofPageFile* file = layproof_page_files; file->name != nullptr; ++file)
        out.push_back({file->name, between(file->plain, file->plain_end),
                       between(file->small, file->small_end), file->digest});
    return out;
}

}  // namespace

const PageFile* page_file(std::string_view path) {
    static const std::vector<PageFile> kFiles = read_table();
    if (path == "/") path = "/index.html";
    for (const PageFile& file : kFiles)
        if (file.name == path) return &file;
    return nullptr;
}

std::string_view media_type(std::string_view name) {
    constexpr std::array<std::pair<std::string_view, std::string_view>, 10> kTypes{{
        {".html", "text/html; charset=utf-8"},
        {".js", "text/javascript; charset=utf-8"},
        {".css", "text/css; charset=utf-8"},
        {".svg", "image/svg+xml"},
        {".png", "image/png"},
        {".ico", "image/x-icon"},
        {".json", "application/json"},
        {".webmanifest", "application/manifest+json"},
        {".woff2", "font/woff2"},
        {".wasm", "application/wasm"},
    }};
    for (const auto& [ending, type] : kTypes)
        if (name.ends_with(ending)) return type;
    return "application/octet-stream";
}

}  // namespace layproof::server

#pragma once
// The page inside the program: files as the build packed them (cmake/pack_page.cmake).

#include <string_view>

namespace layproof::server {

struct PageFile {
    std::string_view name;  ///< "/index.html"
    std::string_view bytes;
    std::string_view gzipped;  ///< empty: not worth it
    std::string_view digest;   ///< of the bytes, hexadecimal
};

/// The file of exactly that path, "/" being the page; nothing else is ever found.
const PageFile* page_file(std::string_view path);

std::string_view media_type(std::string_view name);

}  // namespace layproof::server

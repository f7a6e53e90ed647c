#pragma once
// A file in memory: its name as the user wrote it, and its bytes.

#include <string>

namespace layproof::exchange {

struct Document {
    std::string name;
    std::string bytes;
};

}  // namespace layproof::exchange

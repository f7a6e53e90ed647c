// Any bytes as landxml: fuzz/README.md.

#include <cstddef>
#include <cstdint>
#include <string>

#include "support/reader_targets.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    layproof::testing::try_landxml(std::string(reinterpret_cast<const char*>(data), size));
    return 0;
}

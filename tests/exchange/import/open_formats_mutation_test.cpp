// The seeds of the fuzz targets, and damaged copies of them: read soundly or refused with a place.

#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>
#include <functional>
#include <map>
#include <vector>

#include "base/random.hpp"
#include "exchange/exchange_support.hpp"
#include "exchange/text/file.hpp"
#include "support/reader_targets.hpp"

namespace layproof::exchange {
namespace {

using Try = std::function<bool(std::string)>;

const std::map<std::string, Try>& targets() {
    static const std::map<std::string, Try> kTargets{{"landxml", layproof::testing::try_landxml},
                                                     {"dxf", layproof::testing::try_dxf},
                                                     {"ifc", layproof::testing::try_ifc},
                                                     {"geojson", layproof::testing::try_geojson}};
    return kTargets;
}

struct Seed {
    std::string bytes;
    bool is_found = false;  ///< once broke something: as it is that is what matters
};

std::vector<Seed> seeds(const std::string& format) {
    std::vector<std::filesystem::path> paths;
    for (const auto& entry : std::filesystem::directory_iterator(std::string(LAYPROOF_SOURCE_DIR) +
                                                                 "/fuzz/corpus/" + format)) {
        paths.push_back(entry.path());
    }
    std::sort(paths.begin(), paths.end());
    std::vector<Seed> out;
    for (const auto& path : paths) {
        out.push_back(
            {read_file(path.string()).value(), path.filename().string().starts_with("found-")});
    }
    return out;
}

/// A bit, a byte, a piece taken out, copied to another place, or cut off; or a digit changed, which
/// most often leaves a file that can be read.
std::string damaged(std::string text, Random& random) {
    const int count = 1 + random.below(4);
    for (int i = 0; i < count && text.size() > 2; ++i) {
        const auto any = [&] {
            return static_cast<std::size_t>(random.below(static_cast<int>(text.size())));
        };
        const std::size_t at = any();
        const std::size_t length = 1 + static_cast<std::size_t>(random.below(40));
        switch (random.below(7)) {
            case 0:
                text[at] = static_cast<char>(text[at] ^ (1 << random.below(8)));
                break;
            case 1:
                text.erase(at, length);
                break;
            case 2:
                text.insert(any(), text.substr(at, length));
                break;
            case 3:
                text.resize(at);
                break;
            case 4:
                text[at] = "0123456789.-#$<>\"'(),;\n e"[random.below(25)];
                break;
            default: {
                const std::size_t digit = text.find_first_of("0123456789", at);
                if (digit != std::string::npos)
                    text[digit] = static_cast<char>('0' + random.below(10));
                break;
            }
        }
    }
    return text;
}

void damage_all(int runs) {
    for (const auto& [format, attempt] : targets()) {
        Random random(4711);
        int read = 0;
        int total = 0;
        for (const Seed& seed : seeds(format)) {
            const int count = seed.is_found ? runs / 50 : runs;
            for (int i = 0; i < count; ++i) {
                read += attempt(damaged(seed.bytes, random)) ? 1 : 0;
                ++total;
            }
        }
        // Both happen, or the damage is not what it should be.
        EXPECT_GT(read, total / 50) << format;
        EXPECT_LT(read, total - total / 50) << format;
    }
}

TEST(OpenFormatsMutation, first_seed_of_each_format_is_read_and_all_are_sound) {
    for (const auto& [format, attempt] : targets()) {
        int read = 0;
        const auto all = seeds(format);
        for (const Seed& seed : all) read += attempt(seed.bytes) ? 1 : 0;
        EXPECT_GT(read, 0) << format;
    }
}

TEST(OpenFormatsMutation, damaged_files_are_read_soundly_or_refused_with_a_place) {
    damage_all(1500);
}

TEST(OpenFormatsMutation, every_cut_file_is_refused_or_read_soundly) {
    for (const auto& [format, attempt] : targets()) {
        for (const Seed& seed : seeds(format)) {
            const std::size_t step = 1 + seed.bytes.size() / 400;
            for (std::size_t size = 0; size < seed.bytes.size(); size += step) {
                attempt(seed.bytes.substr(0, size));
            }
        }
    }
}

TEST(OpenFormatsMutation, many_damaged_files_slow) {
    damage_all(20000);
}

}  // namespace
}  // namespace layproof::exchange

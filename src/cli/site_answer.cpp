#include "cli/site_answer.hpp"

#include <set>

#include "cli/commands.hpp"

namespace layproof::cli {

std::vector<std::string> file_bases(const std::string& prefix,
                                    const std::vector<std::string>& names) {
    std::set<std::string> taken;
    std::vector<std::string> out;
    for (const std::string& given : names) {
        const std::string base = prefix + "-" + file_name_of(given);
        std::string name = base;
        for (int n = 2; !taken.insert(name).second; ++n) name = base + "-" + std::to_string(n);
        out.push_back(std::move(name));
    }
    return out;
}

int show(const std::string& shown, bool is_proven) {
    if (!put_out(shown)) return not_written("standard output could not be written");
    return is_proven ? exit_proven : exit_not_proven;
}

}  // namespace layproof::cli

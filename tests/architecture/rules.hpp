#pragma once
// The house rules as checks over a set of files held in memory, so that a test can plant a
// violation and see it found. A path is relative to the repository, such as "src/base/result.hpp".

#include <map>
#include <string>
#include <vector>

namespace layproof::architecture {

using Files = std::map<std::string, std::string>;  // path -> text

struct Finding {
    std::string path;
    int line = 0;
    std::string what;

    std::string to_text() const;
};

using Findings = std::vector<Finding>;

/// May a file of room `from` include a file of room `to`? False for a room that is not known.
bool may_include(const std::string& from, const std::string& to);

/// Includes under src/ that point right, name an unknown room, or are not written "room/file.hpp".
Findings include_direction(const Files& files);

/// Files under src/ that include themselves through others.
Findings include_cycles(const Files& files);

/// Rooms in src/CMakeLists.txt that link what they may not include.
Findings link_direction(const Files& files);

/// In the core rooms (base, measure .. watch): files, streams, JSON, SQLite, sockets, clocks, the
/// environment, random sources other than base/random.hpp, and changeable globals.
Findings core_purity(const Files& files);

/// Survey words in src/adjust and src/infer, in code or comments.
Findings survey_words(const Files& files);

/// Mentions of documents that do not belong to the repository.
Findings foreign_documents(const Files& files);

/// All of the above.
Findings all_findings(const Files& files);

}  // namespace layproof::architecture

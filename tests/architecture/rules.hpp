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

/// Includes under src/ that point right, name an unknown room, are not written "room/file.hpp", or
/// take a header named _internal out of another folder.
Findings include_direction(const Files& files);

/// Files under src/ that include themselves through others.
Findings include_cycles(const Files& files);

/// Includes between the folders of a room (acts, exchange) against their order, and files in a
/// folder that is not known; rooms without folders have none.
Findings folder_direction(const Files& files);

/// Folders under src/ that include each other in a circle, whatever their files do.
Findings folder_cycles(const Files& files);

/// Components of acts and exchange that include each other in a circle. A component is a header,
/// its source and the files that carry its name: lay.hpp, lay.cpp, lay_text.cpp.
Findings component_cycles(const Files& files);

/// Tests that take a header named _internal from a folder they do not test.
Findings internal_in_tests(const Files& files);

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

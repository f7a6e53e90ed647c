#include "architecture/rules.hpp"

#include <algorithm>
#include <array>
#include <cstddef>
#include <functional>
#include <regex>
#include <set>
#include <string_view>

#include "architecture/source_text.hpp"

namespace layproof::architecture {
namespace {

// Rooms of one step do not include each other.
const std::vector<std::vector<std::string>>& room_steps() {
    static const std::vector<std::vector<std::string>> steps{
        {"base"},
        {"measure"},
        {"frame"},
        {"adjust"},
        {"infer"},
        {"station"},
        {"cause"},
        {"network"},
        {"vet", "plan", "lay", "watch"},
        {"prove"},
        {"job", "threads", "late"},
        {"exchange", "drawing"},
        {"paper"},
        {"acts"},
        {"door"},
        {"server", "wasm"},
        {"cli"},
    };
    return steps;
}

/// Folders of a room in the order in which they may include each other, as rooms do: those of one
/// step do not include each other. A room that is not named has no folders.
struct Folders {
    std::string room;
    std::vector<std::vector<std::string>> steps;
};

const std::vector<Folders>& folder_steps() {
    static const std::vector<Folders> rooms{
        {"acts",
         {{"shared"},
          {"job"},
          {"setup"},
          {"plan", "points"},
          {"belief"},
          {"vet", "station"},
          {"watch"},
          {"lay"},
          {"prove"},
          {"record"}}},
        {"base", {{""}, {"text"}}},
        {"exchange",
         {{"text"},
          {"text/xml", "tables"},
          {"frames"},
          {"frames/maps", "landxml", "dxf", "ifc", "geojson"},
          {"import"}}},
        // What stands in a folder here is loaded when it is asked for, by what stands in the room.
        {"paper", {{""}, {"pdf"}}},
        {"late", {{""}, {"sparse"}}},
    };
    return rooms;
}

constexpr int kUnknown = -1;
constexpr int kFirstStepAfterCore = 10;

int step_in(const std::vector<std::vector<std::string>>& steps, const std::string& room) {
    for (std::size_t i = 0; i < steps.size(); ++i) {
        if (std::find(steps[i].begin(), steps[i].end(), room) != steps[i].end()) {
            return static_cast<int>(i);
        }
    }
    return kUnknown;
}

int step_of(const std::string& room) {
    return step_in(room_steps(), room);
}

bool is_source(const std::string& path) {
    return path.starts_with("src/") && (path.ends_with(".hpp") || path.ends_with(".cpp"));
}

std::string room_of(const std::string& path) {
    constexpr std::size_t kStart = 4;  // after "src/"
    const std::size_t slash = path.find('/', kStart);
    return slash == std::string::npos ? "" : path.substr(kStart, slash - kStart);
}

/// "src/acts/lay" of "src/acts/lay/lay.cpp".
std::string folder_of(const std::string& path) {
    return path.substr(0, path.find_last_of('/'));
}

/// "lay" of "src/acts/lay/lay.cpp"; empty for a file that stands in its room.
std::string inner_folder_of(const std::string& path) {
    const std::string folder = folder_of(path);
    const std::string room = "src/" + room_of(path);
    return folder.size() > room.size() ? folder.substr(room.size() + 1) : "";
}

const Folders* folders_of(const std::string& room) {
    for (const Folders& one : folder_steps())
        if (one.room == room) return &one;
    return nullptr;
}

/// A header, its source and what carries its name: lay.hpp, lay.cpp, lay_text.cpp and
/// lay_rules_internal.hpp are "src/acts/lay/lay".
std::string component_of(const Files& files, const std::string& path) {
    std::string stem = path.substr(0, path.find_last_of('.'));
    constexpr std::string_view kInternal = "_internal";
    if (stem.ends_with(kInternal)) stem.resize(stem.size() - kInternal.size());
    const std::size_t name = stem.find_last_of('/') + 1;
    for (std::size_t at = stem.find('_', name); at != std::string::npos;
         at = stem.find('_', at + 1)) {
        const std::string head = stem.substr(0, at);
        if (files.count(head + ".hpp") > 0) return head;
    }
    return stem;
}

/// What includes what among groups of files, with the include that says so.
struct Edge {
    std::string path, target;
    int line = 0;
};
using Graph = std::map<std::string, std::map<std::string, Edge>>;

Graph graph_of(const Files& files, const std::function<std::string(const std::string&)>& group) {
    Graph graph;
    for (const auto& [path, text] : files) {
        if (!is_source(path)) continue;
        const std::string from = group(path);
        if (from.empty()) continue;
        for (const Include& include : includes_of(text)) {
            const std::string target = "src/" + include.target;
            if (files.count(target) == 0) continue;
            const std::string to = group(target);
            if (to.empty() || to == from) continue;
            graph[from].emplace(to, Edge{path, include.target, include.line});
        }
    }
    return graph;
}

/// Can `to` be reached from `from`?
bool reaches(const Graph& graph, const std::string& from, const std::string& to) {
    std::set<std::string> seen{from};
    std::vector<std::string> open{from};
    while (!open.empty()) {
        const std::string at = open.back();
        open.pop_back();
        if (at == to) return true;
        const auto next = graph.find(at);
        if (next == graph.end()) continue;
        for (const auto& [name, edge] : next->second)
            if (seen.insert(name).second) open.push_back(name);
    }
    return false;
}

/// Every edge that is part of a circle.
Findings circles_of(const Graph& graph, const std::string& kind) {
    Findings findings;
    for (const auto& [from, edges] : graph)
        for (const auto& [to, edge] : edges)
            if (reaches(graph, to, from))
                findings.push_back({edge.path, edge.line,
                                    "includes " + edge.target + ", and " + kind + " " + to +
                                        " includes " + from + " again"});
    return findings;
}

bool is_core(const std::string& path) {
    const int step = is_source(path) ? step_of(room_of(path)) : kUnknown;
    return step != kUnknown && step < kFirstStepAfterCore;
}

// An include of our own: "room/file.hpp" of a file that exists or of a known room.
bool is_own(const Files& files, const std::string& target) {
    const std::size_t slash = target.find('/');
    if (slash == std::string::npos) return false;
    return step_of(target.substr(0, slash)) != kUnknown || files.count("src/" + target) > 0;
}

struct Forbidden {
    const char* pattern;
    const char* what;
};

constexpr std::array kForbiddenIncludes{
    Forbidden{"^(iostream|fstream|filesystem|cstdio|stdio\\.h|ostream|istream|syncstream)$",
              "input or output"},
    Forbidden{"sqlite|soci/", "SQLite"},
    Forbidden{"nlohmann|simdjson|rapidjson", "JSON"},
    Forbidden{"toml\\+\\+|libxml|CLI/", "a file format or the command line"},
    Forbidden{"^(sys/|netinet/|arpa/|netdb\\.h|unistd\\.h|fcntl\\.h)|httplib|boost/(asio|beast)",
              "sockets or the system"},
    Forbidden{"^(ctime|time\\.h)$", "the clock"},
    Forbidden{"^(thread|mutex|future|atomic|locale)$", "threads or the locale"},
};

constexpr std::array kForbiddenCode{
    Forbidden{R"(_clock\s*::\s*now\b)", "reads the clock"},
    Forbidden{R"((^|[^\w.>:]|std::)(time|clock|gettimeofday|clock_gettime|localtime|gmtime)\s*\()",
              "reads the clock"},
    Forbidden{R"(\b(secure_)?getenv\b|\bsetenv\b)", "reads the environment"},
    Forbidden{R"(\brandom_device\b|\bdefault_random_engine\b|\bmt19937(_64)?\b|\bs?rand\s*\()",
              "takes random numbers from elsewhere than base/random.hpp"},
    Forbidden{R"(\b(cout|cerr|clog|cin)\b|\b(f|std::|fmt::)?(printf|puts|print|fopen)\s*\()",
              "reads or writes"},
};

void append(Findings& to, const Findings& from) {
    to.insert(to.end(), from.begin(), from.end());
}

}  // namespace

std::string Finding::to_text() const {
    return path + ":" + std::to_string(line) + ": " + what;
}

bool may_include(const std::string& from, const std::string& to) {
    const int from_step = step_of(from);
    const int to_step = step_of(to);
    if (from_step == kUnknown || to_step == kUnknown) return false;
    if (from == to) return true;
    // The mathematics knows nothing of the trade.
    if (from == "adjust") return to == "base";
    if (from == "infer") return to == "base" || to == "adjust";
    return to_step < from_step;
}

Findings include_direction(const Files& files) {
    Findings findings;
    for (const auto& [path, text] : files) {
        if (!is_source(path)) continue;
        const std::string room = room_of(path);
        if (step_of(room) == kUnknown) {
            findings.push_back({path, 1, "is in no known room"});
            continue;
        }
        for (const Include& include : includes_of(text)) {
            // acts/job holds a job.hpp too: what is there as it is written is meant as it is
            // written.
            const bool is_whole = files.count("src/" + include.target) > 0;
            const bool is_beside = files.count("src/" + room + "/" + include.target) > 0 ||
                                   files.count(folder_of(path) + "/" + include.target) > 0;
            if (include.target.starts_with(".") || (is_beside && !is_whole)) {
                findings.push_back(
                    {path, include.line, "includes " + include.target + " without its room"});
                continue;
            }
            if (!is_own(files, include.target)) continue;
            const std::string other = room_of("src/" + include.target);
            if (!may_include(room, other)) {
                findings.push_back(
                    {path, include.line, "room " + room + " may not include " + include.target});
            }
            const bool is_internal = include.target.ends_with("_internal.hpp");
            const std::string owner = folder_of("src/" + include.target);
            if (is_internal && owner != folder_of(path)) {
                findings.push_back(
                    {path, include.line, "includes " + include.target + ", internal to " + owner});
            }
        }
    }
    return findings;
}

Findings include_cycles(const Files& files) {
    enum class State { open, done };
    std::map<std::string, State> states;
    Findings findings;
    const std::function<void(const std::string&)> visit = [&](const std::string& path) {
        states[path] = State::open;
        for (const Include& include : includes_of(files.at(path))) {
            const std::string target = "src/" + include.target;
            if (files.count(target) == 0) continue;
            const auto state = states.find(target);
            if (state == states.end()) {
                visit(target);
            } else if (state->second == State::open) {
                findings.push_back({path, include.line, "closes a circle with " + target});
            }
        }
        states[path] = State::done;
    };
    for (const auto& [path, text] : files) {
        if (is_source(path) && states.count(path) == 0) visit(path);
    }
    return findings;
}

Findings folder_direction(const Files& files) {
    Findings findings;
    for (const auto& [path, text] : files) {
        if (!is_source(path)) continue;
        const std::string room = room_of(path);
        const Folders* folders = folders_of(room);
        const std::string folder = inner_folder_of(path);
        if (folders == nullptr) {
            if (!folder.empty()) findings.push_back({path, 1, "room " + room + " has no folders"});
            continue;
        }
        const int step = step_in(folders->steps, folder);
        if (step == kUnknown) {
            findings.push_back({path, 1, "is in no known folder of " + room});
            continue;
        }
        for (const Include& include : includes_of(text)) {
            const std::string target = "src/" + include.target;
            if (room_of(target) != room) continue;
            const std::string other = inner_folder_of(target);
            if (other == folder || step_in(folders->steps, other) < step) continue;
            findings.push_back(
                {path, include.line, "folder " + folder + " may not include " + include.target});
        }
    }
    return findings;
}

Findings folder_cycles(const Files& files) {
    return circles_of(graph_of(files, folder_of), "folder");
}

Findings component_cycles(const Files& files) {
    const auto component = [&](const std::string& path) {
        return folders_of(room_of(path)) == nullptr ? std::string() : component_of(files, path);
    };
    return circles_of(graph_of(files, component), "component");
}

Findings internal_in_tests(const Files& files) {
    Findings findings;
    for (const auto& [path, text] : files) {
        constexpr std::string_view kTests = "tests/";
        if (!path.starts_with(kTests) || !(path.ends_with(".cpp") || path.ends_with(".hpp")))
            continue;
        const std::string folder = folder_of(path).substr(kTests.size() - 1);
        for (const Include& include : includes_of(text)) {
            if (!include.target.ends_with("_internal.hpp")) continue;
            // A test that stands in its room's folder looks at all of that room.
            const std::string owner = folder_of("/" + include.target);
            if (owner == folder || owner.starts_with(folder + "/")) continue;
            findings.push_back({path, include.line,
                                "includes " + include.target + ", internal to " + owner.substr(1)});
        }
    }
    return findings;
}

Findings link_direction(const Files& files) {
    Findings findings;
    const auto file = files.find("src/CMakeLists.txt");
    if (file == files.end()) return findings;
    static const std::regex room(
        R"(layproof_room\((\w+)(?:\s+IN_PARTS)?\s+DEPENDS\s+([\w\s]+?)\s*(LIBRARIES|LATE|\)))");
    static const std::regex name(R"([a-z]+)");
    const std::string& text = file->second;
    for (std::sregex_iterator it(text.begin(), text.end(), room), end; it != end; ++it) {
        const int line = line_at(text, static_cast<std::size_t>(it->position()));
        const std::string depends = (*it)[2];
        for (std::sregex_iterator to(depends.begin(), depends.end(), name); to != end; ++to) {
            if (!may_include((*it)[1], to->str()) || to->str() == (*it)[1]) {
                findings.push_back(
                    {file->first, line, "room " + (*it)[1].str() + " may not link " + to->str()});
            }
        }
    }
    return findings;
}

Findings core_purity(const Files& files) {
    Findings findings;
    for (const auto& [path, text] : files) {
        if (!is_core(path)) continue;
        for (const Include& include : includes_of(text)) {
            for (const Forbidden& rule : kForbiddenIncludes) {
                if (!std::regex_search(include.target, std::regex(rule.pattern))) continue;
                findings.push_back({path, include.line,
                                    "the core may not use " + std::string(rule.what) + ": <" +
                                        include.target + ">"});
            }
        }
        const std::string code = code_only(text);
        for (const Forbidden& rule : kForbiddenCode) {
            const std::regex pattern(rule.pattern);
            for (std::sregex_iterator it(code.begin(), code.end(), pattern), end; it != end; ++it) {
                const auto position = static_cast<std::size_t>(it->position() + it->length() - 1);
                findings.push_back(
                    {path, line_at(code, position), "the core " + std::string(rule.what)});
            }
        }
        for (const int line : mutable_globals(code)) {
            findings.push_back({path, line, "the core keeps a changeable global"});
        }
    }
    return findings;
}

Findings survey_words(const Files& files) {
    static const std::set<std::string> words{"mark",   "marks",   "rod",      "rods",   "sight",
                                             "sights", "station", "stations", "zenith", "zeniths"};
    Findings findings;
    for (const auto& [path, text] : files) {
        const std::string room = is_source(path) ? room_of(path) : "";
        if (room != "adjust" && room != "infer") continue;
        for (const Word& word : words_of(text)) {
            if (words.count(word.text) > 0) {
                findings.push_back({path, word.line, "survey word in " + room + ": " + word.text});
            }
        }
    }
    return findings;
}

Findings foreign_documents(const Files& files) {
    // Written in pieces, so that this file does not mention what it looks for. acts/shared is ours.
    static const std::regex pattern(
        "\\bdesign"
        "\\.md\\b|(^|[^\\w./-])shared"
        "/|/work"
        "/");
    Findings findings;
    for (const auto& [path, text] : files) {
        if (path.ends_with("PROVENANCE.md")) continue;
        for (std::sregex_iterator it(text.begin(), text.end(), pattern), end; it != end; ++it) {
            const auto position = static_cast<std::size_t>(it->position() + it->length() - 1);
            findings.push_back(
                {path, line_at(text, position), "mentions a document that is not in the tree"});
        }
    }
    return findings;
}

Findings all_findings(const Files& files) {
    Findings findings;
    append(findings, include_direction(files));
    append(findings, include_cycles(files));
    append(findings, folder_direction(files));
    append(findings, folder_cycles(files));
    append(findings, component_cycles(files));
    append(findings, internal_in_tests(files));
    append(findings, link_direction(files));
    append(findings, core_purity(files));
    append(findings, survey_words(files));
    append(findings, foreign_documents(files));
    return findings;
}

}  // namespace layproof::architecture

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
        {"vet", "plan", "lay", "watch", "prove"},
        {"job", "threads"},
        {"exchange", "drawing"},
        {"paper"},
        {"acts"},
        {"door"},
        {"server", "wasm"},
        {"cli"},
    };
    return steps;
}

constexpr int kUnknown = -1;
constexpr int kFirstStepAfterCore = 9;

int step_of(const std::string& room) {
    const auto& steps = room_steps();
    for (std::size_t i = 0; i < steps.size(); ++i) {
        if (std::find(steps[i].begin(), steps[i].end(), room) != steps[i].end()) {
            return static_cast<int>(i);
        }
    }
    return kUnknown;
}

bool is_source(const std::string& path) {
    return path.starts_with("src/") && (path.ends_with(".hpp") || path.ends_with(".cpp"));
}

std::string room_of(const std::string& path) {
    constexpr std::size_t kStart = 4;  // after "src/"
    const std::size_t slash = path.find('/', kStart);
    return slash == std::string::npos ? "" : path.substr(kStart, slash - kStart);
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
            const std::string sibling = "src/" + room + "/" + include.target;
            if (include.target.starts_with(".") || files.count(sibling) > 0) {
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
            const bool is_internal = include.target.find("_internal.hpp") != std::string::npos;
            if (is_internal && other != room) {
                findings.push_back(
                    {path, include.line, "includes " + include.target + ", internal to " + other});
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

Findings link_direction(const Files& files) {
    Findings findings;
    const auto file = files.find("src/CMakeLists.txt");
    if (file == files.end()) return findings;
    static const std::regex room(R"(layproof_room\((\w+)\s+DEPENDS\s+([\w\s]+?)\s*(LIBRARIES|\)))");
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
    // Written in pieces, so that this file does not mention what it looks for.
    static const std::regex pattern(
        "\\bdesign"
        "\\.md\\b|(^|[^\\w.-])shared"
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
    append(findings, link_direction(files));
    append(findings, core_purity(files));
    append(findings, survey_words(files));
    append(findings, foreign_documents(files));
    return findings;
}

}  // namespace layproof::architecture

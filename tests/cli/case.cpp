#include "cli/case.hpp"

#include <toml++/toml.h>

#include <algorithm>
#include <array>
#include <set>
#include <stdexcept>

#include "cli/program.hpp"

namespace layproof::testing {
namespace {

namespace fs = std::filesystem;

const fs::path& cases_root() {
    static const fs::path root = fs::path(LAYPROOF_SOURCE_DIR) / "tests" / "cases";
    return root;
}

[[noreturn]] void fail(const std::string& name, const std::string& what) {
    throw std::runtime_error("tests/cases/" + name + "/case.toml: " + what);
}

std::vector<std::string> texts(const std::string& name, const toml::node& node) {
    std::vector<std::string> found;
    if (!node.is_array()) fail(name, "a list of texts was expected");
    for (const toml::node& item : *node.as_array()) {
        const auto text = item.value_exact<std::string>();
        if (!text) fail(name, "a text was expected in a list");
        found.push_back(*text);
    }
    return found;
}

std::string from_hex(const std::string& name, const std::string& hex) {
    std::string digits;
    std::remove_copy(hex.begin(), hex.end(), std::back_inserter(digits), ' ');
    if (digits.size() % 2 != 0) fail(name, "an odd number of hexadecimal digits");
    std::string bytes;
    for (std::size_t i = 0; i < digits.size(); i += 2) {
        bytes += static_cast<char>(std::stoi(digits.substr(i, 2), nullptr, 16));
    }
    return bytes;
}

void read_files(Case& c, const toml::table& table, bool is_hex) {
    for (const auto& [key, node] : table) {
        const auto text = node.value_exact<std::string>();
        if (!text) fail(c.name, "a text was expected for a file");
        c.files[std::string(key.str())] = is_hex ? from_hex(c.name, *text) : *text;
    }
}

void replace_once(const Case& c, const fs::path& file, const std::vector<std::string>& edit) {
    std::string text = read_text(file);
    const std::size_t at = edit.size() == 2 ? text.find(edit[0]) : std::string::npos;
    if (at == std::string::npos || text.find(edit[0], at + 1) != std::string::npos) {
        fail(c.act + "/" + c.name, "an edit needs a text that stands once and its replacement");
    }
    write_text(file, text.replace(at, edit[0].size(), edit[1]));
}

}  // namespace

std::vector<std::string> case_names() {
    std::vector<std::string> names;
    for (fs::recursive_directory_iterator it(cases_root()), end; it != end; ++it) {
        if (it->path().filename() != "case.toml") continue;
        names.push_back(it->path().parent_path().lexically_relative(cases_root()).generic_string());
    }
    std::sort(names.begin(), names.end());
    return names;
}

Case read_case(const std::string& name) {
    Case c;
    const std::size_t slash = name.find('/');
    c.act = name.substr(0, slash);
    c.name = name.substr(slash + 1);
    c.folder = cases_root() / name;
    const toml::table table = toml::parse_file((c.folder / "case.toml").string());
    const std::map<std::string, std::vector<std::string>*> lists{
        {"args", &c.args},
        {"stdout", &c.out},
        {"stderr", &c.err},
        {"writes", &c.writes},
        {"unreadable", &c.unreadable},
        {"unwritable", &c.unwritable},
        {"folders", &c.folders},
    };
    for (const auto& [key, node] : table) {
        const std::string word(key.str());
        const auto list = lists.find(word);
        if (list != lists.end()) {
            *list->second = texts(name, node);
        } else if (word == "what") {
            c.what = node.value_or(std::string());
        } else if (word == "exit") {
            c.exit_status = node.value_or(-1);
        } else if (word == "json") {
            c.is_json = node.value_or(false);
        } else if ((word == "text" || word == "bytes") && node.is_table()) {
            read_files(c, *node.as_table(), word == "bytes");
        } else if (word == "edit" && node.is_table()) {
            for (const auto& [file, edit] : *node.as_table()) {
                c.edits[std::string(file.str())] = texts(name, edit);
            }
        } else {
            fail(name, "the key " + word + " is not known");
        }
    }
    if (c.what.empty()) fail(name, "no sentence says what it is for");
    if (!table.contains("exit")) fail(name, "no exit status");
    return c;
}

void lay_out(const Case& c, const fs::path& folder) {
    const auto copy_from = [&](const fs::path& from) {
        for (const auto& entry : fs::directory_iterator(from)) {
            const auto file = entry.path().filename();
            if (file == "case.toml" || file == "README.md") continue;
            fs::copy(entry.path(), folder / file,
                     fs::copy_options::overwrite_existing | fs::copy_options::recursive);
        }
    };
    copy_from(cases_root() / c.act / "good");
    copy_from(c.folder);
    for (const auto& [file, text] : c.files) write_text(folder / file, text);
    for (const auto& [file, edit] : c.edits) replace_once(c, folder / file, edit);
    for (const std::string& name : c.folders) {
        fs::remove(folder / name);
        fs::create_directories(folder / name);
    }
    for (const std::string& name : c.unreadable) {
        fs::permissions(folder / name, fs::perms::none);
    }
    for (const std::string& name : c.unwritable) {
        fs::permissions(folder / name, fs::perms::owner_read | fs::perms::owner_exec);
    }
}

std::map<std::string, std::string> snapshot(const fs::path& folder) {
    std::map<std::string, std::string> found;
    for (fs::recursive_directory_iterator it(folder), end; it != end; ++it) {
        const std::string name = it->path().lexically_relative(folder).generic_string();
        if (it->is_directory()) {
            found[name + "/"];
        } else {
            found[name] = read_text(it->path());
        }
    }
    return found;
}

}  // namespace layproof::testing

#pragma once
// A run of the program described by a folder tests/cases/<act>/<case>/ with a case.toml and, if
// need be, files that stand beside it. The case runs in a copy of tests/cases/<act>/good/ with the
// case's own files on top.
//
//   what = "one sentence"                  why the case is there
//   args = ["station", "--marks", ...]     as typed after the program's name
//   exit = 3
//   stdout = ["..."], stderr = ["..."]     pieces that must stand there, in this order
//   json = true                            standard output is exactly one JSON document
//   writes = ["out/x.svg"]                 files that must be there afterwards and hold something
//   unreadable = ["marks.csv"]             without read permission
//   unwritable = ["out"]                   without write permission
//   folders = ["marks.csv"]                a folder stands where a file should
//   [edit]                                 text that stands once in a file, and what replaces it
//   "marks.csv" = ["540.120", "abc"]
//   [text]                                 a whole file
//   "marks.csv" = "mark,east\n"
//   [bytes]                                a whole file as hexadecimal
//   "marks.csv" = "ff fe 6d 00"
//
// With exit 2, 3 or 4 standard output must be empty and no file may have changed or appeared. With
// exit 3 standard error must be refusals in their one form.

#include <filesystem>
#include <map>
#include <string>
#include <vector>

namespace layproof::testing {

struct Case {
    std::string act;
    std::string name;
    std::filesystem::path folder;
    std::string what;
    std::vector<std::string> args;
    int exit_status = 0;
    std::vector<std::string> out;
    std::vector<std::string> err;
    bool is_json = false;
    std::vector<std::string> writes;
    std::vector<std::string> unreadable;
    std::vector<std::string> unwritable;
    std::vector<std::string> folders;
    std::map<std::string, std::vector<std::string>> edits;
    std::map<std::string, std::string> files;  ///< whole content, from [text] and [bytes]
};

/// Folders under tests/cases that hold a case.toml, as "act/case", sorted.
std::vector<std::string> case_names();

/// Throws with a sentence when case.toml is not as described above.
Case read_case(const std::string& name);

/// Fills a working folder with the case's files.
void lay_out(const Case& c, const std::filesystem::path& folder);

/// Every file below, with its content; folders end in '/' and hold nothing.
std::map<std::string, std::string> snapshot(const std::filesystem::path& folder);

}  // namespace layproof::testing

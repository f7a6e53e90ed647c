#pragma once
// How station, lay and watch end once their act has answered.

#include <string>
#include <vector>

#include "base/result.hpp"
#include "cli/output_folder.hpp"
#include "cli/site_options.hpp"

namespace layproof::cli {

/// File names "PREFIX-NAME", each once, without ending.
std::vector<std::string> file_bases(const std::string& prefix,
                                    const std::vector<std::string>& names);

/// Writes `shown` to standard output; the exit status.
int show(const std::string& shown, bool is_proven);

/// Refuses, or writes the folder asked for and then text or JSON to standard output; the exit
/// status.
template <class Answer>
int finish(const SiteOptions& options, const Result<Answer>& answer,
           std::vector<OutputFile> (*files_of)(const Answer&)) {
    if (!answer) return refuse(answer.refusal());
    if (!options.out.empty()) {
        if (const auto problem = write_folder(options.out, files_of(*answer)))
            return not_written(*problem);
    }
    return show(options.json ? to_json(*answer) : to_text(*answer), is_proven(*answer));
}

}  // namespace layproof::cli

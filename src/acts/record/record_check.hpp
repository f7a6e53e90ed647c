#pragma once
// Does a record say what its own facts give? Takes the attached facts, computes everything again,
// and compares every attached list and the file itself.
//
// What it shows: figures, lists and pages belong to the facts inside. What it cannot show: that the
// facts are those of the job; for that the heads printed in the record are looked for in the job
// (job verify --head).

#include <string>
#include <vector>

#include "acts/record/record.hpp"
#include "base/result.hpp"
#include "exchange/text/document.hpp"

namespace layproof::acts {

struct RecordCheckLine {
    std::string name;  ///< of the attached file
    bool agrees = false;
    std::string says;
};

/// not_compared: the file was made by another version of layproof, or with other libraries or
/// fonts, whose pages look different for the same figures.
enum class PagesCheck { same, differ, not_compared };

struct RecordCheck {
    std::string file;
    std::string made_by;  ///< version of layproof in the facts
    std::string facts_digest;
    std::string verdict;  ///< of the record as computed again, in words
    std::vector<RecordCheckLine> lists;
    PagesCheck pages = PagesCheck::not_compared;
    std::string pages_say;
    std::vector<RecordChain> chains;
    bool agrees = false;  ///< every list, and the pages as far as they can be compared
};

/// Refuses: what attachments_of and read_facts_json refuse; value_missing for a file without facts.
Result<RecordCheck> check_record(const exchange::Document& record);

std::string to_text(const RecordCheck& check);
/// One JSON document with a line end: docs/record.md.
std::string to_json(const RecordCheck& check);

}  // namespace layproof::acts

#include "acts/record/record_check.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "acts/shared/text_table.hpp"
#include "acts/shared/version.hpp"
#include "acts/shared/words.hpp"
#include "paper/attachments.hpp"

namespace layproof::acts {
namespace {

using paper::Attachment;

constexpr const char* kFactsName = "record-facts.json";

const Attachment* attached(const std::vector<Attachment>& files, const std::string& name) {
    const auto at = std::find_if(files.begin(), files.end(),
                                 [&](const Attachment& one) { return one.name == name; });
    return at == files.end() ? nullptr : &*at;
}

/// "line 12: found …, expected …".
std::string first_difference(const std::string& found, const std::string& expected) {
    std::size_t line = 1;
    std::size_t begin = 0;
    const std::size_t most = std::min(found.size(), expected.size());
    std::size_t i = 0;
    for (; i < most && found[i] == expected[i]; ++i) {
        if (found[i] != '\n') continue;
        ++line;
        begin = i + 1;
    }
    constexpr std::size_t kMostShown = 160;
    const auto line_of = [&](const std::string& text) {
        const std::size_t end = std::min(text.find('\n', begin), text.size());
        return text.substr(std::min(begin, text.size()),
                           std::min(kMostShown, end - std::min(begin, end)));
    };
    return fmt::format("line {}: holds \"{}\", the facts give \"{}\"", line, line_of(found),
                       line_of(expected));
}

void compare_lists(const std::vector<Attachment>& files, const std::vector<RecordFile>& again,
                   RecordCheck& out) {
    for (const RecordFile& one : again) {
        const Attachment* file = attached(files, one.name);
        if (file == nullptr)
            out.lists.push_back({one.name, false, "is not attached"});
        else if (file->bytes != one.bytes)
            out.lists.push_back({one.name, false, first_difference(file->bytes, one.bytes)});
        else
            out.lists.push_back({one.name, true, "agrees"});
    }
    for (const Attachment& file : files) {
        const bool known = std::any_of(again.begin(), again.end(), [&](const RecordFile& one) {
            return one.name == file.name;
        });
        if (!known) out.lists.push_back({file.name, false, "is no file of a record"});
    }
}

void compare_pages(const std::string& bytes, const RecordFile& again, RecordCheck& out) {
    if (bytes == again.bytes) {
        out.pages = PagesCheck::same;
        out.pages_say = "The file is, byte for byte, what its facts give.";
        return;
    }
    const std::string theirs = paper::made_with(bytes);
    const std::string ours = paper::made_with(again.bytes);
    if (theirs != ours) {
        out.pages = PagesCheck::not_compared;
        out.pages_say = fmt::format(
            "The pages could not be compared, for they were drawn by another program or with other "
            "fonts ({}; here {}). Rely on the attached lists.",
            theirs.empty() ? "it does not say by what" : theirs, ours);
        return;
    }
    out.pages = PagesCheck::differ;
    out.pages_say =
        "The pages are not those that these facts give: the file was changed after it was made.";
}

}  // namespace

Result<RecordCheck> check_record(const exchange::Document& record) {
    const auto at_file = [&](Refusal refusal) {
        refusal.place.file = record.name;
        return refusal;
    };
    const auto files = paper::attachments_of(record.bytes);
    if (!files) return at_file(files.refusal());
    const Attachment* facts_file = attached(*files, kFactsName);
    if (facts_file == nullptr)
        return at_file({ErrorCode::value_missing,
                        {},
                        std::string("no attached ") + kFactsName,
                        "a record as layproof wrote it"});
    auto facts = read_facts_json(facts_file->bytes);
    if (!facts) return at_file(facts.refusal());

    RecordCheck out;
    out.file = record.name;
    out.made_by = facts->version;
    out.chains = facts->chains;
    auto again = run_record(std::move(*facts));
    if (!again) return again.refusal();
    out.facts_digest = again->facts_digest;
    out.verdict = std::string(station::to_word(again->word)) + ": " + again->verdict.because;
    auto made = record_files(*again);
    if (!made) return made.refusal();
    const bool is_pdf = record.bytes.starts_with("%PDF-");
    compare_pages(record.bytes, (*made)[is_pdf ? 0 : 1], out);
    compare_lists(*files, {made->begin() + 2, made->end()}, out);
    out.agrees = out.pages != PagesCheck::differ &&
                 std::all_of(out.lists.begin(), out.lists.end(),
                             [](const RecordCheckLine& line) { return line.agrees; });
    return out;
}

std::string to_text(const RecordCheck& check) {
    std::string out =
        fmt::format("{}: {}\n", check.file,
                    !check.agrees                     ? "DOES NOT AGREE with its own facts"
                    : check.pages == PagesCheck::same ? "AGREES with its own facts, to the byte"
                                                      : "its figures AGREE with its own facts");
    out += internal::wrapped(check.pages_say, 2);
    for (const RecordCheckLine& line : check.lists)
        if (!line.agrees) out += internal::wrapped(line.name + ": " + line.says, 2);
    const auto good = std::count_if(check.lists.begin(), check.lists.end(),
                                    [](const RecordCheckLine& line) { return line.agrees; });
    out += fmt::format("  {} of {} attached files are what the facts give.\n", good,
                       check.lists.size());
    out += internal::wrapped("Computed again: " + check.verdict, 2);
    out += fmt::format("  Facts {}, made by layproof {}, this is {}.\n", check.facts_digest,
                       check.made_by, version());
    out += "\nWhether the facts are those of the job, the job tells:\n";
    for (const RecordChain& chain : check.chains)
        out += fmt::format("  layproof job verify JOB --head {}\n", chain.head);
    return out;
}

}  // namespace layproof::acts

#include "door/inbox.hpp"

#include <fmt/format.h>
#include <sys/stat.h>

#include <algorithm>
#include <filesystem>
#include <set>
#include <system_error>
#include <utility>

#include "acts/job/job.hpp"
#include "acts/shared/describe.hpp"
#include "acts/shared/refusal_json.hpp"
#include "acts/shared/words.hpp"
#include "base/text/time.hpp"
#include "door/preview.hpp"
#include "door/sheet.hpp"
#include "exchange/text/file.hpp"
#include "job/digest.hpp"

namespace layproof::acts {
namespace {

namespace fs = std::filesystem;

job::Digest digest_of(const std::string& bytes) {
    return job::sha256({reinterpret_cast<const std::uint8_t*>(bytes.data()), bytes.size()});
}

Result<bool> holds(OpenJob& job, const job::Digest& digest) {
    return job.read([&](const job::Job& open) -> Result<bool> {
        const auto documents = open.all<job::Document>();
        if (!documents) return documents.refusal();
        return std::any_of(documents->begin(), documents->end(),
                           [&](const auto& kept) { return kept.value.digest == digest; });
    });
}

std::string taken_words(const TakeAnswer& answer) {
    std::vector<std::string> parts;
    for (const TakenDocument& document : answer.documents) {
        std::string part = fmt::format("{} new", document.rows_new);
        if (document.rows_known > 0) part += fmt::format(", {} already there", document.rows_known);
        parts.push_back(std::move(part));
    }
    return "Taken: " + internal::listed(parts) + ".";
}

}  // namespace

Inbox::Inbox(std::string folder, std::optional<measure::LengthUnit> unit)
    : folder_(std::move(folder)), unit_(unit) {}

std::optional<Inbox::Stamp> Inbox::stamp_of(const std::string& name) const {
    struct stat about {};
    // Not through links: what a link points at may be anybody's.
    if (lstat((fs::path(folder_) / name).c_str(), &about) != 0 || !S_ISREG(about.st_mode))
        return std::nullopt;
    return Stamp{
        static_cast<std::uint64_t>(about.st_size),
        static_cast<std::int64_t>(about.st_mtim.tv_sec) * 1'000'000'000 + about.st_mtim.tv_nsec,
        static_cast<std::uint64_t>(about.st_ino)};
}

bool Inbox::look(OpenJob& job) {
    if (folder_.empty()) return false;
    bool is_other = false;
    std::set<std::string> there;
    std::error_code error;
    fs::directory_iterator at(folder_, error);
    for (; !error && at != fs::directory_iterator(); at.increment(error)) {
        const std::string name = at->path().filename().string();
        if (!name.starts_with(".") && there.size() < kMostFiles && stamp_of(name))
            there.insert(name);
    }
    std::vector<Entry> ready;
    {
        const std::lock_guard lock(mutex_);
        const std::string trouble = error ? error.message() : std::string();
        is_other = trouble != trouble_;
        trouble_ = trouble;
        if (!error)
            is_other = std::erase_if(
                           entries_,
                           [&](const auto& entry) { return !there.contains(entry.first); }) > 0 ||
                       is_other;
        for (const std::string& name : there) {
            const auto stamp = stamp_of(name);
            if (!stamp) continue;
            const auto [known, is_new] = entries_.try_emplace(name);
            Entry& entry = known->second;
            if (is_new || !(entry.stamp == *stamp)) {
                entry = Entry{*stamp, false, {name, stamp->time_ns / 1'000'000, false, {}, {}}};
                entry.file.says = "Waits until it is whole.";
                is_other = true;
            } else if (!entry.is_settled) {
                ready.push_back(entry);
            }
        }
    }
    for (Entry& entry : ready) {
        take(job, entry);
        is_other = true;
        const std::lock_guard lock(mutex_);
        const auto known = entries_.find(entry.file.name);
        if (known != entries_.end() && known->second.stamp == entry.stamp)
            known->second = std::move(entry);
    }
    return is_other;
}

void Inbox::take(OpenJob& job, Entry& entry) {
    InboxFile& file = entry.file;
    entry.is_settled = true;
    if (entry.stamp.size > kLargestFile) {
        file.says = fmt::format("Not taken: larger than {} MiB.", kLargestFile >> 20U);
        return;
    }
    auto document = exchange::read_document((fs::path(folder_) / file.name).string());
    if (!document) {
        file.says = sentence_of(document.refusal());
        return;
    }
    // Written to while it was read: the next look sees another stamp.
    const auto after = stamp_of(file.name);
    if (!after || !(*after == entry.stamp)) {
        entry.is_settled = false;
        return;
    }
    document->name = file.name;
    file.role = guessed_role(*document);
    const auto known = holds(job, digest_of(document->bytes));
    if (!known) {
        file.says = sentence_of(known.refusal());
        entry.is_settled = false;
        return;
    }
    if (*known) {
        file.is_taken = true;
        file.says = "Already in the job.";
        return;
    }
    if (file.role.empty()) {
        file.says =
            "Not taken: its header names none of the tables. Open it in the page and say which "
            "column is what.";
        return;
    }
    const TakeFile asked = take_file(std::move(*document), file.role, unit_, {});
    const auto answer =
        job.write([&](job::Job& open) { return acts::take(open, std::vector<TakeFile>{asked}); });
    if (answer) {
        file.is_taken = true;
        file.says = taken_words(*answer);
        return;
    }
    const ErrorCode code = answer.refusal().code;
    if (code == ErrorCode::unit_missing) {
        file.says = "Waits for its unit: " + sentence_of(answer.refusal());
    } else {
        file.says = sentence_of(answer.refusal());
        // Another program writes into the job just now: the next look tries again.
        entry.is_settled = code != ErrorCode::job_busy;
    }
}

InboxReport Inbox::report() const {
    InboxReport out;
    out.folder = folder_;
    const std::lock_guard lock(mutex_);
    if (!trouble_.empty())
        out.files.push_back(
            {folder_, 0, false, {}, "The folder cannot be read: " + trouble_ + "."});
    for (const auto& [name, entry] : entries_) out.files.push_back(entry.file);
    return out;
}

void describe(Fields& f, const InboxFile& file) {
    f.is("InboxFile");
    f.text("name", file.name);
    f.text("time", instant_text(file.time_ms), "of the file");
    f.flag("taken", file.is_taken);
    f.text_or_null("role", file.role);
    f.text("says", file.says);
}

void describe(Fields& f, const InboxReport& report) {
    f.is("InboxAnswer");
    f.word("act", "inbox", {"inbox"});
    f.text_or_null("folder", report.folder);
    f.records("files", report.files);
}

std::string to_json(const InboxReport& report) {
    return json_document(report);
}

}  // namespace layproof::acts

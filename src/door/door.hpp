#pragma once
// One open job as a page or another program asks it: the name of an act and its request as JSON in,
// the act's JSON document or a refusal out. May be used by several threads.
//
// Requests are held against their shapes before anything else. Answers of acts that only read are
// kept while the job file stays as it is. Long work tells where it is and can be stopped.

#include <functional>
#include <memory>
#include <string>
#include <string_view>

#include "acts/job/open_job.hpp"
#include "base/result.hpp"
#include "door/answer_store.hpp"
#include "job/sources.hpp"
#include "measure/length.hpp"

namespace layproof::acts {

struct RecordFile;

struct DoorOptions {
    std::optional<measure::LengthUnit> unit;   ///< of lengths that state none, where none is asked
    std::optional<measure::LengthStyle> show;  ///< of the words
    std::string inbox;                         ///< a folder; empty: none
};

/// Where long work is.
struct WorkNote {
    std::string work;  ///< its name, to stop it
    std::string says;
    double done = 0.0;
    bool ended = false;
};

class Door {
public:
    /// `notes` is called with work that lasts, from the thread that works or looks, and must not
    /// call the door. Clock and entropy must outlive the door.
    static Result<std::unique_ptr<Door>> open(const std::string& path, const DoorOptions& options,
                                              job::Clock& clock, job::Entropy& entropy,
                                              std::function<void(const WorkNote&)> notes);
    ~Door();

    /// Refuses as the shapes and the act do.
    Asked ask(std::string_view act, std::string_view request);

    /// Keeps a file in memory until it is taken; the answer of the act "preview".
    Asked keep_file(std::string name, std::string bytes);

    /// A file of a record made a short time ago; nullptr when there is none.
    std::shared_ptr<const RecordFile> record_file(std::string_view ticket,
                                                  std::string_view name) const;

    /// What the file holds now. Cheap while nothing changed.
    Result<JobState> state();
    /// The record JobEvent.
    static std::string state_json(const JobState& state);
    /// The record WorkEvent.
    static std::string note_json(const WorkNote& note);

    /// Speaks of work that lasts and tells seldom where it is; to be called a few times a second.
    void look_at_work();
    /// What a client that comes now has to be told: work spoken of that has not ended.
    std::vector<WorkNote> work_going_on();

    /// Looks at the inbox folder once; true when something in it is new or was taken.
    bool look_at_inbox();

    /// Asks all work to stop and refuses what comes.
    void close();

private:
    struct State;
    explicit Door(std::unique_ptr<State> state);
    std::unique_ptr<State> state_;
};

}  // namespace layproof::acts

#include "door/shapes.hpp"

#include "acts/job/job.hpp"
#include "acts/lay/lay.hpp"
#include "acts/plan/plan.hpp"
#include "acts/prove/prove.hpp"
#include "acts/shared/describe.hpp"
#include "acts/shared/refusal_json.hpp"
#include "acts/station/station.hpp"
#include "acts/vet/vet.hpp"
#include "acts/vet/vet_tools.hpp"
#include "acts/watch/watch.hpp"
#include "door/book.hpp"
#include "door/door.hpp"
#include "door/door_answers.hpp"
#include "door/inbox.hpp"
#include "door/preview.hpp"
#include "door/shapes_internal.hpp"
#include "door/sheet.hpp"
#include "door/sights.hpp"
#include "door/typed.hpp"

namespace layproof::acts {

const std::vector<ActShape>& act_shapes() {
    static const std::vector<ActShape> kActs{
        {"sheet", "SheetRequest", "SheetAnswer"},    {"station", "StationRequest", "StationAnswer"},
        {"lay", "LayRequest", "LayAnswer"},          {"watch", "WatchRequest", "WatchAnswer"},
        {"vet", "VetRequest", "VetAnswer"},          {"sights", "SightsRequest", "SightsAnswer"},
        {"read", "ReadRequest", "ReadAnswer"},       {"book", "BookRequest", "BookAnswer"},
        {"decide", "DecideRequest", "DecideAnswer"}, {"preview", "PreviewRequest", "PreviewAnswer"},
        {"take", "TakeRequest", "TakeAnswer"},       {"stop", "StopRequest", "StopAnswer"},
        {"inbox", "InboxRequest", "InboxAnswer"},    {"tools", "ToolsRequest", "ToolsAnswer"},
        {"keep", "ToolsRequest", "KeepAnswer"},      {"prove", "ProveRequest", "ProveAnswer"},
        {"record", "RecordRequest", "RecordAnswer"}, {"plan", "PlanRequest", "PlanAnswer"},
        {"place", "PlaceRequest", "PlaceAnswer"},
    };
    return kActs;
}

const std::vector<ShapeRecord>& shape_records() {
    static const std::vector<ShapeRecord> kRecords = [] {
        std::vector<ShapeRecord> out = internal::request_shapes();
        collect_answer<RefusalAnswer>(out);
        collect_answer<Sheet>(out);
        collect_answer<BookedSights>(out);
        collect_answer<InboxReport>(out);
        collect_answer<StationAnswer>(out);
        collect_answer<LayAnswer>(out);
        collect_answer<WatchAnswer>(out);
        collect_answer<VetAnswer>(out);
        collect_answer<ProveAnswer>(out);
        collect_answer<KeptRecord>(out);
        collect_answer<PlanAnswer>(out);
        collect_answer<PlanPlace>(out);
        collect_answer<ToolAnswer>(out);
        collect_answer<KeepAnswer>(out);
        collect_answer<ReadAnswer>(out);
        collect_answer<BookAnswer>(out);
        collect_answer<TakeAnswer>(out);
        collect_answer<DecideAnswer>(out);
        collect_answer<Preview>(out);
        collect_answer<StopAnswer>(out);
        collect_answer<PairAnswer>(out);
        collect_answer<JobState>(out);
        collect_answer<WorkNote>(out);
        return out;
    }();
    return kRecords;
}

}  // namespace layproof::acts

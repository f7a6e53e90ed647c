#include "acts/shared/shapes.hpp"

#include "acts/shared/shape_words.hpp"

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
        std::vector<ShapeRecord> out;
        internal::shape::add_common_shapes(out);
        internal::shape::add_sheet_shapes(out);
        internal::shape::add_station_shapes(out);
        internal::shape::add_lay_shapes(out);
        internal::shape::add_watch_shapes(out);
        internal::shape::add_vet_shapes(out);
        internal::shape::add_prove_shapes(out);
        internal::shape::add_record_shapes(out);
        internal::shape::add_plan_shapes(out);
        internal::shape::add_tools_shapes(out);
        internal::shape::add_page_shapes(out);
        internal::shape::add_job_shapes(out);
        return out;
    }();
    return kRecords;
}

}  // namespace layproof::acts

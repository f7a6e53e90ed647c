#include <algorithm>

#include "acts/job/job.hpp"
#include "acts/shared/json.hpp"
#include "acts/shared/version.hpp"
#include "base/text/time.hpp"
#include "door/sheet.hpp"
#include "measure/angle.hpp"

namespace layproof::acts {
namespace {

using internal::fixed;
using internal::Json;
using internal::kMillimetre;
using internal::list;

Json null_when_empty(const std::string& text) {
    return text.empty() ? Json(nullptr) : Json(text);
}

const char* kind_word(const SheetStation& station) {
    if (!station.setup) return "free";
    switch (station.setup->kind) {
        case station::SetupKind::free:
            return "free";
        case station::SetupKind::occupied:
            return "occupied";
        case station::SetupKind::baseline:
            return "baseline";
    }
    return "free";
}

class SheetJson {
public:
    explicit SheetJson(const Sheet& sheet)
        : sheet_(sheet),
          per_unit_(1.0 / measure::metres_per(sheet.unit.value_or(measure::LengthUnit::metre))) {}

    Json run() const {
        Json out{{"act", "sheet"}, {"version", version()}};
        out["job"] = {{"id", sheet_.id.to_text()},
                      {"title", sheet_.title},
                      {"file", sheet_.file},
                      {"unit", sheet_.unit ? Json(measure::to_word(*sheet_.unit)) : Json(nullptr)},
                      {"facts", sheet_.state.facts},
                      {"head", sheet_.state.head}};
        out["as_of"] = sheet_.as_of ? Json(instant_text(*sheet_.as_of)) : Json(nullptr);
        out["marks"] = list(sheet_.marks, [&](const SheetMark& m) { return mark(m); });
        out["points"] = list(sheet_.points, [&](const frame::DesignPoint& p) { return point(p); });
        out["grid"] = list(sheet_.grid, [&](const frame::GridLine& l) { return line(l); });
        out["stations"] = list(sheet_.stations, [&](const SheetStation& s) { return station(s); });
        out["moments"] = list(sheet_.moments, [](const Moment& m) {
            return Json{{"time", instant_text(m.time_ms)},
                        {"what", m.what},
                        {"says", m.says},
                        {"facts", m.facts}};
        });
        out["documents"] = list(sheet_.documents, [](const SheetDocument& d) {
            return Json{{"name", d.document.name},
                        {"role", d.document.role},
                        {"digest", d.document.digest.to_text()},
                        {"size", d.document.size_bytes},
                        {"taken", instant_text(d.taken_ms)},
                        {"revision", d.revision}};
        });
        out["decisions"] = list(sheet_.decisions, [](const job::Kept<job::Decision>& d) {
            return Json{{"time", instant_text(d.recorded_ms)},
                        {"kind", job::to_word(d.value.kind)},
                        {"subject", d.value.subject.name},
                        {"reason", d.value.reason},
                        {"initials", d.value.initials}};
        });
        out["conflicts"] = list(sheet_.conflicts, [](const job::Conflict& c) {
            return Json{{"says", c.because}, {"settled", c.settled}};
        });
        out["checked"] = list(sheet_.checked, [](const job::Setting& s) {
            return Json{{"finding", s.name}, {"says", s.value}};
        });
        return out;
    }

private:
    Json mark(const SheetMark& m) const {
        return {{"mark", m.mark.name},
                {"east", fixed(m.mark.east_m, per_unit_)},
                {"north", fixed(m.mark.north_m, per_unit_)},
                {"height", fixed(m.mark.height_m, per_unit_)},
                {"sd_mm", m.mark.has_plan()
                              ? fixed(std::max(m.mark.sd_east_m, m.mark.sd_north_m) * kMillimetre)
                              : Json(nullptr)},
                {"from", null_when_empty(m.from)},
                {"revision", m.revision},
                {"is_moved", m.is_moved}};
    }

    Json point(const frame::DesignPoint& p) const {
        return {{"point", p.name},
                {"east", fixed(p.east_m * per_unit_)},
                {"north", fixed(p.north_m * per_unit_)},
                {"height", fixed(p.height_m, per_unit_)},
                {"element", p.element},
                {"tolerance_plan_mm", fixed(p.tolerance_plan_m, kMillimetre)},
                {"tolerance_height_mm", fixed(p.tolerance_height_m, kMillimetre)}};
    }

    Json line(const frame::GridLine& l) const {
        const auto place = [&](const Eigen::Vector2d& at_m) {
            return Json::array({fixed(at_m.x() * per_unit_), fixed(at_m.y() * per_unit_)});
        };
        return {{"line", l.name},
                {"kind", "straight"},
                {"path", Json::array({place(l.start_m), place(l.end_m)})}};
    }

    Json station(const SheetStation& s) const {
        Json out{
            {"station", s.name},
            {"kind", kind_word(s)},
            {"mark", s.setup ? null_when_empty(s.setup->mark) : Json(nullptr)},
            {"instrument_height_m", s.setup ? fixed(s.setup->instrument_height_m) : Json(nullptr)},
            {"first", null_when_empty(s.first)},
            {"last", null_when_empty(s.last)},
            {"sights", s.sights}};
        out["pose"] = nullptr;
        if (s.pose)
            out["pose"] = {
                {"east", fixed(s.pose->position_m.x() * per_unit_)},
                {"north", fixed(s.pose->position_m.y() * per_unit_)},
                {"height",
                 s.pose->has_height ? fixed(s.pose->position_m.z() * per_unit_) : Json(nullptr)},
                {"orientation_deg", fixed(s.pose->orientation_rad / measure::kRadPerDeg, 8)}};
        out["word"] = s.word ? Json(station::to_word(*s.word)) : Json(nullptr);
        return out;
    }

    const Sheet& sheet_;
    double per_unit_;
};

}  // namespace

std::string to_json(const Sheet& sheet) {
    return SheetJson(sheet).run().dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace layproof::acts

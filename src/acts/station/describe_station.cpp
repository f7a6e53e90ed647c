#include <algorithm>
#include <cmath>

#include "acts/shared/describe_shared.hpp"
#include "acts/shared/version.hpp"
#include "acts/station/station.hpp"
#include "station/aids.hpp"

namespace layproof::acts {
namespace {

/// Rounded to eight significant digits: covariances span many powers of ten.
double significant(double value) {
    constexpr int kMostDecimals = 22;  // beyond it ten to that power is no longer exact
    if (!std::isfinite(value) || value == 0.0) return value + 0.0;
    const int decimals = 7 - static_cast<int>(std::floor(std::log10(std::abs(value))));
    return decimals > kMostDecimals ? 0.0 : rounded(value, std::max(decimals, 0));
}

struct StationPose {
    const station::Pose& pose;
};

struct StationGeometry {
    const StationReport& of;
};

struct StationFaces {
    const StationReport& of;
};

void describe(Fields& f, const StationGeometry& geometry) {
    f.is("Geometry");
    f.records("remarks", geometry.of.remarks);
    f.number_or_null("weakest_azimuth_deg", in_deg(geometry.of.weak.azimuth_rad));
    f.number_or_null("sd_weakest_mm", in_mm(geometry.of.weak.major_m));
    f.number_or_null("sd_strongest_mm", in_mm(geometry.of.weak.minor_m));
}

void describe(Fields& f, const StationFaces& faces) {
    f.is("Faces");
    f.whole("pairs", faces.of.face_pairs);
    f.number_or_null("collimation_arcsec", in_arcsec(faces.of.collimation_rad));
    f.number_or_null("vertical_index_arcsec", in_arcsec(faces.of.index_error_rad));
}

void describe(Fields& f, const StationPose& station) {
    const station::Pose& pose = station.pose;
    f.is("StationPose");
    f.length("east", pose.position_m.x());
    f.length("north", pose.position_m.y());
    f.or_null(pose.has_height).length("height", pose.position_m.z());
    f.number("orientation_deg", in_deg(pose.orientation_rad), kDegreeDecimals);
    const auto row = [&](std::size_t i) {
        f.rows({}, 4, [&](std::size_t j) {
            const auto at = static_cast<Eigen::Index>(j);
            f.number_or_null({}, significant(pose.covariance(static_cast<Eigen::Index>(i), at)),
                             kAllDecimals);
        });
    };
    f.rows("covariance", 4, row,
           "four rows: east, north, height in metres, orientation in radians");
}

void estimate_field(Fields& f, const std::vector<std::pair<std::string, double>>& estimate,
                    std::string_view says = {}) {
    f.by_name(
        "estimate", estimate.size(),
        [&](std::size_t i) {
            const auto& [name, value] = item(estimate, i);
            f.number_or_null(name, value);
        },
        says);
}

}  // namespace

void describe(Fields& f, const SightReport& sight) {
    f.is("StationSight");
    f.text("target", sight.target);
    f.flag("used", sight.used);
    f.record("residual", SightResidual{sight.figures.residual});
    f.record("standardised", SightFigures{sight.figures.standardised});
    f.record("redundancy", SightFigures{sight.figures.redundancy});
    f.number_or_null("detectable_mm", in_mm(sight.figures.detectable_m));
    f.number_or_null("undetected_effect_mm", in_mm(sight.figures.undetected_effect_m));
    f.only_if(!sight.used).text("why", sight.why, "why it is not used");
}

void describe(Fields& f, const MarkReport& mark) {
    f.is("StationMark");
    f.text("mark", mark.name);
    f.flag("used", mark.used);
    f.number_or_null("off_east_mm", in_mm(mark.off_east_m));
    f.number_or_null("off_north_mm", in_mm(mark.off_north_m));
    f.number_or_null("off_height_mm", in_mm(mark.off_height_m));
}

void describe(Fields& f, const CauseMember& member) {
    f.is("CauseMember");
    f.text("cause", member.cause);
    f.texts("subjects", member.subjects);
    f.number("probability", member.probability);
    f.number_or_null("log_evidence", member.log_evidence);
    estimate_field(f, member.estimate);
}

void describe(Fields& f, const CauseReport& cause) {
    f.is("Cause");
    f.text("cause", cause.cause, "\"A|B\": the data cannot split them");
    f.texts("subjects", cause.subjects);
    f.number("probability", cause.probability);
    estimate_field(f, cause.estimate, "names with their unit");
    f.text("next", cause.next);
    f.text("says", cause.says);
    f.flag("is_pair", cause.is_pair);
    f.records("members", cause.members);
}

void describe(Fields& f, const NextSightReport& next) {
    f.is("NextSight");
    f.text("target", next.target);
    f.text("why", next.why);
    f.number_or_null("gain", next.gain);
    f.text("way", next.way);
    f.only_if(!next.second.empty()).text("to", next.second, "a tape's other end");
}

void describe(Fields& f, const ExplainedReport& explained) {
    f.is("Explained");
    f.text("cause", explained.cause);
    f.texts("subjects", explained.subjects);
    f.record("pose", explained.pose);
    f.word("word", station::to_word(explained.word), kVerdictWords);
    f.number("probability", explained.probability);
    f.whole("points_proven", explained.proven);
    f.text("says", explained.says);
}

void describe(Fields& f, const TrapReport& trap) {
    f.is("Trap");
    f.text("trap", trap.trap);
    f.flag("certain", trap.is_certain);
    f.text("says", trap.says);
}

void describe(Fields& f, const PointReport& point) {
    const station::PointForecast& forecast = point.forecast;
    f.is("StationPoint");
    f.text("point", point.target.name);
    f.number_or_null("sd_plan_mm", in_mm(forecast.sd_plan_m));
    f.number_or_null("sd_height_mm", in_mm(forecast.sd_height_m));
    f.number("probability", forecast.probability);
    f.word("word", station::to_word(forecast.word), kVerdictWords);
    f.number("tolerance_plan_mm", in_mm(point.target.tolerance_plan_m));
    f.or_null(forecast.sd_height_m.has_value())
        .number_or_null("tolerance_height_mm", in_mm(point.target.tolerance_height_m));
}

void describe(Fields& f, const RemarkReport& remark) {
    f.is("GeometryRemark");
    f.text("remark", station::to_word(remark.remark.kind));
    f.texts("marks", remark.remark.subjects);
    f.text("says", remark.says);
}

void describe(Fields& f, const AidReport& aid) {
    f.is("Aid");
    f.text("aid", aid.aid);
    f.text_or_null("mark", aid.mark);
    f.whole("proven", aid.proven);
    f.number_or_null("lowest_probability", aid.lowest);
    f.text("says", aid.says);
}

void describe(Fields& f, const StationReport& report) {
    f.is("Station");
    f.text("station", report.station);
    f.word("kind", setup_word(report.kind), kSetupWords);
    f.record("verdict", report.verdict);
    f.record("pose", StationPose{report.pose});
    f.text("pose_is", report.pose_is);
    f.record("global_test", GlobalTestRow{report.global_test});
    f.records("sights", report.sights);
    f.records("marks", report.marks);
    f.records("job_causes", report.job_causes, "by all that is known of the job");
    f.records("causes", report.causes, "most probable first");
    f.record_or_null("next_sight", report.next_sight);
    f.record_or_null("explained", report.explained);
    f.records("traps", report.traps);
    f.records("points", report.points);
    f.whole("points_proven", report.proven);
    f.length_or_null("circle_radius", report.circle_radius_m);
    f.number("rod_height_mm", in_mm(report.rod_height_m));
    f.record("geometry", StationGeometry{report});
    f.records("other_places", report.others);
    f.records("aids", report.aids);
    f.record("faces", StationFaces{report});
    f.text_or_null("if_kept_in", report.if_kept_in);
    f.texts("notices", report.notices);
}

void describe(Fields& f, const StationAnswer& answer) {
    f.is("StationAnswer");
    f.word("act", "station", {"station"});
    f.text("version", version());
    unit_field(f, answer.unit, "of coordinates");
    f.number("confidence", answer.confidence);
    f.records("stations", answer.stations);
    f.texts("notices", answer.notices);
}

std::string to_json(const StationAnswer& answer) {
    return json_document(answer);
}

}  // namespace layproof::acts

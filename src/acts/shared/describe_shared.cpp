#include "acts/shared/describe_shared.hpp"

#include "acts/shared/verdict.hpp"

namespace layproof::acts {

std::string_view setup_word(station::SetupKind kind) {
    switch (kind) {
        case station::SetupKind::free:
            break;
        case station::SetupKind::occupied:
            return "occupied";
        case station::SetupKind::baseline:
            return "baseline";
    }
    return "free";
}

void unit_field(Fields& f, measure::LengthUnit unit, std::string_view says) {
    f.lengths_in(measure::metres_per(unit));
    f.word("unit", measure::to_word(unit), kUnitWords, says);
}

void unit_or_null_field(Fields& f, const std::optional<measure::LengthUnit>& unit,
                        std::string_view says) {
    f.or_null(unit.has_value())
        .word("unit", unit ? measure::to_word(*unit) : std::string_view(), kUnitWords, says);
}

void describe(Fields& f, const Verdict& verdict) {
    f.is("Verdict");
    f.word("word", station::to_word(verdict.word), kVerdictWords);
    f.number("probability", verdict.probability, "of the weakest point");
    f.text("because", verdict.because);
    f.text("next", verdict.next);
}

void describe(Fields& f, const station::Pose& pose) {
    f.is("Pose");
    f.length("east", pose.position_m.x());
    f.length("north", pose.position_m.y());
    f.or_null(pose.has_height).length("height", pose.position_m.z());
    f.number("orientation_deg", in_deg(pose.orientation_rad), kDegreeDecimals);
}

void describe(Fields& f, const OffMm& off) {
    f.is("OffMm");
    f.number_or_null("east_mm", in_mm(off.east_m), off.decimals);
    f.number_or_null("north_mm", in_mm(off.north_m), off.decimals);
    f.number_or_null("height_mm", in_mm(off.height_m), off.decimals);
}

OffMm off_mm(const Eigen::Vector3d& off_m, bool has_height, int decimals) {
    return {off_m.x(), off_m.y(), known(has_height, off_m.z()), decimals};
}

void describe(Fields& f, const SightResidual& residual) {
    f.is("SightResidual");
    f.number_or_null("direction_arcsec", in_arcsec(residual.of.direction));
    f.number_or_null("zenith_arcsec", in_arcsec(residual.of.zenith));
    f.number_or_null("distance_mm", in_mm(residual.of.distance));
}

void describe(Fields& f, const SightFigures& figures) {
    f.is("SightFigures");
    f.number_or_null("direction", figures.of.direction);
    f.number_or_null("zenith", figures.of.zenith);
    f.number_or_null("distance", figures.of.distance);
}

void describe(Fields& f, const GlobalTestRow& row) {
    f.is("GlobalTest");
    f.number_or_null("statistic", row.test.statistic, row.decimals);
    f.whole("dof", row.test.dof);
    f.number_or_null("lower", row.test.lower, row.decimals);
    f.number_or_null("upper", row.test.upper, row.decimals);
    f.number_or_null("variance_factor", row.test.variance_factor, row.decimals);
    f.flag("passes", row.test.passes);
}

}  // namespace layproof::acts

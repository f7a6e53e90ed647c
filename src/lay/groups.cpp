#include "lay/groups.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>

#include "frame/ellipse.hpp"

namespace layproof::lay {
namespace {

constexpr double kSdsApart = 5.0;
constexpr double kLeastSpacing_m = 0.01;

/// The figure n · (b − a) with the value given.
Quantity difference(const LaidPlace& a, const LaidPlace& b, const Eigen::Vector2d& n,
                    double value_m) {
    FiguresByPlace by_b = FiguresByPlace::Zero(1, 3);
    by_b(0, 0) = n.x();
    by_b(0, 1) = n.y();
    const std::array<PlaceTerm, 2> terms{PlaceTerm{&a, -by_b}, PlaceTerm{&b, by_b}};
    return quantity_of(Figures::Constant(1, value_m), terms);
}

/// Standard deviation of the difference of two places in its weakest direction.
double sd_between(const LaidPlace& a, const LaidPlace& b, const SetupSet& setups) {
    const FiguresByPlace plan = FiguresByPlace::Identity(2, 3);
    const std::array<PlaceTerm, 2> terms{PlaceTerm{&a, -plan}, PlaceTerm{&b, plan}};
    const Figures value = (b.place_m - a.place_m).head<2>();
    const Mixture mixture = mixture_of(quantity_of(value, terms), setups);
    if (mixture.components.empty()) return 0.0;
    const FigureCovariance covariance = mixture.covariance();
    return frame::error_ellipse(covariance.topLeftCorner<2, 2>()).semi_major_m;
}

RuleVerdict judged(RuleKind kind, std::string from, std::string to, double design_m,
                   double measured_m, const Quantity& deviation, const RuleQuestion& question) {
    RuleVerdict out;
    out.kind = kind;
    out.from = std::move(from);
    out.to = std::move(to);
    out.design_m = design_m;
    out.measured_m = measured_m;
    out.verdict = judge_figure(deviation, question.setups, question.limits, question.confidence);
    return out;
}

}  // namespace

std::string_view to_word(RuleKind kind) {
    switch (kind) {
        case RuleKind::distance:
            return "distance";
        case RuleKind::spacing:
            return "spacing";
        case RuleKind::line_offset:
            return "line-offset";
    }
    return "distance";
}

std::optional<RuleVerdict> distance_rule(const LaidPlace& a, const LaidPlace& b, double design_m,
                                         const RuleQuestion& question) {
    const Eigen::Vector2d between = (b.place_m - a.place_m).head<2>();
    const double measured = between.norm();
    if (!std::isfinite(measured) || !std::isfinite(design_m) || !(measured > 0.0)) {
        return std::nullopt;
    }
    if (measured < kSdsApart * sd_between(a, b, question.setups)) return std::nullopt;
    return judged(RuleKind::distance, a.name, b.name, design_m, measured,
                  difference(a, b, between / measured, measured - design_m), question);
}

std::optional<RuleVerdict> spacing_rule(const LaidPlace& a, const LaidPlace& b,
                                        const Eigen::Vector2d& direction, double design_m,
                                        const RuleQuestion& question) {
    const double length = direction.norm();
    if (!std::isfinite(length) || !(length > 0.0)) return std::nullopt;
    const Eigen::Vector2d n = direction / length;
    const double measured = n.dot((b.place_m - a.place_m).head<2>());
    return judged(RuleKind::spacing, a.name, b.name, design_m, measured,
                  difference(a, b, n, measured - design_m), question);
}

RuleVerdict line_offset_rule(const LaidPlace& place, const frame::GridLine& line, double design_m,
                             const RuleQuestion& question) {
    const Eigen::Vector2d along = frame::direction_of(line);
    const double measured = frame::place_by(line, place.place_m.head<2>()).across_m;
    FiguresByPlace by_place = FiguresByPlace::Zero(1, 3);
    by_place(0, 0) = along.y();
    by_place(0, 1) = -along.x();
    const std::array<PlaceTerm, 1> terms{PlaceTerm{&place, by_place}};
    return judged(RuleKind::line_offset, place.name, line.name, design_m, measured,
                  quantity_of(Figures::Constant(1, measured - design_m), terms), question);
}

std::vector<RuleVerdict> all_distances(std::span<const LaidAgainst> points,
                                       const RuleQuestion& question) {
    std::vector<RuleVerdict> out;
    for (std::size_t i = 0; i < points.size(); ++i) {
        for (std::size_t j = i + 1; j < points.size(); ++j) {
            const double design = (points[j].design_m - points[i].design_m).norm();
            if (auto rule = distance_rule(points[i].laid, points[j].laid, design, question)) {
                out.push_back(std::move(*rule));
            }
        }
    }
    return out;
}

std::vector<RuleVerdict> neighbour_distances(std::span<const LaidAgainst> centres,
                                             const RuleQuestion& question) {
    std::vector<RuleVerdict> out;
    for (std::size_t i = 1; i < centres.size(); ++i) {
        const double design = (centres[i].design_m - centres[i - 1].design_m).norm();
        if (auto rule = distance_rule(centres[i - 1].laid, centres[i].laid, design, question)) {
            out.push_back(std::move(*rule));
        }
    }
    return out;
}

Result<std::vector<RuleVerdict>> build_up(std::span<const LaidAgainst> centres,
                                          const frame::GridLine& line, const ToleranceRow& row,
                                          const RuleQuestion& question) {
    struct Place {
        double along_m;
        const LaidAgainst* centre;
    };
    std::vector<Place> order;
    for (const LaidAgainst& centre : centres)
        order.push_back({frame::place_by(line, centre.design_m).along_m, &centre});
    std::stable_sort(order.begin(), order.end(),
                     [](const Place& a, const Place& b) { return a.along_m < b.along_m; });
    std::vector<RuleVerdict> out;
    for (std::size_t i = 0; i < order.size(); ++i) {
        for (std::size_t j = i + 1; j < order.size(); ++j) {
            const double design = order[j].along_m - order[i].along_m;
            if (design < kLeastSpacing_m) continue;
            Sizes sizes;
            sizes.length_m = design;
            const auto limits = limits_of(row, sizes);
            if (!limits) return limits.refusal();
            auto rule = spacing_rule(order[i].centre->laid, order[j].centre->laid,
                                     frame::direction_of(line), design,
                                     {question.setups, *limits, question.confidence});
            if (!rule) continue;
            rule->tolerance_id = row.id;
            rule->source_words = row.source_words();
            rule->from_memory = row.seen == Seen::from_memory;
            out.push_back(std::move(*rule));
        }
    }
    return out;
}

RulesSummary summary_of(std::span<const RuleVerdict> rules) {
    RulesSummary out;
    for (std::size_t i = 0; i < rules.size(); ++i) {
        const FigureVerdict& verdict = rules[i].verdict;
        out.proven += verdict.word == station::Word::proven ? 1 : 0;
        out.fails += verdict.word == station::Word::fails ? 1 : 0;
        if (out.weakest < 0 ||
            verdict.probability <
                rules[static_cast<std::size_t>(out.weakest)].verdict.probability) {
            out.weakest = static_cast<int>(i);
        }
    }
    if (rules.empty()) return out;
    out.word = out.fails > 0                                  ? station::Word::fails
               : out.proven == static_cast<int>(rules.size()) ? station::Word::proven
                                                              : station::Word::in_doubt;
    return out;
}

}  // namespace layproof::lay

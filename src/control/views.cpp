#include "control/views_internal.hpp"

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <limits>

namespace layproof::control::internal {
namespace {

/// Pairs of exchanged names that are looked at: those that show least by a rough measure.
constexpr std::size_t kMostPairs = 3;

Sighting sighting_of(double noncentrality) {
    if (noncentrality >= kSeen) return Sighting::seen;
    return noncentrality < kUnseen ? Sighting::unseen : Sighting::weak;
}

double least_eigenvalue(const Eigen::MatrixXd& m) {
    const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> solver(m, Eigen::EigenvaluesOnly);
    return std::max(solver.eigenvalues().minCoeff(), 0.0);
}

void by_patterns(const Gathered& all, const Read& plain, std::vector<TrapView>& views) {
    const auto& patterns = plain.evidences->patterns();
    for (TrapView& view : views) {
        if (is_of_frame(view.trap) && view.trap != Trap::grid_for_ground) continue;
        const std::vector<double> sizes = prior_of(view.trap).sizes;
        if (sizes.empty() || view.trap == Trap::other_revision) continue;
        double least = std::numeric_limits<double>::infinity();
        for (std::size_t p = 0; p < patterns.size(); ++p) {
            if (patterns[p].trap != view.trap) continue;
            const double shown = least_eigenvalue(
                plain.evidences->information(plain.evidences->columns_of({static_cast<int>(p)})));
            if (shown >= least) continue;
            least = shown;
            if (patterns[p].mark >= 0)
                view.weakest = all.marks[static_cast<std::size_t>(patterns[p].mark)].name;
        }
        if (!std::isfinite(least)) continue;
        const double typical = sizes[sizes.size() / 2];
        view.noncentrality = least * typical * typical;
        view.sighting = sighting_of(view.noncentrality);
        if (view.noncentrality >= 1e-3) view.detectable = std::sqrt(kSeen / least);
    }
}

/// Two entries of one list, those that show least, each by the middle size.
void revision(const Gathered& all, const Read& plain, TrapView& view) {
    const auto& patterns = plain.evidences->patterns();
    const std::vector<double> sizes = prior_of(Trap::other_revision).sizes;
    const double typical = sizes[sizes.size() / 2];
    for (int l = 0; l < all.lists; ++l) {
        std::vector<double> least;
        for (std::size_t p = 0; p < patterns.size(); ++p)
            if (patterns[p].trap == Trap::entry_wrong && patterns[p].list == l &&
                patterns[p].kind == AmountKind::plan)
                least.push_back(least_eigenvalue(plain.evidences->information(
                    plain.evidences->columns_of({static_cast<int>(p)}))));
        if (least.size() < 2) continue;
        std::sort(least.begin(), least.end());
        const double shown = typical * typical * (least[0] + least[1]);
        if (view.sighting == Sighting::impossible || shown < view.noncentrality) {
            view.noncentrality = shown;
            view.sighting = sighting_of(shown);
        }
    }
}

double trace_of(const Gathered& clean, const Variant& planted, const Variant& plain) {
    Gathered spoilt = clean;
    plant(spoilt, planted);
    const Solved solved = solve_variant(spoilt, plain);
    return solved.usable ? solved.statistic : 0.0;
}

}  // namespace

std::vector<TrapView> views_of(const Gathered& all, const Explained& explained) {
    std::vector<TrapView> views;
    for (const Trap trap : all_traps()) {
        TrapView view;
        view.trap = trap;
        view.prior = prior_of(trap).frequency;
        views.push_back(view);
    }
    if (explained.plain < 0) return views;
    const Read& plain = explained.reads[static_cast<std::size_t>(explained.plain)];
    views[static_cast<std::size_t>(Trap::nothing_wrong)].sighting = Sighting::seen;
    by_patterns(all, plain, views);
    revision(all, plain, views[static_cast<std::size_t>(Trap::other_revision)]);

    // The world as the likeliest reading has it, without noise.
    const Read* world = &plain;
    for (const Weighed& w : explained.all)
        if (w.read >= 0) {
            world = &explained.reads[static_cast<std::size_t>(w.read)];
            break;
        }
    const Gathered clean = noise_free(all, world->solved);
    Variant none = plain.variant;
    std::vector<std::pair<double, Variant>> pairs;
    for (const Variant& v : variants_of(all)) {
        if (v.choice != none.choice) continue;
        if (v.trap == Trap::names_exchanged) {
            if (all.lists > 1 && v.list < 0) continue;
            Gathered spoilt = clean;
            plant(spoilt, v);
            pairs.emplace_back(rough_statistic(spoilt, none), v);
            continue;
        }
        TrapView& view = views[static_cast<std::size_t>(v.trap)];
        const double shown = trace_of(clean, v, none);
        if (all.lists > 1 && v.list < 0) {
            view.hides_on_all = view.hides_on_all || shown < kUnseen;
            continue;
        }
        if (view.sighting != Sighting::impossible && shown >= view.noncentrality) continue;
        if (v.trap == Trap::grid_for_ground && view.sighting != Sighting::impossible) continue;
        view.noncentrality = shown;
        view.sighting = sighting_of(shown);
    }
    std::stable_sort(pairs.begin(), pairs.end(),
                     [](const auto& a, const auto& b) { return a.first < b.first; });
    if (pairs.size() > kMostPairs) pairs.resize(kMostPairs);
    TrapView& exchanged = views[static_cast<std::size_t>(Trap::names_exchanged)];
    for (const auto& [rough, v] : pairs) {
        const double shown = trace_of(clean, v, none);
        if (exchanged.sighting != Sighting::impossible && shown >= exchanged.noncentrality)
            continue;
        exchanged.noncentrality = shown;
        exchanged.sighting = sighting_of(shown);
    }
    // What stands on the paper itself is always seen.
    for (const Trap trap : {Trap::duplicate_name, Trap::one_place})
        views[static_cast<std::size_t>(trap)].sighting = Sighting::seen;
    return views;
}

}  // namespace layproof::control::internal

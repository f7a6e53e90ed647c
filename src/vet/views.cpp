#include "vet/views_internal.hpp"

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <utility>

namespace layproof::vet::internal {
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
    const auto& patterns = plain.errors().patterns();
    for (TrapView& view : views) {
        if (is_of_frame(view.trap) && view.trap != Trap::grid_for_ground) continue;
        const std::vector<double> sizes = prior_of(view.trap).sizes;
        if (sizes.empty() || view.trap == Trap::other_revision) continue;
        double least = std::numeric_limits<double>::infinity();
        for (std::size_t p = 0; p < patterns.size(); ++p) {
            if (patterns[p].trap != view.trap) continue;
            const double shown = least_eigenvalue(
                plain.errors().information(plain.errors().columns_of({static_cast<int>(p)})));
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
    const auto& patterns = plain.errors().patterns();
    const std::vector<double> sizes = prior_of(Trap::other_revision).sizes;
    const double typical = sizes[sizes.size() / 2];
    for (int l = 0; l < all.lists; ++l) {
        std::vector<double> least;
        for (std::size_t p = 0; p < patterns.size(); ++p)
            if (patterns[p].trap == Trap::entry_wrong && patterns[p].list == l &&
                patterns[p].kind == AmountKind::plan)
                least.push_back(least_eigenvalue(
                    plain.errors().information(plain.errors().columns_of({static_cast<int>(p)}))));
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

std::optional<std::vector<TrapView>> views_of(const Gathered& all, const Explained& explained,
                                              Workers* workers) {
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
    Gathered clean = noise_free(all, world->solved);
    keep_plain_poses(clean);
    const Variant& none = plain.variant;
    std::vector<Variant> whole;
    std::vector<Variant> exchanges;
    for (Variant& v : variants_of(all)) {
        if (v.choice != none.choice || v.also != Trap::nothing_wrong) continue;
        if (v.trap != Trap::names_exchanged)
            whole.push_back(std::move(v));
        else if (all.lists == 1 || v.list >= 0)
            exchanges.push_back(std::move(v));
    }
    std::vector<double> shown(whole.size());
    std::vector<double> rough(exchanges.size());
    if (!each(workers, whole.size(), 0.85, 0.92,
              [&](std::size_t i) { shown[i] = trace_of(clean, whole[i], none); }) ||
        !each(workers, exchanges.size(), 0.92, 0.97, [&](std::size_t i) {
            Gathered spoilt = clean;
            plant(spoilt, exchanges[i]);
            rough[i] = rough_statistic(spoilt, none);
        }))
        return std::nullopt;
    for (std::size_t i = 0; i < whole.size(); ++i) {
        const Variant& v = whole[i];
        TrapView& view = views[static_cast<std::size_t>(v.trap)];
        if (all.lists > 1 && v.list < 0) {
            view.hides_on_all = view.hides_on_all || shown[i] < kUnseen;
            continue;
        }
        if (view.sighting != Sighting::impossible && shown[i] >= view.noncentrality) continue;
        if (v.trap == Trap::grid_for_ground && view.sighting != Sighting::impossible) continue;
        view.noncentrality = shown[i];
        view.sighting = sighting_of(shown[i]);
    }
    std::vector<std::size_t> order(exchanges.size());
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::stable_sort(order.begin(), order.end(),
                     [&](std::size_t a, std::size_t b) { return rough[a] < rough[b]; });
    if (order.size() > kMostPairs) order.resize(kMostPairs);
    TrapView& exchanged = views[static_cast<std::size_t>(Trap::names_exchanged)];
    for (const std::size_t i : order) {
        const double trace = trace_of(clean, exchanges[i], none);
        if (exchanged.sighting != Sighting::impossible && trace >= exchanged.noncentrality)
            continue;
        exchanged.noncentrality = trace;
        exchanged.sighting = sighting_of(trace);
    }
    // What stands on the paper itself is always seen.
    for (const Trap trap : {Trap::duplicate_name, Trap::one_place})
        views[static_cast<std::size_t>(trap)].sighting = Sighting::seen;
    return views;
}

}  // namespace layproof::vet::internal

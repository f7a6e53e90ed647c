#include "vet/explain_internal.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

namespace layproof::vet::internal {
namespace {

using Eigen::VectorXd;

/// Readings other than "nothing wrong" that are solved, by their rough misfit; of those with free
/// amounts all.
constexpr std::size_t kMostSolved = 8;
/// A reading whose rough misfit is the same as that of the lists as they are tells nothing.
constexpr double kSame = 1e-6;
/// Nor does one whose evidence is the same within this.
constexpr double kNothingToSee = 0.05;
/// Readings with less evidence than the best by this get no errors on top.
constexpr double kHopeless = 40.0;
/// Amounts above this are linearised again where they put the marks.
constexpr double kSmallAmount_m = 0.02;
constexpr int kMostRounds = 15;
constexpr std::size_t kPairSeeds = 4;
/// Chance that one mark changes in a revision that changes any.
constexpr double kChanged = 0.3;

/// Every combination of the sizes of up to two patterns.
std::vector<VectorXd> prior_sds(const Evidences& e, const std::vector<int>& patterns) {
    std::vector<VectorXd> out{VectorXd(0)};
    for (const int p : patterns) {
        const Pattern& pattern = e.patterns()[static_cast<std::size_t>(p)];
        std::vector<VectorXd> next;
        for (const VectorXd& head : out)
            for (const double size : pattern.sizes) {
                VectorXd sd(head.size() + pattern.columns);
                sd << head, VectorXd::Constant(pattern.columns, size);
                next.push_back(std::move(sd));
            }
        out = std::move(next);
    }
    return out;
}

/// Fills log_evidence (of the errors alone) and sizes.
void weigh(const Evidences& e, Weighed& w) {
    const std::vector<int> columns = e.columns_of(w.patterns);
    std::vector<double> logs;
    const std::vector<VectorXd> sds = prior_sds(e, w.patterns);
    for (const VectorXd& sd : sds) logs.push_back(e.log_bayes(columns, sd));
    w.log_evidence = ln_mean_exp(logs);
    for (std::size_t i = 0; i < sds.size(); ++i)
        w.sizes.emplace_back(sds[i],
                             std::exp(logs[i] - w.log_evidence) / static_cast<double>(logs.size()));
}

bool overlap(const Pattern& a, const Pattern& b) {
    return a.column < b.column + b.columns && b.column < a.column + a.columns;
}

class Explaining {
public:
    Explaining(const Gathered& all, Workers* workers) : all_(all), workers_(workers) {}

    Explained run() {
        out_.stopped = !read_plain();
        if (out_.stopped || out_.plain < 0) return std::move(out_);
        rough_plain_ = rough_statistic(all_, plain_read().variant);
        out_.stopped = !(add_variants() && add_errors());
        if (out_.stopped) return std::move(out_);
        add_pairs();
        add_revisions();
        normalise();
        return std::move(out_);
    }

private:
    const Read& plain_read() const { return out_.reads[static_cast<std::size_t>(out_.plain)]; }

    bool read_plain() {
        const std::vector<Variant> plain = plain_variants(all_);
        if (!read_all(plain, 0.0, 0.05, [](int, const Variant&) {})) return false;
        choose_plain();
        return true;
    }

    /// Solves each and tells `taken` of it in their order: its number among the reads, or −1.
    template <class Taken>
    bool read_all(const std::vector<Variant>& variants, double from, double to, Taken taken) {
        std::vector<Solved> solved(variants.size());
        if (!each(workers_, variants.size(), from, to,
                  [&](std::size_t i) { solved[i] = solve_variant(all_, variants[i]); }))
            return false;
        for (std::size_t i = 0; i < variants.size(); ++i) {
            if (!solved[i].usable) {
                taken(-1, variants[i]);
                continue;
            }
            Read& r = out_.reads.emplace_back();
            r.variant = variants[i];
            r.all = &all_;
            r.solved = std::move(solved[i]);
            r.log_evidence = r.solved.log_evidence;
            r.statistic = r.solved.statistic;
            taken(static_cast<int>(out_.reads.size()) - 1, variants[i]);
        }
        return true;
    }

    void choose_plain() {
        for (std::size_t i = 0; i < out_.reads.size(); ++i)
            if (out_.plain < 0 || out_.reads[i].log_evidence > plain_read().log_evidence)
                out_.plain = static_cast<int>(i);
        if (out_.plain < 0) return;
        plain_log_ = plain_read().log_evidence;
        out_.plain_log = plain_log_;
        for (std::size_t i = 0; i < out_.reads.size(); ++i) add_alone(static_cast<int>(i));
    }

    void add_alone(int at) {
        Read& r = out_.reads[static_cast<std::size_t>(at)];
        Weighed w;
        w.read = at;
        w.log_evidence = r.log_evidence;
        w.weight = std::log(r.variant.prior) + w.log_evidence;
        w.is_seen = r.variant.trap == Trap::nothing_wrong || r.variant.is_free() ||
                    std::abs(w.log_evidence - plain_log_) > kNothingToSee;
        r.is_seen = w.is_seen;
        out_.all.push_back(std::move(w));
    }

    void add_unseen(const Variant& v) {
        Weighed w;
        w.variant = v;
        w.is_seen = false;
        w.log_evidence = plain_log_;
        w.weight = plain_log_ + std::log(v.prior);
        out_.all.push_back(std::move(w));
    }

    bool add_variants() {
        std::vector<Variant> variants = variants_of(all_);
        std::vector<double> statistics(variants.size());
        if (!each(workers_, variants.size(), 0.05, 0.2,
                  [&](std::size_t i) { statistics[i] = rough_statistic(all_, variants[i]); }))
            return false;
        std::vector<std::pair<double, Variant>> rough;
        for (std::size_t i = 0; i < variants.size(); ++i) {
            Variant& v = variants[i];
            const double statistic = statistics[i];
            if (v.is_free()) {
                if (!std::isfinite(statistic)) {
                    add_unseen(v);
                    continue;
                }
            } else if (std::abs(statistic - rough_plain_) <= kSame * (1.0 + rough_plain_)) {
                add_unseen(v);
                continue;
            }
            rough.emplace_back(v.is_free() ? -1.0 : statistic, std::move(v));
        }
        std::stable_sort(rough.begin(), rough.end(),
                         [](const auto& a, const auto& b) { return a.first < b.first; });
        std::vector<Variant> worth;
        std::size_t solved = 0;
        for (auto& [statistic, v] : rough) {
            if (statistic >= 0.0 && ++solved > kMostSolved) break;
            worth.push_back(std::move(v));
        }
        return read_all(worth, 0.2, 0.4, [&](int at, const Variant& v) {
            if (at >= 0) {
                add_alone(at);
            } else {
                add_unseen(v);
            }
        });
    }

    double best_log() const {
        double best = -std::numeric_limits<double>::infinity();
        for (const Weighed& w : out_.all) best = std::max(best, w.log_evidence);
        return best;
    }

    /// Singles on every reading that is worth it.
    bool add_errors() {
        const double best = best_log();
        std::vector<int> worth;
        for (std::size_t i = 0; i < out_.reads.size(); ++i) {
            const Read& r = out_.reads[i];
            const bool is_plain = r.variant.trap == Trap::nothing_wrong;
            if (is_plain || r.log_evidence >= best - kHopeless)
                worth.push_back(static_cast<int>(i));
        }
        std::vector<std::vector<Weighed>> found(worth.size());
        if (!each(workers_, worth.size(), 0.4, 0.8,
                  [&](std::size_t i) { found[i] = singles(worth[i]); }))
            return false;
        for (std::vector<Weighed>& some : found)
            for (Weighed& w : some) out_.all.push_back(std::move(w));
        return true;
    }

    std::vector<Weighed> singles_here(int at) const {
        const Read& r = out_.reads[static_cast<std::size_t>(at)];
        const bool is_plain = r.variant.trap == Trap::nothing_wrong;
        std::vector<Weighed> out;
        const auto& patterns = r.errors().patterns();
        for (std::size_t p = 0; p < patterns.size(); ++p) {
            Weighed w;
            w.read = at;
            w.trap = patterns[p].trap;
            w.patterns = {static_cast<int>(p)};
            w.is_pair = !is_plain;
            weigh(r.errors(), w);
            w.is_seen = std::abs(w.log_evidence) > kNothingToSee;
            w.log_evidence += r.log_evidence;
            w.weight = w.log_evidence + std::log(patterns[p].frequency) +
                       std::log(r.variant.prior / kNothingWrongFrequency);
            // The ground's scale shares its frequency with the lists' where there are several.
            if (w.trap == Trap::grid_for_ground && all_.lists > 1) w.weight += std::log(0.5);
            out.push_back(std::move(w));
        }
        return out;
    }

    /// A large amount bends the geometry: the linear form is taken where the leading error puts
    /// the marks, until that place stays.
    std::vector<Weighed> singles(int at) {
        std::vector<Weighed> out = singles_here(at);
        if (out.empty()) return out;
        Read& r = out_.reads[static_cast<std::size_t>(at)];
        double floor = r.log_evidence;
        for (int round = 0; round < kMostRounds; ++round) {
            const auto lead =
                std::max_element(out.begin(), out.end(),
                                 [](const auto& a, const auto& b) { return a.weight < b.weight; });
            if (lead->log_evidence <= r.log_evidence) break;
            const std::vector<int> columns = r.errors().columns_of(lead->patterns);
            const auto size =
                std::max_element(lead->sizes.begin(), lead->sizes.end(),
                                 [](const auto& a, const auto& b) { return a.second < b.second; });
            const ColumnFit fit = r.errors().fit(columns, size->first);
            if (fit.mean.cwiseAbs().maxCoeff() < kSmallAmount_m) break;
            const VectorXd step = r.errors().step(columns, fit.mean);
            if (step.cwiseAbs().maxCoeff() < 1e-5) break;
            Solved next;
            linearise_at(all_, r.variant, r.solved.values + step, next);
            if (!next.usable) break;
            r.solved = std::move(next);
            r.evidences = nullptr;
            r.log_evidence = r.solved.log_evidence;
            out = singles_here(at);
        }
        // Errors are told from the linear form at the end; no error from the reading's own.
        r.log_evidence = std::max(floor, r.log_evidence);
        return out;
    }

    /// Two errors at once on "nothing wrong".
    void add_pairs() {
        const Read& r = plain_read();
        std::vector<Weighed> single;
        for (const Weighed& w : out_.all)
            if (w.read == out_.plain && w.patterns.size() == 1) single.push_back(w);
        std::sort(single.begin(), single.end(),
                  [](const auto& a, const auto& b) { return a.weight > b.weight; });
        const auto& patterns = r.errors().patterns();
        const double base = r.solved.log_evidence;
        for (std::size_t s = 0; s < std::min(kPairSeeds, single.size()); ++s) {
            const int p = single[s].patterns.front();
            for (std::size_t q = 0; q < patterns.size(); ++q) {
                const bool is_seed = std::any_of(
                    single.begin(), single.begin() + static_cast<std::ptrdiff_t>(s),
                    [&](const Weighed& w) { return w.patterns.front() == static_cast<int>(q); });
                if (is_seed || overlap(patterns[q], patterns[static_cast<std::size_t>(p)]))
                    continue;
                Weighed w;
                w.read = out_.plain;
                w.trap = patterns[static_cast<std::size_t>(p)].trap;
                w.patterns = {p, static_cast<int>(q)};
                w.is_pair = true;
                weigh(r.errors(), w);
                w.log_evidence += base;
                w.weight = w.log_evidence +
                           std::log(patterns[static_cast<std::size_t>(p)].frequency) +
                           std::log(patterns[q].frequency / kNothingWrongFrequency) +
                           std::log(r.variant.prior / kNothingWrongFrequency);
                out_.all.push_back(std::move(w));
            }
        }
    }

    /// A set of entries of one list at other places: grown mark by mark while the evidence gains.
    void add_revisions() {
        if (all_.lists < 2) return;
        const Read& r = plain_read();
        const Evidences& e = r.errors();
        const double base = r.solved.log_evidence;
        for (int l = 0; l < all_.lists; ++l)
            for (const bool with_height : {false, true}) {
                std::vector<std::vector<int>> of_mark;
                for (std::size_t m = 0; m < all_.marks.size(); ++m) {
                    std::vector<int> mine;
                    for (std::size_t p = 0; p < e.patterns().size(); ++p) {
                        const Pattern& pattern = e.patterns()[p];
                        if (pattern.trap != Trap::entry_wrong || pattern.list != l ||
                            pattern.mark != static_cast<int>(m))
                            continue;
                        if (pattern.kind == AmountKind::plan ||
                            (with_height && pattern.kind == AmountKind::height))
                            mine.push_back(static_cast<int>(p));
                    }
                    if (!mine.empty()) of_mark.push_back(std::move(mine));
                }
                if (of_mark.size() < 3) continue;
                const auto n = static_cast<double>(of_mark.size());
                for (const double size : prior_of(Trap::other_revision).sizes)
                    grow(l, of_mark, n, size, base);
            }
    }

    void grow(int list, const std::vector<std::vector<int>>& of_mark, double n, double size,
              double base) {
        const Evidences& e = plain_read().errors();
        std::vector<char> in(of_mark.size(), 0);
        std::vector<int> patterns;
        double here = 0.0;
        std::size_t count = 0;
        const double change = std::log(kChanged / (1.0 - kChanged));
        const auto value = [&](const std::vector<int>& set) {
            const std::vector<int> columns = e.columns_of(set);
            return e.log_bayes(columns,
                               VectorXd::Constant(static_cast<Eigen::Index>(columns.size()), size));
        };
        while (count + 1 < of_mark.size()) {
            double best = -std::numeric_limits<double>::infinity();
            std::size_t at = 0;
            for (std::size_t k = 0; k < of_mark.size(); ++k) {
                if (in[k] != 0) continue;
                std::vector<int> set = patterns;
                set.insert(set.end(), of_mark[k].begin(), of_mark[k].end());
                const double v = value(set);
                if (v > best) {
                    best = v;
                    at = k;
                }
            }
            if (count >= 2 && best + change < here) break;
            if (count == 1 && best + change < here - kHopeless) break;
            in[at] = 1;
            patterns.insert(patterns.end(), of_mark[at].begin(), of_mark[at].end());
            here = best;
            ++count;
        }
        if (count < 2) return;
        const double none = std::pow(1.0 - kChanged, n);
        const double one = n * kChanged * std::pow(1.0 - kChanged, n - 1.0);
        const auto k = static_cast<double>(count);
        const double ln_set = k * std::log(kChanged) + (n - k) * std::log(1.0 - kChanged) -
                              std::log(1.0 - none - one);
        const TrapPrior prior = prior_of(Trap::other_revision);
        Weighed w;
        w.read = out_.plain;
        w.trap = Trap::other_revision;
        w.variant.list = list;
        w.patterns = patterns;
        const std::vector<int> columns = e.columns_of(patterns);
        w.sizes = {{VectorXd::Constant(static_cast<Eigen::Index>(columns.size()), size), 1.0}};
        w.log_evidence = here + base;
        w.weight = w.log_evidence + ln_set +
                   std::log(prior.frequency / static_cast<double>(2 * all_.lists) /
                            static_cast<double>(prior.sizes.size())) +
                   std::log(plain_read().variant.prior / kNothingWrongFrequency);
        out_.all.push_back(std::move(w));
    }

    void normalise() {
        double top = -std::numeric_limits<double>::infinity();
        for (const Weighed& w : out_.all) top = std::max(top, w.weight);
        double sum = 0.0;
        for (Weighed& w : out_.all) {
            w.weight = std::exp(w.weight - top);
            sum += w.weight;
        }
        for (Weighed& w : out_.all) w.weight /= sum;
        std::stable_sort(out_.all.begin(), out_.all.end(),
                         [](const auto& a, const auto& b) { return a.weight > b.weight; });
    }

    const Gathered& all_;
    Workers* workers_;
    Explained out_;
    double rough_plain_ = 0.0;
    double plain_log_ = 0.0;
};

}  // namespace

Explained explain(const Gathered& all, Workers* workers) {
    return Explaining(all, workers).run();
}

}  // namespace layproof::vet::internal

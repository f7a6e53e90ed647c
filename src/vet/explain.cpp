#include "vet/explain_internal.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <utility>

#include "infer/log_weights.hpp"
#include "infer/pairs.hpp"

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

/// Fills log_evidence (of the errors alone) and sizes from ln BF at each choice of sizes.
void weigh(Weighed& w, const std::vector<double>& logs, const std::vector<VectorXd>& sds) {
    w.log_evidence = infer::ln_mean_exp(logs);
    const std::vector<double> shares = infer::shares_of(logs);
    for (std::size_t i = 0; i < sds.size(); ++i) w.sizes.emplace_back(sds[i], shares[i]);
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
            const ColumnData data = r.errors().data(r.errors().columns_of(w.patterns));
            std::vector<double> logs;
            std::vector<VectorXd> sds;
            for (const double size : patterns[p].sizes) {
                sds.push_back(VectorXd::Constant(data.g.size(), size));
                logs.push_back(infer::log_bayes(data, sds.back()));
            }
            weigh(w, logs, sds);
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
        const Evidences& e = r.errors();
        const auto& patterns = e.patterns();
        std::vector<infer::ColumnData<kMostColumns>> data;
        std::vector<infer::Single<kMostColumns>> singles;
        std::vector<double> sizes;  // of each single
        for (std::size_t p = 0; p < patterns.size(); ++p) {
            data.push_back(e.data(patterns[p]));
            for (const double size : patterns[p].sizes) {
                infer::Amounts<kMostColumns> sd = infer::Amounts<kMostColumns>::Zero();
                sd.head(patterns[p].columns).setConstant(size);
                singles.push_back({static_cast<int>(p), sd, infer::fit_amounts(data.back(), sd)});
                sizes.push_back(size);
            }
        }
        const auto of = [&](int p) -> const Pattern& {
            return patterns[static_cast<std::size_t>(p)];
        };
        struct Pair {
            std::vector<double> logs;
            std::vector<VectorXd> sds;
        };
        std::map<std::pair<int, int>, Pair> pairs;
        infer::for_pairs<kMostColumns>(
            singles, seeds(singles),
            [&](int p) -> const infer::ColumnData<kMostColumns>& {
                return data[static_cast<std::size_t>(p)];
            },
            [&](int b, int a) { return e.between(of(b), of(a)); },
            [&](int a, int b) { return !overlap(of(a), of(b)); },
            [&](std::size_t a, std::size_t b, const infer::AmountMean<kMostColumns>& second,
                const infer::AmountMatrix<kMostColumns>&) {
                const int p = singles[a].candidate;
                const int q = singles[b].candidate;
                Pair& pair = pairs[{p, q}];
                pair.logs.push_back(singles[a].fit.log_bayes + second.log_bayes);
                VectorXd sd(of(p).columns + of(q).columns);
                sd << VectorXd::Constant(of(p).columns, sizes[a]),
                    VectorXd::Constant(of(q).columns, sizes[b]);
                pair.sds.push_back(std::move(sd));
            });
        for (const auto& [members, pair] : pairs) {
            const Pattern& p = of(members.first);
            const Pattern& q = of(members.second);
            Weighed w;
            w.read = out_.plain;
            w.trap = p.trap;
            w.patterns = {members.first, members.second};
            w.is_pair = true;
            weigh(w, pair.logs, pair.sds);
            w.log_evidence += r.solved.log_evidence;
            w.weight = w.log_evidence + std::log(p.frequency) +
                       std::log(q.frequency / kNothingWrongFrequency) +
                       std::log(r.variant.prior / kNothingWrongFrequency);
            out_.all.push_back(std::move(w));
        }
    }

    /// The most probable errors with each of their sizes.
    std::vector<std::size_t> seeds(const std::vector<infer::Single<kMostColumns>>& singles) const {
        std::vector<int> patterns;
        std::vector<double> weights;
        for (const Weighed& w : out_.all) {
            if (w.read != out_.plain || w.patterns.size() != 1) continue;
            patterns.push_back(w.patterns.front());
            weights.push_back(w.weight);
        }
        std::vector<std::size_t> out;
        for (const std::size_t s : infer::choose_seeds(weights, {}, kPairSeeds, 0))
            for (std::size_t i = 0; i < singles.size(); ++i)
                if (singles[i].candidate == patterns[s]) out.push_back(i);
        return out;
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
            const ColumnData data = e.data(e.columns_of(set));
            return infer::log_bayes(data, VectorXd(VectorXd::Constant(data.g.size(), size)));
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
        std::vector<double> logs;
        for (const Weighed& w : out_.all) logs.push_back(w.weight);
        const std::vector<double> shares = infer::shares_of(logs);
        for (std::size_t i = 0; i < shares.size(); ++i) out_.all[i].weight = shares[i];
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

#include "vet/variants_internal.hpp"

#include <algorithm>
#include <utility>

#include "measure/length.hpp"

namespace layproof::vet::internal {
namespace {

constexpr std::size_t kMostChoices = 8;

std::vector<std::vector<int>> choices_of(const Gathered& all) {
    std::vector<std::vector<int>> out{std::vector<int>(all.duplicates.size(), 0)};
    for (std::size_t d = 0; d < all.duplicates.size(); ++d) {
        const std::size_t before = out.size();
        for (int c = 1; c < all.duplicates[d].choices; ++c)
            for (std::size_t i = 0; i < before && out.size() < kMostChoices; ++i) {
                std::vector<int> next = out[i];
                next[d] = c;
                out.push_back(std::move(next));
            }
    }
    return out;
}

bool has_plan_twice(const Gathered& all, int list) {
    return std::count_if(all.entries.begin(), all.entries.end(),
                         [&](const Entry& e) { return e.list == list && e.has_plan; }) >= 2;
}

bool may_come_in_another_unit(Trap trap) {
    return trap == Trap::axes_exchanged || trap == Trap::mirrored || trap == Trap::turned ||
           trap == Trap::shifted;
}

/// A list in another frame is often in another unit too: what one program wrote another reads.
void add_with_unit(std::vector<Variant>& variants) {
    std::vector<Variant> both;
    for (const Variant& frame : variants) {
        if (!may_come_in_another_unit(frame.trap)) continue;
        for (const Variant& unit : variants) {
            if (unit.trap != Trap::wrong_unit || unit.list != frame.list ||
                unit.choice != frame.choice)
                continue;
            Variant v = frame;
            v.ratio = unit.ratio;
            v.also = Trap::wrong_unit;
            v.prior = frame.prior * unit.prior / kNothingWrongFrequency;
            both.push_back(std::move(v));
        }
    }
    for (Variant& v : both) variants.push_back(std::move(v));
}

}  // namespace

std::vector<Variant> plain_variants(const Gathered& all) {
    std::vector<Variant> out;
    const auto choices = choices_of(all);
    for (const auto& choice : choices) {
        Variant v;
        v.choice = choice;
        v.prior = kNothingWrongFrequency / static_cast<double>(choices.size());
        out.push_back(std::move(v));
    }
    return out;
}

std::vector<Variant> variants_of(const Gathered& all) {
    std::vector<Variant> out;
    std::vector<int> lists;
    for (int l = 0; l < all.lists; ++l)
        if (has_plan_twice(all, l)) lists.push_back(l);
    const bool several = all.lists > 1;
    // What differs between lists, and what all of them may have against the ground.
    std::vector<int> each = several ? lists : std::vector<int>{};
    std::vector<int> each_and_all = several ? lists : std::vector<int>{};
    each_and_all.push_back(-1);

    const auto add = [&](Trap trap, int list, auto change) {
        Variant v;
        v.trap = trap;
        v.list = list;
        change(v);
        out.push_back(std::move(v));
    };
    const bool alone = !several;
    for (const int l : each_and_all) {
        add(Trap::axes_exchanged, l, [](Variant& v) { v.swap = true; });
        add(Trap::mirrored, l, [&](Variant& v) {
            v.mirror = true;
            v.free_shift = l >= 0;
        });
        for (const double ratio : {measure::kMetresPerFoot, 1.0 / measure::kMetresPerFoot})
            add(Trap::wrong_unit, l, [&](Variant& v) { v.ratio = ratio; });
        std::vector<int> on_list;
        for (std::size_t m = 0; m < all.marks.size(); ++m)
            if (std::any_of(all.entries.begin(), all.entries.end(), [&](const Entry& e) {
                    return (l < 0 || e.list == l) && e.mark == static_cast<int>(m) && e.has_plan;
                }))
                on_list.push_back(static_cast<int>(m));
        for (std::size_t a = 0; a < on_list.size(); ++a)
            for (std::size_t b = a + 1; b < on_list.size(); ++b)
                add(Trap::names_exchanged, l, [&](Variant& v) {
                    v.mark_a = on_list[a];
                    v.mark_b = on_list[b];
                });
    }
    if (alone) each = {-1};  // nothing to see it by; it keeps its frequency
    for (const int l : each) {
        add(Trap::turned, l, [](Variant& v) { v.free_turn = v.free_shift = true; });
        add(Trap::shifted, l, [](Variant& v) { v.free_shift = true; });
        for (const double ratio : {measure::kMetresPerFoot / measure::kMetresPerUsFoot,
                                   measure::kMetresPerUsFoot / measure::kMetresPerFoot})
            add(Trap::foot_kind, l, [&](Variant& v) { v.ratio = ratio; });
        if (several)
            add(Trap::grid_for_ground, l, [](Variant& v) { v.free_scale = v.free_shift = true; });
    }
    const auto choices = choices_of(all);
    std::vector<Variant> with_choices;
    for (const Variant& v : out)
        for (const auto& choice : choices) {
            with_choices.push_back(v);
            with_choices.back().choice = choice;
        }
    for (Variant& v : with_choices) {
        const auto alike = std::count_if(with_choices.begin(), with_choices.end(),
                                         [&](const Variant& w) { return w.trap == v.trap; });
        v.prior = prior_of(v.trap).frequency / static_cast<double>(alike);
    }
    // The ground's scale is a pattern of its own; the lists' have half of it where there are
    // several.
    for (Variant& v : with_choices)
        if (v.trap == Trap::grid_for_ground) v.prior *= 0.5;
    add_with_unit(with_choices);
    return with_choices;
}

}  // namespace layproof::vet::internal

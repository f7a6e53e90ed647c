#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "acts/prove/prove_words_internal.hpp"
#include "acts/shared/words.hpp"

namespace layproof::acts::internal {

using station::Word;

std::string fit_words(const adjust::GlobalTest& test) {
    if (test.dof <= 0) return "nothing checks it";
    const double ratio = std::sqrt(std::max(test.variance_factor, 0.0));
    return fmt::format("{}: the misfits are {:.2f} times what the instrument file states",
                       test.passes ? "fits" : "does not fit", ratio);
}

Verdict prove_verdict(const ProveAnswer& answer) {
    Verdict out;
    std::vector<std::string> moved;
    for (const ProveMove& move : answer.moves)
        if (move.probability >= 0.5) moved.push_back(move.says);
    if (!answer.laid.empty()) {
        const auto weakest = std::min_element(
            answer.laid.begin(), answer.laid.end(), [](const auto& a, const auto& b) {
                return a.verdict.probability < b.verdict.probability;
            });
        const std::string& name = answer.points[weakest->point].design.name;
        const int laid = static_cast<int>(answer.laid.size());
        out.word = answer.fails > 0        ? Word::fails
                   : answer.proven == laid ? Word::proven
                                           : Word::in_doubt;
        out.probability = weakest->verdict.probability;
        out.because = fmt::format("{} of {} laid {} proven; the weakest, {}: {}", answer.proven,
                                  count(laid, "point"), answer.proven == 1 ? "is" : "are", name,
                                  weakest->because);
        out.next = weakest->verdict.word == Word::proven
                       ? std::string("Nothing to do for the points laid.")
                       : fmt::format("{}: {}", name, weakest->next);
    } else {
        const ProveMark* weakest = nullptr;
        bool all = true, any = false, fails = false;
        for (const ProveMark& mark : answer.marks) {
            if (!mark.is_sighted) continue;
            any = true;
            all = all && mark.word == Word::proven;
            fails = fails || mark.word == Word::fails;
            if (weakest == nullptr || mark.probability < weakest->probability) weakest = &mark;
        }
        out.word = fails ? Word::fails : all && any ? Word::proven : Word::in_doubt;
        out.probability = weakest != nullptr ? weakest->probability : 0.0;
        out.because = weakest != nullptr
                          ? fmt::format("No point was laid. The weakest mark, {}: {}",
                                        weakest->name, weakest->condition)
                          : std::string("No point was laid, and no mark was sighted.");
        out.next = out.word == Word::proven ? std::string("Lay from these marks.")
                   : answer.causes.empty()  ? std::string("Sight more marks.")
                                            : answer.causes.front().next;
    }
    if (!moved.empty()) out.because = moved.front() + " " + out.because;
    if (!answer.loose.empty()) {
        if (out.word == Word::proven) out.word = Word::in_doubt;
        out.because += " " + answer.loose.front();
    }
    return out;
}

}  // namespace layproof::acts::internal

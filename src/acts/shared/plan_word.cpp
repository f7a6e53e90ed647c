#include "acts/shared/plan_word.hpp"

namespace layproof::acts {

drawing::PlanWord internal::plan_word(station::Word word) {
    switch (word) {
        case station::Word::proven:
            return drawing::PlanWord::proven;
        case station::Word::in_doubt:
            return drawing::PlanWord::in_doubt;
        case station::Word::fails:
            return drawing::PlanWord::fails;
    }
    return drawing::PlanWord::in_doubt;
}

}  // namespace layproof::acts

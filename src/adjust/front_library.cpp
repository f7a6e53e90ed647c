#include "adjust/front_library.hpp"

namespace layproof::adjust {

std::optional<Refusal> lacks_front_library() {
#ifdef LAYPROOF_FRONT_LIBRARY
    if (!front_library()) return front_library().refusal();
#endif
    return std::nullopt;
}

}  // namespace layproof::adjust
